"""How loud the sound is, how the voice stands to its background, and what is drawn of it."""

from dataclasses import dataclass


@dataclass(frozen=True)
class LoudnessCurve:
    """Loudness over time, ten values a second to one decimal; None where all is digital silence.

    Value n of each series ends at its `first_..._s` + n / 10 seconds: the windows of 0.4 and 3 seconds look back.
    """

    first_momentary_s: float
    momentary_lufs: tuple[float | None, ...]
    first_short_term_s: float
    short_term_lufs: tuple[float | None, ...]


@dataclass(frozen=True)
class Loudness:
    """Loudness to ITU-R BS.1770-5, EBU Tech 3341 and 3342; a mono file gets no dual-mono correction."""

    integrated_lufs: float | None
    integrated_reason: str
    max_short_term_lufs: float | None
    max_short_term_reason: str
    max_momentary_lufs: float | None
    max_momentary_reason: str
    loudness_range_lu: float | None
    loudness_range_reason: str
    curve: LoudnessCurve


@dataclass(frozen=True)
class TruePeak:
    """Highest peak between the samples (BS.1770-5 Annex 2), never below the sample peak; None where all is silence."""

    true_peak_dbtp: float | None
    channels_dbtp: tuple[float | None, ...]
    at_frame: int | None
    at_seconds: float | None
    oversampling: int
    reason: str


@dataclass(frozen=True)
class ChannelLevel:
    """Plain level figures of one channel; decibels are None where the channel is digital silence."""

    peak_dbfs: float | None
    rms_dbfs: float | None
    rms_without_dc_dbfs: float | None
    crest_factor_db: float | None
    dc_offset_percent: float
    reason: str


@dataclass(frozen=True)
class Levels:
    """Plain level figures; `sample_peak_dbfs` is the highest sample of any channel, None where all is silence."""

    sample_peak_dbfs: float | None
    channels: tuple[ChannelLevel, ...]


@dataclass(frozen=True)
class ChannelSpeech:
    """Active speech level and activity factor of one channel to ITU-T P.56, method B.

    `is_reliable` is False, with the reason, where pauses cannot be told from speech.
    """

    level_dbov: float | None
    activity_percent: float | None
    is_reliable: bool
    reason: str


@dataclass(frozen=True)
class Speech:
    """The loudest channel's active speech level (dBov: a full-scale square wave reads 0) and activity factor.

    Speech to noise is the active level less the noise floor, plain and with both A-weighted, of that channel with a
    voice where it is smallest; with a reason, figures are doubtful or None.
    """

    active_speech_level_dbov: float | None
    activity_factor_percent: float | None
    is_reliable: bool
    reason: str
    speech_to_noise_db: float | None
    speech_to_noise_dba: float | None
    speech_to_noise_reason: str
    channels: tuple[ChannelSpeech, ...]


@dataclass(frozen=True)
class ChannelNoise:
    """Mean level in the pauses of one channel: unweighted without DC, and A-weighted (IEC 61672-1).

    `pause_s` is how much of the recording that is.
    """

    floor_dbfs: float | None
    floor_dba: float | None
    pause_s: float
    reason: str


@dataclass(frozen=True)
class Noise:
    """The noise floor of the noisiest channel: the level in the pauses, where the file is not digital silence."""

    noise_floor_dbfs: float | None
    noise_floor_dba: float | None
    reason: str
    channels: tuple[ChannelNoise, ...]


@dataclass(frozen=True)
class LevelHistogram:
    """Share of the time at each level of 50 ms slices, in classes of 1 dB from `lowest_dbfs` up, loudest channel."""

    lowest_dbfs: int
    share_percent: tuple[float, ...]
    silent_percent: float


@dataclass(frozen=True)
class Spectrum:
    """Levels in bands of a sixth of an octave, all channels averaged: of the sound above the pauses, and of the pauses.

    An empty tuple where there is nothing to show.
    """

    bands_hz: tuple[float, ...]
    sound_dbfs: tuple[float, ...]
    pauses_dbfs: tuple[float, ...]


@dataclass(frozen=True)
class ChannelPair:
    """How two channels compare; correlation is Pearson's, None where either channel never changes."""

    first: int
    second: int
    correlation: float | None
    identical: bool


@dataclass(frozen=True)
class Waveform:
    """The outline for drawing: per channel minimum and maximum of each bin in turn, -127 to 127, at most 4000 bins."""

    frames_per_bin: int
    peaks: tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class ChannelEdge:
    """The outermost samples of one channel from the inside outwards, full scale 1.0, and what foretells the next one.

    `weights` belong to `samples`, `error` is their usual miss (RMS over the outermost 0.05 s).
    """

    samples: tuple[float, ...]
    weights: tuple[float, ...]
    error: float


@dataclass(frozen=True)
class Edges:
    """How each channel begins and ends; None where that is digital silence or too short."""

    first: tuple[ChannelEdge | None, ...]
    last: tuple[ChannelEdge | None, ...]
