"""What may be said of one accepted interview, as plain facts, from which every kind of record is made."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import Enum


class Role(Enum):
    """A part in the interview, with its term and code in the relators of the Library of Congress (MARC)."""

    NARRATOR = ("interviewee", "ive")
    INTERVIEWER = ("interviewer", "ivr")
    INTERPRETER = ("interpreter", "itr")  # the list's "translator" works in writing
    TRANSCRIBER = ("transcriber", "trc")
    RECORDIST = ("recordist", "rcd")
    ALSO_HEARD = ("speaker", "spk")

    @property
    def term(self) -> str:
        return self.value[0]

    @property
    def uri(self) -> str:
        return f"http://id.loc.gov/vocabulary/relators/{self.value[1]}"


@dataclass(frozen=True)
class Somebody:
    """A person by name, as it is spoken; empty where the name is withheld.

    `role` None is somebody who is spoken of. `sorted_name` is the name in catalogue order ("Oskarsen, Marit"), `dates`
    EDTF; both are empty where nobody has written them.
    """

    name: str
    role: Role | None
    sorted_name: str = ""
    variants: tuple[str, ...] = ()
    dates: str = ""
    uri: str = ""

    @property
    def catalogued(self) -> str:
        return self.sorted_name or self.name


@dataclass(frozen=True)
class Point:
    """A heading under which the interview is found; `code` is the MARC source code of its list."""

    label: str
    is_place: bool
    code: str
    uri: str = ""
    latitude: float | None = None
    longitude: float | None = None
    is_where_recorded: bool = False


@dataclass(frozen=True)
class Topic:
    """What is spoken of from a time on, such as "0:12:03"; with the part in front where there are several."""

    at: str
    words: str


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

    `terms` say in a sentence who may hear it; `closed_until` is the day on which it opens, `seconds` the length of all
    recordings, None where one could not be measured. `languages` are BCP 47 tags, `periods` EDTF, `rights` URIs.
    """

    identifier: str
    title: str
    people: tuple[Somebody, ...]
    summary: str
    recorded_on: date
    place: str
    languages: tuple[str, ...]
    collection: str
    publisher: str
    terms: str
    closed_until: date | None
    is_on_site: bool
    rights: tuple[str, ...]
    seconds: float | None
    files: tuple[SoundFile, ...]
    accepted_on: date
    changed_at: datetime
    points: tuple[Point, ...] = ()
    periods: tuple[str, ...] = ()
    outline: tuple[Topic, ...] = ()
    has_transcript: bool = False

    def people_as(self, role: Role | None) -> list[Somebody]:
        """Those in one role whose names may be told."""
        return [somebody for somebody in self.people if somebody.role == role and somebody.name]

    def named(self, role: Role | None) -> list[str]:
        return [somebody.catalogued for somebody in self.people_as(role)]

    @property
    def subjects(self) -> list[Point]:
        return [point for point in self.points if not point.is_place]

    @property
    def places_spoken_of(self) -> list[Point]:
        return [point for point in self.points if point.is_place and not point.is_where_recorded]

    @property
    def places_recorded_at(self) -> list[Point]:
        return [point for point in self.points if point.is_where_recorded]

    @property
    def withheld(self) -> list[str]:
        """The roles in which a name is withheld, each once."""
        return list(
            dict.fromkeys(somebody.role.term for somebody in self.people if somebody.role and not somebody.name)
        )

    @property
    def is_restricted(self) -> bool:
        return self.closed_until is not None or self.is_on_site
