"""System checks: what would fail in silence later is said at start, each with a hint."""

import os
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Warning, register
from django.core.files.storage import FileSystemStorage, storages

from intake.files.storage import STORES
from intake.outputs.paper.fonts import FONT_FOLDER


@register()
def stores_can_hold_two_copies(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """Both stores and the staging folder take files, and the two stores are two."""
    stores = [storages[name] for name in STORES]
    folders = [Path(store.location).resolve() for store in stores if isinstance(store, FileSystemStorage)]
    told: list[CheckMessage] = [
        _not_writable(folder) for folder in [*folders, settings.STAGING_DIR] if not _takes_files(folder)
    ]
    if len(folders) > 1 and len(set(folders)) == 1:
        hint = "Set REPLICA_STORE to a folder on another disk, or to s3://bucket/prefix."
        told.append(Error("The primary and the replica store are one folder.", hint=hint, id="intake.E002"))
    return told


@register()
def copies_are_read_at_night(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """The hours of the night are hours, and the period and the share of a night are more than nothing."""
    hours = (settings.FIXITY_FROM_HOUR, settings.FIXITY_UNTIL_HOUR)
    if all(0 <= hour <= 23 for hour in hours) and settings.FIXITY_PERIOD_DAYS > 0 and settings.FIXITY_NIGHT_BYTES > 0:
        return []
    hint = "FIXITY_FROM_HOUR and FIXITY_UNTIL_HOUR are full hours from 0 to 23; the days and bytes are above 0."
    return [Error("The settings for reading copies at night make no sense.", hint=hint, id="intake.E003")]


@register()
def papers_have_their_fonts(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    if (FONT_FOLDER / "DejaVuSans.ttf").exists():
        return []
    return [
        Warning("The fonts of the papers are missing.", hint="Run npm ci in the project's folder.", id="intake.W001")
    ]


def _takes_files(folder: Path) -> bool:
    """Whether the folder, or the nearest one above it that exists, may be written to."""
    there = next(parent for parent in [folder, *folder.parents] if parent.exists())
    return there.is_dir() and os.access(there, os.W_OK)


def _not_writable(folder: Path) -> CheckMessage:
    hint = "Give the site's user the right to write there, or name another folder in the settings."
    return Error(f"Files cannot be written to {folder}.", hint=hint, id="intake.E001")
