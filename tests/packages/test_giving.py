"""Packages at the desk and by command, and what a reader of a broken one sees."""

import io
import zipfile

import bagit
import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse

from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.interviews.models import Interview, State
from tests.factories import a_collection, an_interview
from tests.files.damage import flip
from tests.pages import actions_of, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def accepted(folders, volunteer, archivist) -> Interview:
    return an_interview(State.ACCEPTED, owner=volunteer, reviewer=archivist)


def told(command: str, *args: object) -> str:
    out = io.StringIO()
    call_command(command, *map(str, args), stdout=out)
    return out.getvalue()


# At the desk


def test_an_archivist_downloads_the_package_and_stands_in_its_story(accepted, archivist, tmp_path):
    browser = signed_in(archivist)
    address = reverse("desk:interview-package", args=[accepted.pk])
    assert address in actions_of(browser.get(reverse("desk:interview-detail", args=[accepted.pk])))
    answer = browser.post(address)
    number = accepted.accessions.get().number
    assert f'filename="{number}.zip"' in answer["Content-Disposition"]
    with zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content))) as archive:
        archive.extractall(tmp_path)
    assert bagit.Bag(str(tmp_path / number)).validate()
    event = story_of(accepted).get(action=Action.PACKAGE_MADE)
    assert event.actor == archivist


def test_an_interview_in_review_has_no_package_and_a_sentence_says_why(volunteer, archivist):
    interview = an_interview(State.IN_REVIEW, owner=volunteer, reviewer=archivist)
    address = reverse("desk:interview-package", args=[interview.pk])
    browser = signed_in(archivist)
    assert address not in actions_of(browser.get(reverse("desk:interview-detail", args=[interview.pk])))
    assert "Only an accepted interview has a preservation package." in text_of(browser.post(address, follow=True))


def test_a_collection_offers_its_packages_once_something_is_accepted(accepted, archivist):
    empty = a_collection("The lock keepers")
    browser = signed_in(archivist)
    page = browser.get(reverse("desk:collections"))
    assert "1 accepted" in text_of(page)
    assert reverse("desk:collection-package", args=[accepted.collection_id]) in actions_of(page)
    assert reverse("desk:collection-package", args=[empty.pk]) not in actions_of(page)
    answer = browser.post(reverse("desk:collection-package", args=[accepted.collection_id]))
    assert zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content))).testzip() is None


# By command


def test_what_was_exported_is_judged_and_taken_in_by_command(accepted, tmp_path):
    target = tmp_path / "all.zip"
    assert str(target) in told("export_packages", "--all", target)
    number = accepted.accessions.get().number
    assert f"{number}: valid" in told("check_packages", target)
    with pytest.raises(CommandError, match=rf"{number} was not taken in:\nAccession {number} is here already"):
        told("import_packages", target)


def test_one_accession_and_one_collection_are_exported_by_their_names(accepted, tmp_path):
    told("export_packages", "--accession", accepted.accessions.get().number, tmp_path / "one.zip")
    told("export_packages", "--collection", accepted.collection.name, tmp_path / "some.zip")
    for archive in tmp_path.glob("*.zip"):
        assert ": valid" in told("check_packages", archive)


@pytest.mark.parametrize(
    ("asked", "reason"),
    [
        (("--accession", "1999-0001"), "No accession that stands has the number 1999-0001"),
        (("--collection", "No such"), "There is no collection “No such”"),
        (("--all",), "Nothing has been accepted yet"),
    ],
)
def test_what_is_not_there_is_refused_in_a_sentence(db, tmp_path, asked, reason):
    with pytest.raises(CommandError, match=reason):
        told("export_packages", *asked, tmp_path / "x.zip")
    assert list(tmp_path.iterdir()) == []


def test_an_archive_is_never_written_over(accepted, tmp_path):
    (tmp_path / "x.zip").write_bytes(b"kept")
    with pytest.raises(CommandError, match="is there already"):
        told("export_packages", "--all", tmp_path / "x.zip")
    assert (tmp_path / "x.zip").read_bytes() == b"kept"


def test_a_bad_copy_leaves_no_archive_behind(accepted, folders, tmp_path):
    file = accepted.parts.get().file
    folders["primary"].write(file.key, flip(100)(folders["primary"].read(file.key)))
    with pytest.raises(CommandError, match="is not what was stored under its SHA-256"):
        told("export_packages", "--all", tmp_path / "x.zip")
    assert [path for path in tmp_path.iterdir() if path.name.endswith(".zip")] == []


def test_a_bag_that_is_not_valid_gives_status_one(accepted, tmp_path):
    told("export_packages", "--all", tmp_path / "x.zip")
    with zipfile.ZipFile(tmp_path / "x.zip") as archive:
        archive.extractall(tmp_path / "out")
    next((tmp_path / "out").rglob("01-TOLL0001.WAV")).write_bytes(b"other")
    with pytest.raises(CommandError, match="1 of 1 are not valid"):
        told("check_packages", tmp_path / "out")
