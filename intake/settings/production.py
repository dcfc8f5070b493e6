"""For a server on a network.

TLS, secure cookies, and no default for anything secret (the site does not start without).
"""

from intake.settings.base import *  # noqa: F403  settings modules are meant to be stacked
from intake.settings.base import env

DEBUG = False
DEMO = False
SECRET_KEY = env.str("SECRET_KEY")
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS")
SITE_URL = env.str("SITE_URL")
CSRF_TRUSTED_ORIGINS = [SITE_URL]
env.str("DATABASE_URL")
env.str("CELERY_BROKER_URL")
env.str("CACHE_URL")  # rate limits must be shared by all web processes
env.str("EMAIL_URL")  # without it invitations and receipts would lie in a folder, unread

SECURE_SSL_REDIRECT = True
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_HSTS_SECONDS = env.int("SECURE_HSTS_SECONDS", default=31_536_000)
SECURE_HSTS_INCLUDE_SUBDOMAINS = True
SECURE_HSTS_PRELOAD = True
SESSION_COOKIE_SECURE = True
CSRF_COOKIE_SECURE = True
