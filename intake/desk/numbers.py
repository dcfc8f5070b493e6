"""The numbers of a year: what was handed in, accepted and sent back, how good it sounds, and how the kits are used."""

import csv
import io
from collections import Counter
from collections.abc import Iterable
from datetime import date, datetime
from statistics import median
from typing import Any

from django.db.models import Min
from django.utils import formats, timezone

from intake.audit.actions import Action
from intake.audit.models import Event
from intake.interviews.models import Interview
from intake.kits.models import Kit, Loan
from intake.outputs import paper_data
from intake.outputs.paper.numbers import Column, Numbers, Table, shown
from intake.qc.models import QCReport
from intake.queue.services import bring_up_to_date
from intake.register.models import Accession, Arrival
from intake.review.models import Decision, Verdict

MONTHS = range(1, 13)
HOUR = 3600
DAY = 24 * HOUR
STANDINGS = ("good", "look closer", "problem")
OTHER = "Other reasons"


def years() -> list[int]:
    """Those of which there is something to tell, the newest first; this year in any case."""
    first = Interview.objects.aggregate(first=Min("started_at"))["first"]
    this = timezone.localdate().year
    return list(range(this, (timezone.localtime(first).year if first else this) - 1, -1))


def numbers_of(year: int) -> Numbers:
    """All numbers of a year, by the library's own clock."""
    while bring_up_to_date():
        pass
    accepted = _accepted(year)
    arrived = _at_in(Arrival.objects.filter(replaces=None), year)
    back = _at_in(Decision.objects.filter(verdict=Verdict.SENT_BACK), year)
    declined = _at_in(Decision.objects.filter(verdict=Verdict.DECLINED), year)
    days = [row["days"] for row in accepted if row["days"] is not None]
    return Numbers(
        library=paper_data.library(),
        year=year,
        figures=(
            ("Handed in", shown(len(arrived)), "interviews"),
            ("Accepted", shown(len(accepted)), "interviews"),
            ("Hours accepted", shown(_hours(accepted)), "hours"),
            ("Sent back", shown(len(back)), "times"),
            ("Declined", shown(len(declined)), "interviews"),
            ("From hand-in to acceptance", shown(median(days) if days else None), "days (half of them sooner)"),
        ),
        tables=(
            _by_month(accepted, arrived, back, declined),
            _by_collection(accepted),
            _why_sent_back(year),
            _sound(year),
            _kits(year),
        ),
        at=timezone.now(),
    )


def as_csv(numbers: Numbers) -> str:
    """One number a line, with its table, its row and its unit, for any program that draws or adds up."""
    written = io.StringIO()
    rows = csv.writer(written)
    rows.writerow(["year", "table", "row", "column", "value", "unit"])
    for name, figure, unit in numbers.figures:
        rows.writerow([numbers.year, "The year", "", name, figure.replace(",", "").replace("–", ""), unit])
    for table in numbers.tables:
        for label, values in table.rows:
            for column, value in zip(table.columns, values, strict=True):
                told = "" if value is None else f"{value:g}"
                rows.writerow([numbers.year, table.title, label, column.name, told, column.unit])
    return written.getvalue()


def _by_month(accepted: list[dict], arrived: list[datetime], back: list[datetime], declined: list[datetime]) -> Table:
    def of(month: int, moments: Iterable[datetime]) -> int:
        return sum(moment.month == month for moment in moments)

    rows = []
    for month in MONTHS:
        taken = [row for row in accepted if row["at"].month == month]
        days = [row["days"] for row in taken if row["days"] is not None]
        counted = (of(month, arrived), len(taken), _hours(taken), of(month, back), of(month, declined))
        rows.append((_name(month), (*counted, round(median(days), 1) if days else None)))
    most = max(rows, key=lambda row: row[1][2] or 0)
    told = f"Most hours were accepted in {most[0]}: {shown(most[1][2])}." if most[1][2] else "No hours were accepted."
    columns = (
        Column("Handed in", "interviews"),
        Column("Accepted", "interviews"),
        Column("Accepted", "hours"),
        Column("Sent back", "times"),
        Column("Declined", "interviews"),
        Column("Hand-in to acceptance", "days, median"),
    )
    return Table("months", "By month", told, "Month", columns, tuple(rows), drawn=(2,))


def _by_collection(accepted: list[dict]) -> Table:
    names = sorted({row["collection"] for row in accepted})
    rows = [(name, [row for row in accepted if row["collection"] == name]) for name in names]
    told = f"Accepted interviews came into {len(names)} collection{'' if len(names) == 1 else 's'}."
    return Table(
        "collections",
        "By collection",
        told,
        "Collection",
        (Column("Accepted", "interviews"), Column("Accepted", "hours")),
        tuple((name, (len(taken), _hours(taken))) for name, taken in rows),
    )


def _why_sent_back(year: int) -> Table:
    """By what was found and not answered when an interview was sent back; one may be sent back for several reasons."""
    events = Event.objects.filter(action=Action.SENT_BACK, **_within("at", year))
    counted = Counter(
        reason for details in events.values_list("details", flat=True) for reason in details.get("because") or [OTHER]
    )
    rows = sorted(counted.items(), key=lambda pair: (-pair[1], pair[0]))
    told = f"The commonest reason: {rows[0][0].lower()}." if rows else "Nothing was sent back."
    return Table(
        "reasons", "Why interviews were sent back", told, "Reason", (Column("Sent back", "times"),),
        tuple((reason, (times,)) for reason, times in rows),
    )  # fmt: skip


def _sound(year: int) -> Table:
    """Each recording once, in the month in which it was first measured."""
    first = QCReport.objects.values("file").annotate(first=Min("pk")).values("first")
    measured = QCReport.objects.filter(pk__in=first, **_within("measured_at", year))
    counted = Counter(
        (timezone.localtime(at).month, standing if standing in STANDINGS else "good")
        for at, standing in measured.values_list("measured_at", "standing")
    )
    rows = tuple((_name(month), tuple(counted[month, one] for one in STANDINGS)) for month in MONTHS)
    whole = sum(counted.values())
    good = sum(counted[month, "good"] for month in MONTHS)
    told = f"{good} of {whole} recordings measured in the year were good." if whole else "No recording was measured."
    columns = tuple(Column(one.capitalize(), "recordings") for one in STANDINGS)
    return Table("sound", "How the recordings sound", told, "Month", columns, rows, drawn=(0, 1, 2))


def _kits(year: int) -> Table:
    loans = list(Loan.objects.filter(lent_at__lt=_begins(year + 1)).values_list("kit", "lent_at", "returned_at"))
    kits, rows = Kit.objects.count(), []
    for month in MONTHS:
        begins, ends = _begins(year, month), _begins(year + month // 12, month % 12 + 1)
        lent = sum(begins <= lent_at < ends for _, lent_at, _ in loans)
        out = {kit for kit, lent_at, back in loans if lent_at < ends and (back is None or back >= begins)}
        began = begins <= timezone.now()
        rows.append((_name(month), (lent, len(out) if began else 0)))
    told = f"The library has {kits} kit{'' if kits == 1 else 's'}; {sum(row[1][0] for row in rows)} loans began."
    columns = (Column("Lent", "loans"), Column("Out at some time", "kits"))
    return Table("kits", "Kits in use", told, "Month", columns, tuple(rows), drawn=(1,))


def _accepted(year: int) -> list[dict[str, Any]]:
    """The acceptances that stand: when, into which collection, how long the sound is, how many days it took."""
    stands = Accession.objects.filter(undone_at=None, **_within("accepted_at", year))
    rows = stands.annotate(arrived=Min("interview__arrivals__at")).values_list(
        "accepted_at", "interview__collection__name", "interview__queue_entry__seconds", "arrived"
    )
    return [
        {
            "at": timezone.localtime(at),
            "collection": collection,
            "seconds": seconds or 0,
            "days": (at - arrived).total_seconds() / DAY if arrived else None,
        }
        for at, collection, seconds, arrived in rows
    ]


def _hours(accepted: list[dict[str, Any]]) -> float:
    return sum(row["seconds"] for row in accepted) / HOUR


def _at_in(rows: Any, year: int) -> list[datetime]:
    return [timezone.localtime(at) for at in rows.filter(**_within("at", year)).values_list("at", flat=True)]


def _within(field: str, year: int) -> dict[str, datetime]:
    return {f"{field}__gte": _begins(year), f"{field}__lt": _begins(year + 1)}


def _begins(year: int, month: int = 1) -> datetime:
    return datetime(year, month, 1, tzinfo=timezone.get_current_timezone())


def _name(month: int) -> str:
    return formats.date_format(date(2000, month, 1), "F")
