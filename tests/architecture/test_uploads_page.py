"""The table of docs/uploads.md names tests that exist, and every extension that the server announces."""

import re

from intake.portal.views.tus_headers import EXTENSIONS
from tests.architecture.source import ROOT

ROW = re.compile(r"^\| (?P<part>[\w-]+) \| .+ \| `(?P<file>[\w/]+\.py)::(?P<test>\w+)` \|$", re.MULTILINE)


def rows() -> list[re.Match[str]]:
    return list(ROW.finditer((ROOT / "docs" / "uploads.md").read_text()))


def test_every_row_names_a_test_that_exists() -> None:
    missing = [
        row.group("test")
        for row in rows()
        if f"def {row.group('test')}(" not in (ROOT / "tests" / row.group("file")).read_text()
    ]
    assert not missing


def test_every_extension_has_its_rows() -> None:
    assert {row.group("part") for row in rows()} == {"core", "clients", *EXTENSIONS.split(",")}
