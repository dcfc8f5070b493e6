"""Facts of an invented interview, for records that need no database."""

from dataclasses import replace
from datetime import UTC, date, datetime

from intake.outputs.records.described import Described, Point, Role, Somebody, SoundFile, Topic

PLAIN = Described(
    identifier="2026-0007",
    title="Interview with Marit Oskarsen and Zoë Aas, 2026-03-14",
    people=(
        Somebody("Marit Oskarsen", Role.NARRATOR),
        Somebody("Zoë Aas", Role.NARRATOR),
        Somebody("Tobias Wrenfield", Role.INTERVIEWER),
        Somebody("Ivo Lund", Role.INTERPRETER),
    ),
    summary="Forty years of the cable ferry.\nThe winter of the ice & the “Lindworm” <a ferry>.",
    recorded_on=date(2026, 3, 14),
    place="Alder Ferry",
    languages=("en",),
    collection="Both Banks: the crossing years",
    publisher="Alder Ferry Public Library",
    terms="Open: anybody may hear it.",
    closed_until=None,
    is_on_site=False,
    rights=("https://creativecommons.org/licenses/by/4.0/",),
    seconds=4353.2,
    files=(
        SoundFile("WAV, 48 kHz, 24 bit, stereo", "WAV", "audio/wav", 1_253_721_644),
        SoundFile("FLAC, 44.1 kHz, 16 bit, mono", "FLAC", "audio/flac", 88_000_000),
    ),
    accepted_on=date(2026, 4, 2),
    changed_at=datetime(2026, 4, 2, 9, 30, tzinfo=UTC),
)
WITHHELD = replace(
    PLAIN,
    title="Interview with narrator, name withheld, 2026-03-14",
    people=(Somebody("", Role.NARRATOR), Somebody("Tobias Wrenfield", Role.INTERVIEWER)),
    rights=(),
)
CLOSED = replace(PLAIN, terms="Closed until 1 Jan 2040.", closed_until=date(2040, 1, 1), rights=())
ON_SITE = replace(PLAIN, terms="On site only.", is_on_site=True, rights=())
SPARSE = replace(PLAIN, people=(), summary="", rights=(), seconds=None, files=(), languages=("xx-unknown",))
SMALL_LANGUAGE = replace(PLAIN, languages=("rmy",))
FULL = replace(
    PLAIN,
    title="Forty years on the cable ferry",
    people=(
        Somebody(
            "Marit Oskarsen", Role.NARRATOR, "Oskarsen, Marit", ("Marit Lund",), "1943~/..", "https://example.org/m"
        ),
        Somebody("Tobias Wrenfield", Role.INTERVIEWER, "Wrenfield, Tobias"),
        Somebody("Petra Aas", Role.TRANSCRIBER, "Aas, Petra"),
        Somebody("Old Halvard", Role.ALSO_HEARD),
        Somebody("Ferryman Jens Lund", None, "Lund, Jens", (), "1890/1951"),
    ),
    languages=("en", "nb", "rmy"),
    rights=("http://rightsstatements.org/vocab/InC/1.0/",),
    points=(
        Point("Cable ferries", False, "local"),
        Point("Winters", False, "example", "https://example.org/subjects/winters"),
        Point("Alder Ferry", True, "local", "", 55.676100, -12.568300, True),
        Point("Sill Island", True, "example", "https://example.org/places/sill", -1.5, 0.25),
    ),
    periods=("1950/1965", "194X~"),
    outline=(Topic("0:00:10", "Childhood <on> the bank"), Topic("0:12:03", "The winter of the ice")),
    has_transcript=True,
)
ALL = {
    "plain": PLAIN,
    "withheld": WITHHELD,
    "closed": CLOSED,
    "on site": ON_SITE,
    "sparse": SPARSE,
    "small language": SMALL_LANGUAGE,
    "full": FULL,
}
