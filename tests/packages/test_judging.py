"""Which folders are valid bags: a public suite of bags, and what the `bagit` library lets pass."""

from pathlib import Path

import pytest

from intake.outputs.packages.bags import Bag
from intake.outputs.packages.judging import judge
from tests.packages.test_bags import a_content

SUITE = Path(__file__).parents[3] / "shared/reference/bags"
# Their second file was lost where two names cannot differ by case or by Unicode form alone, so they are incomplete.
INCOMPLETE = {
    "duplicate-file-with-different-case",
    "same-filename-listed-twice-with-different-normalization",
    "special-system-files",
}
VALID = {"valid": True, "warning": True, "invalid": False, "linux-only": False}


def suite() -> list[tuple[str, str]]:
    return [
        (kind, str(bag.relative_to(SUITE)))
        for version in ("v0.97", "v1.0")
        for kind in VALID
        if (SUITE / version / kind).is_dir()
        for bag in sorted((SUITE / version / kind).iterdir())
        if bag.is_dir() and bag.name not in INCOMPLETE
    ]


@pytest.mark.parametrize(("kind", "name"), suite() or [pytest.param("", "", id="none")])
def test_the_public_suite_of_bags_is_judged_rightly(kind, name):
    """Source: the public-domain BagIt conformance suite, RFC 8493 and version 0.97."""
    if not kind:
        pytest.skip("needs the suite of bags, which is not on this machine")
    judgement = judge(SUITE / name)
    assert judgement.is_valid == VALID[kind], judgement


@pytest.fixture
def bag(unpacked) -> Path:
    return unpacked(Bag("bag", (a_content(b"one", "one.wav"), a_content(b"two", "two.wav")), (), ()))


def told(bag: Path) -> str:
    return " ".join(judge(bag).faults)


def without_oxum(bag: Path) -> None:
    """Payload-Oxum is looked at first and hides what else is wrong."""
    for path in [bag / "bag-info.txt", *bag.glob("tagmanifest-*")]:
        path.unlink()


def test_a_bag_of_ours_is_valid(bag):
    assert judge(bag).is_valid


def test_one_changed_byte_is_found(bag):
    (bag / "data/one.wav").write_bytes(b"onf")
    assert "data/one.wav sha512 validation failed" in told(bag)


def test_a_file_that_is_missing_or_one_too_many_is_found(bag):
    without_oxum(bag)
    (bag / "data/one.wav").unlink()
    (bag / "data/three.wav").write_bytes(b"three")
    assert "data/one.wav exists in manifest but was not found" in told(bag)
    assert "data/three.wav exists on filesystem but is not in the manifest" in told(bag)


def test_a_file_that_one_manifest_leaves_out_is_found_from_version_one_on(bag):
    """RFC 8493, section 3: every payload file is listed in every payload manifest. The library lets it pass."""
    without_oxum(bag)
    manifest = bag / "manifest-sha256.txt"
    manifest.write_text(manifest.read_text().splitlines(keepends=True)[0])
    assert "manifest-sha256.txt does not list “data/two.wav”" in told(bag)
    (bag / "bagit.txt").write_text("BagIt-Version: 0.97\nTag-File-Character-Encoding: UTF-8\n")
    assert judge(bag).is_valid


def test_a_path_into_a_folder_beside_the_bag_is_refused(bag):
    """The library compares the beginnings of paths, so that this one passes there."""
    beside = bag.parent / "bag-evil"
    beside.mkdir()
    (beside / "secret").write_bytes(b"secret")
    for manifest in bag.glob("manifest-*"):
        manifest.write_text(manifest.read_text() + "00 data/../../bag-evil/secret\n")
    assert "“data/../../bag-evil/secret” leads out of the bag." in told(bag)


@pytest.mark.parametrize("path", ["/etc/hostname", "~/x", "C:\\x", "data\\..\\..\\x", "data/../x"])
def test_a_path_that_leads_out_on_any_computer_is_refused(bag, path):
    (bag / "manifest-sha512.txt").write_text(f"00  {path}\n")
    assert f"“{path}” leads out of the bag." in told(bag)


def test_a_link_is_refused(bag, tmp_path):
    (tmp_path / "elsewhere").write_bytes(b"one")
    (bag / "data/one.wav").unlink()
    (bag / "data/one.wav").symlink_to(tmp_path / "elsewhere")
    assert "“data/one.wav” is a link" in told(bag)


def test_a_tag_manifest_that_leaves_a_manifest_out_is_refused(bag):
    """RFC 8493, section 2.2.1."""
    tags = bag / "tagmanifest-sha512.txt"
    tags.write_text("".join(line for line in tags.read_text().splitlines(keepends=True) if "bagit.txt" in line))
    assert "tagmanifest-sha512.txt does not list manifest-sha256.txt." in told(bag)


def test_a_later_version_of_the_standard_is_not_guessed_at(bag):
    (bag / "bagit.txt").write_text("BagIt-Version: 2.0\nTag-File-Character-Encoding: UTF-8\n")
    assert told(bag) == "It declares version 2.0 of BagIt, which is not known here."
