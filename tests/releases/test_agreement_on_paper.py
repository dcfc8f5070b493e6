"""The agreement to take part, signed by hand: printed, handed in, confirmed by staff, and then it stands."""

import io
import re

import pytest
import zxingcpp
from django.db import IntegrityError, transaction
from django.urls import reverse
from PIL import Image
from pypdf import PdfReader

from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.errors import Refused
from intake.files import serving
from intake.jobs.models import Kind
from intake.outputs.evidence import check_evidence
from intake.outputs.models import OutputKind
from intake.outputs.papers import printed_form
from intake.outputs.services import existing
from intake.releases import paper_forms
from intake.releases.models import Agreement, Moment, Release
from intake.releases.paper_forms import Typed
from intake.releases.services import form_in_hand, missing_signatures
from tests.factories import (
    a_scan,
    a_signed_agreement,
    a_signed_release,
    a_started_interview,
    an_agreement_handed_in,
    an_archivist,
    narrator_of,
    run_jobs,
)
from tests.pages import links_of, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def narrator(volunteer):
    return narrator_of(a_started_interview(volunteer))


@pytest.fixture
def form(narrator, volunteer):
    return paper_forms.print_form(narrator.pk, actor=volunteer, moment=Moment.AGREEMENT)


@pytest.fixture
def typed(form):
    return Typed(form.number, None, form.printed_at.date(), "Marit Oskarsen")


@pytest.fixture
def waiting(narrator):
    return an_agreement_handed_in(narrator)


def words_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages)


def page_of(narrator) -> str:
    return reverse("portal:agreement-paper", args=[narrator.pk])


def test_the_form_has_the_agreements_words_and_nothing_to_tick(form):
    text = words_of(printed_form(form))
    assert f"Agreement form {form.number}" in text
    assert "before the recording" in text
    assert " ".join(form.text.split()) in text
    assert "I have read the agreement above, and I sign it." in text
    assert "Your choices" not in text
    assert "☐" not in text


def test_a_release_form_of_the_same_person_is_another_one(form, narrator, volunteer):
    release = paper_forms.print_form(narrator.pk, actor=volunteer)
    assert release.number != form.number
    assert paper_forms.print_form(narrator.pk, actor=volunteer, moment=Moment.AGREEMENT) == form
    assert "Your choices" in words_of(printed_form(release))


def test_confirmed_by_staff_it_is_the_agreement_with_its_scans_as_evidence(waiting, narrator, archivist):
    agreement = paper_forms.confirm(waiting.pk, actor=archivist)
    assert isinstance(agreement, Agreement)
    assert (agreement.method, agreement.signed_form, agreement.wording_text) == ("paper", waiting, waiting.form.text)
    assert agreement.signed_on == waiting.signed_on
    event = story_of(narrator.interview).last()
    assert (event.action, event.actor) == (Action.FORM_CONFIRMED, archivist)
    assert not Release.objects.exists()


def test_its_copy_shows_the_scan_and_holds(waiting, archivist, client):
    agreement = paper_forms.confirm(waiting.pk, actor=archivist)
    run_jobs(Kind.MAKE_AGREEMENT_COPY)
    with serving.open_copy(existing(OutputKind.AGREEMENT_COPY, agreement.pk).file) as file:
        pdf = file.read()
    text = words_of(pdf)
    assert "Copy of a signed agreement to take part" in text
    assert waiting.form.number in text
    assert "Scans of the signed form" in text
    assert [line.fault for line in check_evidence(agreement)] == [""] * 5
    assert "Agreement to take part" in text_of(client.get(reverse("narrator:check-paper", args=[agreement.number])))
    page = text_of(signed_in(archivist).get(reverse("desk:agreement-evidence", args=[agreement.pk])))
    assert "all of it holds" in page


def test_another_day_or_name_on_the_form_afterwards_is_found(waiting, archivist):
    agreement = paper_forms.confirm(waiting.pk, actor=archivist)
    type(waiting).objects.filter(pk=waiting.pk).update(signed_by="Somebody else")
    assert any(line.fault for line in check_evidence(agreement))


def test_it_does_not_stand_for_the_release(waiting, narrator, archivist):
    paper_forms.confirm(waiting.pk, actor=archivist)
    assert any("Marit Oskarsen" in sentence for sentence in missing_signatures(narrator.interview))
    a_signed_release(narrator)
    assert not any("Marit Oskarsen" in sentence for sentence in missing_signatures(narrator.interview))


def test_whoever_has_agreed_does_not_agree_again(waiting, narrator, volunteer, archivist):
    a_signed_agreement(narrator)
    with pytest.raises(Refused, match="agreed already"):
        paper_forms.confirm(waiting.pk, actor=archivist)
    with pytest.raises(Refused, match="agreed already"):
        paper_forms.print_form(narrator.pk, actor=volunteer, moment=Moment.AGREEMENT)


def test_both_papers_of_one_person_may_be_on_their_way(waiting, narrator, volunteer):
    form = paper_forms.print_form(narrator.pk, actor=volunteer)
    with pytest.raises(Refused, match="Type what is ticked"):
        paper_forms.type_in(
            narrator.pk, typed=Typed(form.number, None, form.printed_at.date(), "Marit Oskarsen"), actor=volunteer
        )
    assert form_in_hand(narrator, Moment.AGREEMENT) == waiting
    assert form_in_hand(narrator) is None


def test_turned_down_it_leads_back_to_its_own_page(waiting, narrator, archivist, mailoutbox):
    desk = signed_in(archivist)
    desk.post(reverse("desk:signed-form-turn-down", args=[waiting.pk]), {"reason": "The day is missing."})
    run_jobs(Kind.SEND_MESSAGE)
    assert page_of(narrator) in mailoutbox[-1].body


def test_the_database_keeps_an_agreement_to_one_way_of_giving_it(waiting, narrator):
    with pytest.raises(IntegrityError), transaction.atomic():
        Agreement.objects.create(
            participant=narrator, number="P-1", signer_name="x", method="paper", interview_as_described={}
        )


def test_the_volunteer_prints_types_and_hands_it_in_on_its_own_page(volunteer, narrator, archivist):
    browser = signed_in(volunteer)
    interview = reverse("portal:interview-detail", args=[narrator.interview_id])
    assert page_of(narrator) in links_of(browser.get(interview))
    browser.post(reverse("portal:agreement-paper-print", args=[narrator.pk]))
    form = narrator.printed_forms.get()
    page = browser.get(page_of(narrator))
    assert "signs the agreement on paper" in text_of(page)
    assert "Who may hear" not in text_of(page)
    written = {"number": form.number, "signed_by": "Marit Oskarsen", "signed_on": form.printed_at.date().isoformat()}
    assert browser.post(page_of(narrator), written)["Location"] == page_of(narrator)
    signed = form_in_hand(narrator, Moment.AGREEMENT)
    a_scan(signed)
    assert browser.post(reverse("portal:signed-form-hand-in", args=[signed.pk]))["Location"] == page_of(narrator)
    assert "waits to be confirmed by the library" in text_of(browser.get(interview))
    desk = signed_in(archivist)
    assert f"{form.number}, agreement" in text_of(desk.get(reverse("desk:signed-forms")))
    looked_at = text_of(desk.get(reverse("desk:signed-form-detail", args=[signed.pk])))
    assert f"Agreement form {form.number}" in looked_at
    assert "one tick for each question" not in looked_at
    desk.post(reverse("desk:signed-form-confirm", args=[signed.pk]))
    told = text_of(browser.get(page_of(narrator)))
    assert re.search(r"The agreement of Marit Oskarsen stands, signed .* on paper", told)
    assert "Signed the agreement to take part on paper" in text_of(browser.get(interview))


def test_its_code_says_which_form_a_scan_is_of(form, narrator, typed, volunteer):
    picture = Image.new("RGB", (620, 877), "ivory")
    code = zxingcpp.create_barcode(
        f"https://history.example.org/check/{form.number}/", zxingcpp.BarcodeFormat.QRCode
    ).to_image(scale=6)
    picture.paste(Image.fromarray(code).convert("RGB"), (60, 60))
    made = io.BytesIO()
    picture.save(made, "PNG")
    signed = paper_forms.type_in(narrator.pk, typed=typed, actor=volunteer)
    scan = a_scan(signed, made.getvalue(), "form.png")
    run_jobs(Kind.READ_SCAN)
    scan.refresh_from_db()
    assert scan.form_read == form.number


def test_nobody_confirms_their_own(narrator, waiting):
    staff = an_archivist("Marit Oskarsen")
    narrator.person.user = staff
    narrator.person.save()
    with pytest.raises(Refused, match="your own signature"):
        paper_forms.confirm(waiting.pk, actor=staff)
