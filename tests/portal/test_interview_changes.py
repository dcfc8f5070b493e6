"""Changing an interview: its description, people, the order of its parts; handing it in and withdrawing it."""

import re

import pytest

from intake.interviews.models import State
from intake.interviews.services import parts_of
from intake.jobs.models import Kind
from intake.mail.models import Message
from intake.workflow import take_up
from tests.factories import (
    a_part_stored,
    a_signed_release,
    a_started_interview,
    a_wav,
    an_accession,
    an_interview,
    interviewer_of,
    narrator_of,
    run_jobs,
)
from tests.pages import actions_of, links_of, text_of
from tests.portal.pages import TYPED, page, see

pytestmark = pytest.mark.django_db


# Describing


def test_the_description_is_changed(browser, draft):
    shown = browser.get(page("interview-edit", draft.pk))
    assert "Forty years of the cable ferry." in shown.content.decode()
    typed = {**TYPED, "collection": draft.collection_id, "place": "On board"}
    answer = browser.post(page("interview-edit", draft.pk), typed)
    assert answer["Location"] == page("interview-detail", draft.pk)
    assert "On board" in text_of(see(browser, draft))


def test_a_wrong_description_is_shown_again_and_nothing_changes(browser, draft):
    answer = browser.post(page("interview-edit", draft.pk), {**TYPED, "collection": draft.collection_id, "place": ""})
    assert "place" in answer.context["form"].errors
    draft.refresh_from_db()
    assert draft.language == "en"


def test_an_interview_with_the_library_shows_no_way_to_change_it(browser, volunteer):
    interview = an_interview(State.SUBMITTED, owner=volunteer)
    told = see(browser, interview)
    part = parts_of(interview)[0]
    for hidden in (page("interview-edit", interview.pk), page("person-add", interview.pk)):
        assert hidden not in links_of(told)
    for hidden in (page("part-remove", part.pk), page("interview-submit", interview.pk)):
        assert hidden not in actions_of(told)
    assert "data-upload" not in told.content.decode()


def test_a_change_that_comes_too_late_is_refused_in_a_sentence(browser, volunteer):
    interview = an_interview(State.SUBMITTED, owner=volunteer)
    answer = browser.post(page("interview-edit", interview.pk), {**TYPED, "collection": interview.collection_id})
    assert "This interview is with the library now" in text_of(answer)


# People


def test_a_person_is_named(browser, draft):
    typed = {"role": "narrator", "name": "Aurel Lindqvist", "email": ""}
    assert browser.post(page("person-add", draft.pk), typed)["Location"] == page("interview-detail", draft.pk)
    assert "Aurel Lindqvist" in text_of(see(browser, draft))


def test_a_person_needs_a_name(browser, draft):
    answer = browser.post(page("person-add", draft.pk), {"role": "narrator", "name": " ", "email": ""})
    assert "name" in answer.context["form"].errors


def test_a_person_is_taken_out(browser, draft):
    browser.post(page("person-remove", narrator_of(draft).pk))
    assert "Marit Oskarsen" not in text_of(see(browser, draft))


def test_a_person_who_signed_is_not_taken_out_and_the_page_says_why(browser, draft):
    a_signed_release(narrator_of(draft))
    address = page("person-remove", narrator_of(draft).pk)
    assert address not in actions_of(see(browser, draft))
    answer = browser.post(address, follow=True)
    assert "Marit Oskarsen has signed a release, so they stay" in text_of(answer)


def test_addresses_are_seen_by_the_volunteer_who_wrote_them_down_and_can_be_put_right(browser, draft):
    assert "marit@example.org" in text_of(see(browser, draft))
    narrator = narrator_of(draft)
    browser.post(page("person-edit", narrator.pk), {"name": "Marit Oskarsen", "email": "marit.o@example.org"})
    narrator.person.refresh_from_db()
    assert narrator.person.email == "marit.o@example.org"


def test_the_address_of_an_account_is_not_changed_here(browser, draft):
    interviewer = interviewer_of(draft)
    answer = browser.post(page("person-edit", interviewer.pk), {"name": "Another", "email": "another@example.org"})
    assert "has an account" in text_of(answer)


def test_who_has_signed_is_told(browser, draft):
    assert "Not everybody has signed yet: only the library's staff" in text_of(see(browser, draft))
    release = a_signed_release(narrator_of(draft), access="on-site")
    told = see(browser, draft)
    assert "Not everybody has signed yet" in text_of(told)  # what one chose opens nothing for the other
    assert page("release-hand-over", narrator_of(draft).pk) not in links_of(told)
    assert page("release-hand-over", interviewer_of(draft).pk) in links_of(told)
    assert page("release-copy", release.pk) not in links_of(told)  # the copy is the narrator's own


def test_a_copy_goes_to_the_address_that_somebody_signs_in_with(volunteer, draft):
    """The one that was written down with the person may be an older one."""
    signer = interviewer_of(draft)
    signer.person.email = "tobias.old@example.org"
    signer.person.save()
    a_signed_release(signer)
    run_jobs(Kind.MAKE_RELEASE_COPY)
    assert Message.objects.get(key__startswith="release-copy-").to == volunteer.email


def test_the_volunteers_own_copy_is_theirs_to_read(browser, draft):
    release = a_signed_release(interviewer_of(draft))
    run_jobs(Kind.MAKE_RELEASE_COPY)
    assert page("release-copy", release.pk) in links_of(see(browser, draft))
    answer = browser.get(page("release-copy", release.pk))
    assert b"".join(answer.streaming_content).startswith(b"%PDF-")


# The order of the parts


def test_a_part_is_moved(browser, draft):
    second = parts_of(draft)[1]
    browser.post(page("part-move", second.pk), {"to": "earlier"})
    assert parts_of(draft)[0] == second
    browser.post(page("part-move", second.pk), {"to": "later"})
    assert parts_of(draft)[1] == second


def test_a_part_is_taken_out(browser, draft):
    first, second = parts_of(draft)
    assert browser.post(page("part-remove", first.pk))["Location"] == page("interview-detail", draft.pk)
    assert parts_of(draft) == [second]
    assert "Taken out" in text_of(see(browser, draft))


def test_a_part_taken_out_can_be_put_back_at_the_end(browser, draft):
    first, second = parts_of(draft)
    browser.post(page("part-remove", first.pk))
    browser.post(page("part-put-back", first.pk))
    assert parts_of(draft) == [second, first]


# Handing in and withdrawing


def test_an_interview_is_handed_in(browser, draft):
    answer = browser.post(page("interview-submit", draft.pk), follow=True)
    draft.refresh_from_db()
    assert draft.state == State.SUBMITTED
    assert "Submitted" in text_of(answer)


def test_what_is_missing_is_said_when_it_is_handed_in_too_early(browser, volunteer):
    interview = a_started_interview(volunteer, summary="")
    told = text_of(browser.post(page("interview-submit", interview.pk), follow=True))
    assert "Add at least one recording." in told
    assert "Write a few words on what the interview is about." in told


def test_the_message_of_the_library_is_shown_until_it_is_handed_in_again(browser, volunteer):
    interview = an_interview(State.RETURNED, owner=volunteer)
    assert "Please name the second voice." in text_of(see(browser, interview))
    told = browser.post(page("interview-submit", interview.pk), follow=True)
    assert "Please name the second voice." not in text_of(told)


def test_a_declined_interview_says_why(browser, volunteer):
    interview = an_interview(State.DECLINED, owner=volunteer)
    assert "It is not about the crossing." in text_of(see(browser, interview))


def test_an_interview_is_withdrawn_with_a_reason(browser, draft):
    assert page("interview-withdraw", draft.pk) in links_of(see(browser, draft))
    answer = browser.post(page("interview-withdraw", draft.pk), {"reason": " "})
    assert "reason" in answer.context["form"].errors
    browser.post(page("interview-withdraw", draft.pk), {"reason": "Marit changed her mind."})
    draft.refresh_from_db()
    assert draft.state == State.WITHDRAWN
    assert page("interview-withdraw", draft.pk) not in links_of(see(browser, draft))


def test_an_accepted_interview_shows_its_receipt(browser, volunteer):
    accession = an_accession(owner=volunteer)
    address = page("interview-receipt", accession.interview_id)
    early = browser.get(address)
    assert early.status_code == 404
    assert "receipt" in text_of(early).lower()
    run_jobs(Kind.MAKE_RECEIPT)
    assert address in links_of(see(browser, accession.interview))
    paper = browser.get(address)
    assert (paper.status_code, paper["Content-Type"]) == (200, "application/pdf")


@pytest.mark.parametrize("state", list(State), ids=str)
def test_the_page_is_drawn_in_every_state(browser, volunteer, state):
    interview = an_interview(state, owner=volunteer)
    run_jobs()
    answer = see(browser, interview)
    assert answer.status_code == 200
    assert interview.get_state_display() in text_of(answer)
    assert interview.title in text_of(answer)


def test_the_page_asks_for_the_missing_signature_after_the_hand_in(browser, volunteer, archivist):
    interview = an_interview(State.SUBMITTED, owner=volunteer)
    take_up(interview.pk, actor=archivist)
    told = text_of(see(browser, interview))
    assert "The release of Marit Oskarsen (narrator) is not signed." in told
    assert not Message.objects.exists()


def test_a_part_without_sound_is_told_in_plain_words(browser, volunteer):
    interview = a_started_interview(volunteer)
    part = a_part_stored(interview, b"this is no recording at all")
    run_jobs()
    assert browser.get(page("part-detail", part.pk)).status_code == 200
    assert "We could not read sound in this file." in text_of(browser.get(page("part-detail", part.pk)))


def test_what_was_found_is_told_with_the_worst_first(browser, volunteer):
    """A short file whose end is missing, at a level a little low and at 16 kHz."""
    part = a_part_stored(a_started_interview(volunteer), a_wav()[:-1000])
    run_jobs()
    told = browser.get(page("part-detail", part.pk)).content.decode()
    standings = re.findall(r'<article class="finding finding-([a-z-]+)"', told)
    assert standings == sorted(standings, key=["problem", "look-closer", "note"].index)
    assert {"problem", "look-closer", "note"} <= set(standings)
