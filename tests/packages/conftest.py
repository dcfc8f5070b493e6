"""An accepted interview with everything that a package can hold, and its package as a folder."""

import io
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from intake import workflow
from intake.interviews import services as interviews
from intake.interviews.attachments import take_out
from intake.interviews.models import Interview
from intake.outputs.packages.bags import Bag, zipped
from intake.outputs.packages.contents import package_of
from tests.factories import (
    a_clipped_wav,
    a_part_stored,
    a_release_on_paper,
    a_signed_release,
    a_started_interview,
    an_attachment_stored,
    answer_everything,
    interviewer_of,
    narrator_of,
    run_jobs,
)

ON = date(2026, 11, 27)


def a_full_interview(volunteer, archivist) -> Interview:
    """Two parts and two attachments, one more of each taken out; a release on the screen and one on paper."""
    interview = a_started_interview(volunteer)
    a_part_stored(interview, a_clipped_wav(), name="TOLL0001.WAV").marks.create(at_seconds=0.1, label="ferry")
    a_part_stored(interview, name="Fähre/..\\TOLL 0002?.WAV")
    interviews.remove_part(a_part_stored(interview, name="PROBE.WAV").pk, actor=volunteer)
    an_attachment_stored(interview, name="porch.jpg")
    take_out(an_attachment_stored(interview, name="twice.jpg").pk, reason="Handed in twice.", actor=volunteer)
    a_signed_release(narrator_of(interview), name_withheld=True, access="closed", closed_until=date(2040, 1, 1))
    workflow.submit(interview.pk, actor=volunteer)
    a_release_on_paper(interviewer_of(interview), actor=archivist)
    run_jobs()
    workflow.take_up(interview.pk, actor=archivist)
    answer_everything(interview, archivist)
    workflow.accept(interview.pk, actor=archivist)
    run_jobs()
    interview.refresh_from_db()
    return interview


@pytest.fixture
def full(volunteer, archivist) -> Interview:
    return a_full_interview(volunteer, archivist)


@pytest.fixture
def unpacked(tmp_path) -> Callable[..., Path]:
    """Writes bags as an archive and unpacks them with Python's own reader; the folder of the first."""

    def unpack(*bags: Bag) -> Path:
        packed = io.BytesIO(b"".join(zipped(bags, on=ON)))
        with zipfile.ZipFile(packed) as archive:
            assert archive.testzip() is None
            archive.extractall(tmp_path / "unpacked")
        return tmp_path / "unpacked" / bags[0].name

    return unpack


@pytest.fixture
def package(full, archivist, unpacked) -> Path:
    return unpacked(package_of(full, actor=archivist))
