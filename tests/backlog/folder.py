"""A back-log as people bring it: a folder with recordings and a CSV."""

import csv
from pathlib import Path

from intake.backlog import checking
from intake.backlog.checking import Plan
from intake.backlog.table import COLUMNS
from tests.factories import COLLECTION, a_collection, a_wav

ROW = {
    "files": "tape1.wav",
    "date": "2026-03-14",
    "place": "Alder Ferry",
    "language": "en",
    "collection": COLLECTION,
    "narrator": "Marit Oskarsen",
    "interviewer": "Ilse Brook",
    "giver": "Jonna Vik",
    "giver_email": "jonna@example.org",
    "summary": "Forty years of the cable ferry.",
}


def a_folder(path: Path, *names: str) -> Path:
    """A folder with recordings of these names, each with a sound of its own."""
    for place, name in enumerate(names):
        file = path / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(a_wav(pitch_hz=220.0 + 10 * place))
    return path


def a_csv(folder: Path, *rows: dict[str, str], name: str = "back-log.csv") -> Path:
    """Each row is the usual one but for what it says."""
    a_collection()
    with (folder / name).open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS)
        writer.writeheader()
        writer.writerows({**ROW, **row} for row in rows)
    return folder / name


def check(folder: Path, *rows: dict[str, str], leave_unlisted: bool = False) -> Plan:
    return checking.check(folder, a_csv(folder, *rows), leave_unlisted=leave_unlisted)


def told(folder: Path, *rows: dict[str, str], leave_unlisted: bool = False) -> list[str]:
    return [str(problem) for problem in check(folder, *rows, leave_unlisted=leave_unlisted).problems]
