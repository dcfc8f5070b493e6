"""The facts about one audio file: frozen, with units in the names; `None` always comes with a reason.

Levels are decibels relative to digital full scale (sample value 1.0). RMS levels are plain root mean square, so that a
full-scale sine reads -3.01 dBFS; the AES17 convention, by which it reads 0, is 3.01 dB higher.
"""

from dataclasses import dataclass
from typing import Any

from audio_qc.errors import StoredDataError
from audio_qc.plain import from_plain, to_plain

SCHEMA = 2


@dataclass(frozen=True)
class Format:
    """What the file is; `frames` and `seconds` are what could be read, whatever the header claims."""

    container: str
    subtype: str
    sample_rate_hz: int
    bits_per_sample: int | None
    channels: int
    frames: int
    seconds: float
    file_bytes: int
    sha256: str


@dataclass(frozen=True)
class StructureNote:
    """Something unusual in how the file is built; `code` is stable, `detail` is one sentence."""

    code: str
    detail: str


@dataclass(frozen=True)
class Span:
    """A stretch of the recording: frames from `start_frame` up to, not including, `end_frame`."""

    start_s: float
    end_s: float
    start_frame: int
    end_frame: int
    channel: int | None


@dataclass(frozen=True)
class Mark:
    """A point that the recorder stored in the file, or a stretch from there on when it has a length.

    A `note` alone serves as the label.
    """

    at_seconds: float
    at_frame: int
    label: str
    note: str = ""
    length_frames: int = 0


@dataclass(frozen=True)
class InfoText:
    """One text about the recording: the four-letter key of a RIFF INFO list or the name of a tag, and its value."""

    key: str
    text: str


@dataclass(frozen=True)
class Broadcast:
    """A `bext` chunk (EBU Tech 3285); times and dates are as the recorder wrote them.

    The loudness figures are those that version 2 stores; None where the recorder wrote none.
    """

    description: str
    originator: str
    originator_reference: str
    origination_date: str
    origination_time: str
    time_reference_frames: int
    version: int
    coding_history: str
    has_umid: bool = False
    loudness_lufs: float | None = None
    loudness_range_lu: float | None = None
    max_true_peak_dbtp: float | None = None
    max_momentary_lufs: float | None = None
    max_short_term_lufs: float | None = None


@dataclass(frozen=True)
class IXML:
    """The fields of an iXML chunk that describe the recording, "" where the recorder left them out."""

    project: str
    scene: str
    take: str
    tape: str
    note: str
    file_uid: str
    track_names: tuple[str, ...]


@dataclass(frozen=True)
class Details:
    """What the recorder wrote about the recording."""

    broadcast: Broadcast | None
    info: tuple[InfoText, ...]
    ixml: IXML | None = None
    tags: tuple[InfoText, ...] = ()


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
class ChannelClipping:
    """Runs of three or more equal samples at or near full scale in one channel."""

    runs: int
    clipped_samples: int
    longest_run_frames: int
    positive_runs: int
    negative_runs: int


@dataclass(frozen=True)
class Clipping:
    """Clipping per channel; `moments` are runs merged where a listener hears one event, `spans` locate them.

    `share_percent` is the clipped share of the time in the worst channel.

    `spans_merged_s` is the gap across which the listed spans are joined: 0.25 s, more only when there are very many.
    """

    channels: tuple[ChannelClipping, ...]
    moments: int
    share_percent: float
    longest_run_s: float
    spans: tuple[Span, ...]
    spans_merged_s: float


@dataclass(frozen=True)
class ChannelFlatTops:
    """Peaks of one channel that pile up with flat tops at a ceiling of their own; the level is None without one."""

    level_dbfs: float | None
    positive_tops: int
    negative_tops: int
    flat_samples: int
    longest_frames: int


@dataclass(frozen=True)
class FlatTops:
    """Clipping that full scale does not show: in the recorder's input, in a limiter, or made quieter afterwards.

    `share_percent` is the flat share of the time in the worst channel; a top is flat within 0.09 dB of its peak.
    """

    channels: tuple[ChannelFlatTops, ...]
    moments: int
    share_percent: float
    longest_s: float
    spans: tuple[Span, ...]
    spans_merged_s: float


@dataclass(frozen=True)
class Dropouts:
    """Places where sound is missing: gaps of exact zeros or of a held sample inside sound, and jumps of samples.

    Gaps are from about 1 ms to 3.5 s long; `longest_gap_s` is 0 where there are only jumps.
    """

    count: int
    silent_gaps: int
    held_gaps: int
    jumps: int
    longest_gap_s: float
    spans: tuple[Span, ...]
    spans_merged_s: float


@dataclass(frozen=True)
class Resolution:
    """How many bits of each sample are ever used, counted from the top; None, with the reason, if that is not known."""

    used_bits: int | None
    reason: str


@dataclass(frozen=True)
class DigitalSilence:
    """Runs of exact zeros of at least `at_least_s`, per channel; `share_percent` is of each channel's time."""

    at_least_s: float
    count: int
    longest_s: float
    share_percent: tuple[float, ...]
    spans: tuple[Span, ...]
    spans_merged_s: float


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
    voice where it is smallest.
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
    """Mean level in the pauses of one channel: unweighted without DC, and A-weighted (IEC 61672-1)."""

    floor_dbfs: float | None
    floor_dba: float | None
    reason: str


@dataclass(frozen=True)
class Noise:
    """The noise floor of the noisiest channel: the level in the pauses, where the file is not digital silence."""

    noise_floor_dbfs: float | None
    noise_floor_dba: float | None
    reason: str
    channels: tuple[ChannelNoise, ...]


@dataclass(frozen=True)
class LongSilence:
    """Stretches of at least `at_least_s` in which no channel rises above its pauses."""

    at_least_s: float
    count: int
    longest_s: float
    spans: tuple[Span, ...]
    reason: str


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
class HumLine:
    """One narrow line: its prominence is its power within 3 Hz over what its neighbours hold in as many Hz."""

    frequency_hz: float
    prominence_db: float
    level_dbfs: float


@dataclass(frozen=True)
class Hum:
    """Mains hum in the pauses of the worst channel: lines at multiples of one frequency close to 50 or 60 Hz.

    `prominence_db` is the strongest line's, or what the spectrum there shows where no line stands out, `lines` is then
    empty; levels are of all lines together, as plain RMS.
    """

    prominence_db: float | None
    mains_hz: int | None
    measured_hz: float | None
    level_dbfs: float | None
    a_weighted_level_dbfs: float | None
    lines: tuple[HumLine, ...]
    channel: int | None
    reason: str


@dataclass(frozen=True)
class RumbleBurst:
    """A stretch of strong sound from 12 to 64 Hz: its level at its height, its share of all energy below 900 Hz."""

    span: Span
    level_dbfs: float
    over_voice_db: float
    share_percent: float


@dataclass(frozen=True)
class Rumble:
    """Bursts below the voice: wind, handling, traffic; `share_percent` is of the whole recording, worst channel.

    `voice_dbfs` is the level, from 100 to 900 Hz, of the loud moments of the channel of the loudest burst.
    """

    bursts: tuple[RumbleBurst, ...]
    share_percent: float | None
    voice_dbfs: float | None
    reason: str


@dataclass(frozen=True)
class Bandwidth:
    """Where the spectrum ends: `edge_hz` is None where it reaches up to half the sample rate or fades gently.

    `drop_db` is the step found at the edge, or the steepest one where none counts as an edge.
    """

    edge_hz: float | None
    drop_db: float | None
    reason: str


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
class Measurement:
    """Everything measured in one file by one version of this package.

    `salvageable` says that `audio_qc.salvage` can make a copy without what `structure` tells.
    """

    measured_by: str
    format: Format
    structure: tuple[StructureNote, ...]
    salvageable: bool
    marks: tuple[Mark, ...]
    details: Details
    loudness: Loudness
    true_peak: TruePeak
    levels: Levels
    clipping: Clipping
    flat_tops: FlatTops
    dropouts: Dropouts
    resolution: Resolution
    digital_silence: DigitalSilence
    speech: Speech
    noise: Noise
    long_silence: LongSilence
    level_histogram: LevelHistogram
    spectrum: Spectrum
    hum: Hum
    rumble: Rumble
    bandwidth: Bandwidth
    channel_pairs: tuple[ChannelPair, ...]
    waveform: Waveform

    def to_dict(self) -> dict[str, Any]:
        """Return JSON-ready data with its schema number."""
        return {"schema": SCHEMA, **to_plain(self)}

    @classmethod
    def from_dict(cls, data: dict[str, Any]) -> "Measurement":
        """Rebuild what `to_dict` wrote; raises StoredDataError for another schema or a damaged record."""
        if data.get("schema") != SCHEMA:
            raise StoredDataError(f"This measurement has schema {data.get('schema')!r}; {SCHEMA} was expected.")
        measurement: Measurement = from_plain(cls, data)
        return measurement
