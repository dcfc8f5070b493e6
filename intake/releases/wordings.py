"""The wordings in force, and putting a new version into force."""

from django.db import transaction
from django.db.models import Max

from intake.accounts.models import Role, User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused
from intake.interviews.models import Participant
from intake.releases.models import Wording


def in_force() -> list[Wording]:
    """The newest version for each role and language."""
    newest: dict[tuple[str, str], Wording] = {}
    for wording in Wording.objects.order_by("role", "language", "version"):
        newest[wording.role, wording.language] = wording
    return list(newest.values())


@transaction.atomic
def put_into_force(*, role: str, language: str, title: str, text: str, actor: User) -> Wording:
    """Put a text into force as the next version. What was signed before keeps the text that was signed."""
    if actor.role != Role.COORDINATOR:
        raise Refused("Only the coordinator puts a wording into force.")
    title, text = " ".join(title.split()), "\n".join(text.strip().splitlines())
    versions = Wording.objects.filter(role=role, language=language)
    newest = versions.order_by("-version").first()
    if newest and (newest.title, newest.text) == (title, text):
        raise Refused("This is word for word what is in force already.")
    version = (versions.aggregate(last=Max("version"))["last"] or 0) + 1
    wording = Wording.objects.create(role=role, language=language, version=version, title=title, text=text)
    record(
        actor=actor,
        action=Action.WORDING_PUT_INTO_FORCE,
        subject=wording,
        role=Participant.Role(role).value,
        language=language,
        version=version,
        sha256=wording.sha256,
    )
    return wording
