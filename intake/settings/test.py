"""For pytest: fast hashing, files in a folder of this run, the database of DATABASE_URL or SQLite."""

import os
import tempfile
from pathlib import Path

os.environ.setdefault("VAR_DIR", tempfile.mkdtemp(prefix="intake-test-"))

from intake.settings.base import *  # noqa: F403  VAR_DIR must be set before base reads it
from intake.settings.base import STAGING_DIR, STORAGES, VAR_DIR

for _folder in (VAR_DIR / "broker", VAR_DIR / "broker-control", VAR_DIR / "mail", STAGING_DIR):
    Path(_folder).mkdir(parents=True, exist_ok=True)

DEBUG = False
SECRET_KEY = "for-tests-only"  # noqa: S105  protects nothing
ALLOWED_HOSTS = ["testserver", "127.0.0.1", "localhost"]
DEMO = False
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {**STORAGES, "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
