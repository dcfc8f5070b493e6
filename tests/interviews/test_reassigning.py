"""A volunteer leaves: their open interviews go into other hands, and their account is closed."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.models import Event
from intake.audit.services import story_of
from intake.errors import Refused
from intake.files.models import Upload, UploadState
from intake.interviews import reassigning
from intake.interviews import services as interviews
from intake.interviews.models import Interview, State
from intake.jobs.models import Kind
from intake.kits import services as kits
from intake.mail.models import Message
from intake.people import services as people
from intake.portal.capabilities import upload_address
from intake.releases import paper_forms
from intake.workflow import accept, submit
from tests.factories import (
    a_form_typed_in,
    a_part_arriving,
    a_photograph,
    a_started_interview,
    an_attachment_arriving,
    an_interview,
    an_upload,
    narrator_of,
    run_jobs,
    send,
    sha256,
)
from tests.pages import signed_in, text_of
from tests.portal.tus import head, patch

pytestmark = pytest.mark.django_db
OPEN = [State.DRAFT, State.SUBMITTED, State.IN_REVIEW, State.RETURNED]
CONTENT = b"0123456789"


def move(user, to, actor, *, has_left=False, reason="She has moved away."):
    return reassigning.hand_over(user.pk, to=to, reason=reason, has_left=has_left, actor=actor)


def refused(*args, **kwargs) -> tuple[str, ...]:
    owners = list(Interview.objects.order_by("pk").values_list("pk", "owner"))
    events = Event.objects.count()
    with pytest.raises(Refused) as told:
        move(*args, **kwargs)
    assert (list(Interview.objects.order_by("pk").values_list("pk", "owner")), Event.objects.count()) == (
        owners,
        events,
    )
    return told.value.reasons


@pytest.mark.parametrize("state", list(State), ids=str)
def test_what_is_open_goes_into_other_hands_and_what_is_decided_stays(volunteer, other_volunteer, archivist, state):
    interview = an_interview(state, owner=volunteer)
    giver = interview.given_by
    move(volunteer, other_volunteer, archivist)
    interview.refresh_from_db()
    assert interview.owner == (other_volunteer if state in OPEN else volunteer)
    assert (interview.state, interview.given_by) == (state, giver)


def test_the_event_says_from_whom_to_whom_and_why(volunteer, other_volunteer, archivist):
    interview = a_started_interview(volunteer)
    move(volunteer, other_volunteer, archivist)
    event = story_of(interview).last()
    assert (event.action, event.actor) == (Action.INTERVIEW_REASSIGNED, archivist)
    assert event.names.names == {
        "from": "Tobias Wrenfield",
        "to": "Lucinda Farrow",
        "reason": "She has moved away.",
    }


def test_the_new_hands_see_it_and_the_old_do_not(volunteer, other_volunteer, archivist):
    address = reverse("portal:interview-detail", args=[a_started_interview(volunteer).pk])
    move(volunteer, other_volunteer, archivist)
    assert signed_in(other_volunteer).get(address).status_code == 200
    assert signed_in(volunteer).get(address).status_code == 404


def test_an_upload_that_had_begun_is_finished_by_the_new_hands(volunteer, other_volunteer, archivist):
    part = a_part_arriving(a_started_interview(volunteer), CONTENT)
    send(part.upload, CONTENT[:4])
    before = upload_address(part.upload)
    move(volunteer, other_volunteer, archivist)
    part.upload.refresh_from_db()
    address = upload_address(part.upload)
    assert head(signed_in(volunteer), before).status_code == 404
    new = signed_in(other_volunteer)
    shown = new.get(reverse("portal:interview-detail", args=[part.interview_id]))
    assert f'"upload_url": "{address}"' in shown.content.decode()
    assert head(new, address)["Upload-Offset"] == "4"
    assert patch(new, address, CONTENT[4:], offset=4).status_code == 204
    assert new.post(f"{address}digest/", {"sha256": sha256(CONTENT)}).status_code == 204
    run_jobs(Kind.STORE_UPLOAD)
    part.refresh_from_db()
    assert (part.upload.state, part.file.sha256) == (UploadState.STORED, sha256(CONTENT))


def test_attachments_and_scans_that_have_begun_to_arrive_go_along_and_what_staff_began_stays_theirs(
    volunteer, other_volunteer, archivist
):
    interview = a_started_interview(volunteer)
    attachment = an_attachment_arriving(interview, a_photograph())
    signed = a_form_typed_in(narrator_of(interview))
    scan = paper_forms.add_scan(signed.pk, upload=an_upload(volunteer), actor=volunteer)
    helped = interviews.add_part(interview.pk, upload=an_upload(archivist), actor=archivist)
    move(volunteer, other_volunteer, archivist)
    owners = {thing: Upload.objects.get(pk=thing.upload_id).owner for thing in (attachment, scan, helped)}
    assert owners == {attachment: other_volunteer, scan: other_volunteer, helped: archivist}


def test_the_new_hands_can_hand_it_in(volunteer, other_volunteer, archivist):
    interview = an_interview(State.DRAFT, owner=volunteer, ready=True)
    move(volunteer, other_volunteer, archivist)
    assert submit(interview.pk, actor=other_volunteer).state == State.SUBMITTED


def test_whoever_gave_it_still_gets_the_receipt(volunteer, other_volunteer, archivist, mailoutbox):
    interview = an_interview(State.IN_REVIEW, owner=volunteer, reviewer=archivist, ready=True)
    move(volunteer, other_volunteer, archivist)
    accession = accept(interview.pk, actor=archivist)
    assert accession.snapshot["given_by"] == "Tobias Wrenfield"
    run_jobs(Kind.MAKE_RECEIPT, Kind.SEND_MESSAGE)
    receipts = sorted(mail.to[0] for mail in mailoutbox if accession.number in mail.subject)
    assert receipts == ["lucinda@example.org", "marit@example.org", "tobias@example.org"]


def test_the_new_hands_are_told_by_mail(volunteer, other_volunteer, archivist, mailoutbox):
    for narrator in ("Marit Oskarsen", "Aurel Lindqvist"):
        a_started_interview(volunteer, narrator=narrator)
    move(volunteer, other_volunteer, archivist)
    run_jobs(Kind.SEND_MESSAGE)
    (letter,) = mailoutbox
    assert letter.to == ["lucinda@example.org"]
    assert letter.subject == "2 interviews of Tobias Wrenfield in your hands now"
    assert letter.body.count("Both Banks: the crossing years, 14 Mar 2026") == 2


def test_whoever_takes_them_over_themself_needs_no_letter(volunteer, archivist):
    interview = a_started_interview(volunteer)
    move(volunteer, archivist, archivist)
    interview.refresh_from_db()
    assert interview.owner == archivist
    assert not Message.objects.exists()


# Closing the account


def test_somebody_who_has_left_cannot_sign_in_and_is_signed_out(volunteer, other_volunteer, archivist):
    a_started_interview(volunteer)
    open_page = signed_in(volunteer)
    move(volunteer, other_volunteer, archivist, has_left=True)
    assert open_page.get(reverse("portal:home")).status_code == 302
    volunteer.refresh_from_db()
    assert not volunteer.is_active
    assert story_of(people.person_of(volunteer)).last().action == Action.ACCOUNT_CLOSED


def test_a_code_does_not_open_a_closed_account(volunteer, archivist):
    kit = kits.add_kit(number="7", contents="recorder", actor=archivist)
    due_on = timezone.localdate() + timedelta(days=7)
    _, code = kits.lend(kit.pk, name="T", email=volunteer.email, due_on=due_on, actor=archivist)
    move(volunteer, None, archivist, has_left=True)
    with pytest.raises(Refused, match="This account is closed"):
        kits.redeem_code(code)


def test_an_account_is_not_closed_over_open_interviews(volunteer, archivist):
    a_started_interview(volunteer)
    assert refused(volunteer, None, archivist, has_left=True) == (
        "Choose who looks after the open interviews of Tobias Wrenfield from now on.",
    )


def test_an_account_is_opened_again(volunteer, archivist):
    move(volunteer, None, archivist, has_left=True)
    people.reopen_account(volunteer, actor=archivist)
    assert User.objects.get(pk=volunteer.pk).is_active
    with pytest.raises(Refused, match="is open already"):
        people.reopen_account(volunteer, actor=archivist)


# Refusing


def test_a_reason_is_needed(volunteer, other_volunteer, archivist):
    a_started_interview(volunteer)
    assert refused(volunteer, other_volunteer, archivist, reason=" ") == ("Say in a few words why.",)


def test_they_go_to_a_volunteer_who_can_sign_in_or_to_oneself(volunteer, other_volunteer, archivist, coordinator):
    a_started_interview(volunteer)
    User.objects.filter(pk=other_volunteer.pk).update(is_active=False)
    sentence = ("Interviews go to another volunteer who can sign in, or to yourself.",)
    for to in (coordinator, other_volunteer, volunteer):
        assert refused(volunteer, to, archivist) == sentence


def test_volunteers_move_nothing(volunteer, other_volunteer):
    a_started_interview(volunteer)
    assert refused(volunteer, other_volunteer, volunteer) == (
        "Only the library's staff put interviews in other hands.",
    )


def test_what_staff_look_after_is_moved_by_the_coordinator(archivist, other_volunteer, coordinator):
    interview = a_started_interview(archivist)
    colleague = User.objects.create_user("rowan@example.org", "x", name="Rowan Pike", role="archivist")
    assert refused(archivist, colleague, colleague) == ("Only the coordinator does this for somebody of the staff.",)
    move(archivist, coordinator, coordinator, has_left=True)
    interview.refresh_from_db()
    assert interview.owner == coordinator


def test_nobody_closes_their_own_account(coordinator):
    assert refused(coordinator, None, coordinator, has_left=True) == (
        "Nobody closes their own account: ask a colleague.",
    )


# At the desk


def test_a_coordinator_moves_a_leavers_interviews_at_the_desk(volunteer, other_volunteer, coordinator, archivist):
    interview = a_started_interview(volunteer)
    kit = kits.add_kit(number="7", contents="recorder", actor=archivist)
    due_on = timezone.localdate() + timedelta(days=7)
    kits.lend(kit.pk, name="T", email=volunteer.email, due_on=due_on, actor=archivist)
    browser, address = signed_in(coordinator), reverse("desk:account", args=[volunteer.pk])
    shown = text_of(browser.get(address))
    assert interview.title in shown
    assert "Kit 7, due back" in shown
    assert "to" in browser.post(address, {"reason": "x"}).context["form"].errors
    typed = {"to": other_volunteer.pk, "reason": "Moved away.", "has_left": "on"}
    told = text_of(browser.post(address, typed, follow=True))
    assert "1 interview of Tobias Wrenfield moved." in told
    assert "Kit 7 is still with Tobias Wrenfield: ask for it back." in told
    assert "Closed accounts" in told
    again = browser.post(reverse("desk:account-reopen", args=[volunteer.pk]), follow=True)
    assert "Tobias Wrenfield can sign in again." in text_of(again)


def test_without_open_interviews_the_page_only_closes_the_account(volunteer, coordinator):
    browser, address = signed_in(coordinator), reverse("desk:account", args=[volunteer.pk])
    assert "to" not in browser.get(address).context["form"].fields
    assert "has_left" in browser.post(address, {"reason": "x"}).context["form"].errors
    browser.post(address, {"reason": "x", "has_left": "on"})
    volunteer.refresh_from_db()
    assert not volunteer.is_active
