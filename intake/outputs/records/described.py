"""What may be said of one accepted interview, as plain facts, from which every kind of record is made."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import Enum


class Role(Enum):
    """A part in the interview, with its term and code in the relators of the Library of Congress (MARC)."""

    NARRATOR = ("interviewee", "ive")
    INTERVIEWER = ("interviewer", "ivr")
    INTERPRETER = ("interpreter", "itr")  # the list's "translator" works in writing

    @property
    def term(self) -> str:
        return self.value[0]

    @property
    def uri(self) -> str:
        return f"http://id.loc.gov/vocabulary/relators/{self.value[1]}"


@dataclass(frozen=True)
class Somebody:
    """A person by name, as it is spoken; empty where the name is withheld."""

    name: str
    role: Role


@dataclass(frozen=True)
class SoundFile:
    """A recording as it was handed in. `told` is such as "WAV, 48 kHz, 24 bit, stereo"."""

    told: str
    container: str
    media_type: str
    bytes: int


@dataclass(frozen=True)
class Described:
    """Names that are withheld are left out by whoever makes it.

    `terms` say in a sentence who may hear it; `closed_until` is the day on which it opens, `licence` a URI, `seconds`
    the length of all recordings, None where one could not be measured. `language` is a BCP 47 tag.
    """

    identifier: str
    title: str
    people: tuple[Somebody, ...]
    summary: str
    recorded_on: date
    place: str
    language: str
    collection: str
    publisher: str
    terms: str
    closed_until: date | None
    is_on_site: bool
    licence: str
    seconds: float | None
    files: tuple[SoundFile, ...]
    accepted_on: date
    changed_at: datetime

    def named(self, role: Role) -> list[str]:
        return [somebody.name for somebody in self.people if somebody.role == role and somebody.name]

    @property
    def withheld(self) -> list[str]:
        """The roles in which a name is withheld, each once."""
        return list(dict.fromkeys(somebody.role.term for somebody in self.people if not somebody.name))

    @property
    def is_restricted(self) -> bool:
        return self.closed_until is not None or self.is_on_site
