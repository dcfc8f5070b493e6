"""The wordings in force, what stands in for their placeholders, and putting a new version into force."""

import hashlib
from collections.abc import Sequence

from django.db import transaction
from django.db.models import Max

from intake.accounts.models import Role, User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused, refuse_if
from intake.interviews.models import Participant
from intake.library.placeholders import NOBODY, day_in, faults_of, fill
from intake.people.models import Person
from intake.releases.models import Basis, Moment, Wording

# Each with what it stands for, as the coordinator reads it.
PLACEHOLDERS = {
    "library": "the library's name",
    "room": "the room in the library that takes interviews in",
    "signer": "whoever signs this",
    "narrators": "the narrators of the interview",
    "interviewers": "the interviewers",
    "recorded_on": "the day of the recording",
    "place": "the place of the recording",
    "collection": "the collection that the interview belongs to",
}


def in_force() -> list[Wording]:
    """The newest version for each moment, role and language."""
    newest: dict[tuple[str, str, str], Wording] = {}
    for wording in Wording.objects.order_by("moment", "role", "language", "version"):
        newest[wording.moment, wording.role, wording.language] = wording
    return list(newest.values())


def offered_to(moment: str, role: str) -> list[Wording]:
    """The newest wording in each language, for the signer to choose from."""
    return [wording for wording in in_force() if (wording.moment, wording.role) == (moment, role)]


def wording_for(moment: str, role: str, language: str) -> Wording:
    """The newest wording for a role in this language or one near to it, else in English. Raises Refused."""
    offered = {wording.language: wording for wording in offered_to(moment, role)}
    for wanted in (language, language.partition("-")[0], "en"):
        if wanted in offered:
            return offered[wanted]
    raise Refused("The library has not put a wording for this into force yet. Ask the coordinator.")


def filled(wording: Wording, participant: Participant) -> str:
    """The text as this person reads and signs it."""
    interview = participant.interview
    return fill(
        wording.text,
        {
            "signer": participant.person.name,
            "narrators": _listed(interview.people(Participant.Role.NARRATOR)),
            "interviewers": _listed(interview.people(Participant.Role.INTERVIEWER)),
            "recorded_on": day_in(wording.language, interview.recorded_on),
            "place": interview.place,
            "collection": interview.collection.name,
        },
    )


def example_of(text: str) -> str:
    """The text with an invented interview in it, for the coordinator to look at."""
    invented = {
        "signer": "Marit Oskarsen",
        "narrators": "Marit Oskarsen",
        "interviewers": "Tobias Wrenfield",
        "recorded_on": "14 Mar 2026",
        "place": "The kitchen of the old toll house",
        "collection": "Both Banks: the crossing years",
    }
    return fill(text, invented)


def digest_of_text(text: str) -> str:
    """The SHA-256 of a text as it is signed, in UTF-8."""
    return hashlib.sha256(text.encode()).hexdigest()


@transaction.atomic
def put_into_force(*, moment: str, role: str, language: str, basis: str, title: str, text: str, actor: User) -> Wording:
    """Put a text into force as the next version. What was signed before keeps the text that was signed."""
    if actor.role != Role.COORDINATOR:
        raise Refused("Only the coordinator puts a wording into force.")
    title, text = " ".join(title.split()), "\n".join(text.strip().splitlines())
    basis = basis if moment == Moment.RELEASE else ""
    if moment == Moment.RELEASE and basis not in Basis.values:
        raise Refused("Say what the release gives the library: a licence, the copyright, or the keeping of it.")
    refuse_if(faults_of(text, PLACEHOLDERS))
    versions = Wording.objects.filter(moment=moment, role=role, language=language)
    newest = versions.order_by("-version").first()
    if newest and (newest.basis, newest.title, newest.text) == (basis, title, text):
        raise Refused("This is word for word what is in force already.")
    version = (versions.aggregate(last=Max("version"))["last"] or 0) + 1
    wording = Wording.objects.create(
        moment=moment, role=role, language=language, version=version, basis=basis, title=title, text=text
    )
    record(
        actor=actor,
        action=Action.WORDING_PUT_INTO_FORCE,
        subject=wording,
        moment=moment,
        role=Participant.Role(role).value,
        language=language,
        version=version,
        sha256=digest_of_text(text),
    )
    return wording


def _listed(people: Sequence[Person]) -> str:
    return ", ".join(person.name for person in people) or NOBODY
