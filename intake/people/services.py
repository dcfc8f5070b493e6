"""Invite, open an account, note a person, find one again."""

import unicodedata
from collections.abc import Callable, Sequence
from datetime import timedelta

from django.db import transaction
from django.utils import timezone

from intake.accounts.models import Role, User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.codes import digest_of, link_token
from intake.errors import Refused
from intake.mail import services as mail
from intake.people.models import Invitation, Person

INVITATION_LASTS = timedelta(days=14)
DEAD_LINK = "This link has been used or is too old. Ask the library for a new one."


@transaction.atomic
def invite(*, name: str, email: str, role: str, actor: User, url_for: Callable[[str], str]) -> Invitation:
    """Note the person and send a link that opens an account in `role`; an earlier link ends.

    Only a coordinator invites staff.
    """
    # One invitation at a time by one person: two clicks would leave two links that both work.
    User.objects.select_for_update().get(pk=actor.pk)
    email = email.lower()
    if role != Role.VOLUNTEER and actor.role != Role.COORDINATOR:
        raise Refused("Only the coordinator invites staff.")
    if User.objects.filter(email=email).exists():
        raise Refused(f"{email} has an account already.")
    person, now = _invited_person(name, email, actor), timezone.now()
    person.invitations.filter(used_at=None, expires_at__gt=now).update(expires_at=now)
    token = link_token()
    invitation = Invitation.objects.create(
        person=person,
        role=role,
        token_sha256=digest_of(token),
        invited_by=actor,
        expires_at=now + INVITATION_LASTS,
    )
    mail.write(
        key=f"invitation-{invitation.pk}",
        to=email,
        template="invitation",
        thread=person,
        holds_secret=True,
        context={"name": name, "url": url_for(token), "expires_at": invitation.expires_at, "invited_by": actor.name},
    )
    record(actor=actor, action=Action.VOLUNTEER_INVITED, subject=person, names={"name": name}, role=role)
    return invitation


def open_invitation(token: str) -> Invitation:
    """The invitation behind a link that still works. Raises Refused."""
    invitation = Invitation.objects.select_related("person").filter(token_sha256=digest_of(token)).first()
    if invitation is None or invitation.used_at or invitation.expires_at <= timezone.now():
        raise Refused(DEAD_LINK)
    return invitation


@transaction.atomic
def accept_invitation(token: str, *, name: str, password: str) -> User:
    """Spend the link and open the account. The spending is one conditional UPDATE: two clicks open one account."""
    invitation = open_invitation(token)
    if not Invitation.objects.filter(pk=invitation.pk, used_at=None).update(used_at=timezone.now()):
        raise Refused(DEAD_LINK)
    return open_account(invitation.person, name=name, password=password, role=invitation.role)


@transaction.atomic
def open_account(person: Person, *, name: str, password: str, role: str) -> User:
    """Give a known person a sign-in at their e-mail address."""
    if person.user or User.objects.filter(email=person.email).exists():
        raise Refused(f"{address_of(person)} has an account already. Sign in with it.")
    user = User.objects.create_user(person.email, password, name=name, role=role)
    person.user, person.name = user, name
    person.save(update_fields=["user", "name"])
    record(actor=user, action=Action.ACCOUNT_OPENED, subject=person, names={"name": name}, role=role)
    return user


@transaction.atomic
def close_account(user: User, *, reason: str, actor: User) -> None:
    """They cannot sign in any more, and are signed out where they are. What they did stays theirs."""
    _refuse_unless_in_charge(user, actor)
    if user.pk == actor.pk:
        raise Refused("Nobody closes their own account: ask a colleague.")
    if not User.objects.filter(pk=user.pk, is_active=True).update(is_active=False):
        raise Refused(f"The account of {user} is closed already.")
    record(
        actor=actor,
        action=Action.ACCOUNT_CLOSED,
        subject=person_of(user),
        names={"name": user.name, "reason": reason},
    )


@transaction.atomic
def reopen_account(user: User, *, actor: User) -> None:
    """They have come back, or the account was closed by mistake."""
    _refuse_unless_in_charge(user, actor)
    if not User.objects.filter(pk=user.pk, is_active=False).update(is_active=True):
        raise Refused(f"The account of {user} is open already.")
    record(actor=actor, action=Action.ACCOUNT_REOPENED, subject=person_of(user), names={"name": user.name})


def _refuse_unless_in_charge(user: User, actor: User) -> None:
    if not actor.is_archivist:
        raise Refused("Only the library's staff close and open accounts.")
    if user.is_archivist and actor.role != Role.COORDINATOR:
        raise Refused("Only the coordinator does this for somebody of the staff.")


def note_person(*, name: str, email: str, actor: User) -> Person:
    """Write a person down.

    Two people may share a name, and one may be written down twice; staff sort that out, not a guess.
    """
    return Person.objects.create(name=" ".join(name.split()), email=email.strip().lower(), noted_by=actor)


def find(words: str, *, at_most: int = 20) -> list[Person]:
    """Known persons whose name or e-mail address holds these words; case and accents do not matter.

    A record that was merged into another is not offered: the other stands for it.
    """
    wanted = folded(words)
    if not wanted:
        return []
    known = Person.objects.filter(merged_into=None).select_related("user").order_by("name", "pk")
    return [person for person in known if wanted in folded(f"{person.name} {address_of(person)}")][:at_most]


def folded(name: str) -> str:
    """A name as it is compared: without case, accents and needless spaces."""
    letters = unicodedata.normalize("NFKD", name.casefold())
    return " ".join("".join(sign for sign in letters if not unicodedata.combining(sign)).split())


def correct(person: Person, *, name: str, email: str) -> None:
    """Put a person's name and address right."""
    person.name, person.email = " ".join(name.split()), email.strip().lower()
    person.save(update_fields=["name", "email"])


@transaction.atomic
def name_for_catalogue(
    person_id: int, *, catalogue_name: str, variant_names: Sequence[str], life_dates: str, uri: str, actor: User
) -> Person:
    """Keep how records name a person, and the other names by which they are found."""
    person = Person.objects.select_for_update().get(pk=person_id)
    person.catalogue_name, person.variant_names = catalogue_name, list(variant_names)
    person.life_dates, person.uri = life_dates, uri
    person.save(update_fields=["catalogue_name", "variant_names", "life_dates", "uri"])
    names = {"catalogue name": catalogue_name, "variants": "; ".join(variant_names), "dates": life_dates}
    record(actor=actor, action=Action.PERSON_NAMED, subject=person, names=names)
    return person


def person_of(user: User) -> Person:
    """The person behind an account."""
    person, _ = Person.objects.get_or_create(user=user, defaults={"name": user.name, "email": user.email})
    return person


def address_of(person: Person) -> str:
    """Where to write to them: at the address they sign in with, if they have an account. Empty if none is known."""
    return person.user.email if person.user else person.email


def _invited_person(name: str, email: str, actor: User) -> Person:
    known = Person.objects.filter(email=email, user=None, invitations__isnull=False).first()
    return known or note_person(name=name, email=email, actor=actor)
