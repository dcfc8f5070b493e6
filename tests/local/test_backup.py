"""Backup and restore, as people run them: commands on sites of their own, on the kind of database of this run."""

import hashlib
import json
import os
import subprocess
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from intake.errors import Refused
from intake.files.models import StoredFile
from intake.local import backup, commands
from tests.local.alone import manage
from tests.site import database_beside, running_site

pytestmark = pytest.mark.processes
CHECK = ["sha256sum", "--check", "--strict", "--quiet", "manifest-sha256.txt"]

FILLED = """
from tests import factories
factories.an_accession()
factories.run_jobs()
waiting = factories.an_interview(parts=0)
part = factories.a_part_arriving(waiting, b"0123456789" * 1000)
factories.send(part.upload, b"0123456789" * 300)
received = factories.a_part_received(waiting, name="TOLL0008.WAV")
from intake.audit.services import seal_pending
seal_pending()
"""
ROWS = """
import json
from django.db import connection
found = {}
with connection.cursor() as cursor:
    for table in connection.introspection.table_names():
        cursor.execute(f'SELECT * FROM "{table}" ORDER BY 1')
        found[table] = [repr([bytes(v) if isinstance(v, memoryview) else v for v in row]) for row in cursor.fetchall()]
print(json.dumps(found))
"""
FINISHED = """
import time
from django.utils import timezone
from intake.files import uploads
from intake.files.models import Upload
from intake.jobs import services as jobs
from intake.jobs.models import Job, JobState
from tests import factories
for upload in Upload.objects.filter(state="receiving"):
    content = b"0123456789" * 1000
    factories.send(upload, content[upload.offset:], offset=upload.offset)
    uploads.declare_digest(upload.pk, factories.sha256(content))
# What a worker held at the moment of the backup is taken up again once its lease has run out.
while held := Job.objects.filter(state=JobState.RUNNING).first():
    time.sleep(max(0, (held.lease_until - timezone.now()).total_seconds()) + 0.1)
    jobs.run(held.pk)
factories.run_jobs()
print(sorted(Upload.objects.values_list("state", flat=True)))
"""


@dataclass(frozen=True)
class Site:
    """A site that is not running: its folder and what its commands are told."""

    var_dir: Path
    told: dict[str, str]

    def run(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        return manage(*arguments, timeout=300, **self.told)

    def well(self, *arguments: str) -> str:
        done = self.run(*arguments)
        assert done.returncode == 0, f"{arguments} failed:\n{done.stdout}\n{done.stderr}"
        return done.stdout

    def shell(self, code: str) -> str:
        return self.well("shell", "--no-imports", "--command", code)

    def rows(self) -> dict[str, list[str]]:
        return json.loads(self.shell(ROWS))

    def files(self, *folders: str) -> dict[str, str]:
        """Digest of every file in some folders, by path."""
        return {
            str(path.relative_to(self.var_dir)): hashlib.sha256(path.read_bytes()).hexdigest()
            for folder in folders
            for path in (self.var_dir / folder).rglob("*")
            if path.is_file()
        }


@contextmanager
def a_site(folder: Path) -> Iterator[Site]:
    with database_beside(os.environ.get("DATABASE_URL")) as own:
        told = {
            "DJANGO_SETTINGS_MODULE": "intake.settings.local",
            "VAR_DIR": str(folder),
            "CELERY_BROKER_URL": "filesystem://localhost",
            "CACHE_URL": "locmemcache://",
            **({"DATABASE_URL": own} if own else {}),
        }
        yield Site(folder, told)


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """A site with an accepted interview, papers, a message, and recordings on their way in."""
    with a_site(tmp_path_factory.mktemp("filled") / "var") as site:
        site.well("migrate", "--verbosity=0")
        site.shell(FILLED)
        yield site


@pytest.fixture(scope="module")
def made(filled: Site, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made") / "backup"
    filled.well("backup", "--to", str(folder))
    return folder


@pytest.fixture
def copied(made: Path, tmp_path: Path) -> Path:
    """A backup that a test may damage."""
    folder = tmp_path / "copied"
    subprocess.run(["cp", "-a", made, folder], check=True)
    return folder


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Site]:
    with ExitStack() as stack:
        yield stack.enter_context(a_site(tmp_path / "restored"))


def test_a_restored_site_has_the_same_rows_files_and_chain(filled: Site, made: Path, empty: Site) -> None:
    told = empty.well("restore", "--from", str(made))
    assert "The record of events is whole" in told
    before, after = filled.rows(), empty.rows()
    assert sum(len(rows) for rows in before.values()) > 100
    assert after == before
    kept = filled.files("stores", "staging", "mail")
    assert {path.split("/")[0] for path in kept} == {"stores", "staging", "mail"}
    assert empty.files("stores", "staging", "mail") == kept
    assert len(empty.files("stores/primary")) == len(empty.files("stores/replica")) > 3
    assert (empty.var_dir / "secret_key").read_text() == (filled.var_dir / "secret_key").read_text()
    assert "The chain is whole" in empty.well("verify_events")


def test_a_restored_site_goes_on_where_the_other_stood(made: Path, empty: Site) -> None:
    empty.well("restore", "--from", str(made))
    assert "receiv" not in empty.shell(FINISHED), "what was on its way in arrives"
    assert "The chain is whole" in empty.well("verify_events")


def test_anybody_can_check_a_backup_and_nobody_else_read_it(made: Path) -> None:
    subprocess.run(CHECK, cwd=made, check=True)
    listed = {line.split("  ")[1] for line in (made / "manifest-sha256.txt").read_text().splitlines()}
    present = {str(path.relative_to(made)) for path in made.rglob("*") if path.is_file()}
    assert present - listed == {"manifest-sha256.txt"}
    assert {oct(path.stat().st_mode & 0o777) for path in [made, *made.rglob("*")] if path.is_dir()} == {"0o700"}
    assert {oct(path.stat().st_mode & 0o777) for path in made.rglob("*") if path.is_file()} == {"0o600"}


def test_what_is_there_already_is_not_copied_again_and_what_is_damaged_is(filled: Site, copied: Path) -> None:
    files = [path for path in (copied / "files").rglob("*") if path.is_file()]
    before = {path: path.stat().st_ino for path in files}
    files[0].write_bytes(b"x" * files[0].stat().st_size)
    filled.well("backup", "--to", str(copied))
    assert {path for path in files if path.stat().st_ino != before[path]} == {files[0]}
    subprocess.run(CHECK, cwd=copied, check=True)


@pytest.mark.parametrize("piece", ["files", "database", "staging", "secret_key"])
def test_a_damaged_backup_is_named_and_nothing_is_restored(copied: Path, empty: Site, piece: str) -> None:
    path = copied / piece
    if path.is_dir():
        path = max((found for found in path.rglob("*") if found.is_file()), key=lambda found: found.stat().st_size)
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)
    done = empty.run("restore", "--from", str(copied))
    assert done.returncode != 0
    assert f"{path.relative_to(copied)} is not what it was" in done.stderr
    assert empty.files("stores", "mail") == {}
    assert "accounts_user" not in empty.rows()


def test_a_backup_with_a_missing_file_is_named_and_nothing_is_restored(copied: Path, empty: Site) -> None:
    path = next(found for found in (copied / "files").rglob("*") if found.is_file())
    path.unlink()
    done = empty.run("restore", "--from", str(copied))
    assert f"{path.relative_to(copied)} is missing." in done.stderr
    assert empty.files("stores") == {}


def test_a_site_with_people_is_never_overwritten(filled: Site, made: Path) -> None:
    before = filled.rows()
    done = filled.run("restore", "--from", str(made))
    assert "There are people or events in this site already" in done.stderr
    assert filled.rows() == before


def test_a_backup_of_another_version_is_refused(copied: Path, empty: Site) -> None:
    about = json.loads((copied / "backup.json").read_text())
    about["migrations"]["interviews"].append("9999_from_tomorrow")
    (copied / "backup.json").write_text(json.dumps(about))
    done = empty.run("restore", "--from", str(copied))
    assert "another version of the site (they differ in: interviews 9999_from_tomorrow)" in done.stderr


def test_a_backup_of_another_kind_of_database_is_refused(copied: Path, empty: Site) -> None:
    about = json.loads((copied / "backup.json").read_text())
    about["database"] = "oracle"
    (copied / "backup.json").write_text(json.dumps(about))
    assert "is of a site on oracle" in empty.run("restore", "--from", str(copied)).stderr


@pytest.mark.parametrize("content", [None, "{", '{"kind": "something else"}'])
def test_a_folder_that_is_no_backup_is_neither_restored_nor_written_over(
    filled: Site, empty: Site, tmp_path: Path, content: str | None
) -> None:
    folder = tmp_path / "photographs"
    folder.mkdir()
    (folder / "ferry.jpg").write_bytes(b"x")
    if content is not None:
        (folder / "backup.json").write_text(content)
    for done in (empty.run("restore", "--from", str(folder)), filled.run("backup", "--to", str(folder))):
        assert done.returncode != 0
        assert "is no backup of this site" in done.stderr
    assert (folder / "ferry.jpg").read_bytes() == b"x"


def test_the_sites_own_folders_take_no_backup(filled: Site) -> None:
    for folder in (filled.var_dir / "stores" / "backup", filled.var_dir.parent):
        assert "lie in each other" in filled.run("backup", "--to", str(folder)).stderr


def test_a_copy_damaged_in_one_store_is_taken_from_the_other(filled: Site, made: Path, tmp_path: Path) -> None:
    original = next(path for path in (filled.var_dir / "stores" / "primary").rglob("*.wav"))
    content = original.read_bytes()
    original.chmod(0o600)
    original.write_bytes(content[:-1] + b"x")
    try:
        filled.well("backup", "--to", str(tmp_path / "whole"))
    finally:
        original.write_bytes(content)
    subprocess.run(CHECK, cwd=tmp_path / "whole", check=True)


def test_a_file_that_is_whole_nowhere_is_told_and_the_rest_is_saved(filled: Site, empty: Site, tmp_path: Path) -> None:
    copies = [next((filled.var_dir / "stores" / store).rglob("*.mp3")) for store in ("primary", "replica")]
    key = copies[0].relative_to(filled.var_dir / "stores" / "primary")
    for copy in copies:
        copy.rename(copy.with_suffix(".away"))
    try:
        done = filled.run("backup", "--to", str(tmp_path / "partly"))
    finally:
        for copy in copies:
            copy.with_suffix(".away").rename(copy)
    assert done.returncode != 0
    assert f"1 files are whole in no store of this site and not in the backup: {key}" in done.stderr
    told = empty.well("restore", "--from", str(tmp_path / "partly"))
    assert f"no whole copy was left when it was made: {key}" in told


@pytest.mark.django_db
def test_a_disk_that_is_too_small_is_told_before_anything_is_written(tmp_path: Path) -> None:
    StoredFile.objects.create(name="x.wav", media_type="audio/wav", bytes=10**17, sha256="0" * 64, key="00/x.wav")
    with pytest.raises(Refused, match=r"too small: 100000000.* GB are needed"):
        backup.make(tmp_path / "backup", print)
    assert not (tmp_path / "backup").exists()


WORKING = """
from django.conf import settings
from intake.files import uploads
from tests import factories
owner = factories.a_user()
interview = factories.a_started_interview(owner)
content = b"0123456789" * 1000
print("at work", flush=True)
number = 0
while not (settings.VAR_DIR / "enough").exists():
    number += 1
    part = factories.a_part_arriving(interview, content, name=f"TOLL{number:04d}.WAV")
    for offset in range(0, len(content), 1000):
        factories.send(part.upload, content[offset:offset + 1000], offset=offset)
    uploads.declare_digest(part.upload_id, factories.sha256(content))
"""


def test_a_backup_taken_while_recordings_arrive_and_work_runs_is_one_moment(tmp_path: Path) -> None:
    """Uploads come in all the time, and the worker stores and measures them; each of two backups is whole."""
    with running_site() as live, ExitStack() as stack:
        working = subprocess.Popen(
            commands.manage("shell", "--no-imports", "--command", WORKING),
            env=live.environment, cwd=Path(__file__).resolve().parents[2], stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert working.stdout is not None
        assert "at work" in working.stdout.readline()
        for _ in range(2):
            told = live.manage("backup", "--to", str(tmp_path / "backup"))
        assert working.poll() is None, "the backups met no work"
        (live.var_dir / "enough").touch()
        assert working.wait(timeout=120) == 0
        assert "Backed up" in told
        restored = stack.enter_context(a_site(tmp_path / "restored"))
        restored.well("restore", "--from", str(tmp_path / "backup"))
        states = restored.shell(FINISHED)
        assert "receiv" not in states
        assert "damaged" not in states
        assert "stored" in states
        assert "The chain is whole" in restored.well("verify_events")
