"""Two people, or two clicks, move one interview at the same moment."""

from threading import Barrier

import pytest

from intake.audit.actions import Action
from intake.audit.models import Event
from intake.audit.services import story_of
from intake.errors import Refused
from intake.files import storing
from intake.interviews import participants
from intake.interviews import services as interviews
from intake.interviews.models import Interview, State
from intake.interviews.services import parts_of
from intake.mail.models import Message
from intake.register.models import Accession, YearCounter
from intake.releases import paper_forms
from intake.releases import services as releases
from intake.releases.models import Release
from intake.releases.wordings import digest_of_text, filled, wording_for
from intake.workflow import accept, confirm_undo, propose_undo, refuse_undo, send_back, submit, take_up
from tests.concurrency.at_once import WAIT, at_once, refusals
from tests.factories import (
    a_form_handed_in,
    a_part_arriving,
    a_part_received,
    a_signing_session,
    a_started_interview,
    a_typed_signature,
    an_archivist,
    an_interview,
    choices,
    narrator_of,
)

pytestmark = pytest.mark.django_db(transaction=True)
MANY = 6


def ready(archivist):
    return an_interview(State.IN_REVIEW, reviewer=archivist, ready=True)


def told(interview, action) -> int:
    return Event.objects.filter(thread=f"interviews.interview:{interview.pk}", action=action).count()


# One interview, accepted twice


def test_control_without_the_lock_both_see_an_interview_that_may_be_accepted():
    """Read, decide, write, as a careless program does: both threads pass the check before either has written."""
    interview = ready(an_archivist())
    both_have_read = Barrier(2)

    def accept_carelessly():
        found = Interview.objects.get(pk=interview.pk)
        if found.state != State.IN_REVIEW:
            raise Refused("too late")
        both_have_read.wait(WAIT)
        Interview.objects.filter(pk=found.pk).update(state=State.ACCEPTED)
        return found

    assert refusals(at_once(accept_carelessly, accept_carelessly), Refused) == []


def test_two_acceptances_of_one_interview_make_one_accession():
    archivist = an_archivist()
    interview = ready(archivist)
    ended = at_once(*[lambda: accept(interview.pk, actor=archivist)] * 4)
    assert len(refusals(ended, Refused)) == 3
    assert Accession.objects.count() == 1
    assert YearCounter.objects.get().last == 1
    assert told(interview, Action.ACCEPTED) == 1


def test_acceptance_and_return_at_once_end_in_one_of_them():
    archivist = an_archivist()
    interview = ready(archivist)
    ended = at_once(
        lambda: accept(interview.pk, actor=archivist),
        lambda: send_back(interview.pk, message="One more thing.", actor=archivist),
    )
    assert len(refusals(ended, Refused)) == 1
    interview.refresh_from_db()
    accepted = interview.state == State.ACCEPTED
    assert Accession.objects.exists() is accepted
    assert Message.objects.filter(key__startswith="decision-").exists() is not accepted


# One acceptance, undone twice


def a_proposal(archivist):
    interview = an_interview(State.ACCEPTED, reviewer=archivist)
    propose_undo(interview.pk, reason="The release names another recording.", actor=archivist)
    return interview


def test_two_who_confirm_at_once_undo_once():
    interview = a_proposal(an_archivist())
    one, other = an_archivist("Bela Thorn"), an_archivist("Rowan Pike")
    ended = at_once(lambda: confirm_undo(interview.pk, actor=one), lambda: confirm_undo(interview.pk, actor=other))
    assert len(refusals(ended, Refused)) == 1
    assert told(interview, Action.ACCEPTANCE_UNDONE) == 1
    assert Message.objects.filter(key__startswith="undone-").count() == 2  # the narrator and the volunteer, once each


def test_two_who_propose_at_once_make_one_proposal():
    interview = an_interview(State.ACCEPTED)
    one, other = an_archivist("Bela Thorn"), an_archivist("Rowan Pike")
    ended = at_once(
        lambda: propose_undo(interview.pk, reason="x", actor=one),
        lambda: propose_undo(interview.pk, reason="y", actor=other),
    )
    assert len(refusals(ended, Refused)) == 1
    assert told(interview, Action.UNDO_PROPOSED) == 1


def test_an_undoing_confirmed_and_turned_down_at_once_ends_in_one_of_them():
    archivist = an_archivist()
    interview = a_proposal(archivist)
    other = an_archivist("Bela Thorn")
    ended = at_once(
        lambda: confirm_undo(interview.pk, actor=other),
        lambda: refuse_undo(interview.pk, reason="It stands.", actor=archivist),
    )
    assert len(refusals(ended, Refused)) == 1
    interview.refresh_from_db()
    undone = interview.state == State.IN_REVIEW
    assert Accession.objects.get().stands is not undone
    assert told(interview, Action.UNDO_REFUSED) == (0 if undone else 1)


# Numbers


def test_control_numbers_that_are_read_and_then_written_have_twins():
    YearCounter.objects.create(year=2026, last=0)
    both_have_read = Barrier(2)

    def next_number_carelessly():
        counter = YearCounter.objects.get(year=2026)
        both_have_read.wait(WAIT)
        counter.last += 1
        counter.save()
        return counter.last

    assert at_once(next_number_carelessly, next_number_carelessly) == [1, 1]


def test_acceptances_at_once_get_numbers_without_gaps_or_twins():
    archivist = an_archivist()
    waiting = [ready(archivist) for _ in range(MANY)]
    ended = at_once(*[lambda pk=interview.pk: accept(pk, actor=archivist) for interview in waiting])
    assert refusals(ended, Refused) == []
    assert sorted(Accession.objects.values_list("sequence", flat=True)) == list(range(1, MANY + 1))


def test_a_refused_acceptance_between_others_leaves_no_gap():
    archivist = an_archivist()
    waiting = [ready(archivist) for _ in range(3)]
    unsigned = an_interview(State.IN_REVIEW, reviewer=archivist)
    ended = at_once(*[lambda pk=interview.pk: accept(pk, actor=archivist) for interview in [*waiting, unsigned]])
    assert len(refusals(ended, Refused)) == 1
    assert sorted(Accession.objects.values_list("sequence", flat=True)) == [1, 2, 3]


# Other moves


def test_two_clicks_hand_in_once():
    interview = an_interview(State.DRAFT)
    ended = at_once(*[lambda: submit(interview.pk, actor=interview.owner)] * 2)
    assert len(refusals(ended, Refused)) == 1
    assert told(interview, Action.SUBMITTED) == 1


def test_two_archivists_take_up_one_review():
    interview = an_interview(State.SUBMITTED)
    first, second = an_archivist("Ines Halloway"), an_archivist("Bela Thorn")
    ended = at_once(lambda: take_up(interview.pk, actor=first), lambda: take_up(interview.pk, actor=second))
    (late,) = refusals(ended, Refused)
    winner = second if ended[0] is late else first
    interview.refresh_from_db()
    assert interview.reviewer == winner


def test_a_part_is_not_taken_out_of_an_interview_while_it_is_handed_in():
    interview = an_interview(State.DRAFT)
    (part,) = parts_of(interview)
    ended = at_once(
        lambda: submit(interview.pk, actor=interview.owner),
        lambda: interviews.remove_part(part.pk, actor=interview.owner),
    )
    assert len(refusals(ended, Refused)) == 1
    interview.refresh_from_db()
    assert bool(parts_of(interview)) is (interview.state == State.SUBMITTED)


def test_a_signature_and_an_acceptance_at_once_do_not_miss_each_other():
    """Either the acceptance came first and nothing can be signed, or it saw the signature; never both without."""
    archivist = an_archivist()
    interview = an_interview(State.IN_REVIEW, reviewer=archivist, ready=True)
    late = interviews_with_one_more(interview)
    session = a_signing_session(late)
    ended = at_once(lambda: sign(session), lambda: accept(interview.pk, actor=archivist))
    assert len(refusals(ended, Refused)) <= 1
    interview.refresh_from_db()
    if interview.state == State.ACCEPTED:
        signers = {terms["signer"] for terms in interview.accessions.get().snapshot["terms"]}
        assert late.person.name in signers


def interviews_with_one_more(interview):
    """A narrator who has not signed, named while the interview was back with the volunteer."""
    send_back(interview.pk, message="Who is the second voice?", actor=interview.reviewer)
    late = participants.add_participant(
        interview.pk, name="Aurel Lindqvist", email="", role="narrator", actor=interview.owner
    )
    submit(interview.pk, actor=interview.owner)
    take_up(interview.pk, actor=interview.reviewer)
    return late


# Signing


def sign(session):
    wording = wording_for("release", session.participant.role, "en")
    read = digest_of_text(filled(wording, session.participant))
    return releases.sign(
        session.pk, wording_id=wording.pk, text_sha256=read, choices=choices(), signature=a_typed_signature()
    )


def test_two_clicks_sign_once():
    session = a_signing_session(narrator_of(a_started_interview()))
    ended = at_once(*[lambda: sign(session)] * 2)
    assert len(refusals(ended, Refused)) == 1
    assert Release.objects.count() == 1


# Parts


def test_parts_that_begin_at_once_get_places_of_their_own():
    interview = a_started_interview()
    at_once(*[lambda n=n: a_part_arriving(interview, b"abc", f"{n}.WAV") for n in range(MANY)])
    assert [part.position for part in parts_of(interview)] == list(range(1, MANY + 1))


def test_parts_taken_out_at_once_leave_no_gap():
    interview = a_started_interview()
    parts = [a_part_arriving(interview, b"abc", f"{n}.WAV") for n in range(MANY)]
    gone = [parts[0], parts[0], parts[2], parts[4]]
    ended = at_once(*[lambda pk=part.pk: interviews.remove_part(pk, actor=interview.owner) for part in gone])
    assert refusals(ended, Refused) == []
    assert [part.upload.name for part in parts_of(interview)] == ["1.WAV", "3.WAV", "5.WAV"]
    assert [part.position for part in parts_of(interview)] == [1, 2, 3]


def test_a_part_that_is_stored_and_taken_out_at_once_is_one_or_the_other():
    """Either the file stays with the library and the part is taken out, or the part never got a file."""
    for _ in range(3):
        part = a_part_received(a_started_interview())
        file = storing.store(part.upload_id, lambda share: None)
        at_once(
            lambda part=part, file=file: interviews.part_arrived(part.upload_id, file),
            lambda part=part: interviews.remove_part(part.pk, actor=part.interview.owner),
        )
        part.refresh_from_db()
        last = story_of(part.interview).last().action
        assert (part.upload.state, bool(part.file), last) in {
            ("stored", True, Action.PART_REMOVED),
            ("stopped", False, Action.PART_STOPPED),
        }


def test_two_clicks_confirm_a_form_once():
    archivist = an_archivist()
    signed = a_form_handed_in(narrator_of(a_started_interview()))
    ended = at_once(*[lambda: paper_forms.confirm(signed.pk, actor=archivist)] * 2)
    (refused,) = refusals(ended, Refused)
    assert refused.reasons == ("This form does not wait for a decision: it is confirmed.",)
    assert Release.objects.count() == 1


def test_a_form_is_confirmed_or_turned_down_and_never_both():
    archivist = an_archivist()
    signed = a_form_handed_in(narrator_of(a_started_interview()))
    ended = at_once(
        lambda: paper_forms.confirm(signed.pk, actor=archivist),
        lambda: paper_forms.turn_down(signed.pk, reason="Blurred.", actor=archivist, url="https://x.example.org/"),
    )
    assert len(refusals(ended, Refused)) == 1
    signed.refresh_from_db()
    assert Release.objects.exists() == (signed.state == "confirmed")
