"""The figures that stand first wherever a measurement is shown: one list for the terminal, for tables and for pages."""

from collections.abc import Callable
from dataclasses import dataclass

from audio_qc.measurement import Measurement


@dataclass(frozen=True)
class Figure:
    """One figure as it is shown; `value` is None with the reason."""

    key: str
    title: str
    unit: str
    value: float | None
    reason: str

    def text(self) -> str:
        """Return value and unit, or that there is none."""
        return "not measured" if self.value is None else f"{self.value:.1f} {self.unit}"


Getter = Callable[[Measurement], tuple[float | None, str]]

# (key as in the JSON and the CSV, title, unit, where it is found and the reason where it is not)
HEADLINES: tuple[tuple[str, str, str, Getter], ...] = (
    (
        "integrated_lufs", "Overall loudness", "LUFS",
        lambda m: (m.loudness.integrated_lufs, m.loudness.integrated_reason),
    ),
    (
        "max_short_term_lufs", "Loudest three seconds", "LUFS",
        lambda m: (m.loudness.max_short_term_lufs, m.loudness.max_short_term_reason),
    ),
    (
        "max_momentary_lufs", "Loudest moment", "LUFS",
        lambda m: (m.loudness.max_momentary_lufs, m.loudness.max_momentary_reason),
    ),
    (
        "loudness_range_lu", "Loudness range", "LU",
        lambda m: (m.loudness.loudness_range_lu, m.loudness.loudness_range_reason),
    ),
    ("true_peak_dbtp", "Highest peak", "dBTP", lambda m: (m.true_peak.true_peak_dbtp, m.true_peak.reason)),
    ("sample_peak_dbfs", "Highest sample", "dBFS", lambda m: (m.levels.sample_peak_dbfs, m.true_peak.reason)),
    (
        "active_speech_level_dbov", "Level of the voice", "dBov",
        lambda m: (m.speech.active_speech_level_dbov, m.speech.reason),
    ),
    (
        "activity_factor_percent", "Share of the time with voice", "%",
        lambda m: (m.speech.activity_factor_percent, m.speech.reason),
    ),
    (
        "speech_to_noise_db", "Voice above background, unweighted", "dB",
        lambda m: (m.speech.speech_to_noise_db, m.speech.speech_to_noise_reason),
    ),
    ("noise_floor_dbfs", "Background noise", "dBFS", lambda m: (m.noise.noise_floor_dbfs, m.noise.reason)),
)  # fmt: skip
HEADLINE_KEYS = tuple(key for key, *_ in HEADLINES)


def headline_figures(measurement: Measurement) -> tuple[Figure, ...]:
    """Return the main figures of a measurement in the order in which people read them."""
    return tuple(Figure(key, title, unit, *get(measurement)) for key, title, unit, get in HEADLINES)
