"""Static files are gathered when one has changed, and only then."""

import os
from pathlib import Path

import pytest

from intake.local.static_files import collect_if_changed


@pytest.fixture
def source(tmp_path: Path, settings) -> Path:
    """A style sheet in the only folder that static files come from."""
    (tmp_path / "from").mkdir()
    sheet = tmp_path / "from" / "page.css"
    sheet.write_text("a { color: teal }")
    settings.STATICFILES_DIRS = [tmp_path / "from"]
    settings.STATICFILES_FINDERS = ["django.contrib.staticfiles.finders.FileSystemFinder"]
    settings.STATIC_ROOT = tmp_path / "to"
    return sheet


def test_they_are_gathered_once(source: Path, settings) -> None:
    assert collect_if_changed()
    assert (settings.STATIC_ROOT / "page.css").read_text() == source.read_text()
    assert not collect_if_changed()


def test_a_changed_file_is_gathered_again(source: Path, settings) -> None:
    assert collect_if_changed()
    source.write_text("a { color: plum }")
    os.utime(source, ns=(0, source.stat().st_mtime_ns + 1_000_000))
    assert collect_if_changed()
    assert "plum" in (settings.STATIC_ROOT / "page.css").read_text()


def test_a_file_that_went_away_goes_from_what_was_gathered(source: Path, settings) -> None:
    (source.parent / "old.css").write_text("b {}")
    assert collect_if_changed()
    (source.parent / "old.css").unlink()
    assert collect_if_changed()
    assert not (settings.STATIC_ROOT / "old.css").exists()
