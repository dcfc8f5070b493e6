"""The demo's year: one chapter for each interview, and one for the library itself. To add an interview, add a chapter.

Every chapter says in its first lines at which stage its interview stands now and what its sound is like.
"""

from collections.abc import Callable
from datetime import date

from intake.accounts.models import Role
from intake.interviews.models import Participant
from intake.interviews.services import add_collection
from intake.kits.services import add_kit
from intake.local import demo_people as who
from intake.local import demo_steps as do
from intake.local import recordings as sound
from intake.local.coordinator import open_first_account
from intake.local.demo_clock import Chapter, at
from intake.local.demo_people import CORIN, CROSSING, DALIA, INES, MARKET, PETRA, RAMIRO, TOBIAS

NARRATOR, INTERVIEWER = Participant.Role.NARRATOR, Participant.Role.INTERVIEWER


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
    yield at(9, 1, 9)
    add_collection(name=MARKET, actor=do.user(CORIN))


def kits_go_out_and_come_back() -> Chapter:
    """Three kits are out, one of them overdue; one volunteer opened an account with the code on the loan slip."""
    yield at(4, 10, 15)
    do.lend("AF-01", TOBIAS, due_on=date(2026, 5, 15), by=INES)
    yield at(5, 13, 11)
    do.take_back("AF-01", condition="All there. Batteries used up.", by=INES)
    yield at(8, 28, 16)
    code = do.lend("AF-03", (RAMIRO.name, RAMIRO.email), due_on=date(2026, 9, 25), by=PETRA)
    yield at(8, 28, 19, 40)
    do.redeem(code, RAMIRO)
    yield at(9, 22, 12)
    do.take_back("AF-03", condition="All there, card cleared.", by=PETRA)
    yield at(9, 30, 10)
    do.lend("AF-02", DALIA, due_on=date(2026, 12, 4), by=INES)
    yield at(10, 15, 17)
    do.lend("AF-04", who.ISOLDE, due_on=date(2026, 11, 13), by=PETRA)


def today_at_the_counter() -> None:
    """What has to be fresh whenever the demo is loaded: a loan whose code works, and an invitation not yet followed."""
    do.lend("AF-07", who.NELL, due_on=do.days_from_now(21), by=INES)
    do.invite(who.NOT_YET_JOINED, role=Role.VOLUNTEER, by=CORIN)


# Accepted


def the_last_crossing() -> Chapter:
    """Accepted, open to all. A clean recording with two marks."""
    yield at(4, 18, 16)
    interview = do.begin(
        TOBIAS,
        narrator="Marit Oskarsen",
        email="marit.oskarsen@example.org",
        collection=CROSSING,
        recorded_on=date(2026, 4, 18),
        place="The kitchen of the ferry cottage",
        summary="Forty years on the cable ferry: fog, the bell on the north landing, and the last crossing.",
        names="Oskarsen\nthe Alder Maid (the cable ferry)\nNorth Landing",
        notes="First of two conversations.",
    )
    yield at(4, 18, 16, 50)
    do.sign(interview)
    yield at(4, 19, 19, 30)
    do.send(interview, "REC_0001.WAV", sound.wav(sound.recorded("last-crossing", seed=1), marks=(24.0, 38.5)))
    yield at(4, 19, 19, 45)
    do.hand_in(interview)
    yield at(4, 28, 10)
    do.take_up(interview, by=INES)
    yield at(4, 28, 11, 20)
    do.accept(interview, by=INES)


def the_opening_of_the_bridge() -> Chapter:
    """Accepted, open to all: the second conversation with the same narrator. A clean recording."""
    yield at(5, 9, 15)
    interview = do.begin(
        TOBIAS,
        narrator="Marit Oskarsen",
        email="marit.oskarsen@example.org",
        collection=CROSSING,
        recorded_on=date(2026, 5, 9),
        place="The kitchen of the ferry cottage",
        summary="The first morning of the bridge, and a mother who learned to cycle at sixty-three.",
        names="Oskarsen",
        notes="Second of two conversations; the first was recorded on 18 Apr 2026.",
    )
    yield at(5, 9, 15, 50)
    do.send(interview, "REC_0004.WAV", sound.wav(sound.recorded("opening-the-bridge", seed=2)))
    do.sign(interview)
    yield at(5, 9, 16, 15)
    do.hand_in(interview)
    yield at(5, 19, 14)
    do.take_up(interview, by=INES)
    do.accept(interview, by=INES)


def the_strike_at_the_mill() -> Chapter:
    """Accepted, closed for a long time at the narrator's wish. A clean recording."""
    yield at(6, 6, 13)
    interview = do.begin(
        TOBIAS,
        narrator="Gideon Roake",
        email="gideon.roake@example.org",
        collection=CROSSING,
        recorded_on=date(2026, 6, 6),
        place="Mr Roake's garden, Staithe Row",
        summary="Seven weeks out at the mill, and the ferry that carried both sides in turns.",
        names="Roake\nStaithe Row",
        notes="He speaks of neighbours whose families live here. We took two breaks.",
    )
    yield at(6, 6, 13, 50)
    do.send(interview, "REC_0006.WAV", sound.wav(sound.recorded("mill-strike", seed=3)))
    do.sign(interview, do.closed_until(date(2056, 1, 1)))
    yield at(6, 7, 18)
    do.hand_in(interview)
    yield at(6, 23, 10)
    do.take_up(interview, by=PETRA)
    do.accept(interview, by=PETRA)


def butter_at_night() -> Chapter:
    """Accepted, the narrator's name withheld. A small MP3 from a telephone."""
    yield at(7, 11, 21)
    interview = do.begin(
        TOBIAS,
        narrator="Sylvie Marrable-Dene",
        collection=CROSSING,
        recorded_on=date(2026, 7, 11),
        place="A bench above the weir",
        summary="Rowing butter across in the rationing years.",
        notes="Recorded on a telephone because the kit's batteries were empty. She asks that her name be left out.",
    )
    yield at(7, 11, 21, 50)
    do.send(interview, "VOICE_0007.MP3", sound.mp3(sound.recorded("butter-at-night", seed=4)), media_type="audio/mpeg")
    do.sign(interview, do.NAME_WITHHELD)
    yield at(7, 11, 22, 15)
    do.hand_in(interview)
    yield at(7, 22, 15)
    do.take_up(interview, by=PETRA)
    do.accept(interview, by=PETRA)


def from_bank_to_bank() -> Chapter:
    """Accepted, in Spanish; a sound check was handed in by mistake and taken out. A clean recording."""
    yield at(9, 12, 18)
    interview = do.begin(
        RAMIRO,
        narrator="Consuelo Vidarte",
        email="consuelo.vidarte@example.org",
        collection=CROSSING,
        recorded_on=date(2026, 9, 12),
        place="La cocina de Consuelo, Ferry Street",
        language="es",
        summary="La llegada a la orilla equivocada, y veintidós años cosiendo lonas para el transbordador.",
        names="Vidarte\nFerry Street",
        notes="I read the release to her in Spanish, paragraph by paragraph, before she signed.",
    )
    yield at(9, 12, 18, 50)
    check = do.send(interview, "REC_0010.WAV", sound.wav(sound.recorded("sound-check", seed=5)))
    do.send(interview, "REC_0011.WAV", sound.wav(sound.recorded("de-orilla-a-orilla", seed=6)))
    yield at(9, 12, 19, 15)
    do.take_out(check)
    do.sign(interview)
    do.hand_in(interview)
    yield at(9, 29, 9, 30)
    do.take_up(interview, by=INES)
    do.accept(interview, by=INES)


def the_stall_under_the_clock() -> Chapter:
    """Accepted for listening on site, with two narrators. Stereo, one microphone wired upside down."""
    yield at(10, 10, 17)
    interview = do.begin(
        DALIA,
        narrator="Ada Thornquill",
        email="ada.thornquill@example.org",
        collection=MARKET,
        recorded_on=date(2026, 10, 10),
        place="The market hall, after closing",
        summary="Twin sisters on fifty years of one stall, two banks, and a clock with two faces that disagreed.",
        names="Thornquill",
    )
    do.add_narrator(interview, "Ivy Thornquill", email="ivy.thornquill@example.org")
    yield at(10, 10, 17, 50)
    stereo = sound.one_channel_inverted(sound.recorded("market-twins", seed=7))
    do.send(interview, "REC_0021.WAV", sound.wav(stereo))
    do.sign(interview, do.ON_SITE)
    yield at(10, 11, 9)
    do.hand_in(interview)
    yield at(10, 21, 14)
    do.take_up(interview, by=PETRA)
    do.answer_problems(
        interview,
        "The right microphone is wired upside down; turned back, both sisters are clear.",
        by=PETRA,
    )
    do.accept(interview, by=PETRA)


# In review


def bread_by_the_first_boat() -> Chapter:
    """In review with a problem not yet answered, in two parts. Clipped laughter, then mains hum."""
    yield at(10, 24, 16)
    interview = do.begin(
        DALIA,
        narrator="Philippa Marsh-Tolland",
        email="pip.marsh-tolland@example.org",
        collection=MARKET,
        recorded_on=date(2026, 10, 24),
        place="Behind the shop, Ferry Street",
        summary="Baking for both banks: bread sent over by the first boat, and the night the ovens went out.",
        names="Marsh-Tolland\nFerry Street",
        notes="Two parts, with tea between them. In the second the recorder ran from the mains.",
    )
    yield at(10, 24, 16, 50)
    do.send(interview, "REC_0024.WAV", sound.wav(sound.recorded("first-boat-bread", seed=8, gain_db=11.0)))
    hum = sound.with_hum(sound.recorded("ovens-went-out", seed=9), -40.0)
    do.send(interview, "REC_0025.WAV", sound.wav(hum))
    do.sign(interview)
    yield at(10, 26, 20)
    do.hand_in(interview)
    yield at(11, 9, 10)
    do.take_up(interview, by=INES)


def the_sound_of_the_stones() -> Chapter:
    """In review and ready to accept: the only problem is answered. Stereo, the right channel dead."""
    yield at(10, 31, 12)
    interview = do.begin(
        TOBIAS,
        narrator="Osbert Fallowdene",
        email="osbert.fallowdene@example.org",
        collection=CROSSING,
        recorded_on=date(2026, 10, 31),
        place="The loft of the corn mill",
        summary="Learning to hear what a millstone says, at nine years old and at four in the morning.",
        names="Fallowdene",
    )
    yield at(10, 31, 12, 50)
    stereo = sound.one_dead_channel(sound.recorded("mill-wheel", seed=10))
    do.send(interview, "REC_0015.WAV", sound.wav(stereo))
    do.sign(interview)
    yield at(10, 31, 13, 15)
    do.hand_in(interview)
    yield at(11, 18, 10)
    do.take_up(interview, by=INES)
    yield at(11, 18, 10, 40)
    do.answer_problems(
        interview, "The second microphone was switched off; everything is clear on the left channel.", by=INES
    )


# Handed in


def the_school_boat() -> Chapter:
    """Submitted, signed, waiting for somebody to take it up. Much too quiet."""
    yield at(11, 14, 15)
    interview = do.begin(
        DALIA,
        narrator="Henrietta Voss",
        email="henrietta.voss@example.org",
        collection=CROSSING,
        recorded_on=date(2026, 11, 14),
        place="Miss Voss's front room, Orchard Rise",
        summary="Nineteen years of teaching from the school boat, and the flood week when nobody crossed.",
        names="Voss\nOrchard Rise\nthe Merganser (the school boat)",
        notes="The recorder stood on the sideboard.",
    )
    yield at(11, 14, 15, 50)
    quiet = sound.recorded("school-boat", seed=11, gain_db=-24.0, room_dbfs=-70.0)
    do.send(interview, "REC_0028.WAV", sound.wav(quiet, marks=(20.0,)))
    do.sign(interview)
    yield at(11, 16, 19)
    do.hand_in(interview)


def the_toll_house() -> Chapter:
    """Submitted, the narrator's release not signed. Long silence at the start; 44.1 kHz and 16 bit."""
    yield at(11, 19, 16)
    interview = do.begin(
        TOBIAS,
        narrator="Edmund Quillfeather",
        email="edmund.quillfeather@example.org",
        collection=CROSSING,
        recorded_on=date(2026, 11, 19),
        place="The old toll house, south bank",
        summary="Taking the bridge toll through the last winter before it was lifted.",
        names="Quillfeather\nStaithe Row",
        notes="He wants his daughter to read the release with him before he signs.",
    )
    yield at(11, 19, 16, 50)
    do.send(interview, "0003.WAV", sound.wav(sound.recorded("toll-house", seed=12), rate=44_100, bits=16))
    do.sign(interview, role=INTERVIEWER)
    yield at(11, 20, 18)
    do.hand_in(interview)


# With the volunteer


def the_flood_night() -> Chapter:
    """Returned with a message. The sound is switched off twice."""
    yield at(10, 3, 14)
    interview = do.begin(
        DALIA,
        narrator="Constance Ambry",
        email="constance.ambry@example.org",
        collection=CROSSING,
        recorded_on=date(2026, 10, 3),
        place="The chapel room, Chapel Steps",
        summary="The night of the flood, told by the lamps in the windows.",
        names="Ambry\nChapel Steps",
        notes="We agreed on a sign for stopping. She did not need it.",
    )
    yield at(10, 3, 14, 50)
    torn = sound.with_dropouts(sound.recorded("flood-night", seed=13), ((17.0, 18.4), (31.0, 31.3)))
    do.send(interview, "REC_0018.WAV", sound.wav(torn))
    do.sign(interview)
    yield at(10, 3, 15, 15)
    do.hand_in(interview)
    yield at(11, 12, 11)
    do.take_up(interview, by=PETRA)
    yield at(11, 12, 11, 50)
    do.send_back(
        interview,
        "Thank you, this is a treasure. The sound is gone for a moment twice, at 0:17 and 0:31. If the recorder's card "
        "still holds the file, please send it again as a second part, so that we can compare. Nothing else is missing.",
        by=PETRA,
    )


def the_dance_nights() -> Chapter:
    """Draft: one part is here, the other half-way. Wind on the microphone."""
    yield at(11, 21, 17)
    interview = do.begin(
        DALIA,
        narrator="Wilhelmina Tarrow",
        collection=CROSSING,
        recorded_on=date(2026, 11, 21),
        place="The north landing",
        summary="Dancing on the ferry on the last Saturday of the month.",
        names="Tarrow",
        notes="On the landing, because she wanted to show me where the band sat. Windy.",
    )
    yield at(11, 21, 17, 50)
    windy = sound.with_wind(sound.recorded("dance-night", seed=14), -14.0, seed=15)
    do.send(interview, "REC_0030.WAV", sound.wav(windy))
    walk_home = sound.wav(sound.recorded("dance-night-walk-home", seed=16))
    do.send_half(interview, "REC_0031.WAV", walk_home)
    do.leave_on_card("REC_0031.WAV", walk_home)


def the_first_boat_race() -> Chapter:
    """Draft, just begun; its recording is still on the card. A clean recording."""
    yield at(11, 22, 18)
    do.begin(
        TOBIAS,
        narrator="Aurel Sandoval-Pike",
        collection=CROSSING,
        recorded_on=date(2026, 11, 22),
        place="The rowing club's boathouse",
    )
    do.leave_on_card("REC_0032.WAV", sound.wav(sound.recorded("boat-race", seed=17)))


# Not taken in


def a_printed_memoir() -> Chapter:
    """Declined with a reason. Knocks and rubs of a telephone in the hand."""
    yield at(8, 15, 12)
    interview = do.begin(
        TOBIAS,
        narrator="Lionel Pratchard",
        email="lionel.pratchard@example.org",
        collection=CROSSING,
        recorded_on=date(2026, 8, 15),
        place="The reading room",
        summary="Mr Pratchard reads from his memoir.",
        names="Pratchard",
    )
    yield at(8, 15, 12, 50)
    handled = sound.with_handling(sound.recorded("printed-memoir", seed=18), (0.4, 7.5, 13.0), seed=19)
    do.send(interview, "VOICE_0011.WAV", sound.wav(handled))
    do.sign(interview)
    yield at(8, 15, 13, 15)
    do.hand_in(interview)
    yield at(8, 26, 10)
    do.take_up(interview, by=INES)
    do.decline(
        interview,
        "Mr Pratchard reads two chapters of his printed memoir, which the library has on its shelves. We would gladly "
        "have a conversation with him instead: he has much to tell that is not in the book.",
        by=INES,
    )


def the_signal_lamp() -> Chapter:
    """Withdrawn at the narrator's wish, after it was handed in. A clean recording."""
    yield at(9, 19, 15)
    interview = do.begin(
        DALIA,
        narrator="Beatrix Collowen",
        email="beatrix.collowen@example.org",
        collection=CROSSING,
        recorded_on=date(2026, 9, 19),
        place="The lamp house on the point",
        summary="Two sisters, two signal lamps.",
        names="Collowen",
    )
    yield at(9, 19, 15, 50)
    do.send(interview, "REC_0014.WAV", sound.wav(sound.recorded("signal-lamp", seed=20)))
    do.sign(interview, role=INTERVIEWER)
    yield at(9, 19, 16, 15)
    do.hand_in(interview)
    yield at(9, 24, 9)
    do.withdraw(interview, "Miss Collowen has thought it over and wishes to keep this in the family.")


THE_LIBRARY: tuple[Callable[[], Chapter], ...] = (the_library_opens, kits_go_out_and_come_back)
INTERVIEWS: tuple[Callable[[], Chapter], ...] = (
    the_last_crossing,
    the_opening_of_the_bridge,
    the_strike_at_the_mill,
    butter_at_night,
    a_printed_memoir,
    from_bank_to_bank,
    the_signal_lamp,
    the_flood_night,
    the_stall_under_the_clock,
    bread_by_the_first_boat,
    the_sound_of_the_stones,
    the_school_boat,
    the_toll_house,
    the_dance_nights,
    the_first_boat_race,
)
