"""The demo's year: the library itself, its back-log, and one chapter for each interview. To add one, add a chapter.

Every chapter says in its first lines at which stage its interview stands now and what its sound is like.
"""

from collections.abc import Callable
from datetime import date

from intake.accounts.models import Role
from intake.catalogue import headings
from intake.interviews.services import add_collection
from intake.kits.models import Card
from intake.kits.services import add_kit
from intake.local import demo_accepted as accepted
from intake.local import demo_catalogue as describing
from intake.local import demo_people as who
from intake.local import demo_steps as do
from intake.local import demo_under_way as under_way
from intake.local import recordings as sound
from intake.local.coordinator import open_first_account
from intake.local.demo_clock import Chapter, at
from intake.local.demo_people import CORIN, CROSSING, DALIA, INES, MARKET, PETRA, RAMIRO, TOBIAS

BACKLOG = (
    {
        "files": "market-1994.wav",
        "date": "1994-06-03",
        "place": "The market hall",
        "language": "en",
        "collection": MARKET,
        "narrator": "Ada Thornquill",
        "narrator_email": "ada.thornquill@example.org",
        "interviewer": "Ephraim Lisle",
        "giver": "Ephraim Lisle",
        "summary": "Prices on the two market days.",
        "notes": "From a tape marked “Market, June”, copied in 2019. No release is with it.",
    },
    {
        "files": "toll-1991.wav",
        "date": "1991-11-02",
        "place": "The old toll house, south bank",
        "language": "en",
        "collection": CROSSING,
        "narrator": "Selwyn Quillfeather",
        "narrator_email": "",
        "interviewer": "",
        "giver": "Ephraim Lisle",
        "summary": "What it cost to cross.",
        "notes": "From a tape without a label. Who asked is not known.",
    },
)


SUBJECTS = """\
label,variants,broader,note
Ferries,Ferry boats,,Boats that cross and come back.
Cable ferries,Ferries on a cable|Reaction ferries,Ferries,
Bridges,,,
Fog,,,
Markets,Market days,,
Mills,Water mills,,
Strikes,Labour disputes,,
Tolls,Ferry money,,
"""
PLACES = """\
label,variants,latitude,longitude
Alder Ferry,The Ferry,0.5001,-30.2502
North Landing,The north bank,0.5013,-30.2500
Staithe Row,,0.4990,-30.2511
"""


# The library


def the_library_opens() -> Chapter:
    """The coordinator comes first, then the staff, the kits, the collections and the volunteers."""
    yield at(3, 2, 9)
    open_first_account(name=CORIN.name, email=CORIN.email, password=who.PASSWORD)
    do.set_up(who.LIBRARY, by=CORIN)
    for account in (INES, PETRA):
        do.join(account, by=CORIN)
    add_collection(name=CROSSING, actor=do.user(CORIN))
    for number, contents in who.KITS.items():
        add_kit(number=number, contents=contents, actor=do.user(INES))
    yield at(3, 9, 14)
    for account in (TOBIAS, DALIA):
        do.join(account, by=INES)
    describing.read_headings(headings.OWN_NAME, SUBJECTS, kind="subject", by=INES)
    describing.read_headings("Places of the two banks", PLACES, kind="place", by=INES)
    yield at(9, 1, 9)
    add_collection(name=MARKET, actor=do.user(CORIN))


def kits_go_out_and_come_back() -> Chapter:
    """Three kits are out, one of them overdue; one volunteer opened an account with the code on the loan slip."""
    yield at(4, 10, 15)
    do.lend("AF-01", TOBIAS, due_on=date(2026, 5, 15), by=INES)
    yield at(5, 13, 11)
    do.take_back("AF-01", condition="All there. Batteries used up.", card=Card.NOT_CLEARED, by=INES)
    yield at(8, 28, 16)
    code = do.lend("AF-03", (RAMIRO.name, RAMIRO.email), due_on=date(2026, 9, 25), by=PETRA)
    yield at(8, 28, 19, 40)
    do.redeem(code, RAMIRO)
    yield at(9, 22, 12)
    do.take_back("AF-03", condition="All there.", card=Card.CLEARED, by=PETRA)
    yield at(9, 30, 10)
    do.lend("AF-02", DALIA, due_on=date(2026, 12, 4), by=INES)
    yield at(10, 15, 17)
    do.lend("AF-04", who.ISOLDE, due_on=date(2026, 11, 13), by=PETRA)


def today_at_the_counter() -> None:
    """What has to be fresh whenever the demo is loaded: a loan whose code works, and an invitation not yet followed."""
    do.lend("AF-07", who.NELL, due_on=do.days_from_now(21), by=INES)
    do.invite(who.NOT_YET_JOINED, role=Role.VOLUNTEER, by=CORIN)


def old_tapes() -> Chapter:
    """A back-log of two tapes: one handed in, the other a draft, since nobody knows who asked. Ten seconds each."""
    yield at(10, 13, 14)
    market = sound.cut(sound.recorded("market-twins", seed=22), 14.6, 25.0)
    toll = sound.cut(sound.recorded("toll-house", seed=23), 26.1, 36.9)
    do.take_in_backlog(
        BACKLOG,
        {
            "market-1994.wav": sound.wav(market, rate=44_100, bits=16),
            "toll-1991.wav": sound.wav(toll, rate=44_100, bits=16),
        },
        by=PETRA,
    )


THE_LIBRARY: tuple[Callable[[], Chapter], ...] = (the_library_opens, kits_go_out_and_come_back, old_tapes)
INTERVIEWS: tuple[Callable[[], Chapter], ...] = (
    accepted.the_last_crossing,
    accepted.the_opening_of_the_bridge,
    accepted.the_strike_at_the_mill,
    accepted.butter_at_night,
    under_way.a_printed_memoir,
    accepted.from_bank_to_bank,
    under_way.the_signal_lamp,
    under_way.the_flood_night,
    accepted.the_stall_under_the_clock,
    under_way.bread_by_the_first_boat,
    under_way.the_sound_of_the_stones,
    under_way.the_school_boat,
    under_way.the_toll_house,
    under_way.the_stones_again,
    under_way.the_dance_nights,
    under_way.the_first_boat_race,
)
HOW_MANY = len(INTERVIEWS) + len(BACKLOG)
