"""The pages of a signing: agree to the screen, read, choose, sign, take a copy, give the device back."""

import base64
import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from intake import workflow
from intake.interviews import participants
from intake.interviews.models import Participant
from intake.jobs.models import Kind
from intake.releases import paper_forms
from intake.releases.models import Release, SigningSession, Wording
from intake.releases.wordings import digest_of_text, filled
from tests.factories import (
    a_drawing,
    a_signed_release,
    a_started_interview,
    at_time,
    interviewer_of,
    later,
    narrator_of,
    run_jobs,
)
from tests.pages import signed_in, text_of

pytestmark = pytest.mark.django_db
TYPED = {"access": "open", "licence": "none", "method": "typed", "typed_name": "Marit Oskarsen", "i_sign": "on"}


@pytest.fixture
def narrator(volunteer) -> Participant:
    return narrator_of(a_started_interview(volunteer))


@pytest.fixture
def browser(volunteer, narrator) -> Client:
    """The volunteer's browser, handed over to the narrator."""
    return handed_over(volunteer, narrator)


@pytest.fixture
def agreed(browser) -> Client:
    browser.post(page("consent"), {"agree": "on"})
    return browser


def page(name: str) -> str:
    return reverse(f"narrator:{name}")


def handed_over(volunteer, participant) -> Client:
    browser = signed_in(volunteer)
    browser.post(reverse("portal:release-hand-over", args=[participant.pk]))
    return browser


def first_wording(role: str = "narrator") -> Wording:
    return Wording.objects.get(moment="release", role=role, language="en", version=1)


def sign(browser, *, wording: object = None, **changed):
    """As the page sends it. The text is that of the wording, where it is one and there is somebody to sign."""
    sent = first_wording().pk if wording is None else wording
    session = SigningSession.objects.filter(pk=browser.session.get("signing", 0)).first()
    read = Wording.objects.filter(pk=sent).first() if str(sent).isdigit() and len(str(sent)) < 9 else None
    text = filled(read, session.participant) if read and session else ""
    read_and_signed = {"signing": session.pk if session else "", "wording": sent, "text_sha256": digest_of_text(text)}
    return browser.post(page("sign"), {**TYPED, **read_and_signed, **changed})


def errors_of(answer) -> set[str]:
    return set(answer.context["form"].errors)


def drawing(png: bytes) -> dict[str, str]:
    return {"method": "drawn", "signature_png": "data:image/png;base64," + base64.b64encode(png).decode()}


def test_signing_on_screen_is_agreed_to_first(browser):
    assert browser.get(page("sign"))["Location"] == page("consent")
    assert sign(browser)["Location"] == page("consent")
    assert "agree" in errors_of(browser.post(page("consent"), {"agree": ""}))
    assert browser.post(page("consent"), {"agree": "on"})["Location"] == page("sign")
    assert not Release.objects.exists()


def test_paper_is_offered_beside_the_screen(browser):
    assert "You can also sign on paper" in text_of(browser.get(page("consent")))


def test_the_release_is_shown_word_for_word(agreed, narrator):
    told = text_of(agreed.get(page("sign")))
    assert " ".join(filled(first_wording(), narrator).split()) in told
    assert "Version 1 of this text." in told


def test_nothing_is_chosen_beforehand(agreed):
    told = agreed.get(page("sign")).content.decode()
    ticked = re.findall(r'<input[^>]*name="(\w+)"[^>]*\schecked', told)
    assert not {"access", "name_withheld", "i_sign"} & set(ticked)
    assert 'value="Marit Oskarsen"' not in told


def test_a_release_is_signed(agreed, narrator):
    assert sign(agreed)["Location"] == page("done")
    release = Release.objects.get()
    assert (release.participant, release.access, release.typed_name) == (narrator, "open", "Marit Oskarsen")
    assert release.address == "127.0.0.1"
    assert release.consented_at < release.signed_at


def test_a_drawn_signature_is_taken(agreed):
    assert sign(agreed, **drawing(a_drawing())).status_code == 302
    assert bytes(Release.objects.get().signature_png) == a_drawing()


@pytest.mark.parametrize("content", [b"", b"GIF89a", b"\x89PNG\r\n\x1a\n", b"<svg onload=alert(1)>"])
def test_what_is_no_drawing_is_refused_in_a_sentence(agreed, content):
    answer = sign(agreed, **drawing(content))
    assert "signature_png" in errors_of(answer)
    assert not Release.objects.exists()


def test_an_empty_field_is_no_signature(agreed):
    answer = sign(agreed, method="drawn", signature_png="")
    assert answer.context["form"].errors["signature_png"] == [
        "Draw your signature in the field, or choose to type your name."
    ]


def test_a_typed_signature_needs_a_name(agreed):
    assert "typed_name" in errors_of(sign(agreed, typed_name="  "))


@pytest.mark.parametrize("typed", ["marit  oskarsen", "Marit Oskarsen.", "MARIT OSKARSÉN"])
def test_a_name_that_differs_in_capitals_spaces_or_accents_is_the_same_name(agreed, typed):
    assert sign(agreed, typed_name=typed)["Location"] == page("done")
    assert Release.objects.get().typed_name == typed


def test_another_name_than_the_signers_is_asked_about_and_may_be_confirmed(agreed):
    answer = sign(agreed, typed_name="Maja Oskarsen-Holm")
    assert "The library knows you as Marit Oskarsen, and you typed another name." in text_of(answer)
    assert not Release.objects.exists()
    assert "Yes, this is how I sign." in text_of(answer)
    assert 'value="Maja Oskarsen-Holm"' in answer.content.decode()
    assert sign(agreed, typed_name="Maja Oskarsen-Holm", is_my_name="on")["Location"] == page("done")
    assert Release.objects.get().typed_name == "Maja Oskarsen-Holm"


def test_nobody_is_asked_about_a_name_that_is_theirs(agreed):
    assert "this is how I sign" not in text_of(agreed.get(page("sign")))
    assert "this is how I sign" not in text_of(sign(agreed, i_sign=""))


def test_a_page_left_open_by_one_signer_does_not_sign_for_the_next(volunteer, narrator, agreed):
    left_open = agreed.session["signing"]
    agreed.force_login(volunteer)
    agreed.post(reverse("portal:release-hand-over", args=[interviewer_of(narrator.interview).pk]))
    agreed.post(page("consent"), {"agree": "on"})
    assert sign(agreed, signing=left_open, wording=first_wording("interviewer").pk)["Location"] == page("consent")
    assert not Release.objects.exists()


def test_the_session_of_a_signing_ends_with_it(volunteer, narrator):
    assert handed_over(volunteer, narrator).session.get_expiry_age() <= 2 * 3600


def test_two_tabs_of_one_signing_sign_once(agreed):
    signing = agreed.session["signing"]
    assert sign(agreed)["Location"] == page("done")
    assert sign(agreed, signing=signing, access="on-site")["Location"] == page("done")
    assert Release.objects.get().access == "open"


# On paper instead


def test_whoever_would_rather_sign_on_paper_gets_the_form(browser, narrator):
    assert browser.post(page("paper"))["Location"] == page("paper")
    form = narrator.printed_forms.get()
    assert form.printed_by is None
    assert form.number in text_of(browser.get(page("paper")))
    assert browser.get(page("printed-form")).content.startswith(b"%PDF-")
    assert not Release.objects.exists()


def test_the_form_of_somebody_else_is_out_of_reach(browser, narrator):
    paper_forms.print_form(interviewer_of(narrator.interview).pk, actor=None)
    assert browser.get(page("printed-form")).status_code == 404
    assert Client().get(page("printed-form")).status_code == 404
    assert Client().post(page("paper")).status_code == 410


def test_the_screen_stays_open_to_whoever_printed_the_form(agreed):
    agreed.post(page("paper"))
    assert sign(agreed)["Location"] == page("done")


@pytest.mark.parametrize("needed", ["access", "licence", "method", "i_sign"])
def test_each_choice_is_the_signers_own(agreed, needed):
    assert needed in errors_of(sign(agreed, **{needed: ""}))
    assert not Release.objects.exists()


def test_a_closure_needs_a_day_to_come(agreed):
    today = timezone.localdate()
    for wrong in ("", today.isoformat(), "tomorrow"):
        assert "closed_until" in errors_of(sign(agreed, access="closed", closed_until=wrong))
    until = today + timedelta(days=3650)
    sign(agreed, access="closed", closed_until=until.isoformat())
    assert Release.objects.get().closed_until == until


def test_a_day_is_left_behind_where_nothing_is_closed(agreed):
    until = timezone.localdate() + timedelta(days=30)
    sign(agreed, access="on-site", closed_until=until.isoformat())
    assert Release.objects.get().closed_until is None


def test_a_closure_that_nobody_can_promise_is_refused_at_the_form(agreed):
    far = timezone.localdate().replace(day=1).replace(year=timezone.localdate().year + 200)
    answer = sign(agreed, access="closed", closed_until=far.isoformat())
    assert "at most 100 years" in text_of(answer)


def test_the_name_is_withheld_if_asked(agreed):
    sign(agreed, name_withheld="on")
    assert Release.objects.get().name_withheld


def test_a_newer_wording_does_not_take_the_place_of_the_one_that_was_read(agreed):
    read = first_wording()
    newer = {"moment": "release", "role": "narrator", "language": "en", "basis": "licence"}
    Wording.objects.create(**newer, version=2, title="Release", text="Shorter.")
    sign(agreed, wording=read.pk)
    assert Release.objects.get().wording == read


@pytest.mark.parametrize("wrong", ["", "abc", "0", "999999", "-1", "1" * 40])
def test_a_wording_that_was_not_offered_is_not_signed(agreed, wrong):
    answer = sign(agreed, wording=wrong)
    assert answer.status_code == 200
    assert not Release.objects.exists()


def test_a_wording_of_another_role_is_not_signed(agreed):
    sign(agreed, wording=first_wording("interviewer").pk)
    assert not Release.objects.exists()


def test_after_signing_the_session_shows_the_copy_and_nothing_else(agreed):
    sign(agreed)
    assert "Your copy is being made." in text_of(agreed.get(page("done")))
    assert agreed.get(page("copy")).status_code == 404
    run_jobs(Kind.MAKE_RELEASE_COPY)
    assert "Take your copy (PDF)" in text_of(agreed.get(page("done")))
    paper = agreed.get(page("copy"))
    assert b"".join(paper.streaming_content).startswith(b"%PDF-")
    for name in ("consent", "sign"):
        assert agreed.get(page(name))["Location"] == page("done")
    assert sign(agreed)["Location"] == page("done")
    assert Release.objects.count() == 1


def test_the_copy_is_shown_in_that_session_alone(agreed, volunteer):
    sign(agreed)
    run_jobs(Kind.MAKE_RELEASE_COPY)
    assert Client().get(page("copy")).status_code == 404
    assert signed_in(volunteer).get(page("copy")).status_code == 404


def test_giving_back_ends_the_session(agreed):
    sign(agreed)
    run_jobs(Kind.MAKE_RELEASE_COPY)
    assert agreed.post(page("give-back"))["Location"] == reverse("account_login")
    for name in ("consent", "sign", "done"):
        assert agreed.get(page(name)).status_code == 410
    assert agreed.get(page("copy")).status_code == 404


def test_the_device_given_back_without_signing_shows_nothing_any_more(browser):
    browser.post(page("give-back"))
    assert browser.get(page("consent")).status_code == 410


def test_a_signing_that_took_too_long_has_ended(agreed):
    with at_time(later(hours=2, minutes=1)):
        told = agreed.get(page("sign"))
        assert told.status_code == 410
        assert "This signing has ended" in text_of(told)
        assert sign(agreed).status_code == 410
    assert not Release.objects.exists()


def test_another_device_ends_the_signing_on_the_first(volunteer, narrator, agreed):
    handed_over(volunteer, narrator)
    assert sign(agreed).status_code == 410


def test_the_next_person_agrees_anew(volunteer, narrator, agreed):
    sign(agreed)
    agreed.force_login(volunteer)
    agreed.post(reverse("portal:release-hand-over", args=[interviewer_of(narrator.interview).pk]))
    assert agreed.get(page("sign"))["Location"] == page("consent")
    assert agreed.get(page("done")).status_code == 410


def test_an_interviewer_reads_the_interviewers_wording(volunteer, narrator):
    browser = handed_over(volunteer, interviewer_of(narrator.interview))
    browser.post(page("consent"), {"agree": "on"})
    assert "Release by the interviewer" in text_of(browser.get(page("sign")))


def test_the_pages_of_a_signer_show_no_way_elsewhere(agreed):
    for name in ("consent", "sign"):
        told = agreed.get(page(name)).content.decode()
        assert 'aria-label="Main"' not in told


def test_signing_for_an_interview_that_was_withdrawn_is_refused_in_a_sentence(agreed, narrator):
    workflow.withdraw(narrator.interview_id, reason="x", actor=narrator.interview.owner)
    assert "nothing can be signed for it now" in text_of(sign(agreed))


def test_a_person_taken_out_has_nothing_to_sign(agreed, narrator, volunteer):
    participants.remove_participant(narrator.pk, actor=volunteer)
    assert agreed.get(page("sign")).status_code == 410


def test_a_form_token_is_needed_to_sign(volunteer, narrator):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(volunteer)
    assert strict.post(reverse("portal:release-hand-over", args=[narrator.pk])).status_code == 403
    assert strict.post(page("consent"), {"agree": "on"}).status_code == 403
    assert a_signed_release(narrator)
