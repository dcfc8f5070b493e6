"""One line of the queue for each interview, and the views that staff keep of it."""

from django.conf import settings
from django.db import models
from django.utils import formats, timezone

from intake.accounts.models import User
from intake.interviews.models import Collection, Interview, State

# In the order of the day's work; what is with a volunteer who has not begun to wait, or has ended, comes last.
BY_STAGE = (State.SUBMITTED, State.IN_REVIEW, State.RETURNED, State.ACCEPTED)

# Room within a stage for the seconds of many centuries.
STAGE = 10**12
# Before this somebody of the staff or a volunteer has something to do with it.
WORK_ENDS = len(BY_STAGE) * STAGE

# True of few among many: each has its own small index, so that those few are found without reading the others.
FEW = {
    "closed": models.Q(closed_until__isnull=False),
    "on_site": models.Q(is_on_site=True),
    "passages": models.Q(has_closed_passages=True),
    "withheld": models.Q(is_name_withheld=True),
    "unsigned": models.Q(is_signed=False),
    "contested": models.Q(is_contested=True),
}


class Standing(models.TextChoices):
    """The worst that was measured on any part."""

    PROBLEM = "problem", "Problem"
    LOOK_CLOSER = "look closer", "Look closer"
    GOOD = "good", "Good"
    NOT_MEASURED = "not measured", "Not measured"


class QueueEntry(models.Model):
    """What the queue shows and asks of one interview, derived from its rows and never edited.

    Anything recorded of the interview is noted as Touched in the same transaction; whoever reads the queue next, or
    the sweep, derives the entry anew. `work_order` puts the stages in the order of the day's work and, within one, the
    longest waiting first: a single column, so that a page may begin anywhere in it, and so that work is a stretch of
    every index that ends in it.
    """

    interview = models.OneToOneField(Interview, primary_key=True, on_delete=models.PROTECT, related_name="queue_entry")
    collection = models.ForeignKey(Collection, on_delete=models.PROTECT, related_name="+")
    reviewer = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=12, choices=State.choices)
    submitted_at = models.DateTimeField(null=True)
    work_order = models.BigIntegerField()
    waiting_since = models.DateTimeField(help_text="When it was handed in, or begun where it has not been.")
    recorded_on = models.DateField()
    title = models.TextField()
    name = models.TextField(help_text="The narrators as they are sorted.")
    given_by = models.TextField()
    seconds = models.FloatField(null=True, help_text="Of all parts together; empty while one is not measured.")
    standing = models.CharField(max_length=12, choices=Standing.choices)
    is_signed = models.BooleanField()
    is_contested = models.BooleanField()
    closed_until = models.DateField(null=True)
    is_on_site = models.BooleanField(help_text="On site only, once nothing is closed any more.")
    is_name_withheld = models.BooleanField()
    has_closed_passages = models.BooleanField()
    accession_number = models.CharField(max_length=40, blank=True)
    words = models.TextField(help_text="What is found by: folded, words only.")

    class Meta:
        indexes = [
            models.Index(fields=["work_order", "interview"], name="queue_by_work"),
            models.Index(fields=["state", "work_order", "interview"], name="queue_by_state"),
            models.Index(fields=["waiting_since", "interview"], name="queue_by_waiting"),
            models.Index(fields=["recorded_on", "interview"], name="queue_by_day"),
            models.Index(fields=["name", "interview"], name="queue_by_name"),
            models.Index(fields=["collection", "work_order", "interview"], name="queue_by_collection"),
            models.Index(fields=["reviewer", "work_order", "interview"], name="queue_by_reviewer"),
            models.Index(fields=["standing", "work_order", "interview"], name="queue_by_standing"),
            *(
                models.Index(fields=["work_order", "interview"], name=f"queue_{name}", condition=few)
                for name, few in FEW.items()
            ),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def is_work(self) -> bool:
        return self.work_order < WORK_ENDS

    @property
    def restrictions(self) -> list[str]:
        """What restricts it today, in a few words each; none where it is open."""
        told = {
            "somebody asks to withdraw it": self.is_contested,
            "not signed by everybody": not self.is_signed,
            self._closed: bool(self._closed),
            "on site only": self.is_on_site,
            "passages closed": self.has_closed_passages,
            "a name withheld": self.is_name_withheld,
        }
        return [words for words, holds in told.items() if holds]

    @property
    def _closed(self) -> str:
        if self.closed_until is None or self.closed_until <= timezone.localdate():
            return ""
        return f"closed until {formats.date_format(self.closed_until)}"


class Reader(models.TextChoices):
    """Who derives something from interviews and wants to know when to do so anew."""

    QUEUE = "queue", "The queue"
    HARVEST = "harvest", "The records for harvesters"


class Touched(models.Model):
    """Something was recorded of this interview, which one reader has not looked at since.

    No foreign key: it would make the note wait for whoever holds the interview's lock.
    """

    interview = models.BigIntegerField()
    reader = models.CharField(max_length=10, choices=Reader.choices)

    class Meta:
        verbose_name_plural = "touched"
        indexes = [models.Index(fields=["reader", "id"], name="touched_by_reader")]

    def __str__(self) -> str:
        return f"interview {self.interview}"


class SavedView(models.Model):
    """A name that somebody of the staff gave to filters of the queue, for themselves."""

    owner = models.ForeignKey(User, on_delete=models.PROTECT, related_name="saved_views")
    name = models.CharField(max_length=60)
    filters = models.CharField(
        max_length=1000, help_text="As they stand in the address, without the place in the list."
    )

    class Meta:
        ordering = ("name",)
        constraints = [models.UniqueConstraint(fields=["owner", "name"], name="saved_views_of_one_person_differ")]

    def __str__(self) -> str:
        return self.name
