"""A volunteer's interviews: the list, beginning one, and its page."""

import pytest
from django.urls import reverse
from django.utils import timezone

from intake.files import storage
from intake.files.models import UploadState
from intake.interviews.models import Interview, State
from intake.interviews.services import parts_of
from intake.jobs.models import Kind
from intake.portal.capabilities import upload_address
from intake.workflow import submit
from tests.factories import (
    a_clipped_wav,
    a_collection,
    a_part_arriving,
    a_part_received,
    a_started_interview,
    an_interview,
    at_time,
    later,
    narrator_of,
    run_jobs,
    sha256,
)
from tests.pages import actions_of, links_of, signed_in, text_of
from tests.portal.pages import TYPED, page, see

pytestmark = pytest.mark.django_db


# The list


def test_a_volunteer_sees_their_own_interviews_alone(browser, draft, other_volunteer):
    foreign = a_started_interview(other_volunteer, narrator="Somebody Foreign")
    told = browser.get(page("home"))
    assert draft.title in text_of(told)
    assert page("interview-detail", draft.pk) in links_of(told)
    assert "Somebody Foreign" not in text_of(told)
    assert page("interview-detail", foreign.pk) not in links_of(told)


def test_an_empty_list_says_what_to_do(browser):
    told = browser.get(page("home"))
    assert "You have not begun an interview yet" in text_of(told)
    assert page("interview-start") in links_of(told)


def test_a_volunteer_sees_no_way_to_the_desk(browser):
    assert not any(link.startswith("/desk/") for link in links_of(browser.get(page("home"))))


def test_the_front_door_leads_each_to_their_own_site(browser, archivist):
    assert browser.get("/")["Location"] == page("home")
    assert signed_in(archivist).get("/")["Location"] == reverse("desk:queue")


# Beginning


def test_an_interview_is_begun(browser, volunteer):
    answer = browser.post(page("interview-start"), {**TYPED, "collection": a_collection().pk})
    interview = Interview.objects.get()
    assert answer["Location"] == page("interview-detail", interview.pk)
    assert (interview.owner, interview.state, interview.language) == (volunteer, State.DRAFT, "sv")
    assert narrator_of(interview).person.email == "marit@example.org"
    assert "Marit Oskarsen" in text_of(see(browser, interview))


@pytest.mark.parametrize("needed", ["narrator_name", "collection", "recorded_on", "place", "language"])
def test_what_is_needed_is_asked_for_and_what_was_typed_stays(browser, needed):
    typed = {**TYPED, "collection": a_collection().pk}
    answer = browser.post(page("interview-start"), {**typed, needed: ""})
    assert answer.status_code == 200
    assert needed in answer.context["form"].errors
    assert not Interview.objects.exists()
    assert "A clock ticks." in answer.content.decode()


def test_a_day_to_come_is_refused_at_the_form(browser):
    later = timezone.localdate().replace(year=timezone.localdate().year + 1, day=1)
    answer = browser.post(
        page("interview-start"), {**TYPED, "recorded_on": later.isoformat(), "collection": a_collection().pk}
    )
    assert "lies in the future" in text_of(answer)
    assert not Interview.objects.exists()


def test_a_language_that_nobody_knows_is_refused(browser):
    answer = browser.post(page("interview-start"), {**TYPED, "language": "xx-nowhere", "collection": a_collection().pk})
    assert "language" in answer.context["form"].errors


def test_the_only_collection_is_chosen_beforehand(browser):
    only = a_collection()
    assert f'<option value="{only.pk}" selected' in browser.get(page("interview-start")).content.decode()


# The page of one interview


def test_the_page_shows_where_the_interview_stands_and_the_one_next_step(browser, volunteer):
    interview = a_started_interview(volunteer)
    told = text_of(see(browser, interview))
    assert "Add at least one recording." in told
    assert "Add a recording" in told


def test_when_everything_is_there_the_next_step_is_to_hand_in(browser, draft):
    assert page("interview-submit", draft.pk) in actions_of(see(browser, draft))


def test_while_something_is_missing_it_cannot_be_handed_in(browser, volunteer):
    interview = a_started_interview(volunteer)
    assert page("interview-submit", interview.pk) not in actions_of(see(browser, interview))


def test_a_recording_that_is_called_recording_is_still_told_as_a_part(browser, volunteer):
    interview = a_started_interview(volunteer)
    a_part_arriving(interview, b"abc", "recording.wav")
    assert see(browser, interview).context["page"].step.action_url.endswith("#parts")


def test_the_parts_stand_in_order_with_their_sizes(browser, draft):
    told = text_of(see(browser, draft))
    assert told.index("Part 1: TOLL0001.WAV") < told.index("Part 2: TOLL0002.WAV")
    assert "12.8 kB" in told


def test_the_card_may_be_cleared_only_when_both_copies_match(browser, volunteer):
    interview = a_started_interview(volunteer)
    part = a_part_received(interview)
    assert "Do not clear the recorder's card yet" in text_of(see(browser, interview))
    run_jobs(Kind.STORE_UPLOAD)
    assert "You may clear" not in text_of(see(browser, interview))  # not looked at yet: it may be cut off
    run_jobs(Kind.MEASURE_PART)
    part.refresh_from_db()
    told = text_of(see(browser, interview))
    assert part.upload.state == UploadState.STORED
    assert "You may clear this recording from the recorder's card, and no other." in told
    assert "Do not clear" not in told


def test_one_part_on_its_way_keeps_the_card(browser, draft):
    a_part_arriving(draft, b"abc", "LATE.WAV")
    told = text_of(see(browser, draft))
    assert "Do not clear the recorder's card yet" in told
    assert "You may clear" not in told


def test_a_damaged_part_says_what_to_do(browser, volunteer):
    interview = a_started_interview(volunteer)
    a_part_received(interview, b"arrived like this", declared=sha256(b"but left like that"))
    run_jobs()
    told = text_of(see(browser, interview))
    assert "It arrived damaged. Your recorder's card still holds it" in told
    assert "Do not clear the recorder's card yet" in told


def test_a_part_that_could_not_be_stored_is_told_and_the_card_kept(browser, volunteer):
    interview = a_started_interview(volunteer)
    part = a_part_received(interview)
    storage.clear_staging(part.upload_id)  # the disk lost what had arrived
    for days in range(6):
        with at_time(later(days=days)):
            run_jobs(Kind.STORE_UPLOAD)
    told = see(browser, interview)
    assert "It arrived, but storing it did not work." in text_of(told)
    assert "Do not clear the recorder's card yet" in text_of(told)
    assert "hx-get" not in told.content.decode()


def test_the_page_looks_again_by_itself_only_while_something_goes_on(browser, draft):
    address = page("interview-parts", draft.pk)
    assert f'hx-get="{address}"' in see(browser, draft).content.decode()
    run_jobs()
    assert f'hx-get="{address}"' not in see(browser, draft).content.decode()


def test_the_refreshed_piece_holds_the_parts_and_where_the_interview_stands(browser, draft):
    told = browser.get(page("interview-parts", draft.pk)).content.decode()
    assert 'id="parts"' in told
    assert 'id="stand"' in told
    assert "<html" not in told


def test_the_page_tells_what_was_measured(browser, volunteer):
    interview = an_interview(State.DRAFT, owner=volunteer, content=a_clipped_wav())
    run_jobs()
    (part,) = parts_of(interview)
    assert page("part-detail", part.pk) in links_of(see(browser, interview))
    told = text_of(browser.get(page("part-detail", part.pk)))
    assert "clipped" in told.lower()
    assert part.file.sha256 in told.replace(" ", "")


def test_a_part_is_listened_to(browser, draft):
    run_jobs(Kind.MEASURE_PART, Kind.MAKE_LISTENING_COPY)
    part = parts_of(draft)[0]
    answer = browser.get(page("part-listen", part.pk), headers={"range": "bytes=0-9"})
    assert (answer.status_code, len(b"".join(answer.streaming_content))) == (206, 10)
    assert answer["Content-Type"].startswith("audio/")
    assert 'filename="2026-03-14_Marit-Oskarsen_part-1_listening-copy.mp3"' in answer["Content-Disposition"]


def test_before_there_is_a_listening_copy_there_is_nothing_to_hear(browser, draft):
    assert browser.get(page("part-listen", parts_of(draft)[0].pk)).status_code == 404


def test_what_was_begun_and_not_finished_is_offered_again(browser, volunteer):
    interview = a_started_interview(volunteer)
    part = a_part_arriving(interview, b"0123456789", "LATE.WAV")
    (known,) = see(browser, interview).context["panel"]["unfinished"]
    assert (known["name"], known["length"], known["offset"]) == ("LATE.WAV", 10, 0)
    assert known["upload_url"] == upload_address(part.upload)


def test_the_page_leads_to_the_latest_arrival_receipt_and_lists_the_older(volunteer, other_volunteer):
    interview = an_interview(State.RETURNED, owner=volunteer)
    submit(interview.pk, actor=volunteer)
    browser = signed_in(volunteer)
    assert "it is being made" in text_of(browser.get(page("interview-detail", interview.pk)))
    run_jobs(Kind.MAKE_ARRIVAL_RECEIPT)
    first, second = interview.arrivals.all()
    answer = browser.get(page("interview-detail", interview.pk))
    told = text_of(answer)
    assert "It is not an acceptance." in told
    assert told.index(second.number) < told.index(first.number) < told.index("replaced by the one above")
    paper = page("arrival-receipt", first.pk)
    assert paper in links_of(answer)
    assert b"".join(browser.get(paper).streaming_content).startswith(b"%PDF-")
    assert signed_in(other_volunteer).get(paper).status_code == 404
