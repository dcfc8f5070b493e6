"""The demo's interviews that the library has accepted, a chapter each."""

from datetime import date

from intake.catalogue.services import Said
from intake.interviews.attachments import Caption
from intake.interviews.models import Attachment
from intake.local import demo_catalogue as describing
from intake.local import demo_drawings as drawings
from intake.local import demo_steps as do
from intake.local import recordings as sound
from intake.local.demo_clock import Chapter, at
from intake.local.demo_people import CORIN, CROSSING, DALIA, INES, INTERVIEWER, MARKET, PETRA, RAMIRO, TOBIAS

THE_FERRY = Caption(
    kind=Attachment.Kind.PHOTOGRAPH,
    caption="The Alder Maid on her last morning, the new bridge behind her. The dog belongs to the ferryman.",
    rights_note="A family print, photographed at her table. Ms Oskarsen lets the library keep and show it.",
)


FORTY_YEARS = Said(
    title="Forty years on the cable ferry: Marit Oskarsen",
    summary="Marit Oskarsen, the last ferryman's daughter, tells of working the cable by hand and by ear: the bell on "
    "the north landing and who rang how, fog, and the last crossing, with nobody aboard but the dog.",
    languages=["en"],
    periods=["1948/1988"],
    rights="http://rightsstatements.org/vocab/InC/1.0/",
)
FOUND_UNDER = {"Cable ferries": "about", "Fog": "about", "Alder Ferry": "recorded-at", "North Landing": "about"}
TOPICS = {1.0: "The bell on the north landing", 24.0: "Pulling the cable in fog", 35.0: "The last crossing"}
VOICES = {"Tobias": TOBIAS.name, "Marit": "Marit Oskarsen"}


def the_last_crossing() -> Chapter:
    """Catalogued, open to all, and the narrator thanked by letter. A clean recording with two marks."""
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
    yield at(4, 29, 9)
    do.thank(interview, by=INES)
    yield at(5, 7, 10)
    describing.name(interview, "Marit Oskarsen", "Oskarsen, Marit", by=INES, life_dates="1948~/..")
    describing.name(interview, TOBIAS.name, "Wrenfield, Tobias", by=INES)
    describing.describe(interview, FORTY_YEARS, FOUND_UNDER, by=INES)
    describing.outline(interview, TOPICS, by=INES)
    describing.read_transcript(interview, sound.transcript("last-crossing", VOICES), by=INES)
    describing.catalogued(interview, by=INES)


def the_opening_of_the_bridge() -> Chapter:
    """Accepted twice: undone by two people for a forgotten photograph, accepted anew. A clean recording.

    Its transcript is a draft in which the narrator's name is spelt otherwise.

    The second conversation with the same narrator, who was noted down anew: two records wait to be merged.
    """
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
    yield at(5, 26, 10)
    do.propose_undo(
        interview,
        "The photograph of the ferry that Ms Oskarsen lent for this conversation was left out. It belongs to the "
        "interview, and on the receipt.",
        by=INES,
    )
    yield at(5, 26, 15)
    do.confirm_undo(interview, by=CORIN)
    do.send_back(interview, "Please add the photograph of the ferry, and hand the interview in again.", by=INES)
    yield at(5, 27, 19)
    do.attach(interview, "alder-maid.jpg", drawings.ferry_photograph(), THE_FERRY)
    yield at(5, 27, 19, 15)
    do.hand_in(interview)
    yield at(6, 2, 10)
    do.take_up(interview, by=INES)
    do.accept(interview, by=INES)
    yield at(6, 9, 10)
    heard = sound.transcript("opening-the-bridge", VOICES).replace(b"Oskarsen", b"Oskarson")
    describing.read_transcript(interview, heard, by=INES)


def the_strike_at_the_mill() -> Chapter:
    """Accepted, closed for a long time at the narrator's wish, which he signed on paper. A clean recording."""
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
    do.sign_on_paper(interview, do.closed_until(date(2056, 1, 1)))
    do.sign(interview, role=INTERVIEWER)
    yield at(6, 7, 18)
    do.hand_in_form(interview)
    do.hand_in(interview)
    yield at(6, 23, 10)
    do.confirm_form(interview, by=PETRA)
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
    """Accepted for listening on site, two narrators; to undo it is proposed. Stereo, one microphone upside down."""
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
    yield at(11, 20, 16)
    do.propose_undo(
        interview,
        "Dalia has found a second part on the card, in which the sisters go on. Both parts belong under one number.",
        by=PETRA,
    )
