"""Signing on paper: print, hand in, confirm. Handing in is a claim; the staff's look at the scan makes it a release."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from intake import workflow
from intake.accounts.models import Role
from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.errors import Refused
from intake.interviews import participants
from intake.interviews.models import Interview, Participant, State
from intake.jobs.models import Job, Kind
from intake.mail.models import Message
from intake.outputs.models import OutputKind
from intake.outputs.services import existing
from intake.releases import paper_forms
from intake.releases import services as releases
from intake.releases.models import FormState, Release, Scan, SignedForm
from intake.releases.restrictions import restriction_of
from intake.releases.services import missing_signatures
from intake.releases.wordings import digest_of_text, filled, wording_for
from tests.factories import (
    a_bad_reading,
    a_form_handed_in,
    a_form_typed_in,
    a_photograph,
    a_release_on_paper,
    a_scan,
    a_signed_release,
    a_signing_session,
    a_started_interview,
    a_typed_signature,
    a_user,
    an_interview,
    at_time,
    choices,
    interviewer_of,
    later,
    narrator_of,
    run_jobs,
    sha256,
    what_is_typed,
)

pytestmark = pytest.mark.django_db
URL = "https://history.example.org/people/1/paper/"


@pytest.fixture
def interview(volunteer) -> Interview:
    return a_started_interview(volunteer)


@pytest.fixture
def narrator(interview) -> Participant:
    return narrator_of(interview)


def told(interview: Interview) -> str:
    return " ".join(missing_signatures(interview))


# Print


def test_the_form_holds_the_wording_of_the_role_and_a_number_of_its_own(narrator, volunteer):
    form = paper_forms.print_form(narrator.pk, actor=volunteer)
    assert form.number.startswith("F-")
    assert form.wording == wording_for("release", "narrator", "en")
    assert (form.signer, form.printed_by) == ("Marit Oskarsen", volunteer)
    assert story_of(narrator.interview).last().action == Action.FORM_PRINTED


def test_printing_twice_is_the_same_form_until_something_on_it_changes(narrator, volunteer):
    first = paper_forms.print_form(narrator.pk, actor=volunteer)
    assert paper_forms.print_form(narrator.pk, actor=volunteer) == first
    participants.correct_participant(narrator.pk, name="Marit Oskarsen-Holm", email="", actor=volunteer)
    second = paper_forms.print_form(narrator.pk, actor=volunteer)
    assert (second.signer, second.number != first.number) == ("Marit Oskarsen-Holm", True)


def test_nothing_is_printed_for_somebody_who_has_signed(narrator, volunteer):
    a_signed_release(narrator)
    with pytest.raises(Refused, match="has signed already"):
        paper_forms.print_form(narrator.pk, actor=volunteer)


def test_a_person_for_whom_a_form_was_only_printed_can_still_be_taken_out(narrator, volunteer):
    paper_forms.print_form(narrator.pk, actor=volunteer)
    participants.remove_participant(narrator.pk, actor=volunteer)
    assert not Participant.objects.filter(pk=narrator.pk).exists()


def test_a_person_whose_signed_form_is_here_stays(narrator, volunteer):
    a_form_handed_in(narrator)
    with pytest.raises(Refused, match="has signed a release, so they stay"):
        participants.remove_participant(narrator.pk, actor=volunteer)


# Hand in


def test_what_is_typed_is_a_claim_and_no_release(interview, narrator):
    signed = a_form_handed_in(narrator, access="on-site", name_withheld=True)
    assert (signed.state, signed.access, signed.name_withheld) == (FormState.WAITING, "on-site", True)
    assert not Release.objects.exists()
    assert restriction_of(interview) is None
    assert "The paper form of Marit Oskarsen waits to be confirmed by the library's staff." in told(interview)


def test_each_step_is_told_in_the_story(interview, narrator):
    a_form_handed_in(narrator)
    assert list(story_of(interview).values_list("action", flat=True))[-5:] == [
        Action.FORM_PRINTED,
        Action.FORM_TYPED,
        Action.SCAN_STARTED,
        Action.SCAN_ARRIVED,
        Action.FORM_HANDED_IN,
    ]
    assert story_of(interview).last().details["scans"] == [Scan.objects.get().file.sha256]


def test_a_form_is_handed_in_with_its_scan(narrator, volunteer):
    signed = a_form_typed_in(narrator)
    assert paper_forms.missing_before_hand_in(signed) == ["Add a photo or scan of the signed form."]
    with pytest.raises(Refused, match="Add a photo or scan"):
        paper_forms.hand_in(signed.pk, actor=volunteer)


def test_a_scan_taken_back_does_not_count_and_is_kept(narrator, volunteer):
    signed = a_form_typed_in(narrator)
    scan = a_scan(signed)
    paper_forms.take_back_scan(scan.pk, actor=volunteer)
    paper_forms.take_back_scan(scan.pk, actor=volunteer)
    scan.refresh_from_db()
    assert scan.file is not None
    assert paper_forms.missing_before_hand_in(signed) == ["Add a photo or scan of the signed form."]


def test_once_handed_in_nothing_is_added_taken_back_or_corrected(narrator, volunteer):
    signed = a_form_handed_in(narrator)
    with pytest.raises(Refused, match="was handed in already"):
        a_scan(signed)
    with pytest.raises(Refused, match="was handed in already"):
        paper_forms.take_back_scan(signed.scans.get().pk, actor=volunteer)
    with pytest.raises(Refused, match="waits to be confirmed by the library's staff already"):
        paper_forms.type_in(narrator.pk, typed=what_is_typed(signed.form), actor=volunteer)


def test_handing_in_twice_hands_in_once(narrator, volunteer):
    signed = a_form_handed_in(narrator)
    at = SignedForm.objects.get().handed_in_at
    paper_forms.hand_in(signed.pk, actor=volunteer)
    assert SignedForm.objects.get().handed_in_at == at


def test_what_was_typed_is_put_right_before_it_is_handed_in(narrator, volunteer):
    signed = a_form_typed_in(narrator)
    typed = what_is_typed(signed.form, access="on-site", signed_by="M. Oskarsen")
    assert paper_forms.type_in(narrator.pk, typed=typed, actor=volunteer) == signed
    assert SignedForm.objects.get().access == "on-site"


def test_the_number_must_be_that_of_a_form_of_this_person(narrator, volunteer):
    other = paper_forms.print_form(interviewer_of(narrator.interview).pk, actor=volunteer)
    with pytest.raises(Refused, match="No form with this number was printed for this person"):
        paper_forms.type_in(narrator.pk, typed=what_is_typed(other), actor=volunteer)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"signed_on": timezone.localdate() + timedelta(days=2)}, "lies in the future"),
        ({"signed_on": timezone.localdate() - timedelta(days=2)}, "after the day that you typed"),
        ({"signed_by": "  "}, "whose signature"),
        ({"access": "closed"}, "Choose a day after that of the signature"),
        ({"access": "closed", "closed_until": timezone.localdate()}, "Choose a day after that of the signature"),
        ({"access": "open", "closed_until": timezone.localdate()}, "A day or an event is chosen only where"),
    ],
)
def test_what_no_form_could_say_is_refused(narrator, wrong, sentence):
    with pytest.raises(Refused, match=sentence):
        a_form_typed_in(narrator, **wrong)


def test_while_a_form_waits_nothing_is_signed_on_the_screen(narrator, volunteer):
    """What is signed on paper and on the screen could differ."""
    session, wording = a_signing_session(narrator), wording_for("release", "narrator", "en")
    a_form_handed_in(narrator)
    with pytest.raises(Refused, match="has signed on paper"):
        releases.open_signing(narrator.pk, actor=volunteer)
    with pytest.raises(Refused, match="has signed on paper"):
        releases.sign(
            session.pk,
            wording_id=wording.pk,
            text_sha256=digest_of_text(filled(wording, narrator)),
            choices=choices(),
            signature=a_typed_signature(),
        )


def test_after_the_end_of_an_interview_no_form_is_handed_in(volunteer):
    narrator = narrator_of(an_interview(State.DRAFT, owner=volunteer))
    signed = a_form_typed_in(narrator)
    a_scan(signed)
    workflow.withdraw(narrator.interview_id, reason="x", actor=volunteer)
    with pytest.raises(Refused, match="nothing can be signed for it now"):
        paper_forms.hand_in(signed.pk, actor=volunteer)


# Confirm


def test_a_confirmed_form_is_the_release_of_its_signer(interview, narrator, archivist):
    until = timezone.localdate() + timedelta(days=400)
    signed = a_form_handed_in(narrator, access="closed", closed_until=until)
    release = paper_forms.confirm(signed.pk, actor=archivist)
    signed.refresh_from_db()
    assert (release.method, release.signed_form, release.session, release.signed_at) == ("paper", signed, None, None)
    assert (release.closed_until, release.signed_on) == (until, timezone.localdate())
    assert release.wording_sha256 == sha256(filled(wording_for("release", "narrator", "en"), narrator).encode())
    assert (signed.state, signed.decided_by) == (FormState.CONFIRMED, archivist)
    assert "Marit" not in told(interview)
    event = story_of(interview).last()
    assert (event.action, event.actor) == (Action.FORM_CONFIRMED, archivist)
    assert event.details["scans"] == [signed.scans.get().file.sha256]


def test_the_signer_gets_a_copy_that_says_it_was_signed_on_paper(narrator):
    release = a_release_on_paper(narrator)
    run_jobs(Kind.MAKE_RELEASE_COPY)
    assert existing(OutputKind.RELEASE_COPY, release.pk)
    assert Message.objects.get(to="marit@example.org").attachments.count() == 1


def test_a_volunteer_confirms_nothing(narrator, volunteer):
    signed = a_form_handed_in(narrator)
    for decide in (
        lambda: paper_forms.confirm(signed.pk, actor=volunteer),
        lambda: paper_forms.turn_down(signed.pk, reason="x", actor=volunteer, url=URL),
    ):
        with pytest.raises(Refused, match="Only the library's staff"):
            decide()
    assert not Release.objects.exists()


def test_nobody_confirms_their_own_signature(archivist):
    own = interviewer_of(a_started_interview(archivist))
    signed = a_form_handed_in(own)
    with pytest.raises(Refused, match="your own signature"):
        paper_forms.confirm(signed.pk, actor=archivist)
    assert paper_forms.confirm(signed.pk, actor=a_user("Rowan Pike", role=Role.ARCHIVIST))


def test_whoever_is_all_the_staff_turns_their_own_form_down_and_signs_on_the_screen(archivist):
    own = interviewer_of(a_started_interview(archivist))
    signed = a_form_handed_in(own)
    paper_forms.turn_down(signed.pk, reason="Nobody else can confirm it.", actor=archivist, url=URL)
    assert a_signed_release(own).method == "typed"


def test_nor_under_another_entry_with_the_same_address(volunteer, archivist):
    interview = a_started_interview(volunteer, narrator="I. Halloway", narrator_email=archivist.email)
    with pytest.raises(Refused, match="your own signature"):
        paper_forms.confirm(a_form_handed_in(narrator_of(interview)).pk, actor=archivist)


def test_confirming_twice_confirms_once(narrator, archivist):
    signed = a_form_handed_in(narrator)
    paper_forms.confirm(signed.pk, actor=archivist)
    with pytest.raises(Refused, match="does not wait for a decision: it is confirmed"):
        paper_forms.confirm(signed.pk, actor=archivist)
    assert Release.objects.count() == 1


def test_a_scan_whose_copies_do_not_match_confirms_nothing(narrator, archivist):
    signed = a_form_handed_in(narrator)
    a_bad_reading(signed.scans.get().file, "primary")
    with pytest.raises(Refused, match="not yet kept in two copies that match"):
        paper_forms.confirm(signed.pk, actor=archivist)


def test_a_form_that_is_being_put_together_is_not_decided(narrator, archivist):
    signed = a_form_typed_in(narrator)
    with pytest.raises(Refused, match="it is being put together"):
        paper_forms.confirm(signed.pk, actor=archivist)


def test_a_form_turned_down_says_why_and_another_may_follow(interview, narrator, archivist, volunteer):
    signed = a_form_handed_in(narrator)
    with pytest.raises(Refused, match="why the form is turned down"):
        paper_forms.turn_down(signed.pk, reason=" ", actor=archivist, url=URL)
    paper_forms.turn_down(signed.pk, reason="The second page is missing.", actor=archivist, url=URL)
    message = Message.objects.get(to=volunteer.email)
    assert "The second page is missing." in message.text
    assert URL in message.text
    assert "The release of Marit Oskarsen (narrator) is not signed." in told(interview)
    with pytest.raises(Refused, match="does not wait for a decision"):
        paper_forms.confirm(signed.pk, actor=archivist)
    again = a_form_handed_in(narrator)
    assert again.form == signed.form
    assert paper_forms.confirm(again.pk, actor=archivist).signed_form == again


def test_after_a_form_was_turned_down_the_screen_is_open_again(narrator, archivist):
    signed = a_form_handed_in(narrator)
    paper_forms.turn_down(signed.pk, reason="Blurred.", actor=archivist, url=URL)
    assert a_signed_release(narrator).method == "typed"


def test_an_interview_is_accepted_once_the_form_is_confirmed(volunteer, archivist):
    interview = an_interview(State.DRAFT, owner=volunteer)
    run_jobs(Kind.MEASURE_PART)
    a_signed_release(interviewer_of(interview))
    signed = a_form_handed_in(narrator_of(interview))
    workflow.submit(interview.pk, actor=volunteer)
    workflow.take_up(interview.pk, actor=archivist)
    with pytest.raises(Refused, match="waits to be confirmed"):
        workflow.accept(interview.pk, actor=archivist)
    paper_forms.confirm(signed.pk, actor=archivist)
    terms = workflow.accept(interview.pk, actor=archivist).snapshot["terms"]
    (paper,) = [entry for entry in terms if entry["method"] == "paper"]
    assert paper["signed_at"] is None
    assert paper["paper"]["confirmed_by"] == "Ines Halloway"
    assert paper["paper"]["scans"] == [signed.scans.get().file.sha256]
    run_jobs()
    assert not Job.objects.filter(state="failed").exists()


def test_the_day_of_a_signature_on_the_screen_is_that_of_the_librarys_calendar(narrator):
    with at_time(later(days=3)):
        release = a_signed_release(narrator)
    assert release.signed_on == timezone.localdate(release.signed_at)


def test_a_form_has_so_many_pages_and_no_more(narrator, monkeypatch):
    monkeypatch.setattr(paper_forms, "MOST_SCANS", 1)
    signed = a_form_typed_in(narrator)
    a_scan(signed)
    with pytest.raises(Refused, match="at most 1 scans"):
        a_scan(signed, a_photograph("white"))


# The database


@pytest.mark.parametrize(
    "wrong",
    [{"signed_form": None}, {"signed_at": timezone.now()}, {"method": "typed"}, {"typed_name": "x"}, {"method": "x"}],
)
def test_the_database_keeps_paper_and_screen_apart(narrator, wrong):
    release = a_release_on_paper(narrator)
    with pytest.raises(IntegrityError), transaction.atomic():
        Release.objects.filter(pk=release.pk).update(**wrong)


@pytest.mark.parametrize(
    "wrong", [{"session": None}, {"consented_at": None}, {"signed_at": None}, {"method": "paper", "typed_name": ""}]
)
def test_the_database_lets_no_signature_on_the_screen_be_without_its_session(narrator, wrong):
    release = a_signed_release(narrator)
    with pytest.raises(IntegrityError), transaction.atomic():
        Release.objects.filter(pk=release.pk).update(**wrong)


@pytest.mark.parametrize(
    "wrong",
    [
        {"state": "confirmed"},
        {"state": "turned-down"},
        {"state": "open"},
        {"reason": "x"},
        {"access": "closed"},
        {"handed_in_by": None},
        {"decided_at": timezone.now()},
    ],
)
def test_the_database_keeps_who_did_what_with_a_form(narrator, wrong):
    signed = a_form_handed_in(narrator)
    with pytest.raises(IntegrityError), transaction.atomic():
        SignedForm.objects.filter(pk=signed.pk).update(**wrong)


def test_the_database_lets_one_form_be_in_hand_once(narrator, volunteer):
    signed = a_form_typed_in(narrator)
    with pytest.raises(IntegrityError), transaction.atomic():
        SignedForm.objects.create(
            form=signed.form,
            access="open",
            name_withheld=False,
            signed_on=timezone.localdate(),
            signed_by="x",
            typed_by=volunteer,
        )
