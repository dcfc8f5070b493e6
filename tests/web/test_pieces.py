"""Every component renders in every state, escapes what people wrote, and ties labels to fields."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from django import forms
from django.contrib.staticfiles import finders
from django.core.paginator import Paginator
from django.template.loader import render_to_string
from django.test import RequestFactory

from intake.mail.models import MessageState
from intake.web.templatetags import examples
from tests.web.pieces import HOSTILE, Page, is_harmless, piece

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def pieces_page(db: None) -> Page:
    request = RequestFactory().get("/pieces/")
    return Page(render_to_string("styleguide.html", {"library_name": "Alder Ferry Public Library"}, request=request))


# The page of pieces --------------------------------------------------------------


def test_the_page_of_pieces_shows_every_component(pieces_page: Page) -> None:
    shown = set(re.findall(r'components/(\w+)\.html"', (ROOT / "templates/styleguide.html").read_text()))
    inside_others = {"nav", "messages", "field", "refusals", "error_summary", "password_field"}
    assert shown | inside_others == OURS
    assert pieces_page.all("main")


OURS = {
    "arrival_receipts",
    "badge_message",
    "badge_state",
    "card_notice",
    "checklist",
    "copies",
    "copy_warning",
    "error_summary",
    "field",
    "file_state",
    "finding",
    "form",
    "journey",
    "measures_table",
    "messages",
    "nav",
    "next_step",
    "pagination",
    "password_field",
    "progress",
    "refusals",
    "signature",
    "sound_strip",
    "standing",
    "timeline",
    "troubled_messages",
    "typed_form",
    "upload_panel",
}


def test_no_piece_carries_an_inline_style_or_handler(pieces_page: Page) -> None:
    # Content Security Policy Level 3: these fall under style-src-attr and script-src-attr, which stay closed here.
    for tag, attrs in pieces_page.elements:
        assert "style" not in attrs, tag
        assert not [name for name in attrs if re.match(r"on[a-z]+$", name) or name.startswith("hx-on")], tag


def test_references_between_elements_lead_somewhere(pieces_page: Page) -> None:
    ids = set(pieces_page.ids)
    for tag, attrs in pieces_page.elements:
        for name in ("for", "aria-describedby", "aria-labelledby"):
            assert set(attrs.get(name, "").split()) <= ids, (tag, attrs)


@pytest.mark.parametrize(
    "template", sorted((ROOT / "templates/components").glob("[a-z]*.html")), ids=lambda path: path.stem
)
def test_a_component_says_at_its_top_what_it_takes(template: Path) -> None:
    assert template.read_text().startswith("{% comment %}")


# Standing, state, journey, next step ---------------------------------------------


@pytest.mark.parametrize("standing", examples.STANDINGS)
def test_a_standing_is_a_word_and_a_shape(standing: str) -> None:
    page = piece("standing", standing=standing)
    assert page.text == standing
    assert page.all("span", **{"class": "standing-shape", "aria-hidden": "true"})


def test_each_standing_and_state_has_its_own_drawing() -> None:
    css = (ROOT / "static/css/pieces.css").read_text()
    for standing in examples.STANDINGS:
        assert f".standing-{standing.replace(' ', '-')}" in css
    for state, _ in examples.STATES:
        assert f".badge-{state} " in css
    for state in MessageState:
        assert f".badge-message-{state} " in css


@pytest.mark.parametrize(("state", "label"), examples.STATES)
def test_a_state_badge_shows_its_words(state: str, label: str) -> None:
    assert piece("badge_state", state=state, label=label).text == label


@pytest.mark.parametrize("present", [1, 3, 5])
def test_a_journey_marks_the_present_stage_once_and_folds_to_words(present: int) -> None:
    page = piece("journey", journey=examples.journey(present))
    assert len(page.all("li", **{"aria-current": "step"})) == 1
    assert f"{present} of 5: " in page.text


def test_a_next_step_by_post_is_a_form_with_a_token() -> None:
    step = {
        "sentence": "Accept this interview?",
        "action_label": "Accept",
        "action_url": "/somewhere/",
        "method": "post",
    }
    page = piece("next_step", step=step)
    assert page.all("form", method="post", action="/somewhere/")
    assert page.all("input", name="csrfmiddlewaretoken")


def test_a_next_step_by_get_is_a_link() -> None:
    step = {"sentence": "Hand it in.", "action_label": "Go on", "action_url": "/somewhere/", "method": "get"}
    page = piece("next_step", step=step)
    assert page.all("a", href="/somewhere/")
    assert not page.all("form")


def test_a_next_step_without_action_says_who_is_waited_for() -> None:
    page = piece("next_step", step={"sentence": "Nothing to do.", "waits_for": "the archivist"})
    assert "Waiting for the archivist." in page.text
    assert not page.all("a")
    assert not page.all("button")


# Forms ---------------------------------------------------------------------------


def test_every_field_has_a_label_or_a_legend() -> None:
    page = piece("form", form=examples.ExampleForm(), submit_label="Save")
    labelled = {label["for"] for label in page.all("label") if "for" in label}
    for tag, attrs in page.elements:
        if tag in {"input", "select", "textarea"} and attrs.get("type") != "hidden":
            assert attrs["id"] in labelled, attrs
    assert len(page.all("legend")) == 2  # the radio group and the group of boxes


def test_help_and_errors_are_announced_with_the_field() -> None:
    page = piece("form", form=examples.refused_form(), submit_label="Save")
    (title,) = page.all("input", name="title")
    assert title["aria-invalid"] == "true"
    assert title["aria-describedby"].split() == ["id_title_helptext", "id_title_error"]
    assert {"id_title_helptext", "id_title_error", "id_access_error"} <= set(page.ids)
    assert [group["aria-describedby"] for group in page.all("fieldset") if "aria-describedby" in group] == [
        "id_access_helptext id_access_error"
    ]


def test_each_error_in_the_summary_leads_to_its_field() -> None:
    page = piece("form", form=examples.refused_form(), submit_label="Save")
    links = [link["href"] for link in page.all("a")]
    assert links == ["#id_title", "#id_recorded_on", "#id_language", "#id_access_0", "#id_told"]
    assert {link[1:] for link in links} <= set(page.ids)


def test_a_form_without_errors_has_no_summary() -> None:
    page = piece("form", form=examples.ExampleForm(), submit_label="Save")
    assert not page.all("div", role="alert")
    assert page.all("input", type="hidden", name="token")


def test_a_form_with_a_file_is_sent_in_parts() -> None:
    (form,) = piece("form", form=examples.ExampleForm(), submit_label="Save", action="/here/", id="it").all("form")
    assert (form["enctype"], form["action"], form["id"]) == ("multipart/form-data", "/here/", "it")


def test_an_optional_field_says_so_in_words() -> None:
    text = piece("field", field=examples.ExampleForm()["summary"]).text
    assert text == "Summary (optional)"


def test_refusals_are_whole_sentences_in_an_alert() -> None:
    page = piece("refusals", refusals=["Part 2 has not finished arriving."])
    assert page.all("div", role="alert")
    assert "Part 2 has not finished arriving." in page.text
    assert piece("refusals", refusals=[]).elements == []


class HostileForm(forms.Form):
    words = forms.CharField(label=HOSTILE, help_text=HOSTILE)
    choice = forms.ChoiceField(label="Choice", choices=[("a", HOSTILE)], widget=forms.RadioSelect)

    def clean(self) -> None:
        raise forms.ValidationError(HOSTILE)


def test_hostile_words_in_a_form_stay_words() -> None:
    form = HostileForm({"words": HOSTILE, "choice": HOSTILE})
    assert is_harmless(piece("form", form=form, submit_label=HOSTILE, refusals=[HOSTILE], action=HOSTILE, id=HOSTILE))


FINDING_WORDS = ("code", "title", "standing", "unit", "limit", "source", "volunteer", "archivist", "reason")


# Lists, findings, figures --------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "context"),
    [
        ("badge_state", {"state": HOSTILE, "label": HOSTILE}),
        ("standing", {"standing": HOSTILE}),
        (
            "journey",
            {"journey": {"stages": [{"label": HOSTILE, "status": HOSTILE}], "label": HOSTILE, "beside": [HOSTILE]}},
        ),
        (
            "next_step",
            {"step": {"sentence": HOSTILE, "waits_for": HOSTILE, "action_label": HOSTILE, "action_url": HOSTILE}},
        ),
        ("checklist", {"title": HOSTILE, "items": [{"text": HOSTILE, "url": HOSTILE}, {"text": HOSTILE}]}),
        ("timeline", {"events": [{"at": None, "sentence": HOSTILE, "actor": HOSTILE}]}),
        ("progress", {"label": HOSTILE, "value": 10}),
        (
            "sound_strip",
            {
                "title": HOSTILE,
                "strip": {"audio_url": HOSTILE, "seconds": 1.5, "peaks_id": HOSTILE, "flags_id": HOSTILE},
            },
        ),
        (
            "upload_panel",
            {"panel": {"create_url": HOSTILE, "interview_id": 1, "known": HOSTILE, "refresh_url": HOSTILE}},
        ),
        ("signature", {"name": HOSTILE}),
        (
            "finding",
            {
                "finding": dict.fromkeys(FINDING_WORDS, HOSTILE)
                | {"value": 1.0, "spans": [{"start_s": 1.0, "start_label": HOSTILE, "end_label": HOSTILE}]},
                "for_archivist": True,
            },
        ),
        (
            "measures_table",
            {"findings": [{"title": HOSTILE, "value": None, "reason": HOSTILE, "limit": HOSTILE, "standing": HOSTILE}]},
        ),
    ],
)
def test_hostile_words_stay_words(name: str, context: dict[str, Any]) -> None:
    assert is_harmless(piece(name, **context))


def test_hostile_filters_cannot_leave_the_link_to_the_next_page() -> None:
    page = piece("pagination", page=Paginator(range(9), 3).page(2), querystring='state="><script>')
    assert not page.all("script")


def test_pagination_keeps_the_filters_and_vanishes_for_one_page() -> None:
    page = piece("pagination", page=Paginator(range(137), 50).page(2), querystring="state=submitted&sort=due")
    assert [link["href"] for link in page.all("a")] == [f"?state=submitted&sort=due&page={n}" for n in (1, 3)]
    assert piece("pagination", page=Paginator(range(3), 50).page(1), querystring="").elements == []


def test_a_checklist_says_done_and_to_do_in_words() -> None:
    page = piece(
        "checklist",
        title="",
        items=[{"done": True, "text": "Arrived"}, {"done": False, "text": "Signed", "url": "/s/"}],
    )
    assert page.text == "Done: Arrived To do: Signed"


@pytest.mark.parametrize("finding", examples.findings(), ids=lambda finding: finding["code"])
def test_a_finding_has_its_sentence_and_its_standing(finding: dict[str, Any]) -> None:
    page = piece("finding", finding=finding, for_archivist=False)
    assert finding["standing"] in page.text
    assert finding["volunteer"] in page.text
    assert len(page.all("button")) == len(finding["spans"])


def test_a_span_is_a_button_that_names_where_it_plays() -> None:
    clipping = next(finding for finding in examples.findings() if finding["code"] == "clipping")
    page = piece("finding", finding=clipping, for_archivist=False)
    assert [button["data-seek"] for button in page.all("button")] == ["1205.5", "3620.0"]
    assert "Listen from 1:00:20" in page.text


def test_the_seconds_of_a_span_use_a_point_in_every_language(settings: Any) -> None:
    settings.LANGUAGE_CODE = "de"
    settings.USE_THOUSAND_SEPARATOR = True
    span = {"start_s": 12345.25, "end_s": None, "start_label": "3:25:45", "end_label": ""}
    page = piece("finding", finding={"title": "Peaks", "standing": "note", "value": 1.0, "spans": [span]})
    assert page.all("button", **{"data-seek": "12345.25"})


def test_what_could_not_be_measured_never_reads_as_a_figure() -> None:
    page = piece("measures_table", findings=examples.findings())
    assert "not measured: The recording has one channel only." in page.text
    assert "None" not in page.text
    assert "nan" not in page.text.lower()


def test_progress_that_nobody_can_tell_has_no_value() -> None:
    (bar,) = piece("progress", label="Measuring", value=None).all("progress")
    assert "value" not in bar
    (bar,) = piece("progress", label="Measuring", value=37.5).all("progress")
    assert bar["value"] == "37.5"


# Sound, upload, signature --------------------------------------------------------


def test_a_sound_strip_plays_without_javascript_and_never_by_itself() -> None:
    page = piece("sound_strip", title="Part 1", strip=examples.strip()["strip"])
    (audio,) = page.all("audio")
    assert "controls" in audio
    assert "autoplay" not in audio  # WCAG 2.2, 1.4.2 (A)
    assert "Turn your headphones down" in page.text


def test_the_position_of_a_sound_strip_is_a_slider_with_name_and_value() -> None:
    (stage,) = piece("sound_strip", title="Part 1", strip=examples.strip()["strip"]).all("div", role="slider")
    assert stage["aria-label"] == "Position in Part 1"  # WCAG 2.2, 4.1.2 (A)
    assert {"aria-valuemin", "aria-valuemax", "aria-valuenow", "aria-valuetext", "tabindex"} <= set(stage)
    assert stage["aria-valuemax"] == "3753"


def test_an_upload_panel_has_a_plain_file_button_and_says_what_it_needs() -> None:
    page = piece("upload_panel", panel=examples.upload()["panel"])
    chooser, folder = page.all("input", type="file")
    assert "multiple" in chooser
    assert "webkitdirectory" in folder
    for field in (chooser, folder):
        assert page.all("label", **{"for": field["id"]})
    assert "Sending files needs JavaScript" in page.text
    (panel,) = page.all("section")
    assert panel["data-piece-bytes"] == "16777216"
    assert page.all("p", role="status")  # WCAG 2.2, 4.1.3 (AA)


def test_a_signature_is_typed_unless_somebody_chooses_to_draw() -> None:
    page = piece("signature", name="Walter Osgood")
    (typed,) = page.all("input", type="radio", value="typed")
    (drawn,) = page.all("input", type="radio", value="drawn")
    assert "checked" in typed
    assert "checked" not in drawn
    assert page.all("input", name="typed_name")
    assert page.all("input", type="hidden", name="signature_png", value="")
    (canvas,) = page.all("canvas")
    assert canvas["aria-label"] == "Drawing area for the signature of Walter Osgood"


# The frame -----------------------------------------------------------------------


class Somebody:
    is_authenticated = True

    def __init__(self, *, is_archivist: bool) -> None:
        self.name, self.is_archivist = "Nell Harrow", is_archivist


def test_the_frame_has_its_landmarks_and_a_way_past_them(pieces_page: Page) -> None:
    assert pieces_page.all("html", lang="en")
    assert pieces_page.all("a", **{"class": "skip", "href": "#main"})
    assert len(pieces_page.all("main", id="main")) == 1
    assert pieces_page.all("header")
    assert pieces_page.all("footer")
    assert "Pieces – Alder Ferry Public Library" in pieces_page.text


def test_somebody_signed_in_can_sign_out_by_post() -> None:
    page = piece("nav", user=Somebody(is_archivist=False))
    assert page.all("form", method="post", action="/account/logout/")
    assert "Nell Harrow" in page.text


def test_somebody_signed_out_sees_no_navigation() -> None:
    assert piece("nav").elements == []


def test_a_demonstration_says_so_on_every_page() -> None:
    def band(**context: Any) -> bool:
        return "Demonstration: invented people" in Page(render_to_string("404.html", context)).text

    assert band(demo=True)
    assert not band(demo=False)


def test_the_page_for_a_fault_needs_nothing_from_the_request() -> None:
    page = Page(render_to_string("500.html"))
    assert "Something broke on our side" in page.text
    assert not page.all("script")


def import_map() -> dict[str, str]:
    found = re.search(r'<script type="importmap"[^>]*>(.*?)</script>', render_to_string("base.html"), re.DOTALL)
    assert found
    imports: dict[str, str] = json.loads(found[1])["imports"]
    return imports


def test_modules_import_each_other_by_bare_names_of_the_import_map_only() -> None:
    # Hashed file names are known to the import map alone; a relative import would ask for a name that does not exist.
    mapped = set(import_map())
    modules = list((ROOT / "static/js").glob("*.js"))
    assert modules
    for module in modules:
        imported = re.findall(r'^import (?:[^"]* from )?"([^"]+)"', module.read_text(), re.MULTILINE)
        assert set(imported) <= mapped, module.name


def test_every_file_of_the_import_map_is_there() -> None:
    for url in import_map().values():
        assert finders.find(url.removeprefix("/static/")), url
