"""On the judged half of the real speech hum, rumble and lossy sources are found as often as the printed rates say.

`python -m tests.audio_qc.rates hum rumble lossy` prints all rates; the bounds here leave a margin.
"""

from tests.audio_qc.helpers import needs_reference
from tests.audio_qc.rates import hum, lossy, rumble
from tests.audio_qc.rates.common import JUDGED_ON, TUNED_ON, speech

pytestmark = needs_reference


def test_hum_of_every_kind_is_found_once_it_is_loud_and_mostly_when_it_is_faint() -> None:
    recordings = hum.clean(JUDGED_ON)
    for dbfs, least in ((-35.0, 0.95), (-45.0, 0.7), (-60.0, 0.3)):
        found, tried = hum.hits(recordings, hum.KINDS, dbfs)
        assert found >= least * tried, dbfs


def test_no_clean_recording_is_accused_of_hum() -> None:
    assert hum.accused(speech(TUNED_ON + JUDGED_ON)) == []


def test_wind_and_thumps_as_loud_as_the_voice_are_found() -> None:
    recordings = rumble.clean(JUDGED_ON)
    for kind in rumble.KINDS:
        found, tried = rumble.hits(recordings, kind, 0.0)
        assert found >= 0.95 * tried, kind


def test_no_clean_recording_is_accused_of_rumble() -> None:
    assert rumble.accused(rumble.clean(TUNED_ON + JUDGED_ON)) == []


def test_low_bit_rates_and_low_sample_rates_leave_an_edge_that_is_found() -> None:
    found = lossy.outcomes(lossy.FULL_BAND["judged on"])
    for what in ("mp3, 32 kb/s", "mp3, 48 kb/s", "mp3, 64 kb/s", "aac, 64 kb/s", "once at 8 kHz", "once at 16 kHz"):
        assert all(found[what]), what


def test_no_full_band_recording_is_accused_of_an_edge_and_known_edges_are_found() -> None:
    assert lossy.accused(TUNED_ON + JUDGED_ON) == []
    assert all(lossy.found_again(TUNED_ON + JUDGED_ON))
