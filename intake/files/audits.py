"""Every copy is read again within a set period: a night's share, what somebody asked for, and an honest forecast."""

import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import Case, Count, Exists, F, Min, OuterRef, Q, QuerySet, Sum, When
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.models import Outcome
from intake.audit.services import record
from intake.figures import size
from intake.files import fixity, incidents, listings, storage, stores
from intake.files.fixity import BeingRead, Reader
from intake.files.models import Audit, FixityCheck, Incident, IncidentState, StoredCopy, StoredFile, Upload, Why
from intake.jobs.models import Job, JobState, Kind
from intake.jobs.policies import POLICIES
from intake.jobs.services import enqueue

logger = logging.getLogger(__name__)

AT_ONCE = 100
QUEUE = POLICIES[Kind.AUDIT_COPIES].queue
# Copies are taken up a little before their time is over, so that one bad night does not make them late.
TAKEN_UP_AT = 0.9
SPEED_FROM_THE_LAST = timedelta(days=30)
EVERYTHING_READ = "every copy that was due has been read"
ALL_ASKED_FOR = "everything that was asked for has been read"
BROKEN_OFF = "it broke off"
NOTHING_MORE_TO_HAVE = "what is left could not be read just now"
BUDGET_SPENT = "the night's share has been read"
WINDOW_OVER = "the hours of the night were over"


@dataclass(frozen=True)
class Forecast:
    """What there is to read, what tonight will read, and whether that is enough. Bytes; hours of the site's time."""

    copies: int
    bytes: int
    never_read: int
    oldest_at: datetime | None
    tonight_bytes: int
    budget_bytes: int
    hours: float
    from_hour: int
    until_hour: int
    period_days: int
    bytes_a_second: float | None

    @property
    def needed_bytes(self) -> int:
        """What every night has to read for each copy to be read within the period."""
        return -(-self.bytes // self.period_days)

    @property
    def possible_bytes(self) -> int:
        """What a night can read: its budget, or less where the hours are too short at the speed seen so far."""
        if self.bytes_a_second is None:
            return self.budget_bytes
        return min(self.budget_bytes, int(self.bytes_a_second * self.hours * 3600))

    @property
    def round_days(self) -> int | None:
        """Nights for one round of all copies at what is possible; None if a night can read nothing."""
        return -(-self.bytes // self.possible_bytes) if self.possible_bytes else None

    @property
    def is_enough(self) -> bool:
        return self.needed_bytes <= self.possible_bytes


# The night


def night_of(moment: datetime) -> date | None:
    """The night whose hours this moment is in, by the day it began; None between nights."""
    here = timezone.localtime(moment)
    begins, ends = settings.FIXITY_FROM_HOUR, settings.FIXITY_UNTIL_HOUR
    if begins < ends:
        return here.date() if begins <= here.hour < ends else None
    if here.hour >= begins:
        return here.date()
    return here.date() - timedelta(days=1) if here.hour < ends else None


def is_due(moment: datetime) -> date | None:
    """The night that nobody has begun to read or that made way for other work; None by day, and once it failed.

    Work that waits or runs already is nudged by the sweep itself.
    """
    night = night_of(moment)
    if night is None or Audit.objects.filter(about=_about(night), finished_at__isnull=False).exists():
        return None
    jobs = Job.objects.filter(kind=Kind.AUDIT_COPIES, subject_id=night.isoformat())
    return None if jobs.exclude(state=JobState.DONE).exists() else night


def read_tonight(night: date, progress: Callable[[float], None]) -> None:
    """Go on with the night's readings until its share is read, its hours are over, or other work waits.

    May be stopped at any point: what was read is noted file by file, and the next call goes on from there.
    """
    audit = _tonights(night)
    if audit.finished_at:
        return
    if audit.listed_at is None:
        _begin(audit)
    gone = incidents.note_stores()
    _go_on_with_incidents(audit)
    for copy in _next_copies(gone, audit):
        if night_of(timezone.now()) != night:
            return _finish(audit, WINDOW_OVER)
        if _others_wait():
            return None
        _read_one(copy, audit)
        audit.refresh_from_db()
        progress(min(audit.bytes_read / max(audit.budget_bytes or 0, 1), 1.0))
        if audit.bytes_read >= (audit.budget_bytes or 0):
            return _finish(audit, BUDGET_SPENT)
    return _finish(audit, NOTHING_MORE_TO_HAVE if _waiting(gone, audit).exists() else EVERYTHING_READ)


def forecast(moment: datetime) -> Forecast:
    copies = StoredCopy.objects.aggregate(
        copies=Count("pk"),
        bytes=Sum("file__bytes"),
        oldest_at=Min("read_at"),
        never=Count("pk", filter=Q(read_at=None)),
    )
    recent = Audit.objects.filter(started_at__gt=moment - SPEED_FROM_THE_LAST).aggregate(
        bytes=Sum("bytes_read"), seconds=Sum("seconds")
    )
    return Forecast(
        copies=copies["copies"],
        bytes=copies["bytes"] or 0,
        never_read=copies["never"],
        oldest_at=copies["oldest_at"],
        tonight_bytes=_share(moment),
        budget_bytes=settings.FIXITY_NIGHT_BYTES,
        hours=(settings.FIXITY_UNTIL_HOUR - settings.FIXITY_FROM_HOUR) % 24 or 24,
        from_hour=settings.FIXITY_FROM_HOUR,
        until_hour=settings.FIXITY_UNTIL_HOUR,
        period_days=settings.FIXITY_PERIOD_DAYS,
        bytes_a_second=recent["bytes"] / recent["seconds"] if recent["seconds"] else None,
    )


# On demand


@transaction.atomic
def ask(*, about: str, actor: User | None, why: Why = Why.ASKED) -> Audit:
    """Ask for the copies of one thing ("label:id") to be read again. Asking while it is open is one promise."""
    audit = open_audit(about=about, why=why, actor=actor)
    enqueue(Kind.CHECK_COPIES, audit.pk)
    return audit


def read_all(
    audit: Audit, files: QuerySet[StoredFile], progress: Callable[[int, int], None], *, budget: int | None = None
) -> bool:
    """Read every copy of these files that this audit has not read yet; whether that is all.

    `progress` is told the bytes of files done, and of all. With a budget in bytes read it leaves off there, and goes
    on when called again. Raises fixity.BeingRead.
    """
    done, total = 0, files.aggregate(bytes=Sum("bytes"))["bytes"] or 0
    before = audit.bytes_read
    reader = Reader(Why(audit.why), by=audit.by, audit=audit)
    for pk in list(files.order_by("stored_at", "pk").values_list("pk", flat=True)):
        audit.refresh_from_db()
        if budget is not None and audit.bytes_read - before >= budget:
            return False
        file = StoredFile.objects.get(pk=pk)
        if not _is_done(file, audit):
            incidents.examine(file, reader)
        done += file.bytes
        progress(done, total)
    _close(audit, ALL_ASKED_FOR)
    return True


def open_audit(*, about: str, why: Why, actor: User | None) -> Audit:
    """The audit of this thing that has not ended, or a new one."""
    return Audit.objects.filter(about=about, finished_at=None).first() or _new(about, why, actor)


def _new(about: str, why: Why, actor: User | None, **given: int) -> Audit:
    """Two who ask at the same moment share the audit."""
    try:
        with transaction.atomic():
            return Audit.objects.create(about=about, why=why, by=actor, **given)
    except IntegrityError:
        return Audit.objects.get(about=about, finished_at=None)


def _is_done(file: StoredFile, audit: Audit) -> bool:
    """Whether this audit has read every copy of a file, and left nothing half mended when it was stopped."""
    read = FixityCheck.objects.filter(audit=audit, file=file).values("store").distinct().count()
    begun = Incident.objects.filter(file=file, state__in=[IncidentState.FOUND, IncidentState.SET_ASIDE])
    return read == len(storage.STORES) and not begun.exists()


def _about(night: date) -> str:
    return f"night:{night.isoformat()}"


def _tonights(night: date) -> Audit:
    for left in Audit.objects.filter(why=Why.SCHEDULE, finished_at=None).exclude(about=_about(night)):
        _close(left, BROKEN_OFF)
    known = Audit.objects.filter(about=_about(night)).first()
    return known or _new(_about(night), Why.SCHEDULE, None, budget_bytes=0)


def _begin(audit: Audit) -> None:
    """Compare the listings, look again at what had no good copy, and settle how much this night reads."""
    fixity.ensure_copies()
    gone = incidents.note_stores()
    for store in set(storage.STORES) - gone:
        try:
            told = listings.compare(store)
        except (stores.StoreGone, *stores.FAULTS) as error:
            logger.warning("the listing of the %s store broke off: %s", store, error)
        else:
            logger.info("%s", told)
    for file in StoredFile.objects.filter(
        incidents__closed_at=None, incidents__state=IncidentState.NO_GOOD_COPY
    ).distinct():
        _without_fail(file, audit, incidents.examine)
    audit.budget_bytes, audit.listed_at = _share(timezone.now()), timezone.now()
    audit.save(update_fields=["budget_bytes", "listed_at"])


def _share(moment: datetime) -> int:
    """What a night reads: its share of everything, or all that is nearly late or suspect if that is more.

    At most the budget, and one file beyond it.
    """
    late = _late(moment).aggregate(bytes=Sum("file__bytes"))["bytes"] or 0
    total = StoredCopy.objects.aggregate(bytes=Sum("file__bytes"))["bytes"] or 0
    return min(max(-(-total // settings.FIXITY_PERIOD_DAYS), late), settings.FIXITY_NIGHT_BYTES)


def _late(moment: datetime) -> QuerySet[StoredCopy]:
    limit = moment - timedelta(days=settings.FIXITY_PERIOD_DAYS * TAKEN_UP_AT)
    return StoredCopy.objects.filter(Q(read_at=None) | Q(read_at__lt=limit) | Q(is_suspect=True))


def _next_copies(gone: set[str], audit: Audit) -> Iterator[StoredCopy]:
    """What the listing speaks against; of what is nearly late what was handed in; then the longest unread.

    Each copy once a night: those with an open incident have been looked at already.
    """
    limit = timezone.now() - timedelta(days=settings.FIXITY_PERIOD_DAYS * TAKEN_UP_AT)
    is_late = Q(read_at=None) | Q(read_at__lt=limit)
    was_handed_in = Exists(Upload.objects.filter(file=OuterRef("file")))
    order = Case(When(is_suspect=True, then=0), When(is_late & was_handed_in, then=1), When(is_late, then=2), default=3)
    while True:
        batch = list(
            _waiting(gone, audit)
            .select_related("file")
            .order_by(order, F("read_at").asc(nulls_first=True), "pk")[:AT_ONCE]
        )
        yield from batch
        if not batch or not _is_changed(batch):
            return


def _waiting(gone: set[str], audit: Audit) -> QuerySet[StoredCopy]:
    """The copies that have not been read since the night began and that could be."""
    bad = Incident.objects.filter(file=OuterRef("file"), closed_at=None)
    unread = StoredCopy.objects.filter(Q(read_at=None) | Q(read_at__lt=audit.started_at) | Q(is_suspect=True))
    return unread.exclude(store__in=gone).exclude(Exists(bad))


def _is_changed(batch: list[StoredCopy]) -> bool:
    """Whether any of these has been read since: if none could be, another round would be for ever."""
    now = dict(StoredCopy.objects.filter(pk__in=[copy.pk for copy in batch]).values_list("pk", "read_at"))
    return any(now[copy.pk] != copy.read_at for copy in batch)


def _read_one(copy: StoredCopy, audit: Audit) -> None:
    _without_fail(copy.file, audit, lambda file, reader: incidents.examine(file, reader, only=copy.store))


def _go_on_with_incidents(audit: Audit) -> None:
    """What was begun and broke off, or was hindered, is taken up before anything else is read."""
    begun = [IncidentState.FOUND, IncidentState.SET_ASIDE]
    for file in StoredFile.objects.filter(incidents__closed_at=None, incidents__state__in=begun).distinct():
        _without_fail(file, audit, incidents.go_on_with)


def _without_fail(file: StoredFile, audit: Audit, work: Callable[[StoredFile, Reader], object]) -> None:
    """One file that somebody else is reading just now does not stop the night."""
    try:
        work(file, Reader(Why.SCHEDULE, audit=audit))
    except BeingRead as error:
        logger.info("%s", error)


def _others_wait() -> bool:
    """Whether people's own files wait for a worker that reads at night."""
    waiting = Job.objects.filter(state=JobState.WAITING, due_at__lte=timezone.now())
    ours = [kind for kind, policy in POLICIES.items() if policy.queue == QUEUE and kind != Kind.AUDIT_COPIES]
    return waiting.filter(kind__in=ours).exists()


def _finish(audit: Audit, because: str) -> None:
    """A night's figures are an event; single good readings are not."""
    with transaction.atomic():
        _close(audit, because)
        record(
            actor=None,
            action=Action.COPIES_AUDITED,
            subject=audit,
            outcome=Outcome.FAILURE if audit.bad_copies else Outcome.SUCCESS,
            copies=audit.copies_read,
            bytes=audit.bytes_read,
            bad_copies=audit.bad_copies,
            ended_because=because,
        )
    logger.info("%s copies, %s read: %s", audit.copies_read, size(audit.bytes_read), because)


def _close(audit: Audit, because: str) -> None:
    audit.refresh_from_db()
    audit.finished_at, audit.ended_because = timezone.now(), because
    audit.save(update_fields=["finished_at", "ended_because"])
