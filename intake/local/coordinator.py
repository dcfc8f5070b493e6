"""The first coordinator, who invites everybody else."""

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction

from intake.accounts.models import Role, User
from intake.errors import Refused
from intake.people.models import Person
from intake.people.services import open_account


def has_coordinator() -> bool:
    return User.objects.filter(role=Role.COORDINATOR, is_active=True).exists()


@transaction.atomic
def open_first_account(*, name: str, email: str, password: str) -> User:
    """Open a coordinator's account on the authority of whoever has this computer. Raises Refused."""
    email = email.strip().lower()
    try:
        validate_email(email)
        validate_password(password, User(email=email, name=name))
    except ValidationError as error:
        raise Refused(*error.messages) from error
    if not name.strip():
        raise Refused("Give the coordinator's name.")
    person = Person.objects.create(name=name.strip(), email=email)
    return open_account(person, name=person.name, password=password, role=Role.COORDINATOR)
