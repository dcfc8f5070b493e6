"""What may be wrong with the sound, and where."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Span:
    """A stretch of the recording: frames from `start_frame` up to, not including, `end_frame`."""

    start_s: float
    end_s: float
    start_frame: int
    end_frame: int
    channel: int | None


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
class LongSilence:
    """Stretches of at least `at_least_s` in which no channel rises above its pauses."""

    at_least_s: float
    count: int
    longest_s: float
    spans: tuple[Span, ...]
    reason: str


@dataclass(frozen=True)
class ChannelLoss:
    """A stretch of at least 20 s in which one channel lies 25 dB or more below the loudest; None in digital silence."""

    span: Span
    level_dbfs: float | None
    below_db: float | None


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
