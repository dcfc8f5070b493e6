"""A back-log on a running site: kill -9 in the middle of the import, and the same command goes on."""

import csv
import hashlib
import json
import signal
import subprocess
import time
from pathlib import Path

import pytest

from intake.local import commands
from tests.journeys.story import COLLECTION
from tests.signals import noise, write
from tests.site import FOLDER, LiveSite

pytestmark = pytest.mark.processes
ROWS = 6
SECONDS = 40  # about 6 MB each at 24 bit, mono

WHAT_STANDS = """
import json
from intake.backlog.models import BacklogImport, BacklogRow
from intake.files.services import is_safe
from intake.interviews.models import Part
from intake.people.models import Person
run = BacklogImport.objects.get(folder={folder!r})
rows = BacklogRow.objects.filter(taken_by=run, interview__isnull=False)
parts = Part.objects.filter(interview__in=[row.interview_id for row in rows]).select_related("file")
print(json.dumps({{
    "finished": bool(run.finished_at),
    "interviews": len({{row.interview_id for row in rows}}),
    "states": sorted(row.interview.state for row in rows.select_related("interview")),
    "stored": {{part.file.name: [part.file.sha256, is_safe(part.file)] for part in parts if part.file}},
    "parts": len(parts),
    "reports": sum(part.file.qc_reports.count() for part in parts if part.file),
    "givers": Person.objects.filter(email="backlog-giver@example.org").count(),
}}))
"""


@pytest.fixture
def backlog(story_site: LiveSite, tmp_path: Path) -> Path:
    folder = tmp_path / "box 7"
    folder.mkdir()
    rows = []
    for number in range(ROWS):
        write(folder / f"tape {number}.wav", noise(SECONDS, -30, seed=number))
        rows.append([f"tape {number}.wav", f"1987-09-{number + 1:02d}", "The boathouse", "English", COLLECTION])
    with (folder / "back-log.csv").open("w", encoding="utf-8-sig", newline="") as file:
        writer = csv.writer(file, delimiter=";")  # as a spreadsheet with a decimal comma saves it
        named = ["Narrator", "Interviewer", "Giver", "Giver email", "Summary"]
        writer.writerow(["Files", "Date", "Place", "Language", "Collection", *named])
        people = ["Marit Oskarsen", "Ilse Brook", "Per Vik", "backlog-giver@example.org", "The regatta."]
        writer.writerows([*row, *people] for row in rows)
    return folder


def arguments(folder: Path) -> tuple[str, ...]:
    return ("import_folder", str(folder), "--csv", "back-log.csv", "--actor", "rowan@example.org", "--submit")


def what_stands(site: LiveSite, folder: Path) -> dict:
    return json.loads(site.shell(WHAT_STANDS.format(folder=str(folder.resolve()))))


def killed_after(site: LiveSite, folder: Path, sentence: str) -> None:
    """Start the import, and kill -9 it while it does the row after the one that it tells of."""
    environment = {**site.environment, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        commands.manage(*arguments(folder)), env=environment, cwd=FOLDER, stdout=subprocess.PIPE, text=True
    ) as running:
        assert running.stdout is not None
        for line in running.stdout:
            if line.startswith(sentence):
                time.sleep(0.05)  # into the next row
                running.send_signal(signal.SIGKILL)
                break
        assert running.wait(30) == -signal.SIGKILL


def test_an_import_killed_in_the_middle_goes_on_and_makes_nothing_twice(story_site: LiveSite, backlog: Path) -> None:
    told = story_site.manage(*arguments(backlog), "--dry-run")
    assert f"{ROWS} rows, {ROWS} files, 34.6 MB." in told
    killed_after(story_site, backlog, "Row 3 ")
    half = what_stands(story_site, backlog)
    assert not half["finished"]
    assert 2 <= half["interviews"] < ROWS
    killed_after(story_site, backlog, "Row 5 ")
    told = story_site.manage(*arguments(backlog))
    assert "To look at" not in told
    earlier = int(told.split("Taken in an earlier run: ")[1].split(".")[0])
    assert 4 <= earlier < ROWS
    assert f"Taken now: {ROWS - earlier} interviews" in told
    whole = what_stands(story_site, backlog)
    assert (whole["finished"], whole["interviews"], whole["parts"], whole["givers"]) == (True, ROWS, ROWS, 1)
    assert whole["states"] == ["submitted"] * ROWS
    assert whole["stored"] == {
        path.name: [hashlib.sha256(path.read_bytes()).hexdigest(), True] for path in backlog.glob("*.wav")
    }
    assert _all_measured(story_site, backlog)
    again = story_site.manage(*arguments(backlog))
    assert f"Taken in an earlier run: {ROWS}. Handed in: 0." in again
    assert what_stands(story_site, backlog)["parts"] == ROWS


def _all_measured(site: LiveSite, folder: Path) -> bool:
    """The worker of the running site measures what was imported beside it, each file once."""
    for _ in range(120):
        reports = what_stands(site, folder)["reports"]
        if reports >= ROWS:
            return reports == ROWS
        time.sleep(1)
    return False
