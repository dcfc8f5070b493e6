"""The copies of a file as pages tell of them: in one sentence for everybody, and check by check for staff."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils import formats, timezone

from intake.files.incidents import is_lost
from intake.files.models import FixityCheck, Incident, StoredFile
from intake.files.services import is_safe

SHOWN = 20


@dataclass(frozen=True)
class CopiesBlock:
    """All that is known of a file's copies: the latest readings first, and every incident with how it ended."""

    file: StoredFile
    kept: str
    checks: list[FixityCheck]
    earlier: int
    incidents: list[Incident]

    @property
    def is_lost(self) -> bool:
        return is_lost(self.file)


def kept_in_words(file: StoredFile) -> str:
    """Such as "In two copies, both read back and found right on 3 Nov 2026."."""
    if is_safe(file):
        read = {timezone.localdate(copy.read_at) for copy in file.stored_copies.all() if copy.read_at}
        days = " and ".join(formats.date_format(day) for day in sorted(read))
        return f"In two copies, both read back and found right on {days}."
    if is_lost(file):
        return (
            "No copy in the library is right any more. If you have this file, on a card or a computer, keep it as it "
            "is and tell the library: with it everything can be put right."
        )
    return "Not in two copies that have been read back and found right; the library sees to it."


def warning() -> str:
    """What staff are told on every page while a copy is bad or a store gone; "" if all is well. One query."""
    open_ones = list(Incident.objects.filter(closed_at=None).values_list("file", "store"))
    gone = [f"The {store} store is not there." for file, store in open_ones if file is None]
    bad = len(open_ones) - len(gone)
    copies = [f"{bad} stored copies are not right." if bad > 1 else "A stored copy is not right."] if bad else []
    return " ".join(gone + copies)


def copies_of(files: Iterable[StoredFile]) -> dict[object, CopiesBlock]:
    """What staff see of the copies of each file, by the file's id. Two queries."""
    files = list(files)
    checks: dict[object, list[FixityCheck]] = {file.pk: [] for file in files}
    for check in FixityCheck.objects.filter(file__in=files).select_related("by").order_by("-pk"):
        checks[check.file_id].append(check)
    incidents: dict[object, list[Incident]] = {file.pk: [] for file in files}
    for incident in Incident.objects.filter(file__in=files).order_by("-pk"):
        incidents[incident.file_id].append(incident)
    return {
        file.pk: CopiesBlock(
            file, kept_in_words(file), checks[file.pk][:SHOWN], len(checks[file.pk][SHOWN:]), incidents[file.pk]
        )
        for file in files
    }
