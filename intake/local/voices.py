"""Invented voices: speech-like sound made from arithmetic alone, so that the demo holds nobody's words.

A row of glottal pulses is led through resonances that glide from vowel to vowel (the source-filter model of speech),
in syllables, phrases and breaths, over the noise of a quiet room. Nothing is said; it only sounds like talking.
"""

import io
import struct
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import soundfile
from scipy.signal import butter, lfilter, sosfilt

RATE = 48_000  # Hz
FRAME = 480  # samples between two steps of the gliding resonances: 10 ms

Sound = npt.NDArray[np.float64]  # mono, full scale at 1.0

# First three formants of vowels in Hz: averages for men by Peterson and Barney, 1952 (from memory).
VOWELS = np.array(
    [(730, 1090, 2440), (530, 1840, 2480), (390, 1990, 2550), (570, 840, 2410), (440, 1020, 2240), (640, 1190, 2390)],
    dtype=float,
)
BANDWIDTHS = (80.0, 100.0, 140.0)  # Hz
LAUGH = np.array([730.0, 1300.0, 2500.0])


@dataclass(frozen=True)
class Voice:
    """A speaker: pitch in Hz, length of the vocal tract relative to a man's, pace in syllables a second."""

    pitch: float
    tract: float
    pace: float


OLD_FERRYMAN = Voice(pitch=105.0, tract=1.0, pace=3.6)
BAKER = Voice(pitch=185.0, tract=0.86, pace=4.4)
SCHOOLTEACHER = Voice(pitch=205.0, tract=0.84, pace=4.0)
TOLL_KEEPER = Voice(pitch=125.0, tract=0.97, pace=4.2)
INTERVIEWER = Voice(pitch=165.0, tract=0.9, pace=4.8)


class Studio:
    """Makes sounds from one seed, so that a demo sounds the same each time it is loaded."""

    def __init__(self, seed: int) -> None:
        self._random = np.random.default_rng(seed)

    def conversation(
        self, narrator: Voice, *, seconds: float, peak_dbfs: float = -8.0, room_dbfs: float = -66.0
    ) -> Sound:
        """A question, then the narrator in phrases, until `seconds` are full. The loudest sample is at `peak_dbfs`."""
        turns = [self.silence(0.6), self.phrase(INTERVIEWER, seconds=2.0) * 0.6, self.silence(0.7)]
        while sum(map(len, turns)) < seconds * RATE:
            turns += [self.phrase(narrator, seconds=self._random.uniform(1.8, 4.2)), self.pause()]
        speech = np.concatenate(turns)[: round(seconds * RATE)]
        level = 10 ** (peak_dbfs / 20)
        return speech * (level / np.abs(speech).max()) + self.room(len(speech), room_dbfs)

    def phrase(self, voice: Voice, *, seconds: float) -> Sound:
        """Syllables in one breath; the pitch falls towards the end."""
        count = max(2, round(seconds * voice.pace))
        lengths = self._random.uniform(0.7, 1.35, count)
        shares = np.cumsum(lengths) / lengths.sum()
        edges = (np.concatenate([[0.0], shares]) * seconds * RATE).astype(np.int64)
        size = edges[-1]
        vowels: Sound = VOWELS[self._random.integers(0, len(VOWELS), count)] / voice.tract
        loudness = self._syllables(edges, self._random.uniform(0.55, 1.0, count))
        source = self._glottis(self._melody(size, voice.pitch)) * loudness
        voiced = _resonate(source, _glide(edges, vowels))
        return voiced / np.abs(voiced).max() * self._random.uniform(0.7, 1.0) + self._consonants(edges)

    def laughter(self, voice: Voice, *, seconds: float) -> Sound:
        """A row of short open syllables, loud at first and then running out of breath."""
        edges = (np.arange(0, seconds, 0.21) * RATE).astype(np.int64)
        levels = np.linspace(1.0, 0.45, len(edges) - 1)
        source = self._glottis(self._melody(edges[-1], voice.pitch * 1.5)) * self._syllables(edges, levels)
        laugh = _resonate(source, np.repeat(LAUGH[None] / voice.tract, edges[-1] // FRAME + 1, axis=0))
        return laugh / np.abs(laugh).max()

    def room(self, size: int, dbfs: float) -> Sound:
        """The noise of a quiet room, darker than white, with a root mean square at `dbfs`."""
        noise = lfilter([1.0], [1.0, -0.94], self._random.standard_normal(size))
        return noise * (10 ** (dbfs / 20) / np.sqrt(np.mean(noise**2)))

    def silence(self, seconds: float) -> Sound:
        return np.zeros(round(seconds * RATE))

    def pause(self) -> Sound:
        """Between two phrases: silence with a breath in it."""
        length = round(self._random.uniform(0.35, 0.8) * RATE)
        breath = self.room(length, -48.0) * np.hanning(length) ** 2
        return np.concatenate([self.silence(0.12), breath])

    def _melody(self, size: int, pitch: float) -> Sound:
        """Pitch in Hz for every sample: falling, with slow turns and a little unsteadiness."""
        at = np.linspace(0, 1, size)
        turns = 0.06 * np.sin(2 * np.pi * (self._random.uniform(1.0, 2.5) * at + self._random.uniform()))
        unsteady = lfilter([0.001], [1.0, -0.999], self._random.standard_normal(size))
        return pitch * (1.12 - 0.22 * at + turns + 0.3 * unsteady)

    def _glottis(self, melody: Sound) -> Sound:
        """Pulses of air: open for three fifths of a period, closing fast, with some breath noise."""
        phase = np.cumsum(melody / RATE) % 1.0
        opening = np.clip(phase / 0.4, 0, 1)
        closing = np.clip((phase - 0.4) / 0.2, 0, 1)
        flow = 0.5 * (1 - np.cos(np.pi * opening)) * np.cos(0.5 * np.pi * closing)
        pulses = np.diff(flow, prepend=flow[:1]) * RATE / melody
        return pulses + 0.02 * self._random.standard_normal(len(pulses))

    def _syllables(self, edges: npt.NDArray[np.int64], levels: Sound) -> Sound:
        """A loudness curve: each syllable swells and fades within its edges."""
        curve = np.zeros(edges[-1])
        for start, end, level in zip(edges[:-1], edges[1:], levels, strict=True):
            curve[start:end] = level * np.sin(np.pi * np.linspace(0, 1, end - start)) ** 0.6
        return curve

    def _consonants(self, edges: npt.NDArray[np.int64]) -> Sound:
        """Soft bursts of hiss before some syllables."""
        bursts = np.zeros(edges[-1])
        hiss = sosfilt(
            butter(2, [2500, 7500], "bandpass", fs=RATE, output="sos"), self._random.standard_normal(edges[-1])
        )
        for start in edges[:-1][self._random.random(len(edges) - 1) < 0.45]:
            length = min(round(self._random.uniform(0.03, 0.08) * RATE), edges[-1] - start)
            bursts[start : start + length] = hiss[start : start + length] * np.hanning(length)
        return 0.05 * bursts


def with_hum(sound: Sound, dbfs: float) -> Sound:
    """Add the hum of a badly earthed mains lead: 50 Hz and its overtones, the root of it at `dbfs`."""
    at = np.arange(len(sound)) / RATE
    hum = sum(np.sin(2 * np.pi * 50 * harmonic * at + harmonic) / harmonic for harmonic in (1, 2, 3, 4, 6))
    return sound + hum * 10 ** (dbfs / 20)


def with_burst(sound: Sound, burst: Sound, *, at_seconds: float, gain_db: float) -> Sound:
    """Add something loud. What goes over full scale is cut flat, as a recorder set too high writes it."""
    start = round(at_seconds * RATE)
    mixed = sound.copy()
    mixed[start : start + len(burst)] += burst * 10 ** (gain_db / 20)
    return np.clip(mixed, -1.0, 1.0)


def wav(sound: Sound, *, marks: tuple[float, ...] = ()) -> bytes:
    """A WAV file as a recorder writes it, 24 bit at 48 kHz, with cue marks at so many seconds from the start."""
    file = io.BytesIO()
    soundfile.write(file, np.clip(sound, -1.0, 1.0), RATE, format="WAV", subtype="PCM_24")
    content = file.getvalue()
    return _add_chunk(content, b"cue ", _cue_points(marks)) if marks else content


def _cue_points(marks: tuple[float, ...]) -> bytes:
    """The `cue ` chunk: a count, then 24 bytes a mark (Multimedia Programming Interface, 1991)."""
    points = [
        struct.pack("<II4sIII", number, frame, b"data", 0, 0, frame)
        for number, frame in enumerate((round(mark * RATE) for mark in marks), 1)
    ]
    return struct.pack("<I", len(points)) + b"".join(points)


def _add_chunk(wave: bytes, name: bytes, content: bytes) -> bytes:
    """Put a chunk at the end of a RIFF file and correct the size in its header."""
    padded = wave + b"\0" * (len(wave) % 2)
    whole = padded + struct.pack("<4sI", name, len(content)) + content
    return whole[:4] + struct.pack("<I", len(whole) - 8) + whole[8:]


def _glide(edges: npt.NDArray[np.int64], vowels: Sound) -> Sound:
    """Formants for every frame, gliding from the middle of one syllable to the next: frames x 3, in Hz."""
    middles = (edges[:-1] + edges[1:]) / 2
    at = np.arange(edges[-1] // FRAME + 1) * FRAME
    return np.stack([np.interp(at, middles, vowels[:, number]) for number in range(vowels.shape[1])], axis=1)


def _resonate(source: Sound, formants: Sound) -> Sound:
    """Lead the source through one resonance after another, each re-tuned every frame without a click."""
    sound = source
    for number, bandwidth in enumerate(BANDWIDTHS):
        sound = _resonance(sound, formants[:, number], bandwidth)
    return sound


def _resonance(sound: Sound, centres: Sound, bandwidth: float) -> Sound:
    """A two-pole resonance with unity gain at 0 Hz; `centres` holds its frequency for every frame."""
    radius = np.exp(-np.pi * bandwidth / RATE)
    out, state = np.empty_like(sound), np.zeros(2)
    for frame, start in enumerate(range(0, len(sound), FRAME)):
        poles = [1.0, -2 * radius * np.cos(2 * np.pi * centres[frame] / RATE), radius**2]
        block = slice(start, start + FRAME)
        out[block], state = lfilter([sum(poles)], poles, sound[block], zi=state)
    return out
