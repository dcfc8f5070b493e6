"""What the site says of itself at start."""

from pathlib import Path

import pytest
from django.core.checks import run_checks

from intake import checks


def _ids() -> set[str]:
    return {message.id for message in run_checks() if message.id.startswith("intake.")}


def test_a_site_as_it_is_set_up_has_nothing_to_say() -> None:
    assert _ids() == set()


def test_two_stores_in_one_folder_are_an_error(settings, tmp_path: Path) -> None:
    one = {"BACKEND": "django.core.files.storage.FileSystemStorage", "OPTIONS": {"location": tmp_path}}
    settings.STORAGES = {**settings.STORAGES, "primary": one, "replica": one}
    assert "intake.E002" in _ids()


def test_a_folder_that_takes_no_files_is_an_error(settings, tmp_path: Path) -> None:
    (tmp_path / "a file").write_text("in the way")
    settings.STAGING_DIR = tmp_path / "a file" / "staging"
    assert "intake.E001" in _ids()


def test_missing_fonts_are_told_before_a_paper_is_wanted(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(checks, "FONT_FOLDER", tmp_path)
    assert "intake.W001" in _ids()


@pytest.mark.parametrize(
    ("name", "value"),
    [("FIXITY_FROM_HOUR", 24), ("FIXITY_UNTIL_HOUR", -1), ("FIXITY_PERIOD_DAYS", 0), ("FIXITY_NIGHT_BYTES", 0)],
)
def test_a_night_that_makes_no_sense_is_an_error(settings, name: str, value: int) -> None:
    setattr(settings, name, value)
    assert "intake.E003" in _ids()
