"""The demo: loaded once into a folder of its own, then looked at from outside."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.local.alone import FOLDER, environment, manage

pytestmark = pytest.mark.processes

LOOK = """
import json
from intake.interviews.models import Interview
from intake.interviews.services import parts_of
from intake.jobs.models import Job
from intake.mail.models import Message
from intake.outputs.models import Output
from intake.qc.services import latest_report
from intake.releases.services import missing_signatures
from intake.accounts.models import User
from intake.files.services import is_safe
print(json.dumps({
    "interviews": [{
        "state": interview.state,
        "parts": [{"name": part.upload.name, "safe": is_safe(part.file), "standing": latest_report(part.file).standing,
                   "marks": len(latest_report(part.file).measurement["marks"])} for part in parts_of(interview)],
        "unsigned": len(missing_signatures(interview)),
    } for interview in Interview.objects.order_by("pk")],
    "jobs": sorted(set(Job.objects.values_list("state", flat=True))),
    "unsent": Message.objects.exclude(state="sent").count(),
    "outputs": sorted(Output.objects.values_list("kind", flat=True)),
    "people": sorted(User.objects.values_list("role", flat=True)),
    "addresses": sorted(User.objects.values_list("email", flat=True)),
}))
"""


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The environment of a loaded demo."""
    var_dir = tmp_path_factory.mktemp("demo")
    told = {
        "VAR_DIR": str(var_dir),
        "NUMBA_CACHE_DIR": str(var_dir / "numba"),
        "DJANGO_SETTINGS_MODULE": "intake.settings.demo",
        "SITE_URL": "http://127.0.0.1:8123",
    }
    assert manage("migrate", "--verbosity=0", **told).returncode == 0
    loaded = manage("load_demo", timeout=300, **told)
    assert loaded.returncode == 0, loaded.stderr
    return told


@pytest.fixture(scope="module")
def seen(demo: dict[str, str]) -> dict:
    shell = manage("shell", "--no-imports", "--command", LOOK, **demo)
    assert shell.returncode == 0, shell.stderr
    return json.loads(shell.stdout)


def test_there_is_an_interview_at_every_stage(seen: dict) -> None:
    states = [interview["state"] for interview in seen["interviews"]]
    assert states == ["draft", "draft", "submitted", "in_review", "accepted"]
    assert [len(interview["parts"]) for interview in seen["interviews"]] == [0, 1, 1, 2, 1]
    assert [interview["unsigned"] > 0 for interview in seen["interviews"]] == [True, True, False, False, False]


def test_every_part_was_kept_twice_and_measured_by_the_real_work(seen: dict) -> None:
    parts = [part for interview in seen["interviews"] for part in interview["parts"]]
    assert all(part["safe"] for part in parts)
    assert seen["jobs"] == ["done"]
    assert seen["unsent"] == 0
    assert seen["outputs"].count("listening-copy") == len(parts)
    assert seen["outputs"].count("receipt") == 1
    assert seen["outputs"].count("arrival-receipt") == 3
    assert seen["outputs"].count("release-copy") == 6


def test_the_recordings_differ_in_quality_as_their_story_says(seen: dict) -> None:
    standing = [[part["standing"] for part in interview["parts"]] for interview in seen["interviews"]]
    assert standing == [[], ["good"], ["look closer"], ["problem", "look closer"], ["good"]]
    assert [part["marks"] for interview in seen["interviews"] for part in interview["parts"]] == [0, 1, 0, 0, 2]


def test_its_people_are_invented(seen: dict) -> None:
    assert seen["people"] == ["archivist", "coordinator", "volunteer", "volunteer"]
    assert all(address.endswith("@example.org") for address in seen["addresses"])


def test_links_in_its_messages_lead_to_the_address_that_was_told(demo: dict[str, str]) -> None:
    mails = [path.read_text() for path in (Path(demo["VAR_DIR"]) / "mail").iterdir()]
    assert len(mails) >= 8
    assert any("http://127.0.0.1:8123/" in mail for mail in mails)
    assert not any("127.0.0.1:8000" in mail for mail in mails)


def test_it_is_loaded_into_an_empty_database_only(demo: dict[str, str], seen: dict) -> None:
    again = manage("load_demo", **demo)
    assert again.returncode != 0
    assert "an empty one only" in again.stderr


def test_it_is_not_loaded_into_a_real_site(tmp_path: Path) -> None:
    real = {"VAR_DIR": str(tmp_path), "DJANGO_SETTINGS_MODULE": "intake.settings.local"}
    assert manage("migrate", "--verbosity=0", **real).returncode == 0
    refused = manage("load_demo", **real)
    assert refused.returncode != 0
    assert "This is not the demo" in refused.stderr


def test_its_chain_of_events_is_whole_once_sealed(demo: dict[str, str]) -> None:
    code = "from intake.audit.services import seal_pending; print(seal_pending())"
    assert int(manage("shell", "--no-imports", "--command", code, **demo).stdout) > 50
    assert "The chain is whole" in manage("verify_events", **demo).stdout


def test_an_interrupted_load_is_told_from_a_finished_one(demo: dict[str, str], tmp_path: Path) -> None:
    code = "from intake.local import demo; print(demo.is_half_loaded(), demo.is_loaded())"
    finished = manage("shell", "--no-imports", "--command", code, **demo)
    assert finished.stdout.split() == ["False", "True"]
    told = demo | {"VAR_DIR": str(tmp_path)}
    assert manage("migrate", "--verbosity=0", **told).returncode == 0
    with subprocess.Popen(
        [sys.executable, "manage.py", "load_demo"],
        cwd=FOLDER,
        env=environment(**told),
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    ) as loading:
        assert loading.stdout is not None
        next(line for line in loading.stdout if "just been begun" in line)
        loading.kill()
    broken = manage("shell", "--no-imports", "--command", code, **told)
    assert broken.stdout.split() == ["True", "False"]
