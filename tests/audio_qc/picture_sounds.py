"""The sounds of the pictures in docs/measurements.md: the demo's synthesised voices in a synthetic room, good and bad.

Every sound is float64 of shape (frames,) or (frames, channels), full scale 1.0, and the same every time.
"""

from functools import cache
from pathlib import Path

import numpy as np
import soundfile
from scipy import signal

from tests.signals import RATE_HZ, amplitude, noise, tone

SPEECH = Path(__file__).parents[2] / "intake" / "local" / "speech"
VOICE_PEAK_DBFS = -9.0
ROOM_DBFS = -62.0


@cache
def voice(name: str = "boat-race", seconds: float = 10.0) -> np.ndarray:
    """Return the beginning of one of the demo's recordings, its highest sample at -9 dBFS; no one may change it."""
    samples, rate_hz = soundfile.read(SPEECH / f"{name}.ogg")
    assert rate_hz == RATE_HZ
    samples = samples[: round(seconds * RATE_HZ)]
    scaled: np.ndarray = samples * (amplitude(VOICE_PEAK_DBFS) / np.abs(samples).max())
    scaled.setflags(write=False)
    return scaled


def loudest_s() -> float:
    """Return where the voice is loudest."""
    return float(np.argmax(np.abs(voice()))) / RATE_HZ


def room(seconds: float, dbfs: float = ROOM_DBFS, seed: int = 7) -> np.ndarray:
    """Return a quiet room: noise that falls by 3 dB an octave."""
    white = noise(seconds, 0.0, seed=seed)
    pink = signal.lfilter([0.049922, -0.095994, 0.050613, -0.004409], [1.0, -2.494956, 2.017266, -0.522190], white)
    return at_rms(pink, dbfs)


def at_rms(samples: np.ndarray, dbfs: float) -> np.ndarray:
    """Return the samples at an RMS level."""
    scaled: np.ndarray = samples * (amplitude(dbfs) / np.sqrt(np.mean(samples**2)))
    return scaled


def length_s(samples: np.ndarray) -> float:
    """Return the length in seconds."""
    return len(samples) / RATE_HZ


def good() -> np.ndarray:
    """Return a voice in a quiet room at a fitting level."""
    return voice() + room(length_s(voice()))


def louder(db: float) -> np.ndarray:
    """Return the good recording with the level turned up or down, cut off at full scale."""
    return np.clip(good() * amplitude(db), -1.0, 1.0)


def squashed() -> np.ndarray:
    """Return the good recording as an overdriven input leaves it: cut off at -15 dBFS."""
    ceiling = amplitude(VOICE_PEAK_DBFS - 6.0)
    return np.clip(good(), -ceiling, ceiling)


def in_noise(dbfs: float) -> np.ndarray:
    """Return the voice in a louder room."""
    return voice() + room(length_s(voice()), dbfs)


def unequal_speakers() -> np.ndarray:
    """Return two voices in turn, the second far from the microphone."""
    far = voice("butter-at-night") * amplitude(-18.0)
    both = np.concatenate((voice(), far, voice()))
    return both + room(length_s(both))


def equal_speakers() -> np.ndarray:
    """Return the same two voices at one distance."""
    both = np.concatenate((voice(), voice("butter-at-night"), voice()))
    return both + room(length_s(both))


def hissing() -> np.ndarray:
    """Return the voice over hiss, which lies where the ear is keen."""
    hiss = signal.sosfilt(signal.butter(2, 1500.0, "highpass", fs=RATE_HZ, output="sos"), noise(10.0, 0.0, seed=11))
    return voice() + at_rms(hiss, -55.0)[: len(voice())]


def droning() -> np.ndarray:
    """Return the voice over a drone of the same level below 200 Hz, where the ear is dull."""
    drone = signal.sosfilt(
        signal.butter(4, (70.0, 200.0), "bandpass", fs=RATE_HZ, output="sos"), noise(10.0, 0.0, seed=11)
    )
    return voice() + at_rms(drone, -55.0)[: len(voice())]


def humming() -> np.ndarray:
    """Return the good recording with mains hum of 50 Hz and its harmonics."""
    harmonics = {50.0: -44.0, 100.0: -40.0, 150.0: -50.0, 200.0: -52.0, 300.0: -56.0}
    return good() + sum(tone(10.0, dbfs, hz)[: len(voice())] for hz, dbfs in harmonics.items())


def gusts() -> np.ndarray:
    """Return the good recording with three gusts of wind on the microphone."""
    wind = signal.sosfilt(
        signal.butter(2, (15.0, 45.0), "bandpass", fs=RATE_HZ, output="sos"), noise(10.0, 0.0, seed=5)
    )
    seconds = np.arange(len(voice())) / RATE_HZ
    gusts = sum(np.exp(-(((seconds - at) / 0.7) ** 2)) for at in (1.8, 4.6, 7.6))
    return good() + at_rms(wind[: len(voice())], -17.0) * gusts


def with_gap() -> np.ndarray:
    """Return the good recording with 40 ms of zeros in a vowel."""
    samples, start = good(), round((loudest_s() - 0.02) * RATE_HZ)
    samples[start : start + round(0.04 * RATE_HZ)] = 0.0
    return samples


def with_lost_samples() -> np.ndarray:
    """Return the good recording with 12 ms cut out of a vowel and the ends joined."""
    samples, start = good(), round((loudest_s() + 0.0005) * RATE_HZ)
    return np.concatenate((samples[:start], samples[start + round(0.0122 * RATE_HZ) :]))


def muted() -> np.ndarray:
    """Return the voice with a pause of two seconds that a noise gate has emptied."""
    samples = paused()
    samples[round(5.0 * RATE_HZ) : round(6.8 * RATE_HZ)] = 0.0
    return samples


def paused() -> np.ndarray:
    """Return the voice with a pause of two seconds in which the room goes on."""
    spoken = np.concatenate((voice()[: round(4.9 * RATE_HZ)], np.zeros(2 * RATE_HZ), voice()[round(4.9 * RATE_HZ) :]))
    return spoken + room(length_s(spoken))


def talk(break_s: float) -> np.ndarray:
    """Return half a minute of talk with a break in the middle, in which nobody speaks."""
    spoken = np.concatenate((voice(), voice("butter-at-night"), np.zeros(round(break_s * RATE_HZ)), voice()))
    return spoken + room(length_s(spoken))


def two_microphones(right_db: float = 0.0) -> np.ndarray:
    """Return the two capsules of one stereo microphone, 2 cm apart."""
    later = np.roll(voice(), round(0.00006 * RATE_HZ))
    right = (0.9 * later + room(length_s(voice()), seed=8)) * amplitude(right_db)
    return np.stack((good(), right), axis=1)


def dead_channel() -> np.ndarray:
    """Return the good recording on the left and the recorder's own noise on the right."""
    return np.stack((good(), noise(length_s(voice()), -85.0, seed=9)), axis=1)


def inverted_channel() -> np.ndarray:
    """Return two microphones of which one has its wires exchanged."""
    return two_microphones() * np.array([1.0, -1.0])


def offset() -> np.ndarray:
    """Return the good recording with an offset of 20 % of full scale."""
    return good() + 0.2


def full_band() -> np.ndarray:
    """Return the voice with breath up to the top of the band, as a good microphone hears it."""
    envelope = signal.sosfiltfilt(signal.butter(1, 20.0, fs=RATE_HZ, output="sos"), np.abs(voice()))
    breath = noise(10.0, -22.0, seed=13)[: len(voice())] * np.maximum(envelope, 0.0)
    return good() + breath


def narrowed() -> np.ndarray:
    """Return the same as it is after a time at 16 kHz: nothing is left above 8 kHz."""
    steep = signal.firwin(801, 7_800.0, window=("kaiser", 8.0), fs=RATE_HZ)
    return np.asarray(signal.fftconvolve(full_band(), steep, mode="same"))


def coarse(bits: int) -> np.ndarray:
    """Return the good recording, recorded softly, in steps of a word length."""
    steps = 2.0 ** (bits - 1)
    softer = good() * amplitude(-20.0)
    return np.asarray(np.rint(softer * steps) / steps)
