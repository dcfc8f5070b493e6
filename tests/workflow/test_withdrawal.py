"""After acceptance a withdrawal is asked for and decided; access stops while it waits, and for good once granted."""

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.errors import Refused
from intake.interviews.models import TAKEN_IN, State
from intake.interviews.services import parts_of
from intake.mail.models import Message
from intake.outputs.packages.contents import left_out, package_of, packages_of
from intake.register.services import standing
from intake.releases.models import WithdrawalRequest
from intake.releases.withdrawals import pending, withdraw_release
from intake.workflow import ask_withdrawal, refuse_withdrawal, take_down
from tests.factories import an_interview, narrator_of, run_jobs
from tests.pages import signed_in, text_of
from tests.workflow.told import is_now, last_event, refused

pytestmark = pytest.mark.django_db
WISH = {"wished_by": "Marit Oskarsen", "reason": "It names my sister."}


@pytest.fixture
def accepted(volunteer, archivist):
    interview = an_interview(State.ACCEPTED, owner=volunteer, reviewer=archivist)
    run_jobs()
    return interview


@pytest.fixture
def contested(accepted, volunteer):
    ask_withdrawal(accepted.pk, **WISH, actor=volunteer)
    return accepted


def status(browser, name: str, thing) -> int:
    return browser.get(reverse(name, args=[thing.pk])).status_code


def test_the_volunteer_asks_and_the_coordinator_is_told_without_a_name(accepted, volunteer, coordinator):
    answer = signed_in(volunteer).post(reverse("portal:interview-withdrawal", args=[accepted.pk]), WISH, follow=True)
    assert "From now on nobody else hears the interview." in text_of(answer)
    assert last_event(accepted) == (
        Action.WITHDRAWAL_ASKED,
        volunteer,
        {"wished by": "Marit Oskarsen", "reason": "It names my sister."},
    )
    letter = Message.objects.get(key__startswith="withdrawal-asked-", to=coordinator.email)
    assert standing(accepted).number in letter.text
    assert "Marit" not in letter.text + letter.subject
    assert "sister" not in letter.text


def test_while_it_waits_nobody_but_staff_hears_it_and_nothing_leaves(contested, volunteer, archivist):
    (part,) = parts_of(contested)
    assert status(signed_in(volunteer), "portal:part-listen", part) == 403
    staff = signed_in(archivist)
    assert status(staff, "desk:part-listen", part) == 200
    assert status(staff, "desk:part-access-copy", part) == 403
    assert status(staff, "desk:part-original", part) == 403
    with pytest.raises(Refused, match="has not decided yet"):
        package_of(contested, actor=archivist)
    assert "has asked to withdraw this interview" in text_of(
        signed_in(volunteer).get(reverse("portal:part-detail", args=[part.pk]))
    )


def test_a_collection_goes_out_without_it_and_says_so(contested, archivist):
    collection = contested.collection
    with pytest.raises(Refused, match=standing(contested).number):
        packages_of(collection, actor=archivist)
    other = an_interview(State.ACCEPTED, reviewer=archivist)
    (maker,) = packages_of(collection, actor=archivist)
    assert maker().name == standing(other).number
    (told,) = left_out(collection)
    assert told.startswith(f"{standing(contested).number}: Somebody has asked to withdraw")
    assert told in text_of(signed_in(archivist).get(reverse("desk:collections")))


def test_granted_it_is_taken_down_for_everybody_and_its_number_stays(contested, volunteer, archivist):
    number = standing(contested).number
    answer = signed_in(archivist).post(
        reverse("desk:interview-withdrawal", args=[contested.pk]), {"decision": "agree", "reason": "She is right."}
    )
    assert answer.status_code == 302
    assert is_now(contested) == State.TAKEN_DOWN
    (part,) = parts_of(contested)
    for who, name in (
        (volunteer, "portal:part-listen"),
        (archivist, "desk:part-listen"),
        (archivist, "desk:part-original"),
    ):
        assert status(signed_in(who), name, part) == 403
    assert standing(contested).number == number
    page = text_of(signed_in(archivist).get(reverse("desk:interview-detail", args=[contested.pk])))
    assert "Taken down" in page
    assert Message.objects.filter(key__startswith="withdrawal-decided-", text__contains="She is right.").exists()
    assert pending(contested) is None


def test_turned_down_it_is_what_the_releases_say_again(contested, volunteer, archivist):
    refuse_withdrawal(contested.pk, reason="The passage is closed instead.", actor=archivist)
    assert is_now(contested) == State.ACCEPTED
    (part,) = parts_of(contested)
    assert status(signed_in(volunteer), "portal:part-listen", part) == 200
    assert last_event(contested)[0] == Action.WITHDRAWAL_REFUSED
    assert ask_withdrawal(contested.pk, **WISH, actor=volunteer).pk


@pytest.mark.parametrize("state", [state for state in State if state not in {*TAKEN_IN, State.TAKEN_DOWN}], ids=str)
def test_before_acceptance_there_is_nothing_to_ask_for(state):
    interview = an_interview(state)
    (told,) = refused(ask_withdrawal, interview.pk, **WISH, actor=interview.owner)
    assert told.startswith("Only an accepted interview is withdrawn by a request.")


def test_it_is_asked_for_once_at_a_time_by_whom_it_concerns_and_decided_by_staff(contested, volunteer, other_volunteer):
    assert refused(ask_withdrawal, contested.pk, **WISH, actor=volunteer)[0].startswith("Somebody has asked for it")
    assert refused(ask_withdrawal, contested.pk, **WISH, actor=other_volunteer) == (
        "This interview is somebody else's.",
    )
    for decide in (take_down, refuse_withdrawal):
        assert refused(decide, contested.pk, reason="x", actor=volunteer) == (
            "Only the library's staff review interviews.",
        )


def test_nothing_is_decided_without_a_request_or_a_reason(accepted, contested, archivist):
    assert refused(take_down, contested.pk, reason=" ", actor=archivist)[0].startswith("Say why")
    other = an_interview(State.ACCEPTED)
    for decide in (take_down, refuse_withdrawal):
        assert refused(decide, other.pk, reason="x", actor=archivist)[0].startswith("No request to withdraw")


@pytest.mark.parametrize(
    ("wrong", "name"),
    [
        ({"reason": ""}, "withdrawal_is_asked_by_somebody_for_a_reason"),
        ({"wished_by": ""}, "withdrawal_is_asked_by_somebody_for_a_reason"),
        ({"is_granted": True}, "withdrawal_is_decided_for_a_reason"),
    ],
)
def test_the_database_lets_no_request_be_wrong(contested, wrong, name):
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        contested.withdrawal_requests.update(**wrong)


def test_the_database_lets_one_request_wait(contested):
    with pytest.raises(IntegrityError), transaction.atomic():
        WithdrawalRequest.objects.create(interview=contested, wished_by="x", reason="x")


# A release, before acceptance


def test_before_acceptance_a_release_is_withdrawn_at_once_and_can_be_signed_anew(archivist):
    interview = an_interview(State.IN_REVIEW, reviewer=archivist, ready=True)
    release = narrator_of(interview).releases.get()
    page = f"/releases/{release.pk}/withdraw/"
    assert page in signed_in(archivist).get(f"/desk/interviews/{interview.pk}/").content.decode()
    assert signed_in(archivist).post(page, {"reason": "She wrote to us."}).status_code == 302
    release.refresh_from_db()
    assert release.withdrawn_at
    assert last_event(interview)[0] == Action.RELEASE_WITHDRAWN
    told = text_of(signed_in(archivist).get(f"/desk/interviews/{interview.pk}/"))
    assert "is not signed." in told


def test_a_signer_withdraws_their_own_and_nobody_elses(volunteer, other_volunteer):
    interview = an_interview(State.IN_REVIEW, owner=volunteer, ready=True)
    release = narrator_of(interview).releases.get()
    with pytest.raises(Refused, match="Only the signer"):
        withdraw_release(release.pk, reason="x", actor=volunteer)
    person = release.participant.person
    person.user = other_volunteer
    person.save()
    assert withdraw_release(release.pk, reason="x", actor=other_volunteer).withdrawn_at
    with pytest.raises(Refused, match="withdrawn already"):
        withdraw_release(release.pk, reason="x", actor=other_volunteer)


def test_after_acceptance_a_release_is_not_taken_back_alone(accepted, archivist):
    with pytest.raises(Refused, match="Ask for the interview to be withdrawn"):
        withdraw_release(narrator_of(accepted).releases.get().pk, reason="x", actor=archivist)
    with pytest.raises(Refused, match="Say in a few words"):
        withdraw_release(narrator_of(accepted).releases.get().pk, reason=" ", actor=archivist)
    assert Action.RELEASE_WITHDRAWN not in [event.action for event in story_of(accepted)]
