"""The interview: one conversation, its people and its recorded parts."""

from django.conf import settings
from django.db import models
from django.db.models.functions import Lower
from django.utils import formats

from intake.files.models import StoredFile, Upload
from intake.people.models import Person


class State(models.TextChoices):
    DRAFT = "draft", "Draft"
    SUBMITTED = "submitted", "Submitted"
    IN_REVIEW = "in_review", "In review"
    RETURNED = "returned", "Returned"
    ACCEPTED = "accepted", "Accepted"
    CATALOGUED = "catalogued", "Catalogued"
    DECLINED = "declined", "Declined"
    WITHDRAWN = "withdrawn", "Withdrawn"
    TAKEN_DOWN = "taken_down", "Taken down"


# The library has it, described or not.
TAKEN_IN = frozenset({State.ACCEPTED, State.CATALOGUED})


class Collection(models.Model):
    name = models.CharField(max_length=200)

    class Meta:
        ordering = ("name",)
        constraints = [models.UniqueConstraint(Lower("name"), name="collection_names_differ")]

    def __str__(self) -> str:
        return self.name


class Interview(models.Model):
    """One conversation. Its state is written by lifecycle.move alone."""

    collection = models.ForeignKey(Collection, on_delete=models.PROTECT, related_name="interviews")
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="interviews", help_text="Who looks after it."
    )
    given_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="given", help_text="Who gave the recording to the library."
    )
    recorded_on = models.DateField()
    place = models.CharField(max_length=200)
    language = models.CharField(max_length=35, help_text="BCP 47 tag.")
    summary = models.TextField(blank=True)
    context_notes = models.TextField(blank=True)
    names_and_spellings = models.TextField(blank=True)
    state = models.CharField(max_length=12, choices=State.choices, default=State.DRAFT, editable=False)
    reviewer = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField(auto_now_add=True)
    submitted_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(state__in=State.values), name="interview_has_a_known_state"),
        ]
        indexes = [models.Index(fields=["state", "submitted_at"], name="interview_by_state")]

    def __str__(self) -> str:
        return self.title

    @property
    def is_taken_in(self) -> bool:
        return self.state in TAKEN_IN

    @property
    def title(self) -> str:
        """A devised title: the people and the day."""
        names = [person.name for person in self.people(Participant.Role.NARRATOR)]
        narrators = " and ".join(filter(None, [", ".join(names[:-1]), *names[-1:]])) or "a narrator not yet named"
        return f"Interview with {narrators}, {formats.date_format(self.recorded_on)}"

    @property
    def language_name(self) -> str:
        """The language in words, such as "Spanish"; the tag itself where no name is known for it."""
        return dict(settings.LANGUAGES).get(self.language, self.language)

    def people(self, role: str) -> list[Person]:
        """The persons in one role, in the order in which they were added.

        Uses prefetched participants where there are any.
        """
        return [participant.person for participant in self.participants.all() if participant.role == role]


class Participant(models.Model):
    """One person's role in one interview; each signs a release of their own."""

    class Role(models.TextChoices):
        NARRATOR = "narrator", "Narrator"
        INTERVIEWER = "interviewer", "Interviewer"
        INTERPRETER = "interpreter", "Interpreter"
        GUARDIAN = "guardian", "Guardian"

    interview = models.ForeignKey(Interview, on_delete=models.PROTECT, related_name="participants")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="participations")
    role = models.CharField(max_length=12, choices=Role.choices)
    needs_guardian = models.BooleanField(
        default=False, help_text="Under age, or cannot sign alone: local law says who signs with or for them."
    )
    ward = models.ForeignKey(
        "self", null=True, on_delete=models.PROTECT, related_name="guardians", help_text="For whom a guardian signs."
    )

    class Meta:
        ordering = ("id",)
        constraints = [
            models.CheckConstraint(
                condition=models.Q(role="guardian", ward__isnull=False)
                | (~models.Q(role="guardian") & models.Q(ward=None)),
                name="guardian_signs_for_somebody",
            ),
            models.CheckConstraint(
                condition=models.Q(needs_guardian=False) | models.Q(role="narrator"),
                name="guardian_is_needed_by_narrators_alone",
            ),
            models.UniqueConstraint(fields=["interview", "person"], name="person_has_one_role_in_an_interview"),
        ]

    def __str__(self) -> str:
        return f"{self.person} ({self.get_role_display().lower()})"


class Part(models.Model):
    """One audio file as the recorder wrote it, in its place in the order.

    A part taken out keeps its row, without a place.
    """

    interview = models.ForeignKey(Interview, on_delete=models.PROTECT, related_name="parts")
    position = models.PositiveIntegerField(null=True, help_text="1 is first; empty once taken out.")
    upload = models.OneToOneField(Upload, on_delete=models.PROTECT, related_name="part")
    file = models.ForeignKey(StoredFile, null=True, on_delete=models.PROTECT, related_name="parts")

    class Meta:
        ordering = ("position", "id")
        constraints = [
            models.UniqueConstraint(fields=["interview", "position"], name="parts_have_places_of_their_own"),
        ]

    def __str__(self) -> str:
        return self.upload.name


class Mark(models.Model):
    """A point in a part, or a stretch where it has a length: set on the recorder, or by somebody who listens."""

    class Kind(models.TextChoices):
        RECORDER = "recorder", "Set on the recorder"
        NOTE = "note", "Note"
        TOPIC = "topic", "Topic"
        SPELLING = "spelling", "Spelling"
        NOISE = "noise", "Noise"
        OFF_THE_RECORD = "off-the-record", "Off the record"

    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="marks")
    kind = models.CharField(max_length=15, choices=Kind.choices, default=Kind.RECORDER)
    set_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+", help_text="Who listened."
    )
    at_seconds = models.FloatField()
    length_seconds = models.FloatField(default=0)
    label = models.CharField(max_length=200, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ("at_seconds", "id")
        constraints = [
            models.CheckConstraint(
                condition=models.Q(at_seconds__gte=0, length_seconds__gte=0), name="mark_lies_in_the_recording"
            ),
            models.CheckConstraint(
                condition=models.Q(kind="recorder", set_by=None)
                | (~models.Q(kind="recorder") & ~models.Q(set_by=None)),
                name="mark_is_the_recorders_or_somebodys",
            ),
        ]

    def __str__(self) -> str:
        if self.kind == self.Kind.RECORDER:
            return self.label or "mark"
        return self.get_kind_display()


class Attachment(models.Model):
    """A file that belongs to an interview beside its parts: a photograph, field notes, a transcript.

    An attachment taken out keeps its row and its file, with the reason.
    """

    class Kind(models.TextChoices):
        PHOTOGRAPH = "photograph", "Photograph"
        FIELD_NOTES = "field-notes", "Field notes"
        TRANSCRIPT = "transcript", "Transcript"
        OTHER = "other", "Other document"

    interview = models.ForeignKey(Interview, on_delete=models.PROTECT, related_name="attachments")
    upload = models.OneToOneField(Upload, on_delete=models.PROTECT, related_name="attachment")
    file = models.ForeignKey(StoredFile, null=True, on_delete=models.PROTECT, related_name="attachments")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    caption = models.CharField(max_length=500, blank=True)
    rights_note = models.CharField(max_length=500, blank=True, help_text="Whose it is, and who agreed to it.")
    taken_out_at = models.DateTimeField(null=True)
    taken_out_because = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ("id",)
        constraints = [
            models.CheckConstraint(
                condition=models.Q(kind__in=["photograph", "field-notes", "transcript", "other"]),
                name="attachment_has_a_known_kind",
            ),
            models.CheckConstraint(
                condition=models.Q(taken_out_at=None, taken_out_because="")
                | (models.Q(taken_out_at__isnull=False) & ~models.Q(taken_out_because="")),
                name="attachment_is_taken_out_for_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return self.upload.name
