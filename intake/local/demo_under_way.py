"""The demo's interviews on their way, and those not taken in, a chapter each."""

from datetime import date

from intake.interviews.attachments import Caption
from intake.interviews.models import Attachment
from intake.local import demo_people as who
from intake.local import demo_steps as do
from intake.local import recordings as sound
from intake.local.demo_clock import Chapter, at
from intake.local.demo_people import CROSSING, DALIA, INES, INTERVIEWER, MARKET, PETRA, TOBIAS

SLATE_NOTES = Caption(
    kind=Attachment.Kind.FIELD_NOTES,
    caption="Written on the way home, 14 Nov 2026",
    rights_note="Mine; the library may keep and show them.",
)
SLATE_NOTES_TEXT = """Miss Voss, Orchard Rise, 14 Nov 2026

Before the recorder ran: the slate hangs in her hall, the sums of the flood week still on it. She lets nobody wipe it.
At about half a minute she looks out of the window at the river; the pause is hers.
The Merganser is said with the weight on the first syllable.
The recorder stood too far away, on the sideboard. I turned it up only afterwards, sorry.
"""


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
    """Submitted with field notes, signed; the narrator's copy of her release came back. Much too quiet."""
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
    yield at(11, 16, 18, 40)
    do.attach(interview, "school-boat-notes.txt", SLATE_NOTES_TEXT.encode(), SLATE_NOTES)
    yield at(11, 16, 19)
    do.hand_in(interview)
    yield at(11, 17, 9)
    do.note_returned(
        "henrietta.voss@example.org", "550 5.1.1 henrietta.voss@example.org: no such mailbox here", by=PETRA
    )


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
    running = sound.begun_early(sound.recorded("toll-house", seed=12), 16.0, seed=27)
    do.send(interview, "0003.WAV", sound.wav(running, rate=44_100, bits=16))
    do.sign(interview, role=INTERVIEWER)
    yield at(11, 20, 18)
    do.hand_in(interview)


def the_stones_again() -> Chapter:
    """Submitted for somebody without an account, whose card came in at the counter; the narrator has not signed.

    A piece of 17 seconds at 44.1 kHz and 16 bit.
    """
    yield at(11, 20, 11)
    interview = do.begin_at_counter(
        who.HESTER,
        by=INES,
        narrator="Clement Fallowdene",
        collection=CROSSING,
        recorded_on=date(2026, 11, 15),
        place="His kitchen, Staithe Row",
        summary="The night by the millstone. His brother Osbert tells it too, and each says that it was he.",
        names="Fallowdene\nStaithe Row",
        notes="His daughter asked, on a recorder of her own. She takes a release form home for him.",
    )
    told = sound.cut(sound.recorded("mill-wheel", seed=21), 21.0, 38.2)
    do.send(interview, "STONES.WAV", sound.wav(told, rate=44_100, bits=16))
    do.sign(interview, role=INTERVIEWER)
    yield at(11, 20, 11, 20)
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
    """Draft: one part is here, the other half-way; the form signed on paper waits for staff. Wind on the microphone."""
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
    do.sign_on_paper(interview, do.ON_SITE)
    yield at(11, 21, 18, 10)
    do.hand_in_form(interview)


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
