"""What the file is, how it is built and what the recorder wrote into it."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Format:
    """What the file is; `frames` and `seconds` are what could be read, whatever the header claims.

    `samples_sha256` is that of the decoded sound (`audio_qc.samples`): files that differ in headers alone share it.
    """

    container: str
    subtype: str
    sample_rate_hz: int
    bits_per_sample: int | None
    channels: int
    frames: int
    seconds: float
    file_bytes: int
    sha256: str
    samples_sha256: str


@dataclass(frozen=True)
class StructureNote:
    """Something unusual in how the file is built; `code` is stable, `detail` is one sentence."""

    code: str
    detail: str


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
