"""kill -9 in the middle of a measurement: the report arrives all the same, and once."""

import json
import time
from pathlib import Path

import pytest

from tests.signals import noise, write
from tests.site import LiveSite

pytestmark = pytest.mark.processes

# What a volunteer's page does, over the services: an interview with one long recording, all of it received.
HAND_IN = """
import hashlib
from datetime import date
from pathlib import Path
from intake.accounts.models import User
from intake.files import uploads
from intake.interviews import services
from intake.interviews.models import Collection
path = Path({path!r})
volunteer = User.objects.create_user("kill@example.org", "three quiet rivers", name="Petra Holm", role="volunteer")
collection, _ = Collection.objects.get_or_create(name="Both Banks: the crossing years")
description = services.Description(collection, date(2026, 11, 2), "Alder Ferry", "en", "Ice", "", "")
interview = services.start(actor=volunteer, description=description, narrator_name="Jonas Wick", narrator_email="")
upload = uploads.begin(owner=volunteer, name=path.name, media_type="audio/wav", length=path.stat().st_size, metadata="")
part = services.add_part(interview.pk, upload=upload, actor=volunteer)
with path.open("rb") as body:
    uploads.append(upload.pk, offset=0, body=body, checksum=None)
uploads.declare_digest(upload.pk, hashlib.sha256(path.read_bytes()).hexdigest())
# The same process waits and kills, because a measurement can be over before another has started.
import os, signal, time
from intake.jobs.models import Job
for _ in range(6000):
    job = Job.objects.filter(kind="measure-part", subject_id=str(part.pk)).first()
    if job and job.state == "running":
        os.killpg({group}, signal.SIGKILL)
        break
    time.sleep(0.01)
print(part.pk)
"""

WHAT_STANDS = """
import json
from intake.audit.models import Event
from intake.interviews.models import Part
from intake.jobs.models import Job
part = Part.objects.get(pk={part})
job = Job.objects.filter(kind="measure-part", subject_id="{part}").latest("pk")
print(json.dumps({{
    "reports": part.file.qc_reports.count(),
    "events": Event.objects.filter(action="part-measured", subject_id="{part}").count(),
    "state": job.state,
    "attempts": job.attempts,
    "copies": part.file.checks.filter(found="matches").count(),
}}))
"""


def test_the_report_of_a_killed_worker_arrives_once_after_a_restart(live_site: LiveSite, tmp_path: Path) -> None:
    recording = _twenty_minutes(tmp_path)
    part = live_site.shell(HAND_IN.format(path=str(recording), group=live_site.worker_group)).split()[-1]
    live_site.kill_worker()  # returns once nothing of it is left
    killed = _what_stands(live_site, part)
    assert killed["state"] == "running", "the worker was killed in the middle, or this test shows nothing"
    assert killed["reports"] == 0
    live_site.restart_worker()
    finished = _wait_for_the_report(live_site, part)
    assert finished == {"reports": 1, "events": 1, "state": "done", "attempts": killed["attempts"] + 1, "copies": 2}


def _twenty_minutes(folder: Path) -> Path:
    """20 minutes of 48 kHz, 24-bit stereo: a measurement of several seconds."""
    minute = noise(60, -30)
    return write(folder / "LONG.WAV", minute.reshape(-1, 1).repeat(2, axis=1).repeat(20, axis=0))


def _what_stands(site: LiveSite, part: str) -> dict[str, object]:
    return json.loads(site.shell(WHAT_STANDS.format(part=part)))


def _wait_for_the_report(site: LiveSite, part: str) -> dict[str, object]:
    """Two minutes is what people are promised."""
    end = time.monotonic() + 120
    while time.monotonic() < end:
        stands = _what_stands(site, part)
        if stands["state"] == "done":
            return stands
        time.sleep(1)
    raise AssertionError(f"no report within two minutes: {stands}")
