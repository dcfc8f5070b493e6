"""The invented people and interviews of the demo. Nobody here lives or lived; the addresses lead nowhere."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from intake.accounts.models import Role
from intake.local import voices
from intake.local.voices import Sound, Studio

LIBRARY = {
    "name": "Alder Ferry Public Library",
    "room": "Local History Room",
    "place": "Alder Ferry",
    "contact": "3 Landing Lane, Alder Ferry",
    "email": "history@alderferry.example.org",
}
COLLECTION = "Both Banks: the crossing years"
PASSWORD = "ferry-bell-2026"  # noqa: S105  printed at every start of the demo, and good for nothing else

KITS = {
    "FK-01": "Recorder\nMemory card, 32 GB\nTwo clip-on microphones\nHeadphones\nMains adapter\nPrinted release forms",
    "FK-02": "Recorder\nMemory card, 32 GB\nTable stand\nWind cover\nHeadphones\nFour AA batteries",
}
BORROWER = ("Nell Ardwick", "nell.ardwick@example.org")
LENT_KIT = "FK-02"


@dataclass(frozen=True)
class Account:
    name: str
    email: str
    role: str


COORDINATOR = Account("Corin Ashgrove", "corin.ashgrove@example.org", Role.COORDINATOR)
ARCHIVIST = Account("Ines Halloway", "ines.halloway@example.org", Role.ARCHIVIST)
TOBIAS = Account("Tobias Wrenfield", "tobias.wrenfield@example.org", Role.VOLUNTEER)
DALIA = Account("Dalia Fennimore", "dalia.fennimore@example.org", Role.VOLUNTEER)
INVITED = (ARCHIVIST, TOBIAS, DALIA)


@dataclass(frozen=True)
class Recording:
    """One file on the recorder's card; `make` gives its sound, `marks` the seconds at which the button was pressed."""

    name: str
    make: Callable[[], Sound]
    marks: tuple[float, ...] = ()


@dataclass(frozen=True)
class Story:
    """One interview of the demo, as its volunteer wrote it down."""

    volunteer: Account
    narrator: str
    narrator_email: str
    recorded_on: date
    place: str
    summary: str
    names_and_spellings: str = ""
    context_notes: str = ""
    recordings: tuple[Recording, ...] = ()


def _ferry() -> Sound:
    return Studio(41).conversation(voices.OLD_FERRYMAN, seconds=38)


def _toll_house() -> Sound:
    return Studio(42).conversation(voices.TOLL_KEEPER, seconds=28)


def _school_boat() -> Sound:
    """Too quiet: the recorder stood at the far end of the table."""
    return Studio(43).conversation(voices.SCHOOLTEACHER, seconds=30, peak_dbfs=-31.0, room_dbfs=-68.0)


def _bakery() -> Sound:
    """The narrator laughs twice, louder than the level was set for."""
    studio = Studio(44)
    talk = studio.conversation(voices.BAKER, seconds=32, peak_dbfs=-11.0)
    for at_seconds in (9.5, 24.0):
        talk = voices.with_burst(talk, studio.laughter(voices.BAKER, seconds=2.1), at_seconds=at_seconds, gain_db=5.0)
    return talk


def _bakery_second() -> Sound:
    """The second part hums: the recorder ran from the mains, beside the ovens."""
    return voices.with_hum(Studio(45).conversation(voices.BAKER, seconds=22, peak_dbfs=-10.0), -38.0)


JUST_BEGUN = Story(
    volunteer=TOBIAS,
    narrator="Aurel Sandoval-Pike",
    narrator_email="",
    recorded_on=date(2026, 5, 30),
    place="The rowing club's boathouse",
    summary="",
    context_notes="To be recorded after the regatta. He would like his daughter to sit in.",
)
TO_BE_SIGNED = Story(
    volunteer=TOBIAS,
    narrator="Edmund Quillfeather",
    narrator_email="edmund.quillfeather@example.org",
    recorded_on=date(2026, 5, 9),
    place="The old toll house, south bank",
    summary="Collecting the bridge toll through the last winter before it was lifted.",
    names_and_spellings="Quillfeather\nStaithe Row\nthe Lanternman (a public house)",
    recordings=(Recording("FK01_0012.WAV", _toll_house),),
)
HANDED_IN = Story(
    volunteer=DALIA,
    narrator="Henrietta Voss",
    narrator_email="henrietta.voss@example.org",
    recorded_on=date(2026, 4, 18),
    place="Miss Voss's front room, Orchard Rise",
    summary="Teaching on the south bank and taking the school boat twice a day; the flood week when nobody crossed.",
    names_and_spellings="Voss\nOrchard Rise\nthe Merganser (the school boat)",
    context_notes="A clock ticks in the room. The recorder stood on the sideboard.",
    recordings=(Recording("FK01_0009.WAV", _school_boat, marks=(11.0,)),),
)
IN_REVIEW = Story(
    volunteer=DALIA,
    narrator="Philippa Marsh-Tolland",
    narrator_email="pip.marsh-tolland@example.org",
    recorded_on=date(2026, 3, 21),
    place="Behind the shop, Ferry Street",
    summary="Baking for both banks: bread sent over by the first boat, and the night the ovens went out.",
    names_and_spellings="Marsh-Tolland\nFerry Street\nlardy plait",
    context_notes="Two parts, with tea between them. In the second the recorder ran from the mains.",
    recordings=(Recording("FK02_0003.WAV", _bakery), Recording("FK02_0004.WAV", _bakery_second)),
)
ACCEPTED = Story(
    volunteer=TOBIAS,
    narrator="Marit Oskarsen",
    narrator_email="marit.oskarsen@example.org",
    recorded_on=date(2026, 2, 14),
    place="The kitchen of the ferry cottage",
    summary="Forty years on the cable ferry: fog, ice, the bell on the north landing, and the last crossing.",
    names_and_spellings="Oskarsen\nthe Alder Maid (the cable ferry)\nNorth Landing",
    recordings=(Recording("FK01_0001.WAV", _ferry, marks=(12.5, 27.0)),),
)
