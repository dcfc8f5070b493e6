"""The rates that the tables of tests/audio_qc/rates give, on the half of the recordings that nothing was tuned on.

Margins are below what was measured, so that a rate that falls is seen and one that wavers is not.
"""

import pytest

from tests.audio_qc.helpers import needs_reference
from tests.audio_qc.rates import clipping, dropouts
from tests.audio_qc.rates.common import JUDGED_ON, TUNED_ON, Recording, speech

pytestmark = needs_reference


@pytest.fixture(scope="module")
def judged() -> list[Recording]:
    return [Recording(one.name, one.rate_hz, one.samples[:1, : 12 * one.rate_hz]) for one in speech(JUDGED_ON)]


def test_no_recording_is_in_both_halves() -> None:
    assert not set(TUNED_ON) & set(JUDGED_ON)


def test_no_clean_file_is_called_clipped(judged: list[Recording]) -> None:
    alarms, files = clipping.false_alarms(judged)
    assert (alarms, files) == (0, 20 * len(judged))


@pytest.mark.parametrize("attenuation_db", [0.0, 0.5, 6.0])
@pytest.mark.parametrize("what", ["clipped 3 dB deep", "clipped 6 dB deep", "one side clipped 6 dB deep"])
def test_clipping_is_found_even_when_made_quieter(judged: list[Recording], what: str, attenuation_db: float) -> None:
    found, files = clipping.hits(judged, clipping.SQUASHES[what], attenuation_db)
    assert found >= 0.9 * files


def test_no_clean_file_is_said_to_have_a_dropout(judged: list[Recording]) -> None:
    assert dropouts.false_alarms(judged)[0] == 0


@pytest.mark.parametrize("length_ms", [1, 10, 300])
@pytest.mark.parametrize(("harm", "share"), [("zeroed", 0.9), ("held", 0.85), ("deleted", 0.3)])
def test_dropouts_are_found_in_their_place(judged: list[Recording], harm: str, share: float, length_ms: int) -> None:
    found, tries, elsewhere = dropouts.hits(judged, dropouts.HARMS[harm], length_ms)
    assert found >= share * tries
    assert elsewhere == 0
