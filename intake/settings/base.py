"""Settings that every way of running the site shares. The environment is read here and in the sibling files only."""

from pathlib import Path
from typing import Any

import environ
from csp.constants import NONCE, NONE, SELF

BASE_DIR = Path(__file__).resolve().parents[2]
env = environ.Env()
env.read_env(BASE_DIR / ".env")

VAR_DIR = Path(env.str("VAR_DIR", default=str(BASE_DIR / "var"))).resolve()

SITE_URL = env.str("SITE_URL", default="http://127.0.0.1:8000")
SECRET_KEY_FILE: Path | None = None
# The certificate (DER, base64) of the authority by which this computer vouches for itself on its own network.
LAN_AUTHORITY = env.str("LAN_AUTHORITY", default="")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "csp",
    "django_htmx",
    "intake",
    "intake.accounts",
    "intake.once",
    "intake.audit",
    "intake.jobs",
    "intake.files",
    "intake.library",
    "intake.mail",
    "intake.people",
    "intake.kits",
    "intake.interviews",
    "intake.releases",
    "intake.qc",
    "intake.review",
    "intake.register",
    "intake.catalogue",
    "intake.queue",
    "intake.outputs",
    "intake.backlog",
    "intake.web",
    "intake.portal",
    "intake.narrator",
    "intake.desk",
    "intake.local",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "intake.web.middleware.keep_nothing",
    "intake.web.middleware.plain_refusals",
    "intake.web.middleware.tell_sent_forms",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "intake.web.second_step.SecondStepMiddleware",
]

ROOT_URLCONF = "intake.urls"
WSGI_APPLICATION = "intake.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "csp.context_processors.nonce",
                "intake.web.context.site",
                "intake.web.context.second_step",
            ],
        },
    },
]
# Form fields are drawn by our own component, so that label, help and errors are tied together for screen readers.
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"


def database() -> dict[str, Any]:
    """DATABASE_URL, by default SQLite in VAR_DIR.

    SQLite takes its write lock at BEGIN, so that writers wait, not fail.
    """
    config: dict[str, Any] = dict(env.db_url("DATABASE_URL", default=f"sqlite:///{VAR_DIR / 'intake.sqlite3'}"))
    if config["ENGINE"].endswith("sqlite3"):
        config["OPTIONS"] = {
            "transaction_mode": "IMMEDIATE",
            "timeout": 30,
            "init_command": "PRAGMA journal_mode=WAL;",
        }
    else:
        config["CONN_HEALTH_CHECKS"] = True
        config["CONN_MAX_AGE"] = 60
    return config


DATABASES = {"default": database()}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
CACHES = {
    "default": {
        **env.cache_url("CACHE_URL", default="locmemcache://"),
        "KEY_PREFIX": env.str("CACHE_KEY_PREFIX", default=""),
    }
}


def store(name: str) -> dict[str, Any]:
    """One of the stores for originals: a folder, or `s3://bucket/prefix` (endpoint and keys from AWS_* variables)."""
    place = env.str(f"{name.upper()}_STORE", default=str(VAR_DIR / "stores" / name))
    if place.startswith("s3://"):
        bucket, _, prefix = place.removeprefix("s3://").partition("/")
        options = {
            "bucket_name": bucket,
            "location": prefix,
            "endpoint_url": env.str("AWS_S3_ENDPOINT_URL", default=None),
            "file_overwrite": False,
        }
        return {"BACKEND": "storages.backends.s3.S3Storage", "OPTIONS": options}
    return {"BACKEND": "django.core.files.storage.FileSystemStorage", "OPTIONS": {"location": place}}


STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.InMemoryStorage"},
    "primary": store("primary"),
    "replica": store("replica"),
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
# The front server's own location for the primary store's folder, such as /stored/: it then sends the files that a page
# has allowed (X-Accel-Redirect). Object storage sends them itself, by links that live for so many seconds; 0 for none.
FRONT_FILES = env.str("FRONT_FILES", default="")
SIGNED_LINK_SECONDS = env.int("SIGNED_LINK_SECONDS", default=0)
# An outside authority that stamps the time on signed papers (RFC 3161); empty for none.
PAPER_STAMP_URL = env.str("PAPER_STAMP_URL", default="")
# How many front servers stand before the web processes: each adds one address to X-Forwarded-For.
ALLAUTH_TRUSTED_PROXY_COUNT = env.int("TRUSTED_PROXIES", default=0)
# Pieces of uploads are gathered here until the whole file has been compared with the volunteer's own digest.
STAGING_DIR = Path(env.str("STAGING_DIR", default=str(VAR_DIR / "staging")))
UPLOAD_MAX_BYTES = env.int("UPLOAD_MAX_BYTES", default=8 * 1024**3)
# All that one volunteer has handed in and the library has not accepted yet; staff have no such limit.
UPLOAD_OPEN_BYTES = env.int("UPLOAD_OPEN_BYTES", default=100 * 10**9)
# All that the site may keep, in each store, what is on its way among it; 0 for no limit but the disk.
UPLOAD_SITE_BYTES = env.int("UPLOAD_SITE_BYTES", default=0)
# With less room than this for new recordings, people are told before they begin, and the desk is warned.
ROOM_LOW_BYTES = env.int("ROOM_LOW_BYTES", default=5 * 10**9)
# An upload that nobody goes on with is given up after so long; each piece moves the day on.
UPLOAD_EXPIRES_DAYS = env.int("UPLOAD_EXPIRES_DAYS", default=14)
# A connection that says nothing for so long in the middle of a piece is dead.
UPLOAD_SILENCE_SECONDS = env.int("UPLOAD_SILENCE_SECONDS", default=30)
# Every stored copy is read again within this many days, at night between these hours of the site's own time.
FIXITY_PERIOD_DAYS = env.int("FIXITY_PERIOD_DAYS", default=90)
FIXITY_NIGHT_BYTES = env.int("FIXITY_NIGHT_BYTES", default=50 * 10**9)
FIXITY_FROM_HOUR = env.int("FIXITY_FROM_HOUR", default=1)
FIXITY_UNTIL_HOUR = env.int("FIXITY_UNTIL_HOUR", default=6)
UPLOAD_PIECE_BYTES = env.int("UPLOAD_PIECE_BYTES", default=16 * 1024**2)

NODE_MODULES = BASE_DIR / "node_modules"
STATIC_URL = "static/"
STATIC_ROOT = Path(env.str("STATIC_ROOT", default=str(VAR_DIR / "static")))
STATICFILES_DIRS = [
    BASE_DIR / "static",
    ("vendor/tus-js-client", NODE_MODULES / "tus-js-client/dist"),
    ("vendor/wavesurfer", NODE_MODULES / "wavesurfer.js/dist"),
    ("vendor/signature_pad", NODE_MODULES / "signature_pad/dist"),
    ("vendor/hash-wasm", NODE_MODULES / "hash-wasm/dist"),
    ("vendor/htmx", NODE_MODULES / "htmx.org/dist"),
]

AUTH_USER_MODEL = "accounts.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_ADAPTER = "intake.web.adapters.AccountAdapter"
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_EMAIL_VERIFICATION = "none"  # accounts exist by invitation or kit code alone
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_PREVENT_ENUMERATION = True
ACCOUNT_SESSION_REMEMBER = False
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
ACCOUNT_FORMS = {
    "login": "intake.web.account_forms.LoginForm",
    "reset_password": "intake.web.account_forms.ResetPasswordForm",
    "reset_password_from_key": "intake.web.account_forms.ResetPasswordKeyForm",
    "change_password": "intake.web.account_forms.ChangePasswordForm",
    "reauthenticate": "intake.web.account_forms.ReauthenticateForm",
}
MFA_FORMS = {
    "authenticate": "intake.web.account_forms.AuthenticateForm",
    "reauthenticate": "intake.web.account_forms.MFAReauthenticateForm",
    "activate_totp": "intake.web.account_forms.ActivateTOTPForm",
}
MFA_ALLOW_UNVERIFIED_EMAIL = True  # an invitation or a loan's code is the proof that somebody is expected
MFA_ADAPTER = "intake.web.adapters.MFAAdapter"
MFA_TOTP_TOLERANCE = 1  # a code that has just changed, or a phone whose clock is half a minute off
# "required": staff set up a second step at sign-in before they reach any page; "offered": they are asked to.
STAFF_SECOND_STEP = env.str("STAFF_SECOND_STEP", default="required")

# The first coordinator of an empty site (manage.py create_coordinator); asked for at the terminal where not given.
FIRST_COORDINATOR_NAME = env.str("FIRST_COORDINATOR_NAME", default="")
FIRST_COORDINATOR_EMAIL = env.str("FIRST_COORDINATOR_EMAIL", default="")
FIRST_COORDINATOR_PASSWORD = env.str("FIRST_COORDINATOR_PASSWORD", default="")

SESSION_COOKIE_AGE = 12 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
# Signed links lead a player to the object store.
OBJECT_STORE_ORIGIN = [env.str("AWS_S3_ENDPOINT_URL", default="https:")] if SIGNED_LINK_SECONDS else []
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF, NONCE],
        "style-src": [SELF, NONCE],
        "img-src": [SELF, "data:", "blob:"],
        "media-src": [SELF, "blob:", *OBJECT_STORE_ORIGIN],
        "connect-src": [SELF],
        "worker-src": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    },
}

LANGUAGE_CODE = "en-gb"
TIME_ZONE = env.str("TIME_ZONE", default="UTC")
USE_TZ = True
USE_I18N = True
DATE_FORMAT = "j M Y"
FORMAT_MODULE_PATH = ["intake.web.formats"]

# Where EMAIL_URL says nothing, the coordinator chooses a mail server on the set-up page.
EMAIL_BY_ENVIRONMENT = bool(env.str("EMAIL_URL", default=""))
if EMAIL_BY_ENVIRONMENT:
    vars().update(env.email_url("EMAIL_URL"))
else:
    EMAIL_BACKEND = "intake.mail.backend.EmailBackend"
EMAIL_FILE_PATH = str(VAR_DIR / "mail")
EMAIL_TIMEOUT = 20  # seconds; a mail server that says nothing must not hold a worker
# Whether descriptions of what anybody may know of are given to harvesters (OAI-PMH 2.0).
OAI_PMH = env.bool("OAI_PMH", default=False)
# The sender of every message; empty for the library by its name and address as the set-up page has them.
DEFAULT_FROM_EMAIL = env.str("DEFAULT_FROM_EMAIL", default="")

CELERY_BROKER_URL = env.str("CELERY_BROKER_URL", default="filesystem://localhost")
CELERY_BROKER_TRANSPORT = "intake.local.broker:Transport" if CELERY_BROKER_URL.startswith("filesystem") else None
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_DEFAULT_QUEUE = "quick"
CELERY_TASK_ACKS_LATE = False  # a lost message is found again by the sweep; a message kept by a dead worker is not
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True


def broker_options(url: str) -> dict[str, Any]:
    """How the broker is reached. A page does not wait for one that is down: the sweep finds the row."""
    if url.startswith("filesystem"):
        return {
            "data_folder_in": str(VAR_DIR / "broker"),
            "data_folder_out": str(VAR_DIR / "broker"),
            "control_folder": str(VAR_DIR / "broker-control"),
            "polling_interval": 0.2,  # seconds
        }
    if url.startswith("redis"):
        prefix = env.str("BROKER_KEY_PREFIX", default="")
        quick = {"max_retries": 1, "interval_start": 0, "interval_step": 0, "socket_connect_timeout": 2}
        return {**quick, **({"global_keyprefix": prefix} if prefix else {})}
    return {}


CELERY_BROKER_TRANSPORT_OPTIONS = broker_options(CELERY_BROKER_URL)
# How long a worker's claim on a job lasts without a heartbeat, and how often due or abandoned work is looked for.
JOB_LEASE_SECONDS = env.int("JOB_LEASE_SECONDS", default=60)
SWEEP_SECONDS = env.int("SWEEP_SECONDS", default=20)
CELERY_BEAT_SCHEDULE = {"sweep": {"task": "intake.jobs.tasks.sweep", "schedule": float(SWEEP_SECONDS)}}
CELERY_BEAT_SCHEDULE_FILENAME = str(VAR_DIR / "beat-schedule")

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name} {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": env.str("LOG_LEVEL", default="INFO")},
    "loggers": {
        "botocore": {"level": "WARNING"},
        "numba": {"level": "WARNING"},
        "PIL": {"level": "WARNING"},
    },
}
