"""For pytest: fast hashing, files in a folder of this run, the database of DATABASE_URL or SQLite."""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

# Each of several processes that share the tests between them has a folder of its own.
if "VAR_DIR" not in os.environ or "PYTEST_XDIST_WORKER" in os.environ:
    os.environ["VAR_DIR"] = tempfile.mkdtemp(prefix="intake-test-")
    atexit.register(shutil.rmtree, os.environ["VAR_DIR"], ignore_errors=True)
# ... and a broker of its own: a nudge of the tests beside it must be neither counted nor taken by this one.
os.environ["BROKER_KEY_PREFIX"] = Path(os.environ["VAR_DIR"]).name

from intake.settings.base import *  # noqa: F403  VAR_DIR must be set before base reads it
from intake.settings.base import DATABASES, STAGING_DIR, STORAGES, VAR_DIR

for _folder in (VAR_DIR / "broker", VAR_DIR / "broker-control", VAR_DIR / "mail", VAR_DIR / "static", STAGING_DIR):
    Path(_folder).mkdir(parents=True, exist_ok=True)

# In a file: threads and connections of one test must meet, as they do on a real site.
DATABASES["default"].setdefault("TEST", {})
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["TEST"]["NAME"] = str(VAR_DIR / "test.sqlite3")

DEBUG = False
SECRET_KEY = "for-tests-only"  # noqa: S105  protects nothing
ALLOWED_HOSTS = ["testserver", "127.0.0.1", "localhost"]
DEMO = False
OAI_PMH = True
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {**STORAGES, "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
