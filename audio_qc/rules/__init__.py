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
    judge_noise_floor,
    judge_true_peak,
)

Rule = Callable[[Measurement, Profile], tuple[Finding, ...]]

# In the order in which people read the findings: what a listener hears first, the file itself last.
RULES: tuple[Rule, ...] = (
    judge_clipping,
    judge_flat_tops,
    judge_dropouts,
    judge_true_peak,
    judge_noise_floor,
    judge_channels,
    judge_digital_silence,
    judge_loudness,
    judge_dc_offset,
    judge_format,
    judge_resolution,
    judge_structure,
    judge_marks,
)
