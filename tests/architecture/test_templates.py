"""Templates that are included alone see nothing of their page, its token against forgery neither."""

import re
from pathlib import Path

import pytest

from tests.architecture.source import ROOT

TEMPLATES = ROOT / "templates"
INCLUDE = re.compile(r'\{% include "([^"]+)"([^%]*)%\}')
TOKEN = re.compile(r"\{% (csrf_token|form_key) %\}")


def needs_token(name: str) -> bool:
    """Whether a template posts a form, by itself or by what it includes with all that it sees."""
    text = (TEMPLATES / name).read_text()
    inner = [included for included, how in INCLUDE.findall(text) if "only" not in how.split()]
    return bool(TOKEN.search(text)) or any(needs_token(included) for included in inner)


def included_alone(page: Path) -> list[str]:
    return [name for name, how in INCLUDE.findall(page.read_text()) if "only" in how.split()]


@pytest.mark.parametrize("page", sorted(TEMPLATES.rglob("*.html")), ids=lambda page: str(page.relative_to(TEMPLATES)))
def test_what_posts_a_form_is_not_included_without_its_token(page):
    """Such a form is always refused, which a browser shows and Django's test client does not."""
    assert [name for name in included_alone(page) if needs_token(name)] == []


def test_control_a_form_without_its_token_is_found():
    assert needs_token("components/form.html")
    assert needs_token("desk/interviews/_listening.html")
    assert not needs_token("components/badge_state.html")
