"""The paper round trip: a form is printed, drawn by poppler, photographed askew, and its code is read again."""

import io
import shutil
import subprocess

import pytest
import qrcode
from django.urls import reverse
from PIL import Image, ImageFilter

from intake.errors import Refused
from intake.jobs.models import Kind
from intake.outputs.papers import printed_form
from intake.releases import paper_forms
from tests.factories import (
    a_form_typed_in,
    a_photograph,
    a_scan,
    a_started_interview,
    interviewer_of,
    narrator_of,
    run_jobs,
)
from tests.needs import needs
from tests.pages import signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def signed(volunteer):
    return a_form_typed_in(narrator_of(a_started_interview(volunteer)))


def drawn(form, tmp_path, *, dots: int = 150) -> Image.Image:
    """The first page of the printed form, as poppler draws it."""
    needs("poppler-utils", shutil.which("pdftoppm"))
    (tmp_path / "form.pdf").write_bytes(printed_form(form))
    command = ["pdftoppm", "-r", str(dots), "-png", "-singlefile", tmp_path / "form.pdf", tmp_path / "page"]
    subprocess.run(command, check=True, capture_output=True)
    return Image.open(tmp_path / "page.png").convert("RGB")


def as_jpeg(image: Image.Image, quality: int = 60) -> bytes:
    file = io.BytesIO()
    image.save(file, "JPEG", quality=quality)
    return file.getvalue()


def photographed(page: Image.Image, *, turned: float) -> bytes:
    """As a telephone takes it on a table: turned, a little out of focus, grainy, uneven in its light."""
    photo = page.rotate(turned, expand=True, fillcolor=(96, 84, 70)).filter(ImageFilter.GaussianBlur(1.2))
    noise = Image.effect_noise(photo.size, 40).convert("RGB")
    light = Image.linear_gradient("L").resize(photo.size).point(lambda value: 150 + value // 3)
    lit = Image.composite(photo, Image.new("RGB", photo.size, (40, 36, 30)), light)
    return as_jpeg(Image.blend(lit, noise, 0.08), quality=45)


def handed_in(signed, content: bytes):
    scan = a_scan(signed, content)
    run_jobs(Kind.READ_SCAN)
    scan.refresh_from_db()
    return scan


def test_a_scan_is_known_by_the_code_that_was_printed_on_its_form(signed, tmp_path):
    scan = handed_in(signed, as_jpeg(drawn(signed.form, tmp_path)))
    assert scan.form_read == signed.form.number
    assert not scan.is_of_another_form


@pytest.mark.parametrize("turned", [0, 7, 90, 180, 263])
def test_so_is_a_photo_taken_askew_in_bad_light(signed, tmp_path, turned):
    assert handed_in(signed, photographed(drawn(signed.form, tmp_path), turned=turned)).form_read == signed.form.number


def test_so_is_a_pdf_from_an_office_scanner(signed, tmp_path):
    page = drawn(signed.form, tmp_path)
    scanned = io.BytesIO()
    Image.new("RGB", page.size, "white").save(scanned, "PDF", resolution=150, save_all=True, append_images=[page])
    scan = handed_in(signed, scanned.getvalue())
    assert (scan.file.media_type, scan.form_read) == ("application/pdf", signed.form.number)


def test_a_page_of_another_form_is_named_and_not_handed_in(signed, tmp_path, volunteer):
    other = paper_forms.print_form(interviewer_of(signed.participant.interview).pk, actor=volunteer)
    scan = handed_in(signed, as_jpeg(drawn(other, tmp_path)))
    assert scan.is_of_another_form
    page = text_of(signed_in(volunteer).get(reverse("portal:paper", args=[signed.participant.pk])))
    assert f"is a page of form {other.number}, by the code printed on it: take it back." in page
    with pytest.raises(Refused, match="is a page of form"):
        paper_forms.hand_in(signed.pk, actor=volunteer)


def test_staff_see_what_the_code_says(signed, tmp_path, volunteer, archivist):
    handed_in(signed, as_jpeg(drawn(signed.form, tmp_path)))
    paper_forms.hand_in(signed.pk, actor=volunteer)
    page = text_of(signed_in(archivist).get(reverse("desk:signed-form-detail", args=[signed.pk])))
    assert f"The code on it says form {signed.form.number}: this form." in page


@pytest.mark.parametrize("content", [a_photograph("ivory"), b"%PDF-1.7\n%%EOF\n"], ids=["no code", "PDF"])
def test_without_a_code_a_person_looks_and_nothing_is_in_the_way(signed, volunteer, content):
    assert handed_in(signed, content).form_read == ""
    assert paper_forms.hand_in(signed.pk, actor=volunteer).state == "waiting"


def test_a_code_that_leads_elsewhere_is_none_of_ours(signed):
    picture = io.BytesIO()
    qrcode.make("https://example.org/F-7K2M-9QXD-4TBC").save(picture, "PNG")
    assert handed_in(signed, picture.getvalue()).form_read == ""
