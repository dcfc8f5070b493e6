"""Each hand-in makes one arrival receipt, which accepts nothing."""

from io import BytesIO

import pytest
from django.db import IntegrityError, transaction
from pypdf import PdfReader

from intake.errors import Refused
from intake.files import storage
from intake.interviews import services as interviews
from intake.interviews.models import State
from intake.jobs import services as jobs
from intake.jobs.models import Kind
from intake.mail.models import Message
from intake.outputs.models import Output, OutputKind
from intake.outputs.services import arrival_papers, existing
from intake.register.models import Arrival
from intake.workflow import send_back, submit, take_up
from tests.factories import (
    a_bad_reading,
    a_description,
    a_part_stored,
    a_started_interview,
    a_wav,
    an_attachment_stored,
    an_interview,
    run_jobs,
    sha256,
    sign_everybody,
)

pytestmark = pytest.mark.django_db


def text_of(arrival: Arrival) -> str:
    paper = existing(OutputKind.ARRIVAL_RECEIPT, arrival.pk)
    assert paper is not None
    with storage.open_copy("primary", paper.file.key) as copy:
        pages = PdfReader(BytesIO(copy.read())).pages
        return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_a_hand_in_notes_what_arrived(volunteer):
    content = a_wav(seconds=0.5)
    interview = an_interview(State.SUBMITTED, owner=volunteer, content=content)
    arrival = interview.arrivals.get()
    assert (arrival.by, arrival.at, arrival.replaces) == (volunteer, interview.submitted_at, None)
    (file,) = arrival.snapshot["files"]
    assert (file["label"], file["name"], file["bytes"]) == ("Part 1", "TOLL0001.WAV", len(content))
    assert file["sha256"] == sha256(content)
    assert file["arrived_at"] == interview.parts.get().file.stored_at.isoformat()
    assert [told.split(" is not signed")[0] for told in arrival.snapshot["open"]] == [
        "The release of Marit Oskarsen (narrator)",
        "The release of Tobias Wrenfield (interviewer)",
    ]


def test_files_stand_in_their_order():
    arrival = an_interview(State.SUBMITTED, parts=3).arrivals.get()
    assert [file["name"] for file in arrival.snapshot["files"]] == ["TOLL0001.WAV", "TOLL0002.WAV", "TOLL0003.WAV"]


def test_a_recording_that_was_taken_out_is_not_on_it(volunteer):
    interview = a_started_interview(volunteer)
    a_part_stored(interview, name="OUT.WAV")
    part = a_part_stored(interview, name="IN.WAV")
    interviews.remove_part(interview.parts.exclude(pk=part.pk).get().pk, actor=volunteer)
    submit(interview.pk, actor=volunteer)
    assert [file["name"] for file in interview.arrivals.get().snapshot["files"]] == ["IN.WAV"]


def test_the_card_may_be_cleared_only_when_every_file_was_looked_at(volunteer):
    unmeasured = an_interview(State.SUBMITTED, owner=volunteer).arrivals.get()
    assert unmeasured.snapshot["may_be_cleared"] is False
    interview = a_started_interview(volunteer)
    a_part_stored(interview)
    run_jobs(Kind.MEASURE_PART)
    submit(interview.pk, actor=volunteer)
    assert interview.arrivals.get().snapshot["may_be_cleared"] is True


@pytest.mark.parametrize("matches", [True, False])
def test_an_attachment_is_kept_in_two_copies_and_needs_no_look_at_its_sound(volunteer, matches):
    interview = a_started_interview(volunteer)
    a_part_stored(interview)
    attachment = an_attachment_stored(interview)
    run_jobs(Kind.MEASURE_PART)
    if not matches:
        a_bad_reading(attachment.file)
    submit(interview.pk, actor=volunteer)
    arrival = interview.arrivals.get()
    assert [file["name"] for file in arrival.snapshot["files"]] == ["TOLL0007.WAV", "porch.jpg"]
    assert arrival.snapshot["may_be_cleared"] is matches


def test_the_card_is_kept_when_a_file_may_not_be_whole(volunteer):
    interview = a_started_interview(volunteer)
    a_part_stored(interview, b"this is no recording at all")
    run_jobs(Kind.MEASURE_PART)
    submit(interview.pk, actor=volunteer)
    assert interview.arrivals.get().snapshot["may_be_cleared"] is False


def test_what_everybody_signed_is_not_open(volunteer):
    interview = a_started_interview(volunteer)
    a_part_stored(interview)
    sign_everybody(interview)
    submit(interview.pk, actor=volunteer)
    assert interview.arrivals.get().snapshot["open"] == []


def test_a_second_click_makes_no_second_receipt(volunteer):
    interview = an_interview(State.SUBMITTED, owner=volunteer)
    with pytest.raises(Refused):
        submit(interview.pk, actor=volunteer)
    assert interview.arrivals.count() == 1


def test_a_refused_hand_in_makes_none(volunteer):
    interview = a_started_interview(volunteer)
    with pytest.raises(Refused):
        submit(interview.pk, actor=volunteer)
    assert not Arrival.objects.exists()


def test_the_next_hand_in_replaces_the_receipt_and_says_so(volunteer, archivist):
    interview = an_interview(State.RETURNED, owner=volunteer)
    first = interview.arrivals.get()
    interviews.describe(interview.pk, actor=volunteer, description=a_description(place="On board"))
    submit(interview.pk, actor=volunteer)
    second = interview.arrivals.last()
    assert (second.replaces, first.snapshot["place"]) == (first, "The kitchen of the old toll house")
    run_jobs()
    assert f"Arrival receipt {first.number}" in text_of(second)
    take_up(interview.pk, actor=archivist)
    send_back(interview.pk, message="And once more.", actor=archivist)
    submit(interview.pk, actor=volunteer)
    assert [row.arrival.replaces for row in arrival_papers(interview)] == [second, first, None]


def test_the_receipt_is_made_and_sent_to_the_giver_whoever_of_the_staff_handed_in(archivist, mailoutbox):
    interview = a_started_interview()
    a_part_stored(interview)
    submit(interview.pk, actor=archivist)
    run_jobs(Kind.MAKE_ARRIVAL_RECEIPT, Kind.SEND_MESSAGE)
    arrival = interview.arrivals.get()
    (sent,) = mailoutbox
    assert sent.to == [interview.owner.email]
    assert arrival.number in sent.body
    assert "not yet accepted" in sent.body
    ((name, content, media_type),) = sent.attachments
    assert (name, media_type) == (f"arrival-receipt-{arrival.number}.pdf", "application/pdf")
    assert sha256(content) == existing(OutputKind.ARRIVAL_RECEIPT, arrival.pk).file.sha256


def test_making_it_twice_makes_and_sends_it_once():
    arrival = an_interview(State.SUBMITTED).arrivals.get()
    run_jobs(Kind.MAKE_ARRIVAL_RECEIPT)
    jobs.enqueue(Kind.MAKE_ARRIVAL_RECEIPT, arrival.pk)
    run_jobs(Kind.MAKE_ARRIVAL_RECEIPT)
    assert Output.objects.filter(kind=OutputKind.ARRIVAL_RECEIPT).count() == 1
    assert Message.objects.filter(key__startswith=f"arrival-{arrival.pk}-").count() == 1


def test_it_can_never_be_taken_for_an_acceptance():
    interview = an_interview(State.ACCEPTED)
    run_jobs()
    arrival, accession = interview.arrivals.get(), interview.accessions.get()
    told = text_of(arrival)
    assert "not yet accepted" in told
    for of_an_acceptance in (accession.number, accession.receipt_number, "Accession", "Accepted on", "Ines Halloway"):
        assert of_an_acceptance not in told
    with storage.open_copy("primary", existing(OutputKind.RECEIPT, accession.pk).file.key) as copy:
        accepted = " ".join(page.extract_text() for page in PdfReader(BytesIO(copy.read())).pages)
    assert "Arrival receipt" not in accepted


def test_the_database_keeps_one_first_arrival_and_replaces_each_once():
    arrival = an_interview(State.SUBMITTED).arrivals.get()
    values = {**Arrival.objects.filter(pk=arrival.pk).values().get(), "id": None}
    with pytest.raises(IntegrityError), transaction.atomic():
        Arrival.objects.create(**{**values, "number": "A-2222-2222"})
    Arrival.objects.create(**{**values, "number": "A-3333-3333", "replaces_id": arrival.pk})
    with pytest.raises(IntegrityError), transaction.atomic():
        Arrival.objects.create(**{**values, "number": "A-4444-4444", "replaces_id": arrival.pk})
