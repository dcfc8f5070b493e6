"""The people of the tests, as fixtures. The library, its towns and everybody in it are invented."""

import pytest

from intake.accounts.models import Role, User
from tests.factories import a_user


@pytest.fixture
def volunteer(db: None) -> User:
    return a_user("Tobias Wrenfield", email="tobias@example.org")


@pytest.fixture
def other_volunteer(db: None) -> User:
    return a_user("Lucinda Farrow", email="lucinda@example.org")


@pytest.fixture
def archivist(db: None) -> User:
    return a_user("Ines Halloway", role=Role.ARCHIVIST, email="ines@example.org")


@pytest.fixture
def coordinator(db: None) -> User:
    return a_user("Ottilie Brandt", role=Role.COORDINATOR, email="ottilie@example.org")


@pytest.fixture
def stranger() -> None:
    """Somebody without an account: a browser that nobody has signed in with."""
    return
