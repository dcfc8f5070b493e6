"""A package as a bag: what the Library of Congress's `bagit` says of it, and how it breaks off."""

import hashlib
import io
import tracemalloc
import zipfile
from collections.abc import Callable
from pathlib import Path

import bagit
import pytest

from intake.errors import Refused
from intake.files import serving
from intake.files.models import Audit, StoredFile, Why
from intake.interviews.models import State
from intake.outputs.packages import giving
from intake.outputs.packages.bags import ALGORITHMS, Bag, Content, NotAsStored, zipped
from intake.outputs.packages.contents import package_of, packages_of
from intake.outputs.packages.judging import judge
from tests.factories import an_interview, sha256
from tests.files.damage import flip
from tests.packages.conftest import ON

pytestmark = pytest.mark.django_db


def a_content(content: bytes, path: str = "a.wav", told: str = "") -> Content:
    return Content(path, path, len(content), told or sha256(content), lambda: io.BytesIO(content))


def test_bagit_validates_the_package_of_an_interview(package):
    assert bagit.Bag(str(package)).validate()
    assert judge(package).faults == ()


def test_it_says_version_one_and_lists_every_tag_file_in_both_tag_manifests(package):
    """RFC 8493, sections 2.1.1 and 2.2.1."""
    assert (package / "bagit.txt").read_bytes() == b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    paths = {path.relative_to(package).as_posix() for path in package.rglob("*") if path.is_file()}
    tags = {path for path in paths if not path.startswith(("data/", "tagmanifest-"))}
    for algorithm in ALGORITHMS:
        listed = (package / f"tagmanifest-{algorithm}.txt").read_text().splitlines()
        assert {line.split("  ", 1)[1] for line in listed} == tags


def test_every_file_of_the_interview_is_in_its_folder_under_a_plain_name(package):
    names = {path.relative_to(package / "data").as_posix() for path in (package / "data").rglob("*") if path.is_file()}
    assert {"originals/01-TOLL0001.WAV", "taken-out/01-PROBE.WAV", "taken-out/02-twice.jpg"} <= names
    assert "attachments/01-porch.jpg" in names
    assert {name.partition("/")[0] for name in names} == {
        "originals",
        "sound-pictures",
        "taken-out",
        "attachments",
        "releases",
        "receipts",
        "quality-reports",
        "letters",
        "listening-copies",
        "described-copies",
        "access-copies",
    }
    assert all(name.isascii() and " " not in name and ":" not in name for name in names)


def test_bag_info_names_the_accession_and_counts_the_payload(full, package):
    """RFC 8493, section 2.2.2: Payload-Oxum is bytes, a dot, and the number of files."""
    info = bagit.Bag(str(package)).info
    payload = [path for path in (package / "data").rglob("*") if path.is_file()]
    assert info["External-Identifier"] == full.accessions.get().number
    assert info["Payload-Oxum"] == f"{sum(path.stat().st_size for path in payload)}.{len(payload)}"
    assert info["Bagging-Date"] == ON.isoformat()


def test_a_long_value_is_folded_and_read_back_whole(unpacked):
    said = "An interview about the ferry. " * 12
    folder = unpacked(Bag("long", (a_content(b"x"),), (), (("External-Description", said),)))
    assert max(len(line) for line in (folder / "bag-info.txt").read_text().splitlines()) <= 79
    assert " ".join(bagit.Bag(str(folder)).info["External-Description"].split()) == " ".join(said.split())


def test_a_file_that_is_not_as_stored_breaks_the_archive_off():
    bag = Bag("bad", (a_content(b"good"), a_content(b"flipped", "b.wav", told=sha256(b"as it was"))), (), ())
    written: list[bytes] = []
    with pytest.raises(NotAsStored, match=r"“b\.wav” is not what was stored"):
        written.extend(zipped([bag], on=ON))
    with pytest.raises(zipfile.BadZipFile):
        zipfile.ZipFile(io.BytesIO(b"".join(written)))


def test_a_bad_copy_met_while_packing_is_asked_to_be_read_again(folders, file, volunteer):
    folders["primary"].write(file.key, flip(3)(folders["primary"].read(file.key)))
    content = Content(str(file.pk), "a.wav", file.bytes, file.sha256, lambda: serving.open_copy(file))
    with pytest.raises(NotAsStored):
        list(giving.archive([lambda: Bag("bad", (content,), (), ())], actor=volunteer))
    assert Audit.objects.get().why == Why.SERVED
    assert StoredFile.objects.get() == file


class Endless(io.RawIOBase):
    """So many zero bytes, none of which exist before they are read."""

    def __init__(self, count: int) -> None:
        self.left = count

    def read(self, count: int = -1) -> bytes:
        given = min(count, self.left)
        self.left -= given
        return bytes(given)


def test_an_archive_is_written_without_being_held():
    length = 200 * 1024 * 1024
    zeros = hashlib.sha256()
    for _ in range(200):
        zeros.update(bytes(1024 * 1024))
    bag = Bag("large", (Content("z", "z.wav", length, zeros.hexdigest(), lambda: Endless(length)),), (), ())
    tracemalloc.start()
    written = sum(len(block) for block in zipped([bag], on=ON))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert written > length
    assert peak < 16 * 1024 * 1024


def test_a_file_of_more_than_four_gigabytes_is_written_as_zip64():
    """PKWARE's APPNOTE 6.3.10, section 4.4.1.4: sizes that do not fit stand in the ZIP64 extra field."""
    length = 2**32 + 1
    bag = Bag("huge", (Content("z", "z.wav", length, "0" * 64, lambda: Endless(length)),), (), ())
    first = next(iter(zipped([bag], on=ON)))
    assert first[4:6] == (45).to_bytes(2, "little")  # version 4.5 is needed to extract it
    name = int.from_bytes(first[26:28], "little")
    assert first[30 + name : 32 + name] == (1).to_bytes(2, "little")  # the ZIP64 field (section 4.5.3)


def test_an_interview_that_is_not_accepted_has_no_package(volunteer, archivist):
    with pytest.raises(Refused, match="Only an accepted interview"):
        package_of(an_interview(State.SUBMITTED, owner=volunteer), actor=archivist)


def test_a_whole_collection_is_a_bag_for_each_accession(volunteer, archivist, unpacked: Callable[..., Path]):
    one = an_interview(State.ACCEPTED, owner=volunteer, reviewer=archivist)
    two = an_interview(State.ACCEPTED, owner=volunteer, reviewer=archivist)
    first = unpacked(*[make() for make in packages_of(one.collection, actor=archivist)])
    folders = sorted(first.parent.iterdir())
    assert [folder.name for folder in folders] == [it.accessions.get().number for it in (one, two)]
    for number, folder in enumerate(folders, start=1):
        assert bagit.Bag(str(folder)).validate()
        assert bagit.Bag(str(folder)).info["Bag-Count"] == f"{number} of 2"


def test_a_collection_without_an_accession_is_refused(volunteer, archivist):
    with pytest.raises(Refused, match=r"Nothing of .* has been accepted yet"):
        packages_of(an_interview(State.DRAFT, owner=volunteer).collection, actor=archivist)
