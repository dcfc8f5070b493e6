"""An acceptance that was a mistake: one member of staff proposes to undo it, a different one confirms."""

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import formats, timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.interviews.models import TAKEN_IN, State
from intake.jobs.models import Kind
from intake.mail.models import Message
from intake.outputs.models import OutputKind
from intake.outputs.services import existing, receipt_of
from intake.register.models import Accession
from intake.register.services import standing
from intake.workflow import accept, confirm_undo, propose_undo, refuse_undo
from tests.factories import an_interview, run_jobs
from tests.pages import text_of
from tests.workflow.told import is_now, last_event, refused

pytestmark = pytest.mark.django_db
REASON = "The release names another recording."


@pytest.fixture
def accepted(volunteer, archivist):
    return an_interview(State.ACCEPTED, owner=volunteer, reviewer=archivist)


@pytest.fixture
def proposed(accepted, archivist):
    propose_undo(accepted.pk, reason=REASON, actor=archivist)
    return accepted


@pytest.fixture
def undone(proposed, coordinator) -> Accession:
    return confirm_undo(proposed.pk, actor=coordinator)


def test_a_proposal_changes_nothing_but_itself(proposed, archivist):
    accession = standing(proposed)
    assert is_now(proposed) == State.ACCEPTED
    assert (accession.undo_proposed_by, accession.undo_reason) == (archivist, REASON)
    assert last_event(proposed) == (
        Action.UNDO_PROPOSED,
        archivist,
        {"accession": accession.number, "reason": REASON},
    )
    assert not Message.objects.filter(key__startswith="undone-").exists()


def test_whoever_proposes_it_does_not_confirm_it(proposed, archivist):
    assert refused(confirm_undo, proposed.pk, actor=archivist) == (
        "Undoing an acceptance takes two people: somebody else confirms what you proposed.",
    )


def test_the_database_too_wants_two_people(proposed, archivist):
    with pytest.raises(IntegrityError, match="undoing_takes_two_people"), transaction.atomic():
        Accession.objects.update(undone_by=archivist, undone_at=timezone.now())


def test_the_database_wants_a_reason(proposed, coordinator):
    with pytest.raises(IntegrityError, match="proposed_undo_says_who_when_and_why"), transaction.atomic():
        Accession.objects.update(undo_reason="")


def test_nothing_is_undone_that_nobody_proposed(accepted, coordinator):
    with pytest.raises(IntegrityError, match="undoing_takes_two_people"), transaction.atomic():
        Accession.objects.update(undone_by=coordinator, undone_at=timezone.now())
    assert refused(confirm_undo, accepted.pk, actor=coordinator) == ("Nobody proposes to undo this acceptance now.",)


def test_a_second_person_undoes_it(undone, archivist, coordinator):
    interview = undone.interview
    assert is_now(interview) == State.IN_REVIEW
    undone.refresh_from_db()
    assert (undone.stands, undone.undone_by, undone.undo_proposed_by) == (False, coordinator, archivist)
    assert standing(interview) is None
    assert last_event(interview) == (
        Action.ACCEPTANCE_UNDONE,
        coordinator,
        {"accession": undone.number, "proposed_by": archivist.pk, "reason": REASON},
    )


def test_the_review_goes_on_with_whoever_had_it(undone, archivist):
    undone.interview.refresh_from_db()
    assert undone.interview.reviewer == archivist


def test_the_review_goes_on_with_whoever_confirmed_if_the_reviewer_has_left(proposed, archivist, coordinator):
    User.objects.filter(pk=archivist.pk).update(is_active=False)
    confirm_undo(proposed.pk, actor=coordinator)
    proposed.refresh_from_db()
    assert proposed.reviewer == coordinator


def test_a_new_acceptance_gives_a_new_number(undone, archivist):
    again = accept(undone.interview_id, actor=archivist)
    assert again.number != undone.number
    assert (again.year, again.sequence) == (undone.year, undone.sequence + 1)
    assert again.receipt_number != undone.receipt_number
    assert Accession.objects.filter(interview=undone.interview_id).count() == 2
    assert standing(undone.interview) == again


def test_the_database_keeps_one_standing_accession(accepted):
    values = Accession.objects.filter(interview=accepted).values().get()
    more = {"id": None, "sequence": 999, "number": "other", "receipt_number": "R-other"}
    with pytest.raises(IntegrityError), transaction.atomic():
        Accession.objects.create(**{**values, **more})


def test_the_receipt_that_holds_is_the_newest(accepted, archivist, coordinator):
    run_jobs(Kind.MAKE_RECEIPT)
    first = receipt_of(accepted)
    propose_undo(accepted.pk, reason=REASON, actor=archivist)
    confirm_undo(accepted.pk, actor=coordinator)
    assert receipt_of(accepted) is None
    again = accept(accepted.pk, actor=archivist)
    run_jobs(Kind.MAKE_RECEIPT)
    assert receipt_of(accepted) == existing(OutputKind.RECEIPT, again.pk) != first


def test_no_receipt_is_made_for_what_was_undone_before(undone):
    """The job waits since the acceptance; meanwhile there is nothing to receive."""
    run_jobs(Kind.MAKE_RECEIPT)
    assert existing(OutputKind.RECEIPT, undone.pk) is None
    assert not Message.objects.filter(key__startswith="receipt-").exists()


def test_whoever_gave_it_is_told_in_plain_words(undone, mailoutbox):
    run_jobs(Kind.SEND_MESSAGE)
    told = {mail.to[0]: mail for mail in mailoutbox if "undone" in mail.subject}
    assert sorted(told) == ["marit@example.org", "tobias@example.org"]
    body = told["tobias@example.org"].body
    assert REASON in body
    assert "Your recording is safe with us" in body
    assert undone.number in body


def test_the_check_of_the_old_receipt_says_that_it_was_undone(undone, archivist, client):
    again = accept(undone.interview_id, actor=archivist)
    old = text_of(client.get(reverse("narrator:check-paper", args=[undone.receipt_number])))
    assert f"was undone on {formats.date_format(timezone.localdate())}" in old
    assert REASON not in old
    new = text_of(client.get(reverse("narrator:check-paper", args=[again.receipt_number])))
    assert "and stands." in new


def test_the_second_person_may_turn_it_down(proposed, archivist, coordinator):
    refuse_undo(proposed.pk, reason="It is the right recording.", actor=coordinator)
    assert is_now(proposed) == State.ACCEPTED
    assert standing(proposed).undo_proposed_by is None
    action, actor, said = last_event(proposed)
    assert (action, actor, said["reason"]) == (Action.UNDO_REFUSED, coordinator, "It is the right recording.")
    assert REASON in [word for event in story_of(proposed) for word in event.words]
    propose_undo(proposed.pk, reason="It is not.", actor=archivist)  # and it may be proposed again


def test_whoever_proposed_it_may_take_it_back(proposed, archivist):
    refuse_undo(proposed.pk, reason="I mixed up two interviews.", actor=archivist)
    assert standing(proposed).undo_proposed_by is None


def test_it_is_proposed_once(proposed, coordinator):
    (told,) = refused(propose_undo, proposed.pk, reason="x", actor=coordinator)
    assert told.startswith("Ines Halloway has proposed it already.")


@pytest.mark.parametrize(("move", "given"), [(propose_undo, {"reason": " "}), (refuse_undo, {"reason": ""})])
def test_both_need_a_reason(proposed, coordinator, move, given):
    assert refused(move, proposed.pk, actor=coordinator, **given)


@pytest.mark.parametrize(
    ("move", "given"), [(propose_undo, {"reason": "x"}), (confirm_undo, {}), (refuse_undo, {"reason": "x"})]
)
def test_only_staff_undo(proposed, volunteer, move, given):
    assert refused(move, proposed.pk, actor=volunteer, **given) == ("Only the library's staff review interviews.",)


@pytest.mark.parametrize("state", [state for state in State if state not in TAKEN_IN], ids=str)
def test_only_an_acceptance_is_undone(state, archivist):
    assert refused(propose_undo, an_interview(state).pk, reason="x", actor=archivist) == (
        "This interview is not accepted, so there is no acceptance to undo.",
    )
