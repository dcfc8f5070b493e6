"""What the library says of an interview in its catalogue, the headings it uses, and words at their times."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from intake.files.models import StoredFile
from intake.interviews.models import Interview, Part
from intake.people.models import Person


class AuthorityList(models.Model):
    """A list of headings: the library's own, or one that others keep and that was read from a file."""

    name = models.CharField(max_length=200)
    code = models.CharField(max_length=40, help_text="Its MARC source code, such as lcsh; “local” for a library's own.")
    is_own = models.BooleanField(default=False)

    class Meta:
        ordering = ("-is_own", "name")
        constraints = [
            models.UniqueConstraint(Lower("name"), name="authority_lists_differ"),
            models.UniqueConstraint(
                fields=["is_own"], condition=Q(is_own=True), name="library_has_one_list_of_its_own"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Heading(models.Model):
    """A subject or a place, under the one form of its name that records use.

    A heading that its list no longer has stays, for the records that use it, and is not offered any more.
    """

    class Kind(models.TextChoices):
        SUBJECT = "subject", "Subject"
        PLACE = "place", "Place"

    authority = models.ForeignKey(AuthorityList, on_delete=models.PROTECT, related_name="headings")
    kind = models.CharField(max_length=7, choices=Kind.choices)
    label = models.CharField(max_length=300)
    variants = models.JSONField(default=list, help_text="Other forms of the name, by which it is found.")
    uri = models.CharField(max_length=500, blank=True)
    note = models.TextField(blank=True)
    broader = models.ForeignKey("self", null=True, on_delete=models.SET_NULL, related_name="narrower")
    latitude = models.FloatField(null=True, help_text="Degrees north (WGS 84).")
    longitude = models.FloatField(null=True, help_text="Degrees east (WGS 84).")
    is_current = models.BooleanField(default=True)
    words = models.TextField(help_text="All its names, by which it is found while somebody types.")
    stem = models.TextField(help_text="Its label without endings, by which it is found in a text.")

    class Meta:
        ordering = ("label", "id")
        indexes = [models.Index(fields=["authority", "label"], name="heading_by_label")]
        constraints = [
            models.UniqueConstraint(
                fields=["authority", "uri"], condition=~Q(uri=""), name="heading_uri_stands_once_in_a_list"
            ),
            models.UniqueConstraint(
                "authority",
                "kind",
                Lower("label"),
                condition=Q(uri=""),
                name="heading_without_uri_stands_once_in_a_list",
            ),
            models.CheckConstraint(
                condition=Q(latitude=None, longitude=None)
                | Q(
                    kind="place",
                    latitude__isnull=False,
                    longitude__isnull=False,
                    latitude__range=(-90, 90),
                    longitude__range=(-180, 180),
                ),
                name="heading_lies_on_the_earth",
            ),
        ]

    def __str__(self) -> str:
        return self.label


class ListReading(models.Model):
    """One file from which a list was read or brought up to date, and what came of it."""

    authority = models.ForeignKey(AuthorityList, on_delete=models.PROTECT, related_name="readings")
    kind = models.CharField(max_length=7, choices=Heading.Kind.choices)
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    done_at = models.DateTimeField(null=True)
    new = models.PositiveIntegerField(default=0)
    changed = models.PositiveIntegerField(default=0)
    retired = models.PositiveIntegerField(default=0)
    refusal = models.TextField(blank=True, help_text="Why nothing of it was read.")

    class Meta:
        ordering = ("-id",)

    def __str__(self) -> str:
        return f"{self.file.name} into {self.authority}"


class Description(models.Model):
    """What the library says of one interview; the volunteer's own words stay beside it as they were handed in."""

    interview = models.OneToOneField(
        Interview, primary_key=True, on_delete=models.PROTECT, related_name="catalogue_description"
    )
    title = models.CharField(max_length=500, blank=True, help_text="Empty: devised of the people and the day.")
    summary = models.TextField(blank=True)
    languages = models.JSONField(default=list, help_text="BCP 47 tags, the one most spoken first.")
    periods = models.JSONField(default=list, help_text="The times that are spoken of, as EDTF, level 1.")
    rights = models.CharField(max_length=200, blank=True, help_text="A URI of RightsStatements.org or of a licence.")
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    changed_at = models.DateTimeField(auto_now=True)

    def __str__(self) -> str:
        return f"description of interview {self.interview_id}"


class AccessPoint(models.Model):
    """A heading under which an interview is found, and what it has to do with it."""

    class Use(models.TextChoices):
        ABOUT = "about", "Spoken of"
        RECORDED_AT = "recorded-at", "Recorded there"

    interview = models.ForeignKey(Interview, on_delete=models.PROTECT, related_name="access_points")
    heading = models.ForeignKey(Heading, on_delete=models.PROTECT, related_name="access_points")
    use = models.CharField(max_length=11, choices=Use.choices, default=Use.ABOUT)

    class Meta:
        ordering = ("id",)
        constraints = [
            models.UniqueConstraint(fields=["interview", "heading", "use"], name="heading_is_given_once_for_a_use")
        ]

    def __str__(self) -> str:
        return f"{self.heading} ({self.get_use_display().lower()})"


class Contributor(models.Model):
    """Somebody named in the record beside those who took part in the conversation; they sign nothing."""

    class Role(models.TextChoices):
        TRANSCRIBER = "transcriber", "Transcriber"
        RECORDIST = "recordist", "Recordist"
        ALSO_HEARD = "also-heard", "Also heard"
        SPOKEN_OF = "spoken-of", "Spoken of"

    interview = models.ForeignKey(Interview, on_delete=models.PROTECT, related_name="contributors")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="contributions")
    role = models.CharField(max_length=11, choices=Role.choices)

    class Meta:
        ordering = ("id",)
        constraints = [
            models.UniqueConstraint(fields=["interview", "person", "role"], name="contributor_has_a_role_once")
        ]

    def __str__(self) -> str:
        return f"{self.person} ({self.get_role_display().lower()})"


class TimedText(models.Model):
    """Words at their times: what the interview is about from where on, or what is said."""

    class Kind(models.TextChoices):
        OUTLINE = "outline", "Outline"
        TRANSCRIPT = "transcript", "Transcript"

    interview = models.ForeignKey(Interview, on_delete=models.PROTECT, related_name="timed_texts")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    language = models.CharField(max_length=35, help_text="BCP 47 tag.")
    checked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="Who read it against the sound.",
    )
    checked_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["interview", "kind"], name="interview_has_a_text_of_a_kind_once")
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display().lower()} of interview {self.interview_id}"


class Cue(models.Model):
    """Some words from one moment of a part on; a topic of an outline lasts until the next where it has no end."""

    text = models.ForeignKey(TimedText, on_delete=models.PROTECT, related_name="cues")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="cues")
    starts_ms = models.PositiveIntegerField(help_text="Milliseconds from the beginning of the part.")
    ends_ms = models.PositiveIntegerField(null=True)
    voice = models.CharField(max_length=200, blank=True, help_text="Who speaks.")
    words = models.TextField()

    class Meta:
        ordering = ("starts_ms", "id")
        indexes = [models.Index(fields=["text", "part", "starts_ms"], name="cue_by_time")]
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_ms=None) | Q(ends_ms__gt=F("starts_ms")), name="cue_ends_after_it_begins"
            ),
            models.CheckConstraint(condition=~Q(words=""), name="cue_has_words"),
        ]

    def __str__(self) -> str:
        return self.words[:60]

    @property
    def starts_seconds(self) -> float:
        return self.starts_ms / 1000
