"""The people of the stories, and recordings for them to hand in."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page

from tests.journeys.story import COLLECTION, PASSWORD, Story
from tests.signals import amplitude, noise, tone, write
from tests.site import LiveSite

SPEECH = Path(__file__).resolve().parents[3] / "shared" / "reference"


@pytest.fixture(scope="session")
def story_site(live_site: LiveSite) -> LiveSite:
    """The running site with a coordinator, an archivist, and a collection opened through its pages' own services."""
    live_site.shell(
        "from intake.accounts.models import User\n"
        "from intake.interviews.services import add_collection\n"
        "from intake.kits.services import add_kit\n"
        "create = User.objects.create_user\n"
        f"coordinator = create('ines@example.org', {PASSWORD!r}, name='Ines Calloway', role='coordinator')\n"
        f"create('rowan@example.org', {PASSWORD!r}, name='Rowan Pike', role='archivist')\n"
        "from intake.interviews.models import Collection\n"
        f"Collection.objects.filter(name={COLLECTION!r}) or add_collection(name={COLLECTION!r}, actor=coordinator)\n"
        "add_kit(number='7', contents='recorder', actor=coordinator)\n"
    )
    return live_site


@pytest.fixture
def story(story_site: LiveSite, new_page: Callable[..., Page]) -> Story:
    return Story(story_site, new_page)


@pytest.fixture(scope="session")
def clear_recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Real speech where the reference recordings are at hand, else a quiet tone in a quiet room."""
    real = SPEECH / "speech" / "reading_20s_48k.wav"
    if real.exists():
        return real
    samples = tone(12, -18, hz=220) + noise(12, -70)
    return write(tmp_path_factory.mktemp("clear") / "REC_0001.WAV", samples)


@pytest.fixture(scope="session")
def clipped_recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Speech that was really clipped by its recorder where that is at hand, else a tone driven into full scale."""
    real = SPEECH / "faulty" / "clip_hard_count_16k.wav"
    if real.exists():
        return real
    samples = (tone(8, 6, hz=180) + noise(8, -60)).clip(-1, 1)
    return write(tmp_path_factory.mktemp("clipped") / "REC_0002.WAV", samples)


@pytest.fixture(scope="session")
def large_recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """About 40 MB: three pieces of 16 MiB."""
    samples = noise(140, -30) * amplitude(0)
    return write(tmp_path_factory.mktemp("large") / "LONG.WAV", samples.reshape(-1, 1).repeat(2, axis=1))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo):
    """A story that fails tells what the site's processes wrote: nobody can look afterwards."""
    report = yield
    site = getattr(item, "funcargs", {}).get("live_site")
    if report.failed and call.when == "call" and site:
        for name in ("web", "worker", "beat"):
            report.sections.append((f"the end of {name}.log", site.log(name)[-6000:]))
    return report
