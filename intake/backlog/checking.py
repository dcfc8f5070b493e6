"""Checks a back-log's CSV against its folder and the site, before anything is written: a plan, or all its problems."""

import hashlib
import re
import unicodedata
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from intake.backlog.table import Line, Problem, read
from intake.figures import size
from intake.files import room, storage
from intake.files.uploads import UNPRINTED
from intake.interviews.models import Collection
from intake.interviews.services import Description, impossible_day
from intake.outputs.paper.words import MONTHS
from intake.people.services import folded

BETWEEN_FILES = "|"
# Left by computers in every folder, not by people.
NOBODYS = {"thumbs.db", "desktop.ini"}
NUMERIC_DAY = re.compile(r"(\d{1,2})[./\- ](\d{1,2})[./\- ](\d{4})")
WRITTEN_DAY = re.compile(r"(\d{1,2})\.? ([A-Za-z]{3,9})\.? (\d{4})")
SHA256 = re.compile(r"[0-9a-f]{64}")
LONG_MONTHS = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
LONGEST = {"place": 200, "narrator": 200, "interviewer": 200, "giver": 200}


@dataclass(frozen=True)
class Name:
    """A person as the CSV names them."""

    name: str
    email: str

    def is_same(self, other: "Name") -> bool:
        """The same name, and no two addresses that differ."""
        addresses = {self.email, other.email} - {""}
        return folded(self.name) == folded(other.name) and len(addresses) < 2

    def with_address_of(self, other: "Name | None") -> "Name":
        """The address may stand in either of two columns that name one person."""
        return Name(self.name, self.email or other.email) if other and self.is_same(other) else self


@dataclass(frozen=True)
class PlannedFile:
    """A file of the folder; `sha256` is what the CSV says of it, empty if it says nothing."""

    name: str
    path: Path
    bytes: int
    sha256: str


@dataclass(frozen=True)
class PlannedRow:
    number: int
    files: list[PlannedFile]
    description: Description
    narrator: Name
    interviewer: Name | None
    giver: Name

    @property
    def bytes(self) -> int:
        return sum(file.bytes for file in self.files)


@dataclass
class Plan:
    """All rows of one CSV, to be taken in if there are no problems."""

    folder: Path
    csv_name: str
    csv_sha256: str
    rows: list[PlannedRow] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    @property
    def bytes(self) -> int:
        return sum(row.bytes for row in self.rows)


def check(folder: Path, csv_path: Path, *, leave_unlisted: bool) -> Plan:
    """Read everything once, change nothing, and tell all problems together."""
    folder = folder.resolve()
    content = storage.read(csv_path)
    plan = Plan(folder, csv_path.name, hashlib.sha256(content).hexdigest())
    lines, plan.problems = read(content)
    if lines:
        checker = _Checker(folder, plan.problems)
        plan.rows = [row for line in lines if (row := checker.row(line))]
        if not leave_unlisted:
            plan.problems += checker.unlisted(csv_path.resolve())
        plan.problems += _no_room(plan)
    plan.problems.sort(key=lambda problem: problem.row)
    return plan


class _Checker:
    """Holds what each row is compared with: the folder's files, the collections, the files listed so far."""

    def __init__(self, folder: Path, problems: list[Problem]) -> None:
        self.folder = folder
        self.problems = problems
        self.found = {_key(name): path for name, path in storage.files_below(folder)}
        self.links = {_key(name) for name in storage.links_below(folder)}
        self.collections = {folded(collection.name): collection for collection in Collection.objects.all()}
        self.languages = {key: code for code, name in settings.LANGUAGES for key in (code.lower(), name.lower())}
        self.listed: dict[str, int] = {}

    def row(self, line: Line) -> PlannedRow | None:
        """The row as planned; None if anything about it is wrong, which is noted."""
        before = len(self.problems)
        self._look_for_hidden_signs(line)
        description = self._description(line)
        files = self._files(line)
        narrator, interviewer, giver = (self._name(line, role) for role in ("narrator", "interviewer", "giver"))
        if narrator and interviewer and narrator.is_same(interviewer):
            self._note(line, "interviewer", "The narrator and the interviewer are two people.")
        if len(self.problems) > before or not (description and narrator and giver):
            return None
        return PlannedRow(line.number, files, description, narrator, interviewer, giver)

    def unlisted(self, csv_path: Path) -> list[Problem]:
        """Files that no row names: perhaps forgotten."""
        return [
            Problem(0, "", f"“{name}” is in the folder, but no row names it. Name it, move it away, or leave it out.")
            for name, path in sorted(self.found.items())
            if name not in self.listed and path != csv_path and not _is_nobodys(path)
        ]

    def _note(self, line: Line, column: str, sentence: str) -> None:
        self.problems.append(Problem(line.number, column, sentence))

    def _required(self, line: Line, column: str) -> str:
        if not line[column]:
            self._note(line, column, "This cell is empty.")
        return line[column]

    def _look_for_hidden_signs(self, line: Line) -> None:
        for column, cell in line.cells.items():
            allowed = "\n\r\t" if column in {"summary", "notes", "spellings"} else ""
            if any(unicodedata.category(sign) in UNPRINTED and sign not in allowed for sign in cell):
                self._note(line, column, "This cell holds signs that cannot be seen, or a line break. Type it again.")
            if len(cell) > LONGEST.get(column, len(cell)):
                self._note(line, column, f"This cell is longer than {LONGEST[column]} signs.")

    def _description(self, line: Line) -> Description | None:
        recorded_on = self._day(line)
        place, language, collection = self._required(line, "place"), self._language(line), self._collection(line)
        if not (recorded_on and place and language and collection):
            return None
        return Description(
            collection=collection,
            recorded_on=recorded_on,
            place=place,
            language=language,
            summary=line["summary"],
            context_notes=line["notes"],
            names_and_spellings=line["spellings"],
        )

    def _day(self, line: Line) -> date | None:
        written = self._required(line, "date")
        try:
            day = day_as_written(written) if written else None
        except ValueError as error:
            self._note(line, "date", str(error))
            return None
        for sentence in impossible_day(day) if day else []:
            self._note(line, "date", sentence)
        return day

    def _language(self, line: Line) -> str:
        written = self._required(line, "language")
        code = self.languages.get(written.lower(), "")
        if written and not code:
            self._note(
                line, "language", f"“{written}” is no language known here. Write its code, such as en, or its name."
            )
        return code

    def _collection(self, line: Line) -> Collection | None:
        written = self._required(line, "collection")
        known = self.collections.get(folded(written))
        if written and not known:
            self._note(
                line, "collection", f"There is no collection “{written}”. Open it at the desk, or correct the name."
            )
        return known

    def _name(self, line: Line, role: str) -> Name | None:
        name = line[role] if role == "interviewer" else self._required(line, role)
        email = line[f"{role}_email"].lower()
        if email and not name:
            self._note(line, f"{role}_email", f"There is an address, but no name in the column “{role}”.")
        try:
            validate_email(email) if email else None
        except ValidationError:
            self._note(line, f"{role}_email", f"“{email}” is no e-mail address.")
        return Name(name, email) if name else None

    def _files(self, line: Line) -> list[PlannedFile]:
        written = self._required(line, "files")
        names = [name.strip() for name in written.split(BETWEEN_FILES) if name.strip()]
        if written and not names:
            self._note(line, "files", "This cell names no file.")
        digests = self._digests(line, len(names))
        planned = [self._file(line, name, sha256) for name, sha256 in zip(names, digests, strict=True)]
        return [file for file in planned if file]

    def _digests(self, line: Line, count: int) -> list[str]:
        if not line["sha256"]:
            return [""] * count
        digests = [digest.strip().lower() for digest in line["sha256"].split(BETWEEN_FILES)]
        for digest in digests:
            if not SHA256.fullmatch(digest):
                self._note(line, "sha256", f"“{digest[:70]}” is no SHA-256: that is 64 hexadecimal digits.")
        if len(digests) == count:
            return digests
        self._note(line, "sha256", f"There are {count} files and {len(digests)} digests.")
        return [""] * count

    def _file(self, line: Line, written: str, sha256: str) -> PlannedFile | None:
        """SECURITY: a name is only ever looked up among the files that were found; no path is made of it."""
        name = _key(written)
        sentence = self._reason_against(name, written)
        self.listed.setdefault(name, line.number)
        if sentence:
            self._note(line, "files", sentence)
            return None
        path = self.found[name]
        return PlannedFile(name, path, path.stat().st_size, sha256)

    def _reason_against(self, name: str, written: str) -> str:
        if name in self.listed:
            return f"“{written}” is listed in row {self.listed[name]} already."
        path = self.found.get(name)
        if path:
            return _reason_against_file(path, written)
        if name.startswith("/") or re.match(r"[A-Za-z]:/", name) or ".." in name.split("/"):
            return f"“{written}” lies outside of the folder. Copy it into the folder."
        if any(name == link or name.startswith(f"{link}/") for link in self.links):
            return f"“{written}” is a link to another place. Copy the file itself into the folder."
        other = next((known for known in self.found if known.casefold() == name.casefold()), "")
        if other:
            return f"“{written}” is not in the folder, but “{other}” is: capital letters count."
        return f"“{written}” is not in the folder."


def day_as_written(written: str) -> date:
    """2026-03-14 or 14 March 2026. Raises ValueError with a sentence for anything else."""
    named = WRITTEN_DAY.fullmatch(written)
    numeric = NUMERIC_DAY.fullmatch(written)
    try:
        if named:
            return date(int(named[3]), _month(named[2]), int(named[1]))
        if numeric:
            raise ValueError(_both_readings(written, int(numeric[1]), int(numeric[2]), int(numeric[3])))
        if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", written):
            raise ValueError
        return date.fromisoformat(written)
    except ValueError as error:
        told = str(error) if numeric else f"“{written}” is no day. Write it like 2026-03-14 or 14 March 2026."
        raise ValueError(told) from error


def _both_readings(written: str, first: int, second: int, year: int) -> str:
    readings = []
    for month, day in ((second, first), (first, second)):
        try:
            readings.append(date(year, month, day).isoformat())
        except ValueError:  # only one of the two readings is a day at all
            continue
    if len(set(readings)) == 2:
        return f"“{written}” can be read as {readings[0]} or as {readings[1]}. Write one of them."
    return f"“{written}” is no day as it is written here." + (f" Write {readings[0]}." if readings else "")


def _month(name: str) -> int:
    """By its English name, whole or shortened. Raises ValueError."""
    short = [month.lower() for month in MONTHS]
    place = short.index(name[:3].lower())
    if not LONG_MONTHS[place].startswith(name.lower()) and name.lower() != "sept":
        raise ValueError(name)
    return place + 1


def _key(name: str) -> str:
    """A name as it is compared: some computers write accents in two signs, some part folders by backslashes."""
    parts = unicodedata.normalize("NFC", name).replace("\\", "/").split("/")
    return "/".join(part for place, part in enumerate(parts) if part != "." and (part or not place))


def _is_nobodys(path: Path) -> bool:
    return path.name.startswith(".") or path.name.lower() in NOBODYS


def _reason_against_file(path: Path, written: str) -> str:
    if not path.is_file():
        return f"“{written}” is no ordinary file."
    if not storage.can_be_read(path):
        return f"“{written}” cannot be read: the site's account has no right to it."
    length = path.stat().st_size
    if length == 0:
        return f"“{written}” is empty: it holds no sound."
    if length > settings.UPLOAD_MAX_BYTES:
        most = size(settings.UPLOAD_MAX_BYTES)
        return f"“{written}” is larger than this site takes in one file ({size(length)}; at most {most})."
    return ""


def _no_room(plan: Plan) -> list[Problem]:
    """Each store on a disk takes a copy of everything; the staging folder the largest row on its way to them."""
    largest = max((row.bytes for row in plan.rows), default=0)
    return [problem for disk in room.disks() for problem in _too_small(disk, plan.bytes, largest)]


def _too_small(disk: room.Disk, total: int, largest: int) -> list[Problem]:
    stores = len(set(disk.places) - {storage.STAGING})
    needed = total * stores + (largest if storage.STAGING in disk.places else 0)
    free = max(disk.free_bytes - disk.spoken_for_bytes, 0)
    if needed <= free:
        return []
    return [Problem(0, "", f"The disk has {size(free)} free; these recordings and their copies need {size(needed)}.")]
