"""An invitation: a link by e-mail that opens one account, once, for a while."""

import pytest

from intake.accounts.models import Role, User
from intake.audit.actions import Action
from intake.audit.models import Event
from intake.codes import digest_of
from intake.errors import Refused
from intake.mail.models import Message
from intake.people import services as people
from intake.people.models import Invitation, Person
from tests.factories import PASSWORD, at_time, later


@pytest.fixture
def invited(archivist):
    """The secret of a link sent to a new volunteer."""
    return invite(archivist)


def invite(actor, *, role=Role.VOLUNTEER, email="Lucinda@example.org", name="Lucinda Farrow") -> str:
    secrets = []

    def url_for(token):
        secrets.append(token)
        return f"https://history.example.org/welcome/{token}/"

    people.invite(name=name, email=email, role=role, actor=actor, url_for=url_for)
    return secrets[0]


def accept(token) -> User:
    return people.accept_invitation(token, name="Lucinda Farrow", password=PASSWORD)


def test_the_link_goes_out_by_e_mail(invited):
    message = Message.objects.get()
    assert message.to == "lucinda@example.org"
    assert f"https://history.example.org/welcome/{invited}/" in message.text
    assert "Lucinda Farrow" in message.text
    assert "Ines Halloway" in message.text


def test_the_link_opens_an_account_in_its_role(invited):
    user = accept(invited)
    assert (user.email, user.role, user.name) == ("lucinda@example.org", Role.VOLUNTEER, "Lucinda Farrow")
    assert user.check_password(PASSWORD)
    assert user.person == Person.objects.get(email="lucinda@example.org")


def test_the_link_works_once(invited):
    accept(invited)
    for again in (people.open_invitation, accept):
        with pytest.raises(Refused, match="used or is too old"):
            again(invited)
    assert User.objects.filter(email="lucinda@example.org").count() == 1


def test_looking_at_the_link_does_not_spend_it(invited):
    """Mail scanners open links."""
    people.open_invitation(invited)
    assert people.open_invitation(invited).person.name == "Lucinda Farrow"


def test_the_link_expires(invited):
    with at_time(later(days=13, hours=23)):
        assert people.open_invitation(invited)
    with at_time(later(days=14, hours=1)), pytest.raises(Refused, match="too old"):
        accept(invited)


def test_another_secret_opens_nothing(invited):
    with pytest.raises(Refused):
        people.open_invitation(invited[:-1])


def test_only_the_digest_of_the_secret_is_kept_with_the_invitation(invited):
    kept = Invitation.objects.values().get()
    assert invited not in str(kept)
    assert kept["token_sha256"] == digest_of(invited)


def test_an_account_that_could_not_be_opened_leaves_the_link_unspent(invited, archivist):
    User.objects.create_user("lucinda@example.org", PASSWORD, name="Lucinda Farrow", role=Role.VOLUNTEER)
    with pytest.raises(Refused, match="has an account already"):
        accept(invited)
    assert Invitation.objects.get().used_at is None


@pytest.mark.parametrize("role", [Role.ARCHIVIST, Role.COORDINATOR])
def test_only_the_coordinator_invites_staff(archivist, coordinator, role):
    with pytest.raises(Refused, match="Only the coordinator invites staff"):
        invite(archivist, role=role)
    assert not Message.objects.exists()
    assert accept(invite(coordinator, role=role)).role == role


def test_nobody_with_an_account_is_invited_again(archivist, volunteer):
    with pytest.raises(Refused, match="has an account already"):
        invite(archivist, email="TOBIAS@example.org")


def test_somebody_invited_twice_is_one_person(archivist):
    invite(archivist)
    invite(archivist)
    assert Person.objects.filter(email="lucinda@example.org").count() == 1


def test_a_new_invitation_ends_the_one_before(archivist, coordinator):
    """A link sent with the wrong role must not go on working beside the right one."""
    wrong = invite(coordinator, role=Role.ARCHIVIST)
    right = invite(coordinator)
    with pytest.raises(Refused, match="used or is too old"):
        accept(wrong)
    assert accept(right).role == Role.VOLUNTEER


def test_inviting_and_opening_are_recorded(invited, archivist):
    user = accept(invited)
    told = {event.action: event for event in Event.objects.select_related("names")}
    assert told[Action.VOLUNTEER_INVITED].actor == archivist
    assert told[Action.ACCOUNT_OPENED].actor == user
    assert told[Action.VOLUNTEER_INVITED].names.names == {"name": "Lucinda Farrow"}
    assert "Lucinda" not in str([event.details for event in told.values()])


def test_an_account_has_one_person_behind_it(volunteer):
    assert people.person_of(volunteer) == people.person_of(volunteer)
    assert people.person_of(volunteer).email == volunteer.email
