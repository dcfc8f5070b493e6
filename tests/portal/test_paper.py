"""Signing on paper, on the volunteer's pages and at the desk."""

import pytest
from django.urls import reverse
from django.utils import timezone

from intake.interviews.models import State
from intake.jobs.models import Kind
from intake.releases import paper_forms
from intake.releases.models import FormState, Release, SignedForm
from tests.factories import (
    a_form_handed_in,
    a_form_typed_in,
    a_release_on_paper,
    a_scan,
    a_signed_release,
    a_started_interview,
    an_interview,
    interviewer_of,
    narrator_of,
    run_jobs,
)
from tests.pages import actions_of, links_of, signed_in, text_of
from tests.portal.pages import page, see

pytestmark = pytest.mark.django_db
TYPED = {"access": "open", "closed_until": "", "licence": "none", "name": "shown", "signed_by": "Marit Oskarsen"}


@pytest.fixture
def narrator(interview):
    return narrator_of(interview)


def desk(name: str, *args: object) -> str:
    return reverse(f"desk:{name}", args=args)


def test_paper_is_offered_beside_the_hand_over(browser, interview, narrator):
    assert page("paper", narrator.pk) in links_of(see(browser, interview))
    assert page("paper", narrator.pk) in links_of(browser.get(page("release-hand-over", narrator.pk)))


def test_the_form_is_made_and_opened_as_a_pdf(browser, narrator):
    assert browser.post(page("paper-print", narrator.pk))["Location"] == page("paper", narrator.pk)
    form = narrator.printed_forms.get()
    assert page("printed-form", form.pk) in links_of(browser.get(page("paper", narrator.pk)))
    answer = browser.get(page("printed-form", form.pk))
    assert answer.content.startswith(b"%PDF-")
    assert answer["Cache-Control"] == "private, no-store"
    assert answer.content == browser.get(page("printed-form", form.pk)).content


def test_nothing_is_typed_before_a_form_was_printed(browser, narrator):
    assert "type what stands on it" not in text_of(browser.get(page("paper", narrator.pk)))
    answer = browser.post(page("paper", narrator.pk), {**TYPED, "number": "F-2222-2222-2222"})
    assert answer.status_code == 200
    assert not SignedForm.objects.exists()


def typed(narrator, **changed: str) -> dict[str, str]:
    form = paper_forms.print_form(narrator.pk, actor=narrator.interview.owner)
    return {**TYPED, "number": form.number, "signed_on": timezone.localdate().isoformat(), **changed}


def test_what_stands_on_the_form_is_typed_and_put_right(browser, narrator):
    assert browser.post(page("paper", narrator.pk), typed(narrator, name="withheld")).status_code == 302
    assert SignedForm.objects.get().name_withheld
    shown = browser.get(page("paper", narrator.pk))
    assert "Withheld" in text_of(shown)
    assert 'value="withheld" required id="id_name_1" checked' in shown.content.decode().replace("  ", " ")
    browser.post(page("paper", narrator.pk), typed(narrator))
    assert not SignedForm.objects.get().name_withheld


@pytest.mark.parametrize("needed", ["number", "access", "name", "signed_by", "signed_on"])
def test_nothing_is_ticked_for_the_signer(browser, narrator, needed):
    answer = browser.post(page("paper", narrator.pk), typed(narrator, **{needed: ""}))
    assert needed in answer.context["form"].errors
    assert not SignedForm.objects.exists()


def test_a_closure_says_until_when(browser, narrator):
    answer = browser.post(page("paper", narrator.pk), typed(narrator, access="closed"))
    assert "closed_until" in answer.context["form"].errors


def test_the_form_is_handed_in_once_its_scan_is_here(browser, narrator):
    signed = a_form_typed_in(narrator)
    assert "Add a photo or scan of the signed form." in text_of(browser.get(page("paper", narrator.pk)))
    a_scan(signed)
    assert page("signed-form-hand-in", signed.pk) in actions_of(browser.get(page("signed-form-scans", signed.pk)))
    browser.post(page("signed-form-hand-in", signed.pk))
    signed.refresh_from_db()
    assert signed.state == FormState.WAITING
    told = browser.get(page("paper", narrator.pk))
    assert "waits to be confirmed by the library’s staff" in text_of(told)
    assert page("signed-form-hand-in", signed.pk) not in actions_of(told)


def test_a_scan_is_taken_back(browser, narrator):
    scan = a_scan(a_form_typed_in(narrator))
    assert page("scan-file", scan.pk) in links_of(browser.get(page("paper", narrator.pk)))
    browser.post(page("scan-take-back", scan.pk))
    assert page("scan-file", scan.pk) not in links_of(browser.get(page("paper", narrator.pk)))


def test_the_interview_goes_on_while_the_form_waits(browser, volunteer):
    interview = an_interview(State.DRAFT, owner=volunteer)
    narrator = narrator_of(interview)
    a_signed_release(interviewer_of(interview))
    a_form_handed_in(narrator)
    browser.post(page("interview-submit", interview.pk))
    told = text_of(see(browser, interview))
    assert "The paper form of Marit Oskarsen waits to be confirmed by the library's staff." in told
    assert "Hand over for signing" not in told
    assert "Everybody has signed. You need not do anything now." in told
    assert "Waiting for the library's staff to confirm what was signed on paper." in told


def test_whoever_has_signed_on_paper_is_not_waited_for(browser, volunteer):
    interview = an_interview(State.SUBMITTED, owner=volunteer)
    a_form_handed_in(narrator_of(interview))
    told = text_of(see(browser, interview))
    assert f"Waiting for {interviewer_of(interview).person.name} to sign." in told


def test_the_volunteer_reads_why_a_form_was_turned_down(browser, interview, narrator, archivist):
    signed = a_form_handed_in(narrator)
    answer = signed_in(archivist).post(desk("signed-form-turn-down", signed.pk), {"reason": "The ticks are cut off."})
    assert answer.status_code == 302
    for address in (page("interview-detail", interview.pk), page("paper", narrator.pk)):
        assert "The ticks are cut off." in text_of(browser.get(address))
    assert "Go on to the scan" in text_of(browser.get(page("paper", narrator.pk)))


# The desk


def test_forms_that_wait_are_listed_for_staff(archivist, narrator):
    signed = a_form_handed_in(narrator)
    answer = signed_in(archivist).get(desk("signed-forms"))
    assert desk("signed-form-detail", signed.pk) in links_of(answer)
    paper_forms.confirm(signed.pk, actor=archivist)
    assert "No form waits." in text_of(signed_in(archivist).get(desk("signed-forms")))


def test_staff_see_the_scan_beside_what_was_typed(archivist, narrator):
    signed = a_form_handed_in(narrator, signed_by="M. Oskarsen", access="on-site")
    answer = signed_in(archivist).get(desk("signed-form-detail", signed.pk))
    told = text_of(answer)
    assert "M. Oskarsen" in told
    assert "On site only" in told
    assert f'src="{desk("scan-file", signed.scans.get().pk)}"' in answer.content.decode()
    assert signed.scans.get().file.sha256 in told


def test_a_pdf_is_opened_beside_the_page(archivist, narrator):
    signed = a_form_typed_in(narrator)
    scan = a_scan(signed, b"%PDF-1.7\n%\n", "form.pdf")
    paper_forms.hand_in(signed.pk, actor=narrator.interview.owner)
    answer = signed_in(archivist).get(desk("signed-form-detail", signed.pk))
    assert desk("scan-file", scan.pk) in links_of(answer)
    assert "<img" not in answer.content.decode()


def test_staff_confirm_and_the_release_stands(archivist, narrator, browser, interview):
    signed = a_form_handed_in(narrator)
    answer = signed_in(archivist).post(desk("signed-form-confirm", signed.pk), follow=True)
    release = Release.objects.get()
    assert f"Confirmed: release {release.number} stands." in text_of(answer)
    assert f"Signed {timezone.localdate():%-d %b %Y}, on paper" in text_of(see(browser, interview))
    run_jobs(Kind.MAKE_RELEASE_COPY)
    paper = signed_in(archivist).get(desk("release-copy", release.pk))
    assert b"".join(paper.streaming_content).startswith(b"%PDF-")


def test_the_signer_among_the_staff_may_turn_their_own_form_down_and_not_confirm_it(archivist):
    signed = a_form_handed_in(interviewer_of(a_started_interview(archivist)))
    answer = signed_in(archivist).get(desk("signed-form-detail", signed.pk))
    assert "It is your own signature" in text_of(answer)
    assert desk("signed-form-confirm", signed.pk) not in actions_of(answer)
    assert desk("signed-form-turn-down", signed.pk) in links_of(answer)
    signed_in(archivist).post(desk("signed-form-confirm", signed.pk))
    assert not Release.objects.exists()


def test_the_review_page_tells_paper_from_screen(archivist, volunteer):
    interview = an_interview(State.DRAFT, owner=volunteer)
    signed = a_form_handed_in(narrator_of(interview))
    address = desk("interview-detail", interview.pk)
    assert desk("signed-form-detail", signed.pk) in links_of(signed_in(archivist).get(address))
    paper_forms.confirm(signed.pk, actor=archivist)
    assert "(on paper )" in text_of(signed_in(archivist).get(address))


@pytest.mark.parametrize("make", [paper_forms.print_form, None])
def test_anybody_can_check_the_number_of_a_form_and_learns_no_name(client, narrator, volunteer, make):
    number = make(narrator.pk, actor=volunteer).number if make else a_release_on_paper(narrator).number
    answer = client.get(reverse("narrator:check-paper", args=[number]))
    assert answer.status_code == 200
    assert "This paper was made by" in text_of(answer)
    assert "Oskarsen" not in text_of(answer)
