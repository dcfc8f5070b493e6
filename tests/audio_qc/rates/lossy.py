"""Speech that was once compressed or recorded at a lower rate: how often its spectrum gives that away.

Which recordings have an edge of their own was seen in their spectra, those of the second half included; how wide an
edge may be was left as it was then, although wider ones would have been found more often, and false ones too.
"""

import io
from collections.abc import Iterable, Iterator

import av
import numpy as np

from audio_qc.facts.faults import Bandwidth
from audio_qc.meters.bandwidth import bandwidth_facts
from audio_qc.meters.noise import find_pauses
from audio_qc.meters.slices import SliceMeter
from audio_qc.meters.spectrum import SpectrumMeter
from audio_qc.meters.units import UnitStage
from audio_qc.source import BLOCK_FRAMES
from tests.audio_qc.rates.common import HALVES, Recording, rate, speech, table

CODINGS = (
    ("mp3", 32), ("mp3", 48), ("mp3", 64), ("mp3", 96), ("mp3", 128), ("mp3", 192),
    ("aac", 48), ("aac", 64), ("aac", 128), ("libopus", 24), ("libopus", 48),
)  # fmt: skip
CONTAINERS = {"mp3": "mp3", "aac": "mp4", "libopus": "ogg"}
LOWER_RATES_HZ = (8_000, 16_000, 22_050, 32_000)
FULL_RATE_HZ = 48_000
LIMITED = {
    "reading_20s_48k.wav": "14 kHz, as the manifest says",
    "public_address_1961_44k24.flac": "falls by 45 dB at 15.9 kHz",
    "conversation_30s_16k.wav": "a telephone's, falls by 41 dB at 3.8 kHz",
}  # edges of their own: found, and no place to add one to
FULL_BAND = {
    "tuned on": ["sentence_m_48k.wav"],
    "judged on": ["sentence_p286_48k.wav", "german_pauses_44k.wav"],
}  # whose sound reaches far enough for a coder to cut something off


def coded(samples: np.ndarray, rate_hz: int, codec: str, kbit_s: int) -> np.ndarray:
    """Return one channel after encoding and decoding in memory, rounded to 16 bits as such files usually are."""
    buffer = io.BytesIO()
    with av.open(buffer, "w", format=CONTAINERS[codec]) as out:
        stream = out.add_stream(codec, rate=rate_hz, layout="mono")
        stream.bit_rate = kbit_s * 1000
        to_coder = av.AudioResampler(stream.codec_context.format, "mono", rate_hz)
        for piece in [*to_coder.resample(_frame(samples, rate_hz)), None]:
            out.mux(stream.encode(piece))
    buffer.seek(0)
    with av.open(buffer) as file:
        to_float = av.AudioResampler("fltp", "mono", rate_hz)
        parts = [one.to_ndarray()[0] for frame in file.decode(audio=0) for one in to_float.resample(frame)]
    return rounded(np.concatenate(parts).astype(float))


def resampled(samples: np.ndarray, rate_hz: int, through_hz: int) -> np.ndarray:
    """Return one channel as if recorded at a lower rate and brought up again."""
    return rounded(_at_rate(_at_rate(samples, rate_hz, through_hz), through_hz, rate_hz))


def _at_rate(samples: np.ndarray, rate_hz: int, to_hz: int) -> np.ndarray:
    """Return samples at another rate, by the most widespread resampler, with its ordinary settings."""
    resampler = av.AudioResampler("fltp", "mono", to_hz)
    frames = [*resampler.resample(_frame(samples, rate_hz)), *resampler.resample(None)]
    return np.concatenate([frame.to_ndarray()[0] for frame in frames]).astype(float)


def _frame(samples: np.ndarray, rate_hz: int) -> av.AudioFrame:
    frame = av.AudioFrame.from_ndarray(samples[np.newaxis].astype(np.float32), format="fltp", layout="mono")
    frame.sample_rate = rate_hz
    return frame


def rounded(samples: np.ndarray) -> np.ndarray:
    """Return samples with the dither and the steps of 16 bits."""
    dither = np.random.default_rng(1).random((2, len(samples))).sum(axis=0) - 1.0
    return np.asarray(np.rint(samples * 32768 + dither) / 32768)


def measured(samples: np.ndarray, rate_hz: int) -> Bandwidth:
    """Return the facts about the bandwidth of one channel."""
    slices = SliceMeter(rate_hz, 1)
    units = UnitStage(rate_hz, 1, (slices,))
    spectrum = SpectrumMeter(rate_hz, 1, slices)
    for start in range(0, len(samples), BLOCK_FRAMES):
        block = np.ascontiguousarray(samples[np.newaxis, start : start + BLOCK_FRAMES])
        units.add(block)
        spectrum.add(block)
    units.finish()
    spectrum.finish()
    return bandwidth_facts(spectrum, find_pauses(slices).highest_db)


def spoilt(recording: Recording) -> Iterator[tuple[str, np.ndarray, int]]:
    """Yield a recording after each of the codings and lower rates: what was done, one channel, its rate."""
    samples, rate_hz = recording.samples[0], recording.rate_hz
    for codec, kbit_s in CODINGS:
        at_hz = FULL_RATE_HZ if codec == "libopus" else rate_hz  # Opus has no 44.1 kHz
        source = samples if at_hz == rate_hz else _at_rate(samples, rate_hz, at_hz)
        yield f"{codec.removeprefix('lib')}, {kbit_s} kb/s", coded(source, at_hz, codec, kbit_s), at_hz
    for through_hz in LOWER_RATES_HZ:
        yield f"once at {through_hz / 1000:g} kHz", resampled(samples, rate_hz, through_hz), rate_hz


def outcomes(names: Iterable[str]) -> dict[str, list[bool]]:
    """Return for everything that was done whether an edge was found, one outcome a recording."""
    found: dict[str, list[bool]] = {}
    for recording in speech(names):
        for what, samples, rate_hz in spoilt(recording):
            found.setdefault(what, []).append(measured(samples, rate_hz).edge_hz is not None)
    return found


def accused(names: Iterable[str]) -> list[str]:
    """Return the names of the recordings with an edge although nothing was done and none is known."""
    recordings = speech(name for name in names if name not in LIMITED)
    return [one.name for one in recordings if measured(one.samples[0], one.rate_hz).edge_hz is not None]


def found_again(names: Iterable[str]) -> list[bool]:
    """Return for the recordings with an edge of their own whether it is found."""
    recordings = speech(name for name in names if name in LIMITED)
    return [measured(one.samples[0], one.rate_hz).edge_hz is not None for one in recordings]


def tables() -> list[str]:
    """Return the table as Markdown."""
    halves = {half: outcomes(names) for half, names in FULL_BAND.items()}
    rows = [
        [what, *(rate(sum(found[what]), len(found[what])) for found in halves.values())]
        for what in next(iter(halves.values()))
    ]
    alarms = [rate(len(accused(names)), len(set(names) - LIMITED.keys())) for names in HALVES.values()]
    own = [found_again(names) for names in HALVES.values()]
    rows.append(["nothing, the recording has an edge of its own", *(rate(sum(one), len(one)) for one in own)])
    rows.append(["false alarms, nothing done", *alarms])
    return [table("Edges found in the spectrum, by what was done to full-band speech", ["done", *FULL_BAND], rows)]
