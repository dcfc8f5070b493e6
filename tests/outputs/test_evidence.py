"""One byte of the text, the circumstances, the event or the PDF is changed: it is found, and named."""

from datetime import date

import pytest
from django.core.files.storage import storages
from django.db import connection
from django.urls import reverse

from intake.audit import triggers
from intake.audit.models import Event
from intake.audit.services import check_chain, seal_pending
from intake.interviews.models import Interview
from intake.jobs.models import Kind
from intake.outputs.evidence import check_evidence, signature_fault
from intake.outputs.models import OutputKind
from intake.outputs.services import existing
from intake.releases.evidence import evidence_digest
from intake.releases.models import Agreement, Release
from intake.releases.services import note_spoken_agreement
from intake.releases.wordings import digest_of_text
from tests.factories import (
    a_drawing,
    a_part_stored,
    a_release_on_paper,
    a_signed_agreement,
    a_signed_release,
    a_started_interview,
    interviewer_of,
    narrator_of,
    run_jobs,
)
from tests.files.damage import Folder, flip, spoil
from tests.pages import signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def interview(volunteer) -> Interview:
    return a_started_interview(volunteer)


@pytest.fixture
def without_triggers():
    """Whoever owns the database can take the triggers off; the chain is what is left."""
    triggers.remove(connection)
    yield
    triggers.install(connection)


@pytest.fixture
def release(interview) -> Release:
    release = a_signed_release(narrator_of(interview), access="closed", closed_until=date(2040, 1, 1))
    run_jobs(Kind.MAKE_RELEASE_COPY)
    while seal_pending():
        pass
    return release


def faults(signed: Release | Agreement) -> list[str]:
    return [line.fault for line in check_evidence(type(signed).objects.get(pk=signed.pk)) if line.fault]


def test_what_was_left_alone_holds(release):
    lines = check_evidence(release)
    assert [line.what for line in lines] == [
        "The text, word for word",
        "Signature, choices, times and circumstances",
        "The event of the signature in the chain of events",
        "The PDF as it was made",
        "The library's signature in the PDF",
    ]
    assert faults(release) == []


def test_so_does_what_was_signed_on_paper_or_given_aloud(interview, volunteer):
    on_paper = a_release_on_paper(interviewer_of(interview))
    aloud = note_spoken_agreement(
        narrator_of(interview).pk, part_id=a_part_stored(interview).pk, at_seconds=0.2, actor=volunteer
    )
    run_jobs()
    assert faults(on_paper) == []
    assert faults(aloud) == []


SIGNED_OTHERWISE = "Something that was signed, or how, is not what the event of the signature tells."


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({"wording_text": "I, Marit, give everything."}, 2),
        ({"access": "on-site", "closed_until": None}, 1),
        ({"closed_until": "2040-01-02"}, 1),
        ({"name_withheld": True}, 1),
        ({"typed_name": "Marit Oskarsem"}, 1),
        ({"signer_name": "Somebody Else"}, 1),
        ({"address": "192.0.2.8"}, 1),
        ({"agent": "Another browser"}, 1),
        ({"signed_at": "2026-01-01T00:00:00Z"}, 1),
        ({"consented_at": "2026-01-01T00:00:00Z"}, 1),
        ({"interview_as_described": {}}, 1),
        ({"number": "S-2222-2222-2222"}, 1),
        ({"method": "drawn", "signature_png": a_drawing()}, 1),
    ],
    ids=lambda value: next(iter(value)) if isinstance(value, dict) else "",
)
def test_a_changed_row_is_found_and_named(release, changed, expected):
    Release.objects.filter(pk=release.pk).update(**changed)
    found = faults(release)
    assert SIGNED_OTHERWISE in found
    assert len(found) == expected
    if "wording_text" in changed:
        assert "The text is not the one whose SHA-256 was kept." in found


def test_a_text_changed_together_with_its_digest_is_found_by_the_event(release):
    text = release.wording_text.replace("not paid", "paid")
    Release.objects.filter(pk=release.pk).update(wording_text=text, wording_sha256=digest_of_text(text))
    assert faults(release) == [SIGNED_OTHERWISE]


def test_a_changed_event_is_found_though_it_was_made_to_fit(release, without_triggers):
    """Somebody with the database changes the row and the event that tells of it; the chain of events remembers."""
    Release.objects.filter(pk=release.pk).update(typed_name="Marit Oskarsem")
    release.refresh_from_db()
    event = Event.objects.get(subject_type="releases.release", subject_id=str(release.pk))
    event.details["evidence_sha256"] = evidence_digest(release)
    Event.objects.filter(pk=event.pk).update(details=event.details)
    assert faults(release) == ["The event itself is not what was sealed into the chain."]
    assert check_chain().faults


def test_an_event_taken_away_is_found(release, without_triggers):
    with connection.cursor() as cursor:
        cursor.execute("UPDATE audit_event SET subject_id = '0' WHERE subject_type = 'releases.release'")
    assert faults(release) == ["No event tells of this signature."]


def test_a_flipped_bit_in_the_stored_pdf_is_found_and_named(release):
    paper = existing(OutputKind.RELEASE_COPY, release.pk)
    spoil(Folder("primary"), paper.file, flip(5000))
    assert "The stored PDF is not the one that was made." in faults(release)


def test_a_changed_pdf_whose_digest_was_changed_too_is_found_by_its_signature(release):
    paper = existing(OutputKind.RELEASE_COPY, release.pk)
    with storages["primary"].open(paper.file.key) as file:
        pdf = bytearray(file.read())
    pdf[5000] ^= 1
    assert signature_fault(bytes(pdf)) in {
        "The file was changed after it was signed.",
        "Something was added to the file after it was signed.",
    }


def test_staff_see_what_holds_and_what_does_not(release, archivist):
    page = reverse("desk:release-evidence", args=[release.pk])
    desk = signed_in(archivist)
    assert "all of it holds" in text_of(desk.get(page))
    Release.objects.filter(pk=release.pk).update(typed_name="Marit Oskarsem")
    told = text_of(desk.get(page))
    assert "Something does not hold any more." in told
    assert SIGNED_OTHERWISE in told


def test_an_agreement_is_looked_at_in_the_same_way(interview, archivist):
    agreement = a_signed_agreement(narrator_of(interview))
    run_jobs()
    assert "all of it holds" in text_of(signed_in(archivist).get(f"/desk/agreements/{agreement.pk}/evidence/"))
    Agreement.objects.filter(pk=agreement.pk).update(typed_name="x")
    assert faults(agreement) == [SIGNED_OTHERWISE]
