"""What the demo's recorders wrote: kept speech, the noise of a room, and the faults that real recordings have.

Everything is made from one seed, so that the demo sounds the same each time it is loaded. Sounds are frames x channels
or frames alone, full scale at 1.0, at 48 kHz.
"""

import io
import struct
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile
from scipy.signal import butter, lfilter, resample_poly, sosfilt

RATE = 48_000  # Hz
SPEECH = Path(__file__).parent / "speech"

Sound = npt.NDArray[np.float64]


# What was said, and where


def speech(name: str) -> Sound:
    """One of the spoken scripts (speech/README.md), without a room."""
    sound, _ = soundfile.read(SPEECH / f"{name}.ogg")
    return sound


def transcript(name: str, voices: dict[str, str]) -> bytes:
    """What is said in one of the spoken scripts, at its times (WebVTT); voices under their whole names."""
    words = (SPEECH / f"{name}.vtt").read_text()
    for voice, whole in voices.items():
        words = words.replace(f"<v {voice}>", f"<v {whole}>")
    return words.encode()


def room(size: int, dbfs: float, *, seed: int) -> Sound:
    """The noise of a quiet room, darker than white, with a root mean square at `dbfs`."""
    noise = lfilter([1.0], [1.0, -0.94], np.random.default_rng(seed).standard_normal(size))
    return noise * (10 ** (dbfs / 20) / np.sqrt(np.mean(noise**2)))


def recorded(name: str, *, seed: int, gain_db: float = 0.0, room_dbfs: float = -66.0) -> Sound:
    """Speech in a room at the recorder's level; what goes over full scale is cut flat."""
    dry = speech(name)
    return np.clip(dry * 10 ** (gain_db / 20) + room(len(dry), room_dbfs, seed=seed), -1.0, 1.0)


def cut(sound: Sound, start: float, end: float) -> Sound:
    """What was said from second to second."""
    return sound[round(start * RATE) : round(end * RATE)]


# Faults of places, microphones and settings


def with_hum(sound: Sound, dbfs: float) -> Sound:
    """Add the hum of a badly earthed mains lead: 50 Hz and its overtones, the root of it at `dbfs`."""
    at = np.arange(len(sound)) / RATE
    hum = sum(np.sin(2 * np.pi * 50 * harmonic * at + harmonic) / harmonic for harmonic in (1, 2, 3, 4, 6))
    return sound + hum * 10 ** (dbfs / 20)


def with_wind(sound: Sound, dbfs: float, *, seed: int) -> Sound:
    """Add wind on a microphone without a cover: noise below 80 Hz in gusts, their loudest at about `dbfs`."""
    random = np.random.default_rng(seed)
    low = sosfilt(butter(4, 80, fs=RATE, output="sos"), random.standard_normal(len(sound)))
    at = np.arange(len(sound)) / RATE
    gusts = np.clip(np.sin(2 * np.pi * at / 7.3) + 0.6 * np.sin(2 * np.pi * at / 3.1 + 1), 0, None) ** 2
    blown = low * gusts
    return np.clip(sound + blown * (10 ** (dbfs / 20) / np.abs(blown).max()), -1.0, 1.0)


def with_handling(sound: Sound, at_seconds: tuple[float, ...], *, seed: int) -> Sound:
    """Add the knocks, thumps and rubs of a telephone that is held and put down."""
    random, handled = np.random.default_rng(seed), sound.copy()
    for second in at_seconds:
        start = round(second * RATE)
        length = min(round(random.uniform(0.25, 0.6) * RATE), len(sound) - start)
        rub = sosfilt(butter(2, [60, 900], "bandpass", fs=RATE, output="sos"), random.standard_normal(length))
        thump = 1.5 * np.sin(2 * np.pi * 28 * np.arange(length) / RATE)
        knock = (rub / np.abs(rub).max() + thump) * np.exp(-np.linspace(0, 5, length))
        handled[start : start + length] += 0.2 * knock / np.abs(knock).max()
    return np.clip(handled, -1.0, 1.0)


def begun_early(sound: Sound, seconds: float, *, seed: int) -> Sound:
    """Put the quiet room before the talk, as when the recorder runs long before anybody speaks."""
    return np.concatenate([room(round(seconds * RATE), -66.0, seed=seed), sound])


def with_dropouts(sound: Sound, spans: tuple[tuple[float, float], ...]) -> Sound:
    """Switch the sound off altogether from second to second, as a card that cannot keep up does."""
    torn = sound.copy()
    for start, end in spans:
        torn[round(start * RATE) : round(end * RATE)] = 0.0
    return torn


def one_dead_channel(sound: Sound) -> Sound:
    """Stereo of which the right microphone was switched off: the recorder's own hiss alone is left there."""
    return np.stack([sound, room(len(sound), -96.0, seed=3)], axis=1)


def one_channel_inverted(sound: Sound) -> Sound:
    """Two microphones at one table, the right one wired upside down."""
    return np.stack([sound, -0.8 * sound + room(len(sound), -68.0, seed=4)], axis=1)


# Files


def wav(sound: Sound, *, rate: int = RATE, bits: int = 24, marks: tuple[float, ...] = ()) -> bytes:
    """A WAV file as a recorder writes it, with cue marks at so many seconds from the start."""
    file = io.BytesIO()
    soundfile.write(file, np.clip(at_rate(sound, rate), -1.0, 1.0), rate, format="WAV", subtype=f"PCM_{bits}")
    content = file.getvalue()
    return _add_chunk(content, b"cue ", _cue_points(marks, rate)) if marks else content


def mp3(sound: Sound) -> bytes:
    """A small MP3 as a telephone writes it, of variable bit rate at 44.1 kHz."""
    file = io.BytesIO()
    soundfile.write(
        file, at_rate(sound, 44_100), 44_100, format="MP3", subtype="MPEG_LAYER_III", bitrate_mode="VARIABLE",
        compression_level=0.7,
    )  # fmt: skip
    return file.getvalue()


def at_rate(sound: Sound, rate: int) -> Sound:
    if rate == RATE:
        return sound
    common = int(np.gcd(rate, RATE))
    return np.clip(resample_poly(sound, rate // common, RATE // common, axis=0), -1.0, 1.0)


def _cue_points(marks: tuple[float, ...], rate: int) -> bytes:
    """The `cue ` chunk: a count, then 24 bytes a mark (Multimedia Programming Interface, 1991)."""
    points = [
        struct.pack("<II4sIII", number, frame, b"data", 0, 0, frame)
        for number, frame in enumerate((round(mark * rate) for mark in marks), 1)
    ]
    return struct.pack("<I", len(points)) + b"".join(points)


def _add_chunk(wave: bytes, name: bytes, content: bytes) -> bytes:
    """Put a chunk at the end of a RIFF file and correct the size in its header."""
    padded = wave + b"\0" * (len(wave) % 2)
    whole = padded + struct.pack("<4sI", name, len(content)) + content
    return whole[:4] + struct.pack("<I", len(whole) - 8) + whole[8:]
