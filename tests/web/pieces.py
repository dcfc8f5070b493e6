"""A component drawn and taken apart again."""

from html.parser import HTMLParser
from typing import Any

from django.template.loader import render_to_string
from django.test import RequestFactory

HOSTILE = "</script><img src=x onerror=alert(1)>\"'&"
VOID = {"area", "base", "br", "col", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}


class Page(HTMLParser):
    """The elements of a piece of HTML, and a refusal of tags that do not match."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.texts: list[str] = []
        self._open: list[str] = []
        self.feed(html)
        self.close()
        assert not self._open, f"never closed: {self._open}"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), f"an attribute twice in <{tag}>: {names}"
        self.elements.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in VOID:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self._open, f"</{tag}> closes nothing"
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    def all(self, tag: str, **wanted: str) -> list[dict[str, str]]:
        return [attrs for name, attrs in self.elements if name == tag and wanted.items() <= attrs.items()]

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.texts).split())

    @property
    def ids(self) -> list[str]:
        return [attrs["id"] for _, attrs in self.elements if "id" in attrs]


def piece(component: str, /, **context: Any) -> Page:
    return Page(render_to_string(f"components/{component}.html", context, request=RequestFactory().get("/")))


def is_harmless(page: Page) -> bool:
    """What was written is text: it made no element and no attribute."""
    return not page.all("img", src="x") and HOSTILE in "".join(page.texts) + "".join(
        value for _, attrs in page.elements for value in attrs.values()
    )
