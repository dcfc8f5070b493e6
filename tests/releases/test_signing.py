"""Signing a release: one person, one session, the exact words, and the evidence."""

import hashlib

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from intake import workflow
from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.errors import Refused
from intake.interviews import services as interviews
from intake.interviews.models import Interview, Participant, State
from intake.jobs.models import Job, Kind
from intake.releases import services as releases
from intake.releases.models import Release, Wording
from intake.releases.services import Signature
from intake.releases.wordings import digest_of_text, filled, wording_for
from tests.factories import (
    a_description,
    a_drawing,
    a_signed_release,
    a_signing_session,
    a_started_interview,
    a_typed_signature,
    an_interview,
    at_time,
    choices,
    interviewer_of,
    later,
    narrator_of,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def interview(volunteer) -> Interview:
    return a_started_interview(volunteer)


@pytest.fixture
def narrator(interview) -> Participant:
    return narrator_of(interview)


def newest(role="narrator") -> Wording:
    return wording_for("release", role, "en")


def a_newer_wording(text="Shorter.", *, language="en", role="narrator") -> Wording:
    kind = {"moment": "release", "role": role, "language": language}
    last = Wording.objects.filter(**kind).order_by("-version").first()
    version = last.version + 1 if last else 1
    return Wording.objects.create(**kind, version=version, basis="licence", title="Release", text=text)


def sign(session, wording=None, *, signature=None, **chosen) -> Release:
    wording = wording or newest(session.participant.role)
    return releases.sign(
        session.pk,
        wording_id=wording.pk,
        text_sha256=digest_of_text(filled(wording, session.participant)),
        choices=choices(**chosen),
        signature=signature or a_typed_signature(),
    )


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("role", Participant.Role.values)
def test_a_new_site_has_a_release_wording_for_each_role_in_english_and_spanish(role, language):
    wording = wording_for("release", role, language)
    assert (wording.language, len(wording.text) > 500) == (language, True)


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("role", ["narrator", "guardian"])
def test_and_an_agreement_for_whoever_is_asked_before_the_recording(role, language):
    assert wording_for("agreement", role, language).language == language


def test_a_release_keeps_the_words_that_were_signed(narrator):
    wording = newest()
    release = sign(a_signing_session(narrator), wording)
    assert (release.wording, release.wording_text) == (wording, filled(wording, narrator))
    assert "I, Marit Oskarsen, have told my memories" in release.wording_text
    assert "14 Mar 2026" in release.wording_text
    assert "{" not in release.wording_text
    assert release.wording_sha256 == hashlib.sha256(release.wording_text.encode()).hexdigest()


def test_a_newer_wording_leaves_what_was_signed_as_it_was(narrator):
    signed_words = filled(newest(), narrator)
    release = sign(a_signing_session(narrator))
    a_newer_wording()
    release.refresh_from_db()
    assert (release.wording_text, release.wording.version) == (signed_words, 1)


def test_the_next_person_reads_the_newest_wording():
    newer = a_newer_wording()
    assert wording_for("release", "narrator", "en") == newer


def test_what_was_read_is_what_is_signed_even_if_a_newer_wording_came_meanwhile(narrator):
    session, read = a_signing_session(narrator), newest()
    a_newer_wording()
    assert sign(session, read).wording == read


def test_the_wording_is_in_the_signers_language_if_there_is_one():
    swedish = a_newer_wording("Jag har berättat.", language="sv")
    assert wording_for("release", "narrator", "sv") == swedish
    assert wording_for("release", "narrator", "sv-FI") == swedish
    assert wording_for("release", "narrator", "fi") == newest()


def test_without_any_wording_nothing_is_signed(narrator):
    Wording.objects.all().delete()
    with pytest.raises(Refused, match="not put a wording for this into force"):
        wording_for("release", "narrator", "en")


def test_the_wording_of_another_role_is_not_signed(narrator):
    with pytest.raises(Refused, match="not offered any more"):
        sign(a_signing_session(narrator), newest("interviewer"))


def test_the_database_uses_a_version_once():
    first = newest()
    newer = a_newer_wording()
    with pytest.raises(IntegrityError), transaction.atomic():
        Wording.objects.filter(pk=newer.pk).update(version=first.version)


def test_the_evidence_is_kept(narrator, volunteer):
    before = timezone.now()
    release = sign(a_signing_session(narrator))
    assert (release.method, release.typed_name, release.signature_png) == ("typed", "Marit Oskarsen", None)
    assert (release.address, release.agent) == ("192.0.2.7", "A browser")
    assert release.consented_at <= release.signed_at
    assert release.signed_at >= before
    assert release.session.opened_by == volunteer
    assert release.number.startswith("S-")


def test_a_drawn_signature_is_kept_as_it_was_drawn(narrator):
    drawn = Signature("drawn", "", a_drawing(), timezone.now(), None, "A browser")
    release = sign(a_signing_session(narrator), signature=drawn)
    release.refresh_from_db()
    assert bytes(release.signature_png) == a_drawing()


@pytest.mark.parametrize(
    "signature",
    [
        Signature("drawn", "", None, timezone.now(), None, ""),
        Signature("typed", "", None, timezone.now(), None, ""),
        Signature("stamped", "Marit", None, timezone.now(), None, ""),
    ],
    ids=["no drawing", "no name", "another way"],
)
def test_the_database_lets_no_release_be_without_its_signature(narrator, signature):
    session = a_signing_session(narrator)
    with pytest.raises(IntegrityError, match="release_keeps_its_signature"):
        sign(session, signature=signature)


def test_a_release_tells_of_the_interview_as_it_stood(interview, narrator):
    release = sign(a_signing_session(narrator))
    interviews.describe(interview.pk, actor=interview.owner, description=a_description(place="On board"))
    release.refresh_from_db()
    assert release.interview_as_described["place"] == "The kitchen of the old toll house"
    assert release.interview_as_described["narrators"] == ["Marit Oskarsen"]


# The session


def test_a_session_is_spent_by_signing(narrator):
    session = a_signing_session(narrator)
    sign(session)
    with pytest.raises(Refused, match="signing has ended"):
        releases.live_session(session.pk)
    with pytest.raises(Refused, match="signing has ended"):
        sign(session)
    assert Release.objects.count() == 1


def test_a_session_ends_after_two_hours(narrator):
    session = a_signing_session(narrator)
    with at_time(later(hours=1, minutes=59)):
        assert releases.live_session(session.pk) == session
    with at_time(later(hours=2, minutes=1)), pytest.raises(Refused, match="signing has ended"):
        sign(session)


def test_a_new_session_ends_the_one_before(narrator):
    first, second = a_signing_session(narrator), a_signing_session(narrator)
    with pytest.raises(Refused, match="signing has ended"):
        sign(first)
    assert sign(second)


def test_the_session_of_another_person_goes_on(interview, narrator):
    theirs = a_signing_session(narrator)
    a_signing_session(interviewer_of(interview))
    assert releases.live_session(theirs.pk)


@pytest.mark.parametrize("nothing", [None, 0, 999_999])
def test_no_session_is_no_session(nothing):
    with pytest.raises(Refused):
        releases.live_session(nothing)


def test_each_person_signs_for_themselves_alone(interview, narrator):
    sign(a_signing_session(narrator))
    assert releases.missing_signatures(interview) == ["The release of Tobias Wrenfield (interviewer) is not signed."]


def test_a_person_who_has_signed_does_not_sign_again(narrator):
    sign(a_signing_session(narrator))
    with pytest.raises(Refused, match="Marit Oskarsen has signed already"):
        a_signing_session(narrator)


def test_the_database_lets_a_person_have_one_standing_release(interview, narrator):
    release = sign(a_signing_session(narrator))
    other = a_signing_session(interviewer_of(interview))
    values = Release.objects.filter(pk=release.pk).values().get()
    with pytest.raises(IntegrityError), transaction.atomic():
        Release.objects.create(**{**values, "id": None, "number": "S-2", "session_id": other.pk})


@pytest.mark.parametrize("state", [State.DRAFT, State.SUBMITTED, State.IN_REVIEW, State.RETURNED], ids=str)
def test_a_release_can_be_signed_until_acceptance(state):
    assert a_signed_release(narrator_of(an_interview(state)))


@pytest.mark.parametrize("state", [State.ACCEPTED, State.DECLINED, State.WITHDRAWN], ids=str)
def test_nothing_is_signed_after_the_end(state):
    interview = an_interview(state)
    with pytest.raises(Refused, match=f"is {state.label.lower()}, so nothing can be signed"):
        a_signing_session(narrator_of(interview))


def test_a_session_opened_before_the_end_does_not_sign_after_it():
    interview = an_interview(State.SUBMITTED)
    session = a_signing_session(narrator_of(interview))
    releases_of = an_end(interview)
    with pytest.raises(Refused, match="nothing can be signed"):
        sign(session)
    assert not releases_of.exists()


def an_end(interview):
    workflow.withdraw(interview.pk, reason="The narrator asked for it.", actor=interview.owner)
    return Release.objects.filter(participant__interview=interview)


def test_signing_is_recorded_and_the_copy_asked_for(interview, narrator):
    release = sign(a_signing_session(narrator))
    told = story_of(interview).last()
    assert (told.action, told.actor, told.names.names) == (
        Action.RELEASE_SIGNED,
        None,
        {"signer": "Marit Oskarsen"},
    )
    assert told.details["wording_sha256"] == release.wording_sha256
    assert Job.objects.get(kind=Kind.MAKE_RELEASE_COPY).subject_id == str(release.pk)
