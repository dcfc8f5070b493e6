"""The facts about one audio file: frozen, with units in the names; `None` always comes with a reason.

Levels are decibels relative to digital full scale (sample value 1.0). RMS levels are plain root mean square, so that a
full-scale sine reads -3.01 dBFS; the AES17 convention, by which it reads 0, is 3.01 dB higher.
"""

from dataclasses import dataclass
from typing import Any

from audio_qc.errors import StoredDataError
from audio_qc.facts.faults import (
    Bandwidth,
    ChannelLoss,
    Clipping,
    DigitalSilence,
    Dropouts,
    FlatTops,
    Hum,
    LongSilence,
    Resolution,
    Rumble,
)
from audio_qc.facts.file import Details, Format, Mark, StructureNote
from audio_qc.facts.sound import (
    ChannelPair,
    Edges,
    LevelHistogram,
    Levels,
    Loudness,
    Noise,
    Spectrum,
    Speech,
    TruePeak,
    Waveform,
)
from audio_qc.plain import from_plain, to_plain

SCHEMA = 3


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
    channel_losses: tuple[ChannelLoss, ...]
    edges: Edges
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
