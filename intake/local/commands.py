"""The site's processes, as command lines: the same ones on one computer, in containers and in the tests."""

import sys

# All kinds of work on one worker; a larger house gives `measure` workers of its own (README.md).
QUEUES = "quick,files,measure,mail"


def web(bind: str, *tls: str) -> list[str]:
    """The web server on `bind` (address:port). Threads, because a slow upload holds one for as long as it sends.

    `tls` is empty, or the files of a certificate and its key.
    """
    return [
        *_module("gunicorn"),
        "intake.wsgi",
        f"--bind={bind}",
        "--worker-class=gthread",
        "--workers=1",
        "--threads=8",
        "--timeout=120",
        "--graceful-timeout=8",
        "--no-control-socket",
        "--access-logfile=-",
        *(f"--{option}={path}" for option, path in zip(("certfile", "keyfile"), tls, strict=False)),
    ]


def worker(name: str) -> list[str]:
    """A Celery worker; `name` tells workers of a broker apart. It needs no news of others: job rows are the truth."""
    return [
        *_module("celery"),
        "--app=intake",
        "worker",
        f"--queues={QUEUES}",
        "--concurrency=2",
        f"--hostname={name}@%h",
        "--without-gossip",
        "--without-mingle",
        "--without-heartbeat",
        "--loglevel=INFO",
    ]


def beat() -> list[str]:
    """The clock that starts the sweep; one for the whole house."""
    return [*_module("celery"), "--app=intake", "beat", "--loglevel=INFO"]


def manage(*arguments: str) -> list[str]:
    return [*_module("django"), *arguments]


def _module(name: str) -> list[str]:
    return [sys.executable, "-m", name]
