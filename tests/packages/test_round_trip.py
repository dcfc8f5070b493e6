"""A package taken in by an empty site gives the same rows and the same bytes; and what is refused."""

import hashlib
import io
import json
import zipfile
from pathlib import Path

import bagit
import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import connection

from intake.accounts.models import Role, User
from intake.audit import triggers
from intake.audit.services import check_chain, seal_pending, story_of
from intake.errors import Refused
from intake.files import storage
from intake.files.models import StoredFile
from intake.files.services import is_safe
from intake.interviews.models import Interview, State
from intake.outputs.evidence import check_evidence
from intake.outputs.packages import rows
from intake.outputs.packages.contents import package_of
from intake.outputs.packages.restoring import take_in
from intake.outputs.packages.unpacking import bags_in
from intake.people.models import Person
from intake.readiness import worth_knowing
from intake.register.services import standing
from intake.releases.models import Release, Wording
from intake.releases.wordings import filled
from tests.factories import a_started_interview, a_user, an_interview
from tests.packages.conftest import a_full_interview

NATURAL = rows.SHARED[Wording]


def silent(done: int, total: int) -> None:
    """Nobody watches."""


def as_held(interview: Interview) -> dict[str, list]:
    """All rows and events of an interview, by table, without what an import changes by design.

    Accounts come closed and without a password; a wording that the site has already is in force there since then,
    under a number of its own; events get numbers of the new site's chain.
    """
    files = list(rows.files_of(interview))
    events = list(rows.events_of(interview, files))
    held: dict[str, list] = {}
    for row in json.loads(rows.to_json(rows.rows_of(interview, events))):
        row["fields"].pop("is_active", None)
        row["fields"].pop("in_force_from", None)
        held.setdefault(row["model"], []).append(row)
    wordings = {row["pk"]: " ".join(str(row["fields"][name]) for name in NATURAL) for row in held["releases.wording"]}
    for row in (row for found in held.values() for row in found):
        if row["model"] == "releases.wording":
            row["pk"] = wordings[row["pk"]]
        elif row["fields"].get("wording"):
            row["fields"]["wording"] = wordings[row["fields"]["wording"]]
    held["releases.wording"].sort(key=lambda row: row["pk"])
    told = json.loads(rows.to_json([rows.plain_event(event) for event in events]))
    held["events"] = [{**event, "pk": None} for event in told if event["fields"]["action"] != "package-taken-in"]
    return held


def an_empty_site() -> None:
    triggers.remove(connection)
    call_command("flush", interactive=False, verbosity=0)
    triggers.install(connection)


def new_stores(settings, tmp_path: Path) -> None:
    for name in storage.STORES:
        backend = {"BACKEND": "django.core.files.storage.FileSystemStorage"}
        location = {"OPTIONS": {"location": tmp_path / "elsewhere" / name}}
        settings.STORAGES = {**settings.STORAGES, name: {**backend, **location}}


def test_a_package_gives_an_empty_site_the_same_rows_and_bytes(
    committed_db, settings, tmp_path, folders, volunteer, archivist, unpacked
):
    full = a_full_interview(volunteer, archivist)
    folder = unpacked(package_of(full, actor=archivist))
    before = as_held(full)
    digests = {file.key: file.sha256 for file in StoredFile.objects.all() if file in rows.files_of(full)}

    an_empty_site()
    new_stores(settings, tmp_path)
    assert Interview.objects.count() == User.objects.count() == StoredFile.objects.count() == 0
    interview = take_in(folder)

    assert as_held(interview) == before
    for key, sha256 in digests.items():
        assert [storage.sha256_of_copy(store, key) for store in storage.STORES] == [sha256, sha256]
    assert all(is_safe(file) for file in StoredFile.objects.all())
    assert (
        seal_pending()
        == story_of(interview).count()
        + rows.events_of(interview, rows.files_of(interview))
        .exclude(thread=f"interviews.interview:{interview.pk}")
        .count()
    )
    assert check_chain().faults == ()


@pytest.fixture
def elsewhere(committed_db, settings, tmp_path, folders, volunteer, archivist, unpacked) -> Path:
    """A package whose site is gone: the database is empty, and so are the stores."""
    folder = unpacked(package_of(an_interview(State.ACCEPTED, owner=volunteer, reviewer=archivist), actor=archivist))
    an_empty_site()
    new_stores(settings, tmp_path)
    return folder


def test_accounts_come_closed_and_open_no_door(elsewhere):
    take_in(elsewhere)
    for user in User.objects.all():
        assert not user.is_active
        assert not user.has_usable_password()


def test_numbers_go_on_after_those_that_were_taken_in(elsewhere, settings):
    taken = standing(take_in(elsewhere))
    keeper = a_user("Rowan Pike", role=Role.ARCHIVIST)
    new = an_interview(State.ACCEPTED, owner=a_user("Lucinda Farrow"), reviewer=keeper)
    assert new.pk > taken.interview_id
    assert standing(new).sequence == taken.sequence + 1
    assert worth_knowing(new) == []


def test_people_and_accounts_who_are_here_already_are_the_same(elsewhere):
    here = a_user("Tobias Wrenfield", email="tobias@example.org")
    other = a_user("Somebody Else", email="else@example.org")
    interview = take_in(elsewhere)
    assert interview.owner == here
    assert here.is_active
    assert User.objects.get(email="ines@example.org").pk not in {here.pk, other.pk}
    assert Person.objects.get(name="Marit Oskarsen").noted_by == here


def test_a_release_keeps_its_wording_where_the_site_has_the_same_one(elsewhere):
    known = Wording.objects.count()
    take_in(elsewhere)
    assert Wording.objects.count() == known
    release = Release.objects.first()
    assert filled(release.wording, release.participant) == release.wording_text


def test_another_text_under_the_same_version_is_refused(elsewhere):
    Wording.objects.filter(role="narrator", language="en").update(text="Other words.")
    with pytest.raises(Refused, match="another text under"):
        take_in(elsewhere)
    assert Interview.objects.count() == 0


def test_an_interview_that_is_here_already_is_refused_and_nothing_is_changed(elsewhere):
    interview = take_in(elsewhere)
    before = as_held(interview)
    with pytest.raises(Refused, match=r"is here already\. Nothing was changed"):
        take_in(elsewhere)
    assert as_held(interview) == before


def test_rows_whose_numbers_others_have_are_refused(elsewhere):
    told = json.loads((elsewhere / "metadata/rows.json").read_bytes())
    another = a_started_interview(a_user("Lucinda Farrow"))
    another.pk = first_of(told, "interviews.interview")["pk"]
    another.save(force_insert=True)
    with pytest.raises(Refused, match=r"numbers of its rows .* are taken by others"):
        take_in(elsewhere)


def spoil_rows(folder: Path, change) -> None:
    """Change a package's rows and make the bag valid again, as somebody would who means harm."""
    path = folder / "metadata/rows.json"
    told = json.loads(path.read_bytes())
    change(told)
    path.write_text(json.dumps(told))
    for algorithm in ("sha512", "sha256"):
        tags = folder / f"tagmanifest-{algorithm}.txt"
        digest = hashlib.new(algorithm, path.read_bytes()).hexdigest()
        lines = [line for line in tags.read_text().splitlines() if "rows.json" not in line]
        tags.write_text("\n".join([*lines, f"{digest}  metadata/rows.json", ""]))


def first_of(told: dict, model: str) -> dict:
    return next(row for row in told["rows"] if row["model"] == model)


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (lambda told: told.update(format=9), "has format 9"),
        (lambda told: told.pop("rows"), "cannot be read"),
        (lambda told: told["rows"].append({"model": "jobs.job", "pk": 1, "fields": {}}), "no rows of jobs.job"),
        (lambda told: first_of(told, "interviews.interview")["fields"].pop("recorded_on"), "do not fit together"),
        (lambda told: first_of(told, "interviews.interview")["fields"].update(owner=77), "do not fit together"),
        (lambda told: first_of(told, "interviews.part")["fields"].update(surprise=1), "do not fit together"),
        (lambda told: first_of(told, "files.storedfile")["fields"].update(sha256="0" * 64), "is not the file that"),
        (
            lambda told: told.update(files=dict.fromkeys(told["files"], "/etc/hostname")),
            "no file of the package's payload",
        ),
        (lambda told: told.update(files=dict.fromkeys(told["files"], "data/../bagit.txt")), "no file of the package"),
        (lambda told: told.update(files={}), "do not fit together"),
    ],
)
def test_rows_that_do_not_fit_are_refused_and_none_is_written(elsewhere, change, reason):
    spoil_rows(elsewhere, change)
    with pytest.raises(Refused, match=reason):
        take_in(elsewhere)
    assert Interview.objects.count() == 0
    assert User.objects.count() == 0
    if "fit together" not in reason:
        assert StoredFile.objects.count() == 0


def test_a_bag_that_is_not_valid_is_refused(elsewhere):
    next((elsewhere / "data/originals").iterdir()).write_bytes(b"other")
    with pytest.raises(Refused, match="is not a valid bag"):
        take_in(elsewhere)


def test_a_bag_of_somebody_else_is_refused(tmp_path):
    (tmp_path / "other").mkdir()
    (tmp_path / "other/a.txt").write_text("a")
    bagit.make_bag(str(tmp_path / "other"))
    with pytest.raises(Refused, match="no package of an interview"):
        take_in(tmp_path / "other")


def test_a_bag_whose_files_are_elsewhere_is_refused(elsewhere):
    (elsewhere / "fetch.txt").write_text("http://example.org/x 1 data/originals/01-TOLL0001.WAV\n")
    with pytest.raises(Refused, match="is not whole in itself"):
        take_in(elsewhere)


# Archives that nothing is believed of


def an_archive(path: Path, name: str, *, link: bool = False) -> Path:
    with zipfile.ZipFile(path, "w") as archive:
        entry = zipfile.ZipInfo(name)
        entry.external_attr = (0o120777 if link else 0o100644) << 16
        archive.writestr(entry, b"x")
    return path


@pytest.mark.parametrize("name", ["../evil", "/evil", "bag/../../evil", "bag\\..\\evil", "C:/evil"])
def test_an_archive_cannot_write_outside_its_folder(tmp_path, name):
    with pytest.raises(Refused, match="would lie outside"), bags_in(an_archive(tmp_path / "a.zip", name), silent):
        pass


def test_an_archive_with_a_link_is_refused(tmp_path):
    with pytest.raises(Refused, match="holds a link"), bags_in(an_archive(tmp_path / "a.zip", "x", link=True), silent):
        pass


def test_what_is_no_archive_is_refused_in_a_sentence(tmp_path):
    (tmp_path / "a.zip").write_bytes(b"no archive")
    with pytest.raises(Refused, match="cannot be unpacked"), bags_in(tmp_path / "a.zip", silent):
        pass


def packed(how: int) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", how) as archive:
        archive.writestr("bag/bagit.txt", bytes(range(256)) * 40)
    return file.getvalue()


def with_flag(archive: bytes, place: int, value: int) -> bytes:
    """Change two bytes of the local header and of the central one (PKWARE's APPNOTE, sections 4.3.7 and 4.3.12)."""
    changed = bytearray(archive)
    for mark, offset in ((b"PK\x03\x04", place), (b"PK\x01\x02", place + 2)):
        start = changed.index(mark) + offset
        changed[start : start + 2] = value.to_bytes(2, "little")
    return bytes(changed)


def broken(how: int) -> bytes:
    content = packed(how)
    middle = content.index(b"bag/bagit.txt") + 30
    return content[:middle] + b"\xa5" * 40 + content[middle + 40 :]


UNREADABLE = {
    "with a password": with_flag(packed(zipfile.ZIP_STORED), 6, 1),
    "packed in an unknown way": with_flag(packed(zipfile.ZIP_STORED), 8, 97),
    "broken, stored": broken(zipfile.ZIP_STORED),
    "broken, deflated": broken(zipfile.ZIP_DEFLATED),
    "broken, bzip2": broken(zipfile.ZIP_BZIP2),
    "broken, LZMA": broken(zipfile.ZIP_LZMA),
    "cut short": packed(zipfile.ZIP_DEFLATED)[:200],
}


@pytest.mark.parametrize("kind", UNREADABLE)
def test_an_archive_that_cannot_be_read_is_refused_in_a_sentence(tmp_path, kind):
    (tmp_path / "a.zip").write_bytes(UNREADABLE[kind])
    with pytest.raises(Refused, match=r"“a\.zip” cannot be unpacked"), bags_in(tmp_path / "a.zip", silent):
        pass


def test_an_archive_without_a_bag_is_refused(tmp_path):
    with pytest.raises(Refused, match="no bag in it"), bags_in(an_archive(tmp_path / "a.zip", "x/y"), silent):
        pass


def test_an_archive_larger_than_the_disk_is_refused_before_it_is_unpacked(tmp_path, monkeypatch):
    monkeypatch.setattr("intake.outputs.packages.unpacking.SPARE_BYTES", 10**18)
    with pytest.raises(Refused, match="no room for"), bags_in(an_archive(tmp_path / "a.zip", "x/y"), silent):
        pass


# What stays behind

STAYS = {
    "backlog.backlogrow": "how a folder came in, which the interview outlives",
    "files.piece": "of an upload that is not stored yet",
    "files.storedcopy": "of the stores of this site",
    "files.fixitycheck": "told by premis.xml",
    "files.incident": "told by premis.xml",
    "library.library": "the library's own row",
    "catalogue.listreading": "how a list of headings came in, which belongs to no interview",
    "queue.queueentry": "derived anew from what comes in",
    "outputs.harvestrecord": "what harvesters of this site were told",
}


def test_every_table_that_points_to_the_interview_goes_along_or_is_known_to_stay():
    pointing = {
        model._meta.label_lower
        for model in apps.get_models()
        if model not in rows.OWN
        for field in model._meta.concrete_fields
        if field.related_model in rows.OWN
    }
    assert pointing == set(STAYS)


def test_what_proves_a_signature_still_does_elsewhere(elsewhere):
    """Wordings and accounts may have other numbers there; the digest in the event of the signature names none."""
    take_in(elsewhere)
    releases = list(Release.objects.all())
    assert len(releases) == 2
    for release in releases:
        lines = check_evidence(release)
        assert len(lines) == 3
        assert all(line.holds for line in lines), lines
