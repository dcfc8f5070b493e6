"""The facts about one audio file: frozen, with units in the names; `None` always comes with a reason.

Levels are decibels relative to digital full scale (sample value 1.0). RMS levels are plain root mean square, so that a
full-scale sine reads -3.01 dBFS; the AES17 convention, by which it reads 0, is 3.01 dB higher.
"""

from dataclasses import dataclass
from typing import Any

from audio_qc.errors import StoredDataError
from audio_qc.plain import from_plain, to_plain

SCHEMA = 1


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
    """A point that the recorder stored in the file."""

    at_seconds: float
    at_frame: int
    label: str


@dataclass(frozen=True)
class InfoText:
    """One text of a RIFF INFO list: four-letter key and its value."""

    key: str
    text: str


@dataclass(frozen=True)
class Broadcast:
    """The basics of a `bext` chunk (EBU Tech 3285); times and dates are as the recorder wrote them."""

    description: str
    originator: str
    originator_reference: str
    origination_date: str
    origination_time: str
    time_reference_frames: int
    version: int
    coding_history: str


@dataclass(frozen=True)
class Details:
    """What the recorder wrote about the recording."""

    broadcast: Broadcast | None
    info: tuple[InfoText, ...]


@dataclass(frozen=True)
class Loudness:
    """Loudness to ITU-R BS.1770-5 and EBU Tech 3341; a mono file gets no dual-mono correction."""

    integrated_lufs: float | None
    integrated_reason: str
    short_term_max_lufs: float | None
    short_term_max_reason: str
    momentary_max_lufs: float | None
    momentary_max_reason: str


@dataclass(frozen=True)
class TruePeak:
    """Highest peak between the samples (BS.1770-5 Annex 2), never below the sample peak; None where all is silence."""

    highest_dbtp: float | None
    channels_dbtp: tuple[float | None, ...]
    at_frame: int | None
    at_seconds: float | None
    oversampling: int
    reason: str


@dataclass(frozen=True)
class ChannelLevel:
    """Plain level figures of one channel; decibels are None where the channel is digital silence."""

    sample_peak_dbfs: float | None
    rms_dbfs: float | None
    rms_without_dc_dbfs: float | None
    crest_factor_db: float | None
    dc_offset_percent: float
    reason: str


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
class NoiseFloor:
    """Unweighted level in the pauses: a low percentile of 50 ms frame levels, digital silence left out, no DC."""

    highest_dbfs: float | None
    channels_dbfs: tuple[float | None, ...]
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
    """Everything measured in one file by one version of this package."""

    measured_by: str
    format: Format
    structure: tuple[StructureNote, ...]
    marks: tuple[Mark, ...]
    details: Details
    loudness: Loudness
    true_peak: TruePeak
    levels: tuple[ChannelLevel, ...]
    clipping: Clipping
    flat_tops: FlatTops
    dropouts: Dropouts
    resolution: Resolution
    digital_silence: DigitalSilence
    noise_floor: NoiseFloor
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
