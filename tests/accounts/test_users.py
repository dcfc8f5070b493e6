"""Accounts: the address is the sign-in name, and each has a known role."""

import pytest
from django.contrib.auth import authenticate
from django.db import IntegrityError

from intake.accounts.models import Role, User
from intake.web.adapters import AccountAdapter
from tests.factories import PASSWORD, a_user


def test_an_address_is_kept_in_small_letters(db):
    assert a_user(email="Tobias@Example.ORG").email == "tobias@example.org"


def test_two_accounts_cannot_share_an_address(volunteer):
    with pytest.raises(IntegrityError):
        User.objects.create_user("TOBIAS@example.org", PASSWORD, name="Somebody Else", role=Role.VOLUNTEER)


def test_the_database_refuses_a_role_that_nobody_knows(db):
    with pytest.raises(IntegrityError, match="user_has_a_known_role"):
        User.objects.create_user("a@example.org", PASSWORD, name="A", role="root")


def test_the_password_is_kept_as_a_hash_alone(volunteer):
    assert PASSWORD not in volunteer.password
    assert volunteer.check_password(PASSWORD)


def test_an_account_signs_in_with_its_address_in_any_letters(volunteer, rf):
    assert authenticate(rf.post("/"), email="Tobias@example.org", password=PASSWORD) == volunteer


def test_a_closed_account_does_not_sign_in(volunteer, rf):
    volunteer.is_active = False
    volunteer.save()
    assert authenticate(rf.post("/"), email=volunteer.email, password=PASSWORD) is None


@pytest.mark.parametrize(("role", "is_staff"), [("volunteer", False), ("archivist", True), ("coordinator", True)])
def test_archivists_and_the_coordinator_are_staff(role, is_staff):
    assert User(role=role).is_archivist is is_staff


def test_nobody_opens_an_account_by_signing_up(rf):
    assert AccountAdapter().is_open_for_signup(rf.get("/")) is False
