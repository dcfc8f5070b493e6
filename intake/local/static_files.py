"""Gather the style sheets, scripts and fonts for the web server, only when one of them has changed."""

import hashlib
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.core.management import call_command


def collect_if_changed() -> bool:
    """Run collectstatic unless what was gathered last time is what is there now; returns whether it ran."""
    note = Path(settings.STATIC_ROOT) / ".gathered"
    present = _fingerprint()
    if note.exists() and note.read_text() == present:
        return False
    note.unlink(missing_ok=True)  # an interrupted run must be done again
    call_command("collectstatic", interactive=False, clear=True, verbosity=0)
    note.write_text(present)
    return True


def _fingerprint() -> str:
    """A digest over path, size and time of change of every static file."""
    digest = hashlib.sha256()
    for finder in finders.get_finders():
        for path, storage in finder.list([]):
            status = Path(storage.path(path)).stat()
            digest.update(f"{path} {status.st_size} {status.st_mtime_ns}\n".encode())
    return digest.hexdigest()
