"""Whoever cannot sign alone: a guardian is named for them, and it is the guardian's release that must be there."""

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from intake.errors import Refused
from intake.interviews import participants
from intake.interviews.models import Interview, Participant
from intake.releases.services import all_signed, missing_signatures
from intake.releases.withdrawals import withdraw_release
from tests.factories import a_signed_release, a_started_interview, an_archivist, interviewer_of, narrator_of
from tests.pages import signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def interview(volunteer):
    interview = a_started_interview(volunteer)
    a_signed_release(interviewer_of(interview))
    return interview


@pytest.fixture
def child(interview, volunteer):
    return participants.say_whether_alone(narrator_of(interview).pk, needs_guardian=True, actor=volunteer)


def a_guardian(child, volunteer) -> Participant:
    return participants.add_participant(
        child.interview_id, name="Sunniva Oskarsen", email="", role="guardian", ward_id=child.pk, actor=volunteer
    )


def test_without_a_guardian_nothing_can_be_accepted_even_if_the_child_signs(interview, child):
    a_signed_release(child)
    assert missing_signatures(interview) == ["Marit Oskarsen cannot sign alone, and no guardian is named for them."]


def test_the_guardians_release_is_what_must_be_there(interview, child, volunteer):
    guardian = a_guardian(child, volunteer)
    assert missing_signatures(interview) == ["The release of Sunniva Oskarsen (guardian) is not signed."]
    a_signed_release(guardian)
    assert missing_signatures(interview) == []


def test_from_what_is_at_hand_the_answer_is_the_same(interview, child, volunteer):
    """Step by step until everybody has signed: records for others ask this way, of many at once."""

    def is_said_alike() -> bool:
        told = all_signed(list(Interview.objects.get(pk=interview.pk).participants.prefetch_related("releases")))
        assert told == (missing_signatures(interview) == [])
        return told

    assert not is_said_alike()
    a_signed_release(child)
    assert not is_said_alike()
    guardian = a_guardian(child, volunteer)
    assert not is_said_alike()
    release = a_signed_release(guardian)
    assert is_said_alike()
    withdraw_release(release.pk, reason="She thinks again.", actor=an_archivist())
    assert not is_said_alike()


def test_the_site_asks_and_defers_to_local_law(interview, volunteer):
    browser, narrator = signed_in(volunteer), narrator_of(interview)
    page = text_of(browser.get(reverse("portal:interview-detail", args=[interview.pk])))
    assert "Under age, or cannot sign alone?" in page
    asked = browser.get(reverse("portal:person-alone", args=[narrator.pk]))
    assert "is for the law of your place" in text_of(asked)
    browser.post(reverse("portal:person-alone", args=[narrator.pk]), {"needs_guardian": "on"})
    browser.post(
        reverse("portal:person-add", args=[interview.pk]),
        {"role": "guardian", "name": "Sunniva Oskarsen", "email": "", "ward_id": narrator.pk},
    )
    page = text_of(browser.get(reverse("portal:interview-detail", args=[interview.pk])))
    assert "Guardian of Marit Oskarsen" in page
    assert "A guardian signs with or for them" in page


def test_a_guardian_signs_for_somebody_who_needs_one(interview, volunteer):
    with pytest.raises(Refused, match="Choose for whom the guardian signs"):
        participants.add_participant(interview.pk, name="x", email="", role="guardian", actor=volunteer)
    with pytest.raises(Refused, match="Choose for whom the guardian signs"):
        a_guardian(narrator_of(interview), volunteer)


def test_only_a_narrator_needs_one_and_is_not_taken_out_before_the_guardian(interview, child, volunteer):
    with pytest.raises(Refused, match="Only a narrator"):
        participants.say_whether_alone(interviewer_of(interview).pk, needs_guardian=True, actor=volunteer)
    a_guardian(child, volunteer)
    with pytest.raises(Refused, match="Take out the guardian first"):
        participants.remove_participant(child.pk, actor=volunteer)


def test_an_interpreter_signs_too(interview, volunteer):
    a_signed_release(narrator_of(interview))
    interpreter = participants.add_participant(
        interview.pk, name="Ilse Marrow", email="", role="interpreter", actor=volunteer
    )
    assert missing_signatures(interview) == ["The release of Ilse Marrow (interpreter) is not signed."]
    a_signed_release(interpreter)
    assert missing_signatures(interview) == []


@pytest.mark.parametrize(
    ("wrong", "name"),
    [
        ({"role": "guardian"}, "guardian_signs_for_somebody"),
        ({"role": "interviewer", "needs_guardian": True}, "guardian_is_needed_by_narrators_alone"),
    ],
)
def test_the_database_says_so_too(interview, wrong, name):
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        Participant.objects.filter(pk=narrator_of(interview).pk).update(**wrong)
