"""The library's own words and choices: read anywhere, changed by the coordinator on the set-up page."""

from email.utils import formataddr
from typing import Any

from django.conf import settings
from django.db import transaction

from intake.accounts.models import Role, User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused, refuse_if
from intake.files.models import StoredFile
from intake.library import naming
from intake.library.models import Library, MailSecurity, Step
from intake.library.numbering import faults_of
from intake.library.secret import encrypted

NOWHERE = "no-reply@library.example.org"  # RFC 2606: goes to nobody; nothing leaves a site that has no address yet


def current() -> Library:
    """The library as it is set now."""
    return Library.objects.select_related("logo").filter(pk=1).first() or Library()


@transaction.atomic
def describe(*, name: str, room: str, place: str, contact: str, email: str, actor: User) -> Library:
    """Say what the library is called and how to reach it, as pages, messages and papers tell it from now on."""
    # SECURITY: the name stands in the header of every message, so it is one line.
    lines = {"name": name, "room": room, "place": place, "email": email}
    words = {field: " ".join(text.split()) for field, text in lines.items()}
    return _change(actor, Step.LIBRARY, {**words, "contact": contact.strip()})


@transaction.atomic
def show_logo(logo: StoredFile | None, *, actor: User) -> Library:
    """Put a stored picture at the head of pages and papers, or none. Papers that were made keep what they show."""
    return _change(actor, Step.LOGO, {"logo": logo})


@transaction.atomic
def number_by(pattern: str, *, actor: User, copy_names: str = naming.DEFAULT_PATTERN) -> Library:
    """Choose how the next accession numbers and the names of copies look. What was given stays as it is."""
    pattern, copy_names = pattern.strip(), copy_names.strip()
    refuse_if(faults_of(pattern) + naming.faults_of(copy_names))
    return _change(actor, Step.NUMBERS, {"accession_pattern": pattern, "copy_name_pattern": copy_names})


@transaction.atomic
def send_mail_by(
    *, server: str, port: int, security: str, user: str, password: str | None, sender: str, actor: User
) -> Library:
    """Choose the server that takes the site's mail. `password` None keeps the one that was given before."""
    if user and security == MailSecurity.NONE and server not in {"localhost", "127.0.0.1", "::1"}:
        raise Refused("A password is not sent unprotected over a network: choose STARTTLS or TLS.")
    fields: dict[str, Any] = {
        "mail_server": server.strip(),
        "mail_port": port,
        "mail_security": security,
        "mail_user": user.strip(),
        "mail_from": sender.strip(),
    }
    if password is not None or not user:
        fields["mail_password"] = encrypted(password or "")
    return _change(actor, None, fields)


@transaction.atomic
def settle(step: Step, *, actor: User) -> Library:
    """Say that a step of the set-up is right as it stands."""
    return _change(actor, step, {})


def sender() -> str:
    """The From of every message: the library by its name."""
    if settings.DEFAULT_FROM_EMAIL:
        return settings.DEFAULT_FROM_EMAIL
    library = current()
    return formataddr((library.name, library.mail_from or library.email or NOWHERE))


def mail_leaves() -> bool:
    """Whether messages go to a mail server, set by the environment or by the coordinator, and not into a folder."""
    return bool(settings.EMAIL_HOST if settings.EMAIL_BY_ENVIRONMENT else current().mail_server)


def _change(actor: User, step: Step | None, fields: dict[str, Any]) -> Library:
    """Write the row and the event of it. Values are the library's own and public, but for the mail password."""
    if actor.role != Role.COORDINATOR:
        raise Refused("Only the coordinator changes how the library is set up.")
    Library.objects.get_or_create(pk=1)
    library = Library.objects.select_for_update().get(pk=1)
    before = {name: getattr(library, name) for name in fields}
    changed = sorted(name for name, value in fields.items() if before[name] != value)
    for name, value in fields.items():
        setattr(library, name, value)
    if step and step not in library.settled:
        library.settled = [*library.settled, step.value]
    library.save()
    told = {name: _told(fields[name]) for name in changed if name != "mail_password"}
    record(
        actor=actor,
        action=Action.LIBRARY_CHANGED,
        subject=library,
        names={name: value for name, value in told.items() if name in {"mail_user", "mail_from"}},
        step=step.value if step else "mail",
        changed=changed,
        values={name: value for name, value in told.items() if name not in {"mail_user", "mail_from"}},
    )
    return library


def _told(value: Any) -> str:
    return str(value.pk) if isinstance(value, StoredFile) else str(value)
