"""Hand in for somebody who brings a card to the counter: who gave it, who looks after it, who is written to."""

import pytest
from django.urls import reverse

from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.interviews.models import Interview, State
from intake.jobs.models import Kind
from intake.mail.models import Message
from intake.people import services as people
from intake.people.models import Person
from intake.register.services import standing
from intake.workflow import accept, decline, send_back, submit, take_up
from tests.factories import (
    RECORDED_ON,
    a_collection,
    a_part_stored,
    a_started_interview,
    answer_everything,
    run_jobs,
    sign_everybody,
)
from tests.pages import links_of, signed_in, text_of
from tests.portal.tus import create

pytestmark = pytest.mark.django_db


@pytest.fixture
def browser(archivist):
    return signed_in(archivist)


def page(name: str, *args: object) -> str:
    return reverse(f"desk:{name}", args=args)


def typed(**changed: object) -> dict:
    return {
        "giver_name": "Jonna Vik",
        "giver_email": "jonna@example.org",
        "giver_is": "finder",
        "narrator_name": "Aurel Lindqvist",
        "narrator_email": "",
        "interviewer_name": "",
        "interviewer_email": "",
        "collection": a_collection().pk,
        "recorded_on": RECORDED_ON.isoformat(),
        "place": "The boathouse",
        "language": "en",
        "summary": "The regatta.",
        "names_and_spellings": "",
        "context_notes": "",
        **changed,
    }


def begin(browser, **changed: object) -> Interview:
    answer = browser.post(page("counter-start"), typed(**changed))
    interview = Interview.objects.latest("pk")
    assert answer["Location"] == reverse("portal:interview-detail", args=[interview.pk])
    return interview


def names(interview: Interview, role: str) -> list[str]:
    return [person.name for person in interview.people(role)]


# Beginning


def test_somebody_without_an_account_gives_a_recording(browser, archivist):
    interview = begin(browser)
    assert (interview.given_by.name, interview.given_by.email) == ("Jonna Vik", "jonna@example.org")
    assert interview.given_by.user is None
    assert (interview.owner, interview.state) == (archivist, State.DRAFT)
    assert (names(interview, "narrator"), names(interview, "interviewer")) == (["Aurel Lindqvist"], [])
    begun = story_of(interview).first()
    assert (begun.action, begun.actor, begun.names.names) == (
        Action.INTERVIEW_STARTED,
        archivist,
        {"given_by": "Jonna Vik"},
    )


def test_a_giver_who_tells_is_one_person_in_both_places(browser):
    interview = begin(browser, giver_is="narrator", narrator_name="", interviewer_name="Ilse Brook")
    assert interview.people("narrator") == [interview.given_by]
    assert names(interview, "interviewer") == ["Ilse Brook"]
    assert Person.objects.filter(name="Jonna Vik").count() == 1


def test_a_giver_who_asked_is_the_interviewer(browser):
    interview = begin(browser, giver_is="interviewer")
    assert interview.people("interviewer") == [interview.given_by]


def test_a_giver_who_is_known_is_found_again_and_not_noted_twice(browser, archivist):
    known = people.note_person(name="Jón Víkingsson", email="jon@example.org", actor=archivist)
    shown = browser.get(page("counter"), {"q": "jon  vik"})
    assert page("counter-start-for", known.pk) in links_of(shown)
    form = browser.get(page("counter-start-for", known.pk))
    assert "Receipt and questions go to jon@example.org." in text_of(form)
    assert "giver_name" not in form.context["form"].fields
    browser.post(page("counter-start-for", known.pk), typed(giver_is="narrator", narrator_name=""))
    assert Interview.objects.latest("pk").given_by == known
    assert Person.objects.filter(name__startswith="J").count() == 1


def test_an_address_finds_somebody_too(browser, volunteer):
    people.person_of(volunteer)
    assert "Tobias Wrenfield" in text_of(browser.get(page("counter"), {"q": "TOBIAS@"}))
    assert "Nobody by that name or address is known yet." in text_of(browser.get(page("counter"), {"q": "nobody"}))


@pytest.mark.parametrize(
    ("field", "changed"),
    [
        ("giver_name", {"giver_name": ""}),
        ("giver_is", {"giver_is": ""}),
        ("giver_is", {"giver_is": "guardian"}),
        ("narrator_name", {"narrator_name": ""}),
        ("narrator_name", {"giver_is": "narrator"}),
        ("interviewer_name", {"giver_is": "interviewer", "interviewer_name": "Ilse Brook"}),
        ("recorded_on", {"recorded_on": "soon"}),
    ],
)
def test_what_is_missing_or_said_twice_is_told_at_its_field(browser, field, changed):
    answer = browser.post(page("counter-start"), typed(**changed))
    assert field in answer.context["form"].errors
    assert not Interview.objects.exists()


def test_a_day_in_the_future_is_refused_and_nobody_noted(browser):
    answer = browser.post(page("counter-start"), typed(recorded_on="2999-01-01"))
    assert "lies in the future" in text_of(answer)
    assert not Person.objects.filter(name="Jonna Vik").exists()


# The page that takes the files, and the list


def test_staff_send_the_files_and_are_recorded_as_who_did(browser, archivist):
    interview = begin(browser)
    assert create(browser, interview).status_code == 201
    part = interview.parts.get()
    assert (part.upload.name, part.upload.owner) == ("TOLL0007.WAV", archivist)
    last = story_of(interview).last()
    assert (last.action, last.actor) == (Action.PART_STARTED, archivist)


def test_a_colleague_goes_on_with_what_was_begun_at_the_counter(browser, coordinator):
    interview = begin(browser)
    colleague = signed_in(coordinator)
    address = reverse("portal:interview-detail", args=[interview.pk])
    listed = colleague.get(page("counter"))
    assert address in links_of(listed)
    assert "Jonna Vik" in text_of(listed)
    shown = text_of(colleague.get(address))
    assert "given by Jonna Vik, looked after by Ines Halloway" in shown
    assert "Change the description" in shown
    assert address in links_of(colleague.get(page("interview-detail", interview.pk)))


def test_a_volunteers_own_interview_is_not_in_that_list(browser, volunteer):
    a_started_interview(volunteer)
    assert "Nothing yet." in text_of(browser.get(page("counter")))


def test_staff_hand_the_device_over_and_are_signed_out(browser):
    interview = begin(browser)
    (narrator,) = interview.participants.all()
    gone = browser.post(reverse("portal:release-hand-over", args=[narrator.pk]))
    assert gone["Location"] == reverse("narrator:consent")
    assert "_auth_user_id" not in browser.session
    assert browser.get(reverse("narrator:consent")).status_code == 200
    assert browser.get(page("counter")).status_code == 302


# What follows: letters and the receipt


@pytest.fixture
def handed_in(browser, archivist):
    """By the archivist for Jonna Vik; complete but for what the test changes."""

    def hand_in(**changed: object) -> Interview:
        interview = begin(browser, interviewer_name="Ilse Brook", interviewer_email="", **changed)
        a_part_stored(interview)
        run_jobs(Kind.MEASURE_PART)
        sign_everybody(interview)
        submit(interview.pk, actor=archivist)
        return interview

    return hand_in


def letters_about(words: str, mailoutbox) -> dict[str, str]:
    run_jobs(Kind.MAKE_RECEIPT, Kind.SEND_MESSAGE)
    return {mail.to[0]: mail.body for mail in mailoutbox if words in mail.subject}


def test_sent_back_the_giver_is_written_to_without_a_page_they_cannot_open(
    handed_in, archivist, coordinator, mailoutbox
):
    interview = handed_in()
    take_up(interview.pk, actor=coordinator)
    send_back(interview.pk, message="Who is the second voice?", actor=coordinator)
    letters = letters_about("needs one more step", mailoutbox)
    assert sorted(letters) == [archivist.email, "jonna@example.org"]
    assert "Dear Jonna Vik," in letters["jonna@example.org"]
    assert "Who is the second voice?" in letters["jonna@example.org"]
    assert "/interviews/" not in letters["jonna@example.org"]
    assert f"/interviews/{interview.pk}/" in letters[archivist.email]


def test_declined_the_giver_hears_of_it(handed_in, coordinator, mailoutbox):
    interview = handed_in()
    take_up(interview.pk, actor=coordinator)
    decline(interview.pk, reason="It is not about the crossing.", actor=coordinator)
    assert "It is not about the crossing." in letters_about("About your interview", mailoutbox)["jonna@example.org"]


def test_a_giver_without_an_address_is_told_otherwise_and_the_page_says_so(handed_in, browser, coordinator):
    interview = handed_in(giver_email="")
    sentence = "Jonna Vik has no e-mail address: tell them by telephone or by letter"
    desk, portal = page("interview-detail", interview.pk), reverse("portal:interview-detail", args=[interview.pk])
    assert sentence not in text_of(browser.get(desk))
    take_up(interview.pk, actor=coordinator)
    decline(interview.pk, reason="It is not about the crossing.", actor=coordinator)
    assert sentence in text_of(browser.get(desk))
    assert sentence in text_of(browser.get(portal))
    assert {message.to for message in Message.objects.filter(key__startswith="decision-")} == {"ines@example.org"}


def test_the_receipt_names_the_giver_and_goes_to_them(handed_in, archivist, mailoutbox):
    """Staff who look after it find it at the desk."""
    interview = handed_in(narrator_email="aurel@example.org")
    take_up(interview.pk, actor=archivist)  # looking after it for somebody else does not make it one's own
    answer_everything(interview, archivist)
    accession = accept(interview.pk, actor=archivist)
    assert accession.snapshot["given_by"] == "Jonna Vik"
    assert standing(interview) == accession
    assert sorted(letters_about(accession.number, mailoutbox)) == ["aurel@example.org", "jonna@example.org"]
