"""An accepted interview with everything that a package can hold, and its package as a folder."""

import io
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from django.utils import timezone

from intake import workflow
from intake.accounts.models import User
from intake.catalogue import headings, timed
from intake.catalogue import services as catalogue
from intake.catalogue.models import TimedText
from intake.catalogue.services import Said
from intake.catalogue.webvtt import Spoken
from intake.interviews import services as interviews
from intake.interviews.attachments import take_out
from intake.interviews.models import Interview
from intake.interviews.services import parts_of
from intake.jobs.models import Kind
from intake.outputs import issuing, letters
from intake.outputs.models import LetterKind, OutputKind
from intake.outputs.packages.bags import Bag, zipped
from intake.outputs.packages.contents import package_of
from intake.releases.models import Release
from intake.releases.passages import close_passage, open_passage
from intake.releases.restrictions import record_event
from tests.factories import (
    IN_COPYRIGHT,
    a_clipped_wav,
    a_part_stored,
    a_release_on_paper,
    a_signed_release,
    a_started_interview,
    an_agreement_on_paper,
    an_attachment_stored,
    answer_everything,
    interviewer_of,
    narrator_of,
    run_jobs,
)

ON = date(2026, 11, 27)
SKOS = b"""@prefix s: <http://www.w3.org/2004/02/skos/core#> . @prefix e: <https://example.org/> .
e:a s:prefLabel "Ferries"@en . e:b s:prefLabel "Cable ferries"@en ; s:broader e:a ."""


def a_full_interview(volunteer, archivist) -> Interview:
    """Two parts and two attachments, one more of each taken out; a release on the screen and one on paper, an agreement
    on paper, a letter, and a receipt that was issued again.
    """
    interview = a_started_interview(volunteer)
    a_part_stored(interview, a_clipped_wav(), name="TOLL0001.WAV").marks.create(at_seconds=0.1, label="ferry")
    a_part_stored(interview, name="Fähre/..\\TOLL 0002?.WAV")
    interviews.remove_part(a_part_stored(interview, name="PROBE.WAV").pk, actor=volunteer)
    an_attachment_stored(interview, name="porch.jpg")
    take_out(an_attachment_stored(interview, name="twice.jpg").pk, reason="Handed in twice.", actor=volunteer)
    closed = {"access": "closed", "closed_until": date(2040, 1, 1), "closed_event": "the sale of the house"}
    an_agreement_on_paper(narrator_of(interview), actor=archivist)
    release = a_signed_release(narrator_of(interview), name_withheld=True, **closed)
    workflow.submit(interview.pk, actor=volunteer)
    a_release_on_paper(interviewer_of(interview), actor=archivist)
    run_jobs()
    workflow.take_up(interview.pk, actor=archivist)
    answer_everything(interview, archivist)
    workflow.accept(interview.pk, actor=archivist)
    _describe(interview, archivist)
    _restrict(interview, release, archivist)
    _papers(interview, archivist)
    run_jobs()
    interview.refresh_from_db()
    return interview


def _papers(interview: Interview, archivist: User) -> None:
    run_jobs()
    person = narrator_of(interview).person
    letters.write_letter(
        interview.pk,
        kind=LetterKind.THANKS,
        person=person,
        language="en",
        text="Thank you.",
        by_email=True,
        actor=archivist,
    )
    issuing.reissue(interview.outputs.get(kind=OutputKind.RECEIPT), reason="The library has moved.", actor=archivist)


def _describe(interview: Interview, archivist: User) -> None:
    """With a heading of each kind of list, somebody spoken of, an outline and a transcript."""
    take_in = {"kind": "subject", "file_name": "banks.ttl", "content": SKOS, "actor": archivist}
    headings.take_in_list("Two banks", "banks", **take_in)
    run_jobs(Kind.READ_LIST)
    place = headings.add_own("Alder Ferry", kind="place", actor=archivist)
    for heading, use in ((headings.named("Cable ferries")[0], "about"), (place, "recorded-at")):
        catalogue.give_heading(interview.pk, heading=heading, use=use, actor=archivist)
    spoken_of = {"name": "Jens Lund", "catalogue_name": "Lund, Jens", "role": "spoken-of"}
    catalogue.name_somebody_new(interview.pk, actor=archivist, **spoken_of)
    said = Said("", "Marit Oskarsen tells of the bell and the fog.", ["en", "nb"], ["1950/1965"], IN_COPYRIGHT)
    catalogue.describe(interview.pk, said=said, actor=archivist)
    for kind in TimedText.Kind:
        for part in parts_of(interview):
            timed.write_cue(part.pk, kind=kind, said=Spoken(50, 90, "Marit", "Fog & bells."), actor=archivist)


def _restrict(interview: Interview, release: Release, archivist: User) -> None:
    """A closure that has ended, a passage closed and one opened again, a request to withdraw that was turned down."""
    record_event(release.pk, on=timezone.localdate(), how_known="The deed of sale.", actor=archivist)
    (part, _) = interviews.parts_of(interview)
    for begins in (0.1, 0.2):
        passage = close_passage(
            part.pk, from_seconds=begins, to_seconds=0.3, length_seconds=0.4, reason="Names a child.", actor=archivist
        )
    open_passage(passage.pk, reason="It is another child.", actor=archivist)
    workflow.ask_withdrawal(interview.pk, wished_by="Marit Oskarsen", reason="It hurts.", actor=archivist)
    workflow.refuse_withdrawal(interview.pk, reason="A passage is closed instead.", actor=archivist)


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
