"""The invented people and things of the demo. Nobody here lives or lived; the addresses lead nowhere."""

from dataclasses import dataclass

from intake.accounts.models import Role
from intake.interviews.models import Participant

PASSWORD = "ferry-bell-2026"  # noqa: S105  shown to everybody who opens the demo, and good for nothing else

LIBRARY = {
    "name": "Alder Ferry Public Library",
    "room": "Local History Room",
    "place": "Alder Ferry",
    "contact": "3 Landing Lane, Alder Ferry",
    "email": "history@alderferry.example.org",
}
# As roles of participants, which the chapters name often.
INTERVIEWER = Participant.Role.INTERVIEWER
CROSSING = "Both Banks: the crossing years"
MARKET = "Under the Market Clock"


@dataclass(frozen=True)
class Account:
    """Somebody who can sign in; `worth_trying` is told to whoever opens the demo."""

    name: str
    email: str
    role: str
    worth_trying: str

    @property
    def role_name(self) -> str:
        return Role(self.role).label

    @property
    def first_name(self) -> str:
        return self.name.partition(" ")[0]


TOBIAS = Account(
    "Tobias Wrenfield",
    "tobias.wrenfield@example.org",
    Role.VOLUNTEER,
    "Hand in a recording; have Edmund Quillfeather sign.",
)
DALIA = Account(
    "Dalia Fennimore",
    "dalia.fennimore@example.org",
    Role.VOLUNTEER,
    "Go on with a half-sent part; read the library's message.",
)
RAMIRO = Account(
    "Ramiro Bellavega",
    "ramiro.bellavega@example.org",
    Role.VOLUNTEER,
    "Read the receipt for an interview in Spanish.",
)
INES = Account(
    "Ines Halloway",
    "ines.halloway@example.org",
    Role.ARCHIVIST,
    "Accept the corn mill; confirm a release signed on paper.",
)
PETRA = Account(
    "Petra Lindqvale",
    "petra.lindqvale@example.org",
    Role.ARCHIVIST,
    "Take back an overdue kit; merge two records of one person.",
)
CORIN = Account(
    "Corin Ashgrove",
    "corin.ashgrove@example.org",
    Role.COORDINATOR,
    "Invite somebody; confirm that an acceptance is undone.",
)
# In the order in which a newcomer best meets them.
ACCOUNTS = (TOBIAS, DALIA, RAMIRO, INES, PETRA, CORIN)
# Whoever borrows a kit may have no account yet: the loan's code opens one.
NELL = ("Nell Ardwick", "nell.ardwick@example.org")
ISOLDE = ("Isolde Varnham", "isolde.varnham@example.org")
# Brings a card to the counter.
HESTER = ("Hester Fallowdene", "hester.fallowdene@example.org")
NOT_YET_JOINED = ("Jory Pellwick", "jory.pellwick@example.org")

_CLIP_ON = "Recorder\nMemory card, 32 GB\nTwo clip-on microphones\nHeadphones\nMains adapter\nPrinted release forms"
_STAND = "Recorder\nMemory card, 32 GB\nTable stand\nWind cover\nHeadphones\nFour AA batteries"
KITS = {
    "AF-01": _CLIP_ON,
    "AF-02": _STAND,
    "AF-03": _STAND,
    "AF-04": _CLIP_ON,
    "AF-05": _STAND,
    "AF-06": _CLIP_ON,
    "AF-07": _STAND,
    "AF-08": f"{_CLIP_ON}\nMagnifying glass for the display",
}
