"""`--html` writes one page that needs nothing else, and holds strangers' texts as text."""

import os
import shutil
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from audio_qc import report
from audio_qc.command import main
from tests.signals import tone, write

VOID = {"meta", "br", "rect", "path", "link", "img", "input"}


class Page(HTMLParser):
    """Notes elements, attributes and text, and whether every element is closed in turn."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.open: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(path.read_text(encoding="utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data

    def tags(self) -> list[str]:
        return [tag for tag, _ in self.elements]


@pytest.fixture
def clipped(tmp_path: Path) -> Path:
    return write(tmp_path / "<img src=x onerror=alert(1)>.wav", np.clip(tone(3, 6.0), -1.0, 1.0))


@pytest.fixture
def page(clipped: Path, good_file: Path, tmp_path: Path) -> Page:
    letter = tmp_path / "letter.wav"
    letter.write_text("Dear all,\n")
    target = tmp_path / "report.html"
    assert main([str(clipped), str(good_file), str(letter), "--html", str(target), "--jobs", "1", "--csv"]) == 2
    return Page(target)


def test_the_page_has_a_part_for_every_file_with_headings_in_order(page: Page) -> None:
    assert page.open == []
    assert page.tags().count("article") == 3
    levels = [int(tag[1]) for tag in page.tags() if tag in ("h1", "h2", "h3")]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert "cannot be measured" in page.text


def test_the_page_tells_all_that_was_found(page: Page, clipped: Path) -> None:
    for finding in report(clipped).findings:
        assert finding.volunteer in page.text
        assert finding.archivist in page.text


def test_the_page_needs_no_script_and_nothing_from_outside(page: Page) -> None:
    assert not {"script", "link", "img", "iframe", "object", "input"} & set(page.tags())
    for _, attributes in page.elements:
        assert not {name for name in attributes if name in ("src", "href") or name.startswith("on")}
    policies = [one["content"] for tag, one in page.elements if tag == "meta" and one.get("http-equiv")]
    assert policies == ["default-src 'none'; style-src 'unsafe-inline'"]


def test_a_name_like_html_is_shown_as_it_is(page: Page) -> None:
    assert "<img src=x onerror=alert(1)>.wav" in page.text


def test_pictures_tables_and_parts_are_named_for_those_who_cannot_see(page: Page) -> None:
    ids = [attributes["id"] for _, attributes in page.elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    pictures = [attributes for tag, attributes in page.elements if tag == "svg"]
    assert pictures
    for named in (*pictures, *(attributes for tag, attributes in page.elements if tag == "article")):
        assert set((named.get("aria-labelledby") or "?").split()) <= set(ids)
    assert all("scope" in attributes for tag, attributes in page.elements if tag == "th")
    assert next(attributes for tag, attributes in page.elements if tag == "html") == {"lang": "en"}


def test_a_page_replaces_an_older_one_and_leaves_nothing_half_done(good_file: Path, tmp_path: Path) -> None:
    target = tmp_path / "report.html"
    target.write_text("last week's")
    assert main([str(good_file), "--html", str(target), "--json"]) == 0
    assert "Clear recording" in Page(target).text
    assert os.listdir(tmp_path) == ["report.html"]


def test_a_page_never_writes_over_the_recording(good_file: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(good_file, tmp_path / "part.wav"))
    before = path.read_bytes()
    with pytest.raises(SystemExit):
        main([str(path), "--html", str(path)])
    assert path.read_bytes() == before
