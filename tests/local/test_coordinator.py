"""The first coordinator's account."""

import os
import pty
import re
import select
import sys
import time
from pathlib import Path

import pytest

from intake.accounts.models import Role, User
from intake.audit.models import Event
from intake.errors import Refused
from intake.local.coordinator import has_coordinator, open_first_account
from tests.local.alone import FOLDER, environment, manage

GOOD = {"name": "Corin Ashgrove", "email": "Corin.Ashgrove@example.org", "password": "north-landing-bell"}


@pytest.mark.django_db
def test_the_first_coordinator_can_sign_in_and_is_recorded() -> None:
    user = open_first_account(**GOOD)
    assert user.role == Role.COORDINATOR
    assert user.email == "corin.ashgrove@example.org"
    assert user.check_password(GOOD["password"])
    assert has_coordinator()
    assert Event.objects.get().actor == user


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"password": "short"}, "too short"),
        ({"password": "corin.ashgrove"}, "too similar"),
        ({"email": "nowhere"}, "valid email"),
        ({"name": "  "}, "name"),
    ],
)
def test_what_cannot_be_used_is_refused_in_words(wrong: dict[str, str], told: str) -> None:
    with pytest.raises(Refused, match=told):
        open_first_account(**GOOD | wrong)
    assert not User.objects.exists()


@pytest.mark.processes
def test_it_asks_at_a_terminal_until_the_answers_can_be_used(tmp_path: Path) -> None:
    var_dir = {"VAR_DIR": str(tmp_path), "DJANGO_SETTINGS_MODULE": "intake.settings.local"}
    assert manage("migrate", "--verbosity=0", **var_dir).returncode == 0
    answers = [
        ("Name: ", "Corin Ashgrove"),
        ("E-mail address: ", "corin.ashgrove@example.org"),
        ("Password .*: ", "short"),
        ("The same again: ", "short"),
        (r"Name \[Corin Ashgrove\]: ", ""),
        (r"E-mail address \[.*\]: ", ""),
        ("Password .*: ", "north-landing-bell"),
        ("The same again: ", "north-landing-bel"),
        ("not the same(.|\\s)*Password .*: ", "north-landing-bell"),
        ("The same again: ", "north-landing-bell"),
    ]
    printed = at_a_terminal(["manage.py", "create_coordinator"], answers, environment(**var_dir))
    assert "too short" in printed
    assert "Corin Ashgrove can sign in now with corin.ashgrove@example.org." in printed
    assert "north-landing" not in printed, "a password is never shown"


def at_a_terminal(arguments: list[str], answers: list[tuple[str, str]], told: dict[str, str]) -> str:
    """Run Python in a pseudo-terminal, give each answer after its question, and return all that was shown."""
    pid, terminal = pty.fork()
    if pid == 0:
        os.chdir(FOLDER)
        os.execve(sys.executable, [sys.executable, *arguments], told)
    shown = ""
    for question, answer in answers:
        seen = len(shown)
        deadline = time.monotonic() + 30
        while not re.search(f"{question}$", shown[seen:]):
            assert time.monotonic() < deadline, f"“{question}” was not asked:\n{shown}"
            shown += _more(terminal)
        os.write(terminal, f"{answer}\n".encode())
    while more := _more(terminal):
        shown += more
    _, status = os.waitpid(pid, 0)
    os.close(terminal)
    assert os.waitstatus_to_exitcode(status) == 0, shown
    return shown


def _more(terminal: int) -> str:
    """What was printed since; empty when the program has ended."""
    if not select.select([terminal], [], [], 30)[0]:
        return ""
    try:
        return os.read(terminal, 4096).decode()
    except OSError:  # Linux ends a pseudo-terminal with an input/output error
        return ""
