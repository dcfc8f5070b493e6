"""Get a site back from a backup: everything is checked before anything is written, the database comes last."""

import os
import shutil
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.core.files.storage import FileSystemStorage, storages
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from intake.audit.services import ChainCheck, check_chain
from intake.errors import Refused, refuse_if
from intake.files import storage, stores
from intake.local import databases, manifest
from intake.local.backup import SPARE_BYTES, About, Say, nearest, refuse_if_too_small
from intake.local.progress import Progress

FEW = 20


@dataclass(frozen=True)
class Restored:
    """What is there now: as many rows as were backed up, and whether the record of events is whole."""

    about: About
    chain: ChainCheck
    key_differs: bool


def restore(folder: Path, say: Say) -> Restored:
    """Make this empty site the one that was backed up. Raises Refused, in which case nothing was written."""
    folder = folder.resolve()
    about = About.of(folder)
    _refuse_another_version(about)
    if not databases.is_empty():
        raise Refused(
            "There are people or events in this site already, and a restore would put others in their place. "
            "Restore into an empty site: another VAR_DIR, or another DATABASE_URL and stores."
        )
    digests = _listed(folder)
    files = {path.removeprefix("files/"): digest for path, digest in digests.items() if path.startswith("files/")}
    _refuse_if_too_small(folder, about)
    say("Reading the whole backup and comparing it with its list.")
    _refuse_damaged(folder, digests, say)
    say(f"Placing {len(files)} stored files in {len(storage.STORES)} stores.")
    _place_files(folder, files, say)
    _copy_into(folder / "staging", settings.STAGING_DIR)
    _copy_into(folder / "mail", Path(settings.EMAIL_FILE_PATH or settings.VAR_DIR / "mail"))
    say("Putting the database back.")
    databases.put_back(folder / "database")
    _refuse_other_counts(about)
    return Restored(about, check_chain(), key_differs=_put_key_back(folder))


def _refuse_another_version(about: About) -> None:
    if about.database != connection.vendor:
        raise Refused(
            f"The backup is of a site on {about.database}, and this one runs on {connection.vendor}. "
            "Set DATABASE_URL to the same kind of database."
        )
    ours = {f"{app} {name}" for app, name in MigrationLoader(None).disk_migrations}
    theirs = {f"{app} {name}" for app, names in about.migrations.items() for name in names}
    if ours != theirs:
        told = ", ".join(sorted(ours ^ theirs)[:5])
        raise Refused(
            f"The backup of {about.made_at} was made by another version of the site (they differ in: {told}). "
            "Restore it with that version of the program, then start the newer one on the same data."
        )


def _listed(folder: Path) -> dict[str, str]:
    try:
        digests = manifest.read(folder)
    except (FileNotFoundError, ValueError) as error:
        raise Refused(f"The list {manifest.NAME} is missing or damaged: nothing was restored.") from error
    if unlisted := [name for name in ("backup.json", "secret_key") if name not in digests]:
        raise Refused(f"The list {manifest.NAME} does not name {' and '.join(unlisted)}: nothing was restored.")
    return digests


def _refuse_if_too_small(folder: Path, about: About) -> None:
    small = sum(path.stat().st_size for name in ("database", "staging") for path in (folder / name).rglob("*"))
    needed = {nearest(settings.VAR_DIR): small + SPARE_BYTES}
    for name in storage.STORES:
        store = storages[name]
        if isinstance(store, FileSystemStorage):
            place = nearest(Path(store.location))
            needed[place] = needed.get(place, 0) + about.bytes
    refuse_if_too_small(needed)


def _refuse_damaged(folder: Path, digests: dict[str, str], say: Say) -> None:
    sizes = {path: (folder / path).stat().st_size for path in digests if (folder / path).is_file()}
    progress = Progress(say, "Compared", files=len(digests), total=sum(sizes.values()))
    faults: list[str] = []
    for path, digest in digests.items():
        faults += manifest.damaged(folder, {path: digest})
        progress.add(sizes.get(path, 0))
    if faults:
        more = [f"And {len(faults) - FEW} more."] if len(faults) > FEW else []
        refuse_if(["The backup is damaged, so nothing was restored:", *faults[:FEW], *more])


def _place_files(folder: Path, files: dict[str, str], say: Say) -> None:
    total = sum((folder / "files" / key).stat().st_size for key in files)
    progress = Progress(say, "Placed", files=len(files), total=total)
    for store in storage.STORES:
        stores.mark(store)
    for key, digest in files.items():
        source = folder / "files" / key
        for store in storage.STORES:
            storage.place(store, key, source)
            if storage.sha256_of_copy(store, key) != digest:
                raise OSError(f"the {store} store did not keep {key} as it was given")
        progress.add(source.stat().st_size)


def _copy_into(source: Path, target: Path) -> None:
    target.mkdir(parents=True, exist_ok=True)
    for path in source.glob("*"):
        shutil.copyfile(path, target / path.name)
        (target / path.name).chmod(0o600)


def _refuse_other_counts(about: About) -> None:
    found = databases.counts()
    wrong = sorted(table for table in about.counts.keys() | found.keys() if about.counts.get(table) != found.get(table))
    if wrong:
        raise OSError(f"the database was put back, but these tables do not have as many rows as before: {wrong}")


def _put_key_back(folder: Path) -> bool:
    """Returns whether this site's environment gives it another key than it was backed up with."""
    key = (folder / "secret_key").read_text()
    if settings.SECRET_KEY_FILE is None:
        return key != settings.SECRET_KEY
    arriving = settings.SECRET_KEY_FILE.with_suffix(".arriving")
    with os.fdopen(os.open(arriving, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as file:
        file.write(key)
    arriving.replace(settings.SECRET_KEY_FILE)
    return False
