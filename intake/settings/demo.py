"""The demo: an invented library in a folder of its own, whatever this computer's `.env` says about a real one."""

import os
from pathlib import Path

_FOLDER = Path(os.environ.get("VAR_DIR") or Path(__file__).resolve().parents[2] / "var" / "demo").resolve()

# SECURITY: invented people must never reach a real database, real stores or a real mail server. Values set here come
# before those in `.env`, and replace those of the shell.
os.environ |= {
    "VAR_DIR": str(_FOLDER),
    "DEMO": "true",
    "DEFAULT_FROM_EMAIL": "",
    "STAFF_SECOND_STEP": "offered",
    "OAI_PMH": "true",
    "DATABASE_URL": f"sqlite:///{_FOLDER / 'intake.sqlite3'}",
    "CELERY_BROKER_URL": "filesystem://localhost",
    "CACHE_URL": "locmemcache://",
    "EMAIL_URL": "filemail://",
    "PRIMARY_STORE": str(_FOLDER / "stores" / "primary"),
    "REPLICA_STORE": str(_FOLDER / "stores" / "replica"),
    "STAGING_DIR": str(_FOLDER / "staging"),
    "STATIC_ROOT": str(_FOLDER / "static"),
    "ALLOWED_HOSTS": "127.0.0.1,localhost,[::1]",
}

from intake.settings.local import *  # noqa: E402, F403  the environment must stand before base reads it
