"""The queue as it is listed: what is asked for, in which order, from which place on."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, cast

from django.core.exceptions import ValidationError
from django.db.models import Field, Q, QuerySet
from django.utils import timezone
from django.utils.timezone import is_naive

from intake.interviews.models import Collection
from intake.queue.models import WORK_ENDS, QueueEntry
from intake.queue.search import found

# Counting costs as much as it counts: beyond this a list says "more than".
COUNTED = 10_000
BETWEEN = "~"
LAST = 2**63 - 1


@dataclass(frozen=True)
class Order:
    """How a list may be sorted: by one column, and by the interviews' numbers where that is the same."""

    label: str
    column: str
    is_descending: bool = False


ORDERS = {
    "work": Order("The day's work: by stage, the longest waiting first", "work_order"),
    "newest": Order("Handed in, the newest first", "waiting_since", is_descending=True),
    "oldest": Order("Handed in, the oldest first", "waiting_since"),
    "recorded": Order("Recorded, the newest first", "recorded_on", is_descending=True),
    "narrator": Order("Narrator, A to Z", "name"),
}
FIRST_ORDER = "work"


@dataclass(frozen=True)
class Restricted:
    """One answer to "what restricts it?", and the entries of which it is true on a day."""

    label: str
    holds: Callable[[date], Q]


RESTRICTIONS = {
    "open": Restricted(
        "Open", lambda today: Q(is_signed=True, is_on_site=False, is_contested=False) & ~Q(closed_until__gt=today)
    ),
    "on-site": Restricted("On site only", lambda _: Q(is_on_site=True)),
    "closed": Restricted("Closed now", lambda today: Q(closed_until__gt=today)),
    "passages": Restricted("Passages closed", lambda _: Q(has_closed_passages=True)),
    "withheld": Restricted("A name withheld", lambda _: Q(is_name_withheld=True)),
    "unsigned": Restricted("Not signed by everybody", lambda _: Q(is_signed=False)),
    "contested": Restricted("Somebody asks to withdraw it", lambda _: Q(is_contested=True)),
}


@dataclass(frozen=True)
class Asked:
    """What a list is asked for. Without a stage and without words it shows what is somebody's work.

    `has_reviewer` False asks for what nobody reviews yet.
    """

    state: str = ""
    collection: Collection | None = None
    standing: str = ""
    restriction: str = ""
    waiting_days: int | None = None
    reviewer_id: int | None = None
    has_reviewer: bool | None = None
    words: str = ""


@dataclass(frozen=True)
class Stretch:
    """Some rows of a list in their order, and the places before and after them; empty where the list ends."""

    rows: list[QueueEntry]
    before: str
    after: str


@dataclass(frozen=True)
class Counted:
    """How many entries there are; `is_more` where counting was left off."""

    number: int
    is_more: bool

    def __str__(self) -> str:
        return f"{'more than ' if self.is_more else ''}{self.number:,}"


def entries(asked: Asked) -> QuerySet[QueueEntry]:
    """All entries that were asked for, in no order."""
    wanted = Q(state=asked.state) if asked.state else Q() if asked.words else Q(work_order__lt=WORK_ENDS)
    if asked.collection:
        wanted &= Q(collection=asked.collection)
    if asked.standing:
        wanted &= Q(standing=asked.standing)
    if asked.restriction:
        wanted &= RESTRICTIONS[asked.restriction].holds(timezone.localdate())
    if asked.waiting_days is not None:
        wanted &= Q(waiting_since__lt=timezone.now() - timedelta(days=asked.waiting_days))
    if asked.reviewer_id:
        wanted &= Q(reviewer=asked.reviewer_id)
    if asked.has_reviewer is not None:
        wanted &= Q(reviewer__isnull=not asked.has_reviewer)
    return found(QueueEntry.objects.filter(wanted), asked.words)


def counted(listed: QuerySet[QueueEntry]) -> Counted:
    number = listed.order_by()[: COUNTED + 1].count()
    return Counted(min(number, COUNTED), number > COUNTED)


def stretch(listed: QuerySet[QueueEntry], order: Order, *, rows: int, after: str = "", before: str = "") -> Stretch:
    """At most `rows` entries after a place or before one, else the first; a place that is none is the beginning.

    Nothing is counted and nothing skipped, so that the thousandth page costs what the first does.
    """
    backwards = _place(order, before) if not after else None
    place = _place(order, after) or backwards
    found = list(_from(listed, order, place, is_backwards=backwards is not None)[: rows + 1])
    is_more, found = len(found) > rows, found[:rows]
    if backwards:
        found.reverse()
    is_first, is_last = (not is_more, False) if backwards else (place is None, not is_more)
    return Stretch(
        found,
        before="" if is_first or not found else place_told(order, found[0]),
        after="" if is_last or not found else place_told(order, found[-1]),
    )


def _from(
    listed: QuerySet[QueueEntry], order: Order, place: tuple[Any, int] | None, *, is_backwards: bool
) -> QuerySet[QueueEntry]:
    falls = order.is_descending != is_backwards
    sign, beyond = ("-", "lt") if falls else ("", "gt")
    if place:
        value, pk = place
        # The first condition says nothing new, and lets the database begin there instead of at the first row.
        listed = listed.filter(**{f"{order.column}__{beyond}e": value}).filter(
            Q(**{f"{order.column}__{beyond}": value}) | Q(**{f"pk__{beyond}": pk})
        )
    return listed.order_by(f"{sign}{order.column}", f"{sign}pk")


def place_told(order: Order, entry: QueueEntry) -> str:
    return f"{_column(order).value_to_string(entry)}{BETWEEN}{entry.pk}"


def _place(order: Order, told: str) -> tuple[Any, int] | None:
    """The place that an address names; None for one that is none."""
    value, _, pk = told.replace("\0", "").rpartition(BETWEEN)
    try:
        place = _column(order).to_python(value), int(pk)
    except (ValidationError, ValueError):
        return None
    return None if place[1] > LAST or (isinstance(place[0], datetime) and is_naive(place[0])) else place


def _column(order: Order) -> "Field[Any, Any]":
    return cast("Field[Any, Any]", QueueEntry._meta.get_field(order.column))
