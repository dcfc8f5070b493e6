"""Letters on paper: the library's own texts to begin with, and the letter that one person gets."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.db import transaction
from django.utils import timezone

from intake.accounts.models import Role, User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused, refuse_if
from intake.interviews import lifecycle
from intake.interviews.models import TAKEN_IN, Interview, Participant, State
from intake.jobs.models import Kind
from intake.jobs.services import enqueue
from intake.library.placeholders import NOBODY, day_in, faults_of, fill
from intake.outputs.models import Letter, LetterKind, LetterText
from intake.outputs.naming import names_told, title_told
from intake.people.models import Person
from intake.people.services import address_of
from intake.register.services import standing

STARTER = Path(__file__).parent / "starter"
LANGUAGES = ("en", "es")
LONGEST = 20_000
# Each with what it stands for, as the coordinator reads it.
PLACEHOLDERS = {
    "name": "whom the letter is for",
    "library": "the library's name",
    "room": "the room in the library that takes interviews in",
    "sender": "whoever writes it",
    "title": "the interview's title",
    "narrators": "the narrators of the interview",
    "recorded_on": "the day of the recording",
    "place": "the place of the recording",
    "collection": "the collection that the interview belongs to",
    "accession": "its accession number, once it is accepted",
    "message": "what the reviewer wrote",
}
# At which stages a letter of a kind is written.
WRITTEN_WHEN = {
    LetterKind.THANKS: TAKEN_IN,
    LetterKind.RETURN: {State.RETURNED},
    LetterKind.DECLINE: {State.DECLINED},
}


@dataclass(frozen=True)
class StandingText:
    """The text in force for letters of a kind in a language; `is_ours` once the library has written its own."""

    kind: LetterKind
    language: str
    text: str
    is_ours: bool


def standing_texts() -> list[StandingText]:
    return [standing_text(kind, language) for kind in LetterKind for language in LANGUAGES]


def standing_text(kind: str, language: str) -> StandingText:
    """The library's text, else the one that comes with the site; in English where there is none in the language."""
    kind, near = LetterKind(kind), language.partition("-")[0]
    found = near if near in LANGUAGES else "en"
    written = LetterText.objects.filter(kind=kind, language=found).last()
    return StandingText(kind, found, written.text if written else _starter(kind, found), written is not None)


@transaction.atomic
def put_text_into_force(*, kind: str, language: str, text: str, actor: User) -> LetterText:
    """Let letters of a kind begin with this text from now on. Those that were written stay as they are."""
    if actor.role != Role.COORDINATOR:
        raise Refused("Only the coordinator changes the library's letters.")
    text = _tidy(text)
    refuse_if(_faults(text) + faults_of(text, PLACEHOLDERS))
    if text == standing_text(kind, language).text:
        raise Refused("This is word for word what is in force already.")
    kept = LetterText.objects.create(kind=LetterKind(kind), language=language, text=text, written_by=actor)
    record(actor=actor, action=Action.LETTER_TEXT_CHANGED, subject=kept, kind=kept.kind, language=language)
    return kept


def example_of(text: str) -> str:
    """The text with an invented interview in it, for the coordinator to look at."""
    invented = {
        "name": "Marit Oskarsen",
        "sender": "Ines Calloway",
        "title": "Marit Oskarsen on the winter ferry",
        "narrators": "Marit Oskarsen",
        "recorded_on": "14 Mar 2026",
        "place": "The kitchen of the old toll house",
        "collection": "Both Banks: the crossing years",
        "accession": "2026.001",
        "message": "Please add the day of the second recording.",
    }
    return fill(text, invented)


def begun(kind: str, person: Person, interview: Interview, *, language: str, sender: User, message: str = "") -> str:
    """The standing text with everything filled in, for somebody to go on with."""
    text = standing_text(kind, language)
    accession = standing(interview)
    known = {
        "name": person.name,
        "sender": sender.name,
        "title": title_told(interview),
        "narrators": ", ".join(names_told(interview, Participant.Role.NARRATOR)) or NOBODY,
        "recorded_on": day_in(text.language, interview.recorded_on),
        "place": interview.place,
        "collection": interview.collection.name,
        "accession": accession.number if accession else NOBODY,
        "message": message or NOBODY,
    }
    return fill(text.text, known)


def kind_for(interview: Interview) -> LetterKind | None:
    """The kind of letter that belongs to the stage an interview is at."""
    return next((kind for kind, states in WRITTEN_WHEN.items() if interview.state in states), None)


def addressees_of(interview: Interview) -> list[Person]:
    """Who may be written to: the narrators and whoever else signs, and the giver."""
    named = [one.person for one in interview.participants.select_related("person__user")]
    return list({person.pk: person for person in [*named, interview.given_by]}.values())


@transaction.atomic
def write_letter(
    interview_id: int, *, kind: str, person: Person, language: str, text: str, by_email: bool, actor: User
) -> Letter:
    """Write a letter as it stands; its paper is made by a job, and sent if it goes by e-mail."""
    if not actor.is_archivist:
        raise Refused("Only the library's staff write its letters.")
    interview = lifecycle.locked(interview_id)
    if kind != kind_for(interview):
        raise Refused("The interview has moved on meanwhile: this kind of letter does not belong to its stage now.")
    if person not in addressees_of(interview):
        raise Refused("A letter goes to somebody who takes part in the interview or gave it.")
    if by_email and not address_of(person):
        raise Refused(f"{person} has no e-mail address here. Print the letter and send it by post.")
    text = _tidy(text)
    refuse_if(_faults(text))
    letter = Letter.objects.create(
        interview=interview,
        kind=LetterKind(kind),
        person=person,
        language=language,
        text=text,
        by_email=by_email,
        written_by=actor,
        written_at=timezone.now(),
    )
    record(
        actor=actor,
        action=Action.LETTER_WRITTEN,
        subject=letter,
        thread=interview,
        names={"to": person.name},
        kind=letter.kind,
    )
    enqueue(Kind.MAKE_LETTER, letter.pk)
    return letter


def _faults(text: str) -> list[str]:
    if not text:
        return ["Write what the letter says."]
    return [f"Keep the letter under {LONGEST:,} characters."] if len(text) > LONGEST else []


def _tidy(text: str) -> str:
    return "\n".join(line.rstrip() for line in text.strip().splitlines())


@cache
def _starter(kind: str, language: str) -> str:
    return (STARTER / f"{kind}.{language}.txt").read_text().strip()
