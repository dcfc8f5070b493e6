"""The volunteer hears once that the card may be cleared, and again only if there is something new to say."""

import pytest

from intake.audit.services import story_of
from intake.files import incidents
from intake.interviews import services as interviews
from intake.jobs.models import Kind
from intake.mail.models import Message
from intake.outputs import card_notices, custody
from intake.register.models import CardNotice
from intake.workflow import send_back, submit, take_up
from tests.factories import a_bad_reading, a_part_stored, a_started_interview, a_wav, an_archivist, run_jobs

pytestmark = pytest.mark.django_db


@pytest.fixture
def interview(volunteer):
    return a_started_interview(volunteer)


def letters(template: str = "card-") -> list[Message]:
    return list(Message.objects.filter(key__startswith=template).order_by("pk"))


def actions(interview) -> list[str]:
    return [event.action for event in story_of(interview) if event.action.startswith("card-")]


def handed_in_before_it_was_measured(interview):
    """As on most days: the volunteer does not wait for the measuring."""
    part = a_part_stored(interview)
    submit(interview.pk, actor=interview.owner)
    run_jobs(Kind.MAKE_ARRIVAL_RECEIPT, Kind.TELL_CARD)
    return part


def test_when_the_last_part_becomes_safe_the_volunteer_is_written_to(interview):
    part = handed_in_before_it_was_measured(interview)
    assert letters() == []
    run_jobs(Kind.MEASURE_PART, Kind.TELL_CARD)
    (letter,) = letters()
    assert letter.to == interview.owner.email
    assert part.file.sha256 in letter.text
    assert part.file.name in letter.text
    assert "You may clear these recordings from the recorder's card, and no others." in letter.text
    assert f"/interviews/{interview.pk}/" in letter.text
    assert actions(interview) == ["card-may-be-cleared"]


def test_it_is_said_once(interview):
    handed_in_before_it_was_measured(interview)
    run_jobs()
    assert card_notices.tell(interview.pk) is None
    assert len(letters()) == CardNotice.objects.count() == 1


def test_nothing_is_written_before_the_interview_is_handed_in(interview):
    a_part_stored(interview)
    run_jobs()
    assert letters() == []
    assert not CardNotice.objects.exists()


def test_what_staff_hand_in_for_somebody_writes_to_nobody(archivist):
    handed_in_before_it_was_measured(a_started_interview(archivist))
    run_jobs()
    assert letters() == []
    assert not CardNotice.objects.exists()


def test_what_the_arrival_letter_says_is_not_said_again(interview):
    a_part_stored(interview)
    run_jobs()
    submit(interview.pk, actor=interview.owner)
    run_jobs()
    assert "You may clear these files" in letters("arrival-")[0].text
    assert letters() == []
    assert actions(interview) == ["card-may-be-cleared"]


def test_new_parts_are_told_of_anew(interview):
    handed_in_before_it_was_measured(interview)
    run_jobs()
    archivist = an_archivist()
    take_up(interview.pk, actor=archivist)
    send_back(interview.pk, message="The second half, please.", actor=archivist)
    second = a_part_stored(interview, name="TOLL0008.WAV")
    assert len(letters()) == 1
    run_jobs()
    assert len(letters()) == 2
    assert second.file.sha256 in letters()[1].text


def test_a_doubtful_part_that_is_taken_out_sets_the_rest_free(interview):
    handed_in_before_it_was_measured(interview)
    archivist = an_archivist()
    take_up(interview.pk, actor=archivist)
    send_back(interview.pk, message="The second half, please.", actor=archivist)
    doubtful = a_part_stored(interview, a_wav()[:40], name="CUT.WAV")
    run_jobs()
    assert letters() == []
    interviews.remove_part(doubtful.pk, actor=interview.owner)
    run_jobs()
    (letter,) = letters()
    assert "CUT.WAV" not in letter.text


def test_one_bad_copy_writes_nothing_to_the_volunteer(interview):
    part = handed_in_before_it_was_measured(interview)
    run_jobs()
    a_bad_reading(part.file)
    custody.tell_volunteers([part.file])
    run_jobs()
    assert len(letters()) == 1


def test_without_any_good_copy_the_word_is_taken_back_and_given_again_once_mended(interview, tmp_path):
    part = handed_in_before_it_was_measured(interview)
    run_jobs()
    for store in ("primary", "replica"):
        a_bad_reading(part.file, store)
    for _ in range(2):
        custody.tell_volunteers([part.file])
        run_jobs()
    (kept,) = letters("card-kept-")
    assert "Please keep the recorder's card" in kept.subject
    assert part.file.name in kept.text
    assert actions(interview) == ["card-may-be-cleared", "card-notice-withdrawn"]
    source = tmp_path / "from the card"
    with incidents.storage.open_copy("primary", part.file.key) as copy:
        source.write_bytes(copy.read())
    incidents.give_back(part.file, source)
    custody.tell_volunteers([part.file])
    run_jobs()
    assert actions(interview)[-1] == "card-may-be-cleared"
    assert len(letters()) == 3
