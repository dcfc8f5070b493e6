"""Things made from an interview, to hand out or to listen to; and the letters that go with it."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from intake.files.models import StoredFile
from intake.interviews.models import Collection, Interview
from intake.people.models import Person


class OutputKind(models.TextChoices):
    LISTENING_COPY = "listening-copy", "Listening copy"
    WORKING_COPY = "working-copy", "Working copy"
    ACCESS_COPY = "access-copy", "Access copy"
    DESCRIBED_COPY = "described-copy", "Described copy"
    SOUND_PICTURE = "sound-picture", "Sound picture"
    RELEASE_COPY = "release-copy", "Signer's copy of a release"
    AGREEMENT_COPY = "agreement-copy", "Signer's copy of an agreement"
    ARRIVAL_RECEIPT = "arrival-receipt", "Arrival receipt"
    RECEIPT = "receipt", "Acceptance receipt"
    LETTER = "letter", "Letter"
    QUALITY_REPORT = "quality-report", "Quality report"


# Copies of a part: the number at the end of their subject is the part's.
OF_A_PART = (
    OutputKind.LISTENING_COPY,
    OutputKind.WORKING_COPY,
    OutputKind.ACCESS_COPY,
    OutputKind.DESCRIBED_COPY,
    OutputKind.SOUND_PICTURE,
)
PAPERS = (
    OutputKind.RELEASE_COPY,
    OutputKind.AGREEMENT_COPY,
    OutputKind.ARRIVAL_RECEIPT,
    OutputKind.RECEIPT,
    OutputKind.LETTER,
    OutputKind.QUALITY_REPORT,
)


class Output(models.Model):
    """One thing made of one subject (a part, a release, an arrival, an accession), once; a paper once a version."""

    kind = models.CharField(max_length=20, choices=OutputKind.choices)
    subject_id = models.CharField(max_length=64)
    version = models.PositiveIntegerField(default=1)
    interview = models.ForeignKey(Interview, on_delete=models.PROTECT, related_name="outputs")
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kind", "subject_id", "version"], name="output_is_made_once"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.subject_id}"


class HarvestRecord(models.Model):
    """What harvesters were told of one interview: when it last changed, or that it may not be known of any more.

    `sha256` is the digest of what was told.
    """

    interview = models.OneToOneField(Interview, on_delete=models.PROTECT, related_name="harvest_record")
    collection = models.ForeignKey(Collection, on_delete=models.PROTECT, related_name="+")
    datestamp = models.DateTimeField()
    is_deleted = models.BooleanField()
    sha256 = models.CharField(max_length=64)

    class Meta:
        indexes = [
            models.Index(fields=["datestamp", "id"], name="harvest_by_datestamp"),
            models.Index(fields=["collection", "datestamp", "id"], name="harvest_by_collection"),
        ]

    def __str__(self) -> str:
        return f"record of interview {self.interview_id}"


class Reissue(models.Model):
    """A paper that is to be made once more, with the reason; the version before it stays as it was.

    `words` are what this version says otherwise: a letter's text, or how a receipt names things now.
    """

    kind = models.CharField(max_length=20, choices=OutputKind.choices)
    subject_id = models.CharField(max_length=64)
    version = models.PositiveIntegerField()
    interview = models.ForeignKey(Interview, on_delete=models.PROTECT, related_name="reissues")
    reason = models.CharField(max_length=500)
    words = models.JSONField(default=dict)
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()

    class Meta:
        ordering = ("id",)
        constraints = [
            models.UniqueConstraint(fields=["kind", "subject_id", "version"], name="version_is_issued_once"),
            models.CheckConstraint(condition=Q(version__gte=2), name="the_first_version_is_no_reissue"),
            models.CheckConstraint(condition=~Q(reason=""), name="reissue_says_why"),
        ]

    def __str__(self) -> str:
        return f"version {self.version} of {self.kind} {self.subject_id}"


class LetterKind(models.TextChoices):
    THANKS = "thanks", "Thank-you letter"
    RETURN = "return", "Return letter"
    DECLINE = "decline", "Decline letter"


class Letter(models.Model):
    """A letter on paper to one person about one interview, word for word as it was first written."""

    interview = models.ForeignKey(Interview, on_delete=models.PROTECT, related_name="letters")
    kind = models.CharField(max_length=10, choices=LetterKind.choices)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="letters")
    language = models.CharField(max_length=35)
    text = models.TextField()
    by_email = models.BooleanField(default=False, help_text="Also sent by e-mail, once it has been made.")
    written_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ("id",)
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=LetterKind.values), name="letter_kind_is_known"),
            models.CheckConstraint(condition=~Q(text=""), name="letter_says_something"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} to {self.person}"


class LetterText(models.Model):
    """The library's own text with which letters of a kind begin; the newest in a language is in force."""

    kind = models.CharField(max_length=10, choices=LetterKind.choices)
    language = models.CharField(max_length=35)
    text = models.TextField()
    written_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    written_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("id",)
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=LetterKind.values), name="letter_text_kind_is_known"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.language}"
