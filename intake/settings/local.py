"""One computer, nothing to configure: everything under VAR_DIR. `make demo` and `make start` run with these."""

import os

from django.core.management.utils import get_random_secret_key
from tzlocal import get_localzone_name

from intake.settings.base import *  # noqa: F403  settings modules are meant to be stacked
from intake.settings.base import SITE_URL, STAGING_DIR, VAR_DIR, env

for _folder in (VAR_DIR, VAR_DIR / "broker", VAR_DIR / "broker-control", VAR_DIR / "mail", STAGING_DIR):
    _folder.mkdir(parents=True, exist_ok=True)


def _secret_key() -> str:
    """Made once for this computer and kept readable by its owner alone."""
    path = VAR_DIR / "secret_key"
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_text()
    with os.fdopen(handle, "w") as file:
        file.write(get_random_secret_key())
    return path.read_text()


# Where the key of this computer lies, unless the environment gives one: a backup is restored with its own.
SECRET_KEY_FILE = None if env.str("SECRET_KEY", default="") else VAR_DIR / "secret_key"
TIME_ZONE = env.str("TIME_ZONE", default="") or get_localzone_name()
DEBUG = env.bool("DEBUG", default=False)
SECRET_KEY = env.str("SECRET_KEY", default="") or _secret_key()
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["127.0.0.1", "localhost", "[::1]"])
# Names and addresses of this computer on its own network, where it is reached over HTTPS alone.
LAN_HOSTS = env.list("LAN_HOSTS", default=[])
ALLOWED_HOSTS = [*ALLOWED_HOSTS, *LAN_HOSTS]
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = bool(LAN_HOSTS)
CSRF_TRUSTED_ORIGINS = [SITE_URL] if LAN_HOSTS else []
DEMO = env.bool("DEMO", default=False)
