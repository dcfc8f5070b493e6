"""For a server on a network.

TLS, secure cookies, and no default for anything secret (the site does not start without).
"""

from django.core.exceptions import ImproperlyConfigured

from intake.settings.base import *  # noqa: F403  settings modules are meant to be stacked
from intake.settings.base import env

# Without a shared cache each web process would count tries for itself.
for _name in ("SECRET_KEY", "ALLOWED_HOSTS", "SITE_URL", "DATABASE_URL", "CELERY_BROKER_URL", "CACHE_URL"):
    if not env.str(_name):
        raise ImproperlyConfigured(f"Set the {_name} environment variable: it is empty")

DEBUG = False
DEMO = False
SECRET_KEY = env.str("SECRET_KEY")
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS")
SITE_URL = env.str("SITE_URL")
CSRF_TRUSTED_ORIGINS = [SITE_URL]

SECURE_SSL_REDIRECT = True
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_HSTS_SECONDS = env.int("SECURE_HSTS_SECONDS", default=31_536_000)
SECURE_HSTS_INCLUDE_SUBDOMAINS = True
SECURE_HSTS_PRELOAD = True
SESSION_COOKIE_SECURE = True
CSRF_COOKIE_SECURE = True
