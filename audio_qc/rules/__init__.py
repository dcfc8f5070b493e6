"""The rules, one function per measure: (Measurement, Profile) -> findings, without state and without reading files."""

from collections.abc import Callable

from audio_qc.finding import Finding
from audio_qc.measurement import Measurement
from audio_qc.profile import Profile
from audio_qc.rules.channels import judge_channels
from audio_qc.rules.clipping import judge_clipping, judge_flat_tops
from audio_qc.rules.dropouts import judge_dropouts
from audio_qc.rules.formats import judge_format, judge_marks, judge_resolution, judge_structure
from audio_qc.rules.levels import (
    judge_dc_offset,
    judge_digital_silence,
    judge_loudness,
    judge_true_peak,
)
from audio_qc.rules.spectrum import judge_bandwidth, judge_hum, judge_rumble
from audio_qc.rules.speech import (
    judge_long_silence,
    judge_noise_floor,
    judge_speech_level,
    judge_speech_to_noise,
)

Rule = Callable[[Measurement, Profile], tuple[Finding, ...]]

# In the order in which people read the findings: what a listener hears first, the file itself last.
RULES: tuple[Rule, ...] = (
    judge_clipping,
    judge_flat_tops,
    judge_dropouts,
    judge_true_peak,
    judge_speech_level,
    judge_speech_to_noise,
    judge_noise_floor,
    judge_hum,
    judge_rumble,
    judge_channels,
    judge_digital_silence,
    judge_long_silence,
    judge_loudness,
    judge_dc_offset,
    judge_bandwidth,
    judge_format,
    judge_resolution,
    judge_structure,
    judge_marks,
)
