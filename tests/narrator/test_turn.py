"""The narrator's turn: hear the recording before it is accepted, wish passages closed, put names right, say yes."""

import re
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from intake import workflow
from intake.audit.actions import Action
from intake.errors import Refused
from intake.interviews.models import State
from intake.interviews.services import parts_of
from intake.mail.models import Message
from intake.outputs.private_links import offer_turn
from intake.readiness import missing_before_acceptance
from intake.releases import turns
from intake.releases.models import ClosedPassage, NarratorsTurn, Wish
from intake.releases.passages import silences
from tests.factories import an_interview, at_time, later, narrator_of, run_jobs
from tests.pages import actions_of, signed_in, text_of
from tests.workflow.told import last_event

pytestmark = pytest.mark.django_db


@pytest.fixture
def interview(archivist):
    interview = an_interview(State.IN_REVIEW, reviewer=archivist, ready=True)
    person = narrator_of(interview).person
    person.email = "marit@example.org"
    person.save()
    run_jobs()
    return interview


@pytest.fixture
def part(interview):
    return parts_of(interview)[0]


@pytest.fixture
def opened(interview, archivist) -> Client:
    """The narrator's own browser, on the page that the link of the letter leads to."""
    until = timezone.localdate() + timedelta(days=14)
    page = reverse("desk:turn-offer", args=[narrator_of(interview).pk])
    assert page in signed_in(archivist).get(reverse("desk:interview-detail", args=[interview.pk])).content.decode()
    signed_in(archivist).post(page, {"until": until.isoformat()})
    (address,) = re.findall(r"/link/\S+", Message.objects.get(subject__startswith="Would you like").text)
    browser = Client()
    assert browser.post(address)["Location"] == reverse("narrator:hear")
    return browser


def wish(browser: Client, part, begins: str = "0:00.1", ends: str = "0:00.3"):
    typed = {"part_id": part.pk, "from_seconds": begins, "to_seconds": ends, "reason": "It names my sister."}
    return browser.post(reverse("narrator:hear"), typed)


def answer(browser: Client, corrections: str = ""):
    return browser.post(reverse("narrator:turn-answer"), {"corrections": corrections})


def test_a_narrator_hears_their_recording_and_nothing_else(opened, part, archivist):
    assert "Choose a quiet moment" in text_of(opened.get(reverse("narrator:hear")))
    assert opened.get(reverse("narrator:hear-part", args=[part.pk]))["Content-Type"] == "audio/mpeg"
    (other,) = parts_of(an_interview(State.IN_REVIEW, reviewer=archivist))
    run_jobs()
    assert opened.get(reverse("narrator:hear-part", args=[other.pk])).status_code == 404
    assert Client().get(reverse("narrator:hear")).status_code == 410


def test_a_wish_is_decided_by_staff_and_then_silent_in_what_leaves(opened, interview, part, archivist):
    assert wish(opened, part).status_code == 302
    assert "0:00.1–0:00.3: It names my sister." in text_of(opened.get(reverse("narrator:hear")))
    assert "Thank you" in text_of(answer(opened, "Oskarsen, with a k"))
    desk = signed_in(archivist)
    page = desk.get(reverse("desk:interview-detail", args=[interview.pk]))
    assert "To be put right: Oskarsen, with a k" in text_of(page)
    assert missing_before_acceptance(interview) == ["1 wish to close a passage to be decided."]
    close = reverse("desk:wish-close", args=[Wish.objects.get().pk])
    assert close in actions_of(page)
    desk.post(close)
    assert silences(part) == ((0.1, 0.3),)
    assert last_event(interview)[0] == Action.WISH_DECIDED
    assert missing_before_acceptance(interview) == []


def test_a_wish_is_declined_only_for_a_reason_that_stands(opened, interview, part, archivist):
    wish(opened, part)
    found = Wish.objects.get()
    with pytest.raises(Refused, match="Say why the passage is not closed"):
        turns.decide(found.pk, close=False, reason=" ", actor=archivist)
    signed_in(archivist).post(reverse("desk:wish-decline", args=[found.pk]), {"reason": "She agreed by telephone."})
    page = text_of(signed_in(archivist).get(reverse("desk:interview-detail", args=[interview.pk])))
    assert "Stays open: She agreed by telephone." in page
    assert not ClosedPassage.objects.exists()
    with pytest.raises(Refused, match="not open any more"):
        turns.decide(found.pk, close=True, reason="", actor=archivist)


def test_a_wish_is_taken_back(opened, interview, part):
    wish(opened, part)
    opened.post(reverse("narrator:wish-take-back", args=[Wish.objects.get().pk]))
    answer(opened)
    assert missing_before_acceptance(interview) == []


def test_nothing_is_accepted_while_the_narrator_may_answer_and_the_library_goes_on_after_the_day(
    opened, interview, archivist
):
    with pytest.raises(Refused, match="Marit Oskarsen may hear the recording until"):
        workflow.accept(interview.pk, actor=archivist)
    with at_time(later(days=15)):
        assert missing_before_acceptance(interview) == []
        assert opened.get(reverse("narrator:hear")).status_code == 410


def test_once_answered_the_link_is_dead(opened, part):
    answer(opened)
    assert NarratorsTurn.objects.get().answered_at
    for told in (opened.get(reverse("narrator:hear")), wish(opened, part), answer(opened)):
        assert told.status_code == 410
    assert opened.get(reverse("narrator:hear-part", args=[part.pk])).status_code == 404


@pytest.mark.parametrize(("begins", "ends"), [("0:03", "0:01"), ("soon", "0:01")])
def test_what_is_no_passage_is_said_so(opened, part, begins, ends):
    assert wish(opened, part, begins, ends).status_code == 200
    assert not Wish.objects.exists()


def test_withdrawn_at_once_nobody_hears_it(opened, interview, part, volunteer):
    workflow.withdraw(interview.pk, reason="She has second thoughts.", actor=interview.owner)
    assert opened.get(reverse("narrator:hear-part", args=[part.pk])).status_code == 403
    assert "was withdrawn" in text_of(opened.get(reverse("narrator:hear")))


def test_it_is_offered_by_staff_for_a_day_to_come_while_it_is_reviewed(interview, volunteer, archivist):
    narrator, tomorrow = narrator_of(interview), timezone.localdate() + timedelta(days=1)
    with pytest.raises(Refused, match="Only the library's staff"):
        offer_turn(narrator.pk, until=tomorrow, actor=volunteer)
    with pytest.raises(Refused, match="at least until tomorrow"):
        offer_turn(narrator.pk, until=timezone.localdate(), actor=archivist)
    accepted = narrator_of(an_interview(State.ACCEPTED, reviewer=archivist))
    with pytest.raises(Refused, match="hears it while it is reviewed"):
        offer_turn(accepted.pk, until=tomorrow, actor=archivist)


@pytest.mark.parametrize(
    ("wrong", "name"),
    [
        ({"to_seconds": 0.0}, "wish_begins_before_it_ends"),
        ({"declined_because": "x"}, "wish_is_met_or_declined_for_a_reason"),
    ],
)
def test_the_database_lets_no_wish_be_wrong(opened, part, wrong, name):
    wish(opened, part)
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        Wish.objects.update(**wrong)


def test_the_database_lets_one_turn_be_open(interview, archivist):
    until = timezone.localdate() + timedelta(days=3)
    turn = turns.begin(narrator_of(interview).pk, until=until, actor=archivist)
    assert turns.begin(narrator_of(interview).pk, until=until, actor=archivist) == turn
    with pytest.raises(IntegrityError), transaction.atomic():
        NarratorsTurn.objects.create(participant=turn.participant, until=until, asked_by=archivist)
