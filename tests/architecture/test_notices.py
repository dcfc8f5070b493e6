"""THIRD_PARTY_NOTICES.md names every package that the locks name, at its version; `make notices` writes it anew."""

import json
import re

from tests.architecture.source import ROOT

NOTICES = (ROOT / "THIRD_PARTY_NOTICES.md").read_text()
ROW = re.compile(r"^\| ([^ |]+) \| ([^ |]+) \| ([^|]+) \| [^|]+ \|$", re.MULTILINE)


def listed() -> dict[tuple[str, str], str]:
    return {(name, version): licence for name, version, licence in ROW.findall(NOTICES) if name != "package"}


def locked() -> set[tuple[str, str]]:
    python = re.findall(r"^([\w.-]+)(?:\[[^]]*\])?==([^\s;]+)", (ROOT / "requirements.txt").read_text(), re.MULTILINE)
    packages = json.loads((ROOT / "package-lock.json").read_text())["packages"]
    browser = {(path.removeprefix("node_modules/"), told["version"]) for path, told in packages.items() if path}
    return {*python, *browser}


def test_the_notices_name_what_is_locked_and_nothing_else():
    assert len(locked()) > 60, "the reader of this test is blind"
    assert set(listed()) == locked(), "run `make notices`"


def test_every_package_has_a_licence_that_is_known():
    assert [name for (name, _), licence in listed().items() if licence.strip() in {"", "None", "UNKNOWN"}] == []


def test_licences_that_ask_for_more_are_spoken_of():
    asking = {name for (name, _), licence in listed().items() if re.search("GPL|MPL|BlueOak|Vera", licence)}
    assert asking, "psycopg is LGPL"
    spoken_of = set(re.findall(r"^- \*\*([\w.-]+)\*\*:", NOTICES, re.MULTILINE))
    assert asking <= spoken_of
    # Their wheels bring libraries under other licences than their own, which no metadata tells.
    assert {"av", "soundfile", "numpy", "scipy", "pillow"} <= spoken_of
    assert spoken_of <= {name for name, _ in listed()}
