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
    levels: tuple[ChannelLevel, ...]
    clipping: Clipping
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
