"""A backup: everything that a site has to get back, in a folder that anybody can check without this program."""

import json
import os
import shutil
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any
from uuid import UUID

from django.conf import settings
from django.core.files.storage import FileSystemStorage, storages
from django.utils import timezone

from intake.errors import Refused
from intake.figures import size
from intake.files import storage
from intake.files.models import StoredFile
from intake.local import databases, manifest
from intake.local.progress import Progress

KIND = "backup of an oral history intake site"
FORMAT = 1
ABOUT = "backup.json"
ARRIVING = ".arriving"
# In place at once when a backup is complete; `files/` only ever grows.
PIECES = ("database", "staging", "mail", "secret_key", "README.txt", ABOUT)
# The database as files may be a little larger than it is now, and a disk filled to the last byte helps nobody.
SPARE_BYTES = 50_000_000
TRIES = 5
ON_THEIR_WAY = """
    SELECT id, "offset" FROM files_upload WHERE state IN ('receiving', 'received') AND "offset" > 0 ORDER BY id
"""

README = """This folder is a backup of an oral history intake site. It holds everything, also what was told in
confidence: names, addresses, signatures, closed recordings, and the site's secret key. Keep it locked up, and on
another disk than the site's own, better in another place.

    database/     the database
    files/        every stored file: originals, signed papers, listening copies
    staging/      what had arrived of recordings on their way in
    mail/         messages that were kept as files
    secret_key    the site's secret key
    backup.json   when it was made, of what, and how much

Is it whole? In this folder: sha256sum --check --quiet manifest-sha256.txt
To get the site back, in the site's own folder: make restore FROM=the/path/of/this/folder
"""

Say = Callable[[str], None]


class MovedOn(Exception):
    """Something that the database told of was gone before it could be copied: the whole is taken again."""


@dataclass(frozen=True)
class About:
    """What backup.json says. `left_out` names files of which the site itself has no whole copy any more."""

    kind: str
    format: int
    made_at: str
    database: str
    migrations: databases.Migrations
    counts: dict[str, int]
    files: int
    bytes: int
    left_out: list[str]

    @classmethod
    def of(cls, folder: Path) -> "About":
        """Raises Refused where this is no backup of ours, or one of another format."""
        try:
            told: dict[str, Any] = json.loads((folder / ABOUT).read_text(encoding="utf-8"))
        except (FileNotFoundError, NotADirectoryError, ValueError) as error:
            raise Refused(f"{folder} is no backup of this site: there is no {ABOUT} in it that can be read.") from error
        if told.get("kind") != KIND:
            raise Refused(f"{folder} is no backup of this site.")
        if told.get("format") != FORMAT:
            raise Refused(
                f"This backup has format {told.get('format')}; this version of the site reads format {FORMAT}."
            )
        return cls(**told)


@dataclass(frozen=True)
class Wanted:
    """A stored file as the database tells of it."""

    key: str
    sha256: str
    bytes: int


def make(folder: Path, say: Say) -> About:
    """Back the running site up into `folder`, which may hold an earlier backup of it. Raises Refused."""
    folder = folder.resolve()
    _refuse_folder(folder)
    _refuse_if_too_small(folder)
    # SECURITY: what was told in confidence and the secret key are for whoever runs the site alone.
    before = os.umask(0o077)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        folder.chmod(0o700)
        return _make(folder, say)
    finally:
        os.umask(before)
        shutil.rmtree(folder / ARRIVING, ignore_errors=True)


def _make(folder: Path, say: Say) -> About:
    arriving = folder / ARRIVING
    say("Copying the database and what is on its way in.")
    taken, wanted = _take(arriving)
    say(f"Copying {len(wanted)} stored files, {size(sum(file.bytes for file in wanted))}.")
    digests, left_out = _copy_files(folder, wanted, say)
    _copy_mail(arriving / "mail")
    (arriving / "secret_key").write_text(settings.SECRET_KEY)
    (arriving / "README.txt").write_text(README)
    about = About(
        kind=KIND,
        format=FORMAT,
        made_at=timezone.now().isoformat(timespec="seconds"),
        database=taken.vendor,
        migrations=taken.migrations,
        counts=taken.counts,
        files=len(digests),
        bytes=sum(file.bytes for file in wanted if file.key not in left_out),
        left_out=left_out,
    )
    (arriving / ABOUT).write_text(json.dumps(asdict(about), indent=1), encoding="utf-8")
    digests |= {
        str(path.relative_to(arriving)): storage.sha256_of_path(path) for path in arriving.rglob("*") if path.is_file()
    }
    _put_in_place(arriving, folder)
    manifest.write(folder, digests)
    os.sync()
    return about


def _take(arriving: Path) -> tuple[databases.Taken, list[Wanted]]:
    """One moment of the database with the pieces of uploads that belong to it."""
    for _ in range(TRIES):
        shutil.rmtree(arriving, ignore_errors=True)
        for name in ("database", "staging", "mail"):
            (arriving / name).mkdir(parents=True)
        try:
            with databases.taken_into(arriving / "database") as (taken, reader):
                files = reader.rows("SELECT key, sha256, bytes FROM files_storedfile ORDER BY key")
                coming = reader.rows(ON_THEIR_WAY)
            for upload_id, offset in coming:
                _copy_pieces(UUID(str(upload_id)), offset, arriving / "staging")
        except MovedOn:
            continue
        return taken, [Wanted(*row) for row in files]
    raise Refused("Recordings come and go too quickly to take one moment of them. Try again in a while.")


def _copy_pieces(upload_id: UUID, offset: int, target: Path) -> None:
    """The first `offset` bytes of an upload: those that its row counts are never written again.

    Stored in the meantime, it is the same bytes in the store.
    """
    stored = StoredFile.objects.filter(pk=upload_id).first()
    try:
        opened = storage.open_copy("primary", stored.key) if stored else storage.staging_path(upload_id).open("rb")
    except FileNotFoundError as error:
        raise MovedOn from error
    with opened as source, (target / storage.staging_path(upload_id).name).open("wb") as copy:
        left = offset
        while left and (block := source.read(min(storage.BLOCK, left))):
            copy.write(block)
            left -= len(block)
    if left:
        raise MovedOn


def _copy_files(folder: Path, wanted: list[Wanted], say: Say) -> tuple[dict[str, str], list[str]]:
    """Path and digest of every file that is in the backup now, and the keys of those that are whole nowhere."""
    progress = Progress(say, "Copied", files=len(wanted), total=sum(file.bytes for file in wanted))
    digests, left_out = {}, []
    for file in wanted:
        path = folder / "files" / file.key
        if _is_there(path, file) or any(_copy_one(path, file, store) for store in storage.STORES):
            digests[f"files/{file.key}"] = file.sha256
        else:
            left_out.append(file.key)
            say(f"DAMAGED: no store of this site has a whole copy of {file.key}. It is not in the backup.")
        progress.add(file.bytes)
    return digests, left_out


def _is_there(path: Path, file: Wanted) -> bool:
    """An earlier backup's copy counts once it has been read again."""
    return path.exists() and path.stat().st_size == file.bytes and storage.sha256_of_path(path) == file.sha256


def _copy_one(path: Path, file: Wanted, store: str) -> bool:
    """Copy from one store under a temporary name; it gets its own once the copy, read back, is what it should be."""
    path.parent.mkdir(parents=True, exist_ok=True)
    arriving = path.with_name(f".{path.name}")
    try:
        with storage.open_copy(store, file.key) as source, arriving.open("wb") as copy:
            shutil.copyfileobj(source, copy, storage.BLOCK)
    except FileNotFoundError:
        return False
    if storage.sha256_of_path(arriving) != file.sha256:
        arriving.unlink()
        return False
    arriving.replace(path)
    return True


def _copy_mail(target: Path) -> None:
    source = Path(settings.EMAIL_FILE_PATH or settings.VAR_DIR / "mail")
    for path in sorted(source.glob("*")):
        shutil.copyfile(path, target / path.name)


def _put_in_place(arriving: Path, folder: Path) -> None:
    for name in PIECES:
        target = folder / name
        if target.is_dir():
            shutil.rmtree(target)
        (arriving / name).replace(target)


# Refusals


def _refuse_folder(folder: Path) -> None:
    for own in own_folders():
        if folder.is_relative_to(own) or own.is_relative_to(folder):
            raise Refused(f"{folder} and the site's own folder {own} lie in each other. Choose a folder elsewhere.")
    if folder.exists() and not folder.is_dir():
        raise Refused(f"{folder} is not a folder.")
    if folder.exists() and {path.name for path in folder.iterdir()} - {ARRIVING, "files"}:
        About.of(folder)  # something else, or another format, is not written over


def own_folders() -> Iterable[Path]:
    """Where this site keeps what it has."""
    yield settings.VAR_DIR
    yield settings.STAGING_DIR.resolve()
    for name in storage.STORES:
        store = storages[name]
        if isinstance(store, FileSystemStorage):
            yield Path(store.location).resolve()


def _refuse_if_too_small(folder: Path) -> None:
    missing = sum(
        file.bytes
        for file in map(_wanted, StoredFile.objects.only("key", "sha256", "bytes").iterator())
        if not (folder / "files" / file.key).exists()
    )
    rest = databases.bytes_now() + sum(path.stat().st_size for path in settings.STAGING_DIR.glob("*.part"))
    refuse_if_too_small({nearest(folder): missing + rest + SPARE_BYTES})


def refuse_if_too_small(needed: dict[Path, int]) -> None:
    """`needed` bytes by folder; folders on one disk share its room. Raises Refused."""
    by_disk: dict[int, tuple[Path, int]] = {}
    for folder, count in needed.items():
        disk = folder.stat().st_dev
        by_disk[disk] = (folder, by_disk.get(disk, (folder, 0))[1] + count)
    for folder, count in by_disk.values():
        free = shutil.disk_usage(folder).free
        if free < count:
            raise Refused(f"The disk of {folder} is too small: {size(count)} are needed and {size(free)} are free.")


def nearest(folder: Path) -> Path:
    """The folder itself, or the first one above it that exists."""
    return next(path for path in (folder, *folder.parents) if path.exists())


def _wanted(file: StoredFile) -> Wanted:
    return Wanted(file.key, file.sha256, file.bytes)
