"""Synthetic sound with known answers, and small WAV files built byte by byte.

Samples are float64, full scale 1.0: one channel is a 1-D array, several are of shape (frames, channels).
Levels of tones are peak levels in dBFS, as in EBU Tech 3341.
"""

import struct
from collections.abc import Iterable
from pathlib import Path

import numpy as np
import soundfile

RATE_HZ = 48_000


def amplitude(dbfs: float) -> float:
    """Return the sample value of a level."""
    return float(10.0 ** (dbfs / 20.0))


def silence(seconds: float, rate_hz: int = RATE_HZ) -> np.ndarray:
    """Return exact zeros."""
    return np.zeros(round(seconds * rate_hz))


def tone(seconds: float, dbfs: float, hz: float = 1000.0, rate_hz: int = RATE_HZ, degrees: float = 0.0) -> np.ndarray:
    """Return a sine of a peak level; its RMS is 3.01 dB lower."""
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    return amplitude(dbfs) * np.sin(2 * np.pi * hz * t + np.radians(degrees))


def steps(parts: Iterable[tuple[float, float | None]], hz: float = 1000.0, rate_hz: int = RATE_HZ) -> np.ndarray:
    """Return one phase-continuous sine whose level changes: (seconds, dBFS or None for silence) in order."""
    levels = [np.full(round(seconds * rate_hz), 0.0 if dbfs is None else amplitude(dbfs)) for seconds, dbfs in parts]
    envelope = np.concatenate(levels)
    return envelope * np.sin(2 * np.pi * hz * np.arange(len(envelope)) / rate_hz)


def noise(seconds: float, rms_dbfs: float, rate_hz: int = RATE_HZ, seed: int = 1) -> np.ndarray:
    """Return white Gaussian noise of a plain RMS level."""
    return amplitude(rms_dbfs) * np.random.default_rng(seed).standard_normal(round(seconds * rate_hz))


def stereo(left: np.ndarray, right: np.ndarray | None = None) -> np.ndarray:
    """Return two channels, the same sound twice unless `right` is given."""
    return np.stack((left, left if right is None else right), axis=1)


def faded(samples: np.ndarray, seconds: float = 0.010, rate_hz: int = RATE_HZ) -> np.ndarray:
    """Return the samples with a linear fade at both ends."""
    frames = round(seconds * rate_hz)
    ramp = np.minimum(1.0, np.minimum(np.arange(len(samples)), np.arange(len(samples))[::-1]) / frames)
    return samples * ramp


def write(path: Path, samples: np.ndarray, rate_hz: int = RATE_HZ, subtype: str = "PCM_24", **options: str) -> Path:
    """Write a sound file; the ending of its name says which kind."""
    soundfile.write(path, samples, rate_hz, subtype=subtype, **options)
    return path


def chunk(name: bytes, payload: bytes, size: int | None = None) -> bytes:
    """Return one RIFF chunk, padded to even length; `size` overrides what its header claims."""
    claimed = len(payload) if size is None else size
    return name + struct.pack("<I", claimed) + payload + b"\0" * (len(payload) % 2)


def wav(*chunks: bytes, form: bytes = b"RIFF", size: int | None = None) -> bytes:
    """Return a WAV file made of chunks."""
    body = b"WAVE" + b"".join(chunks)
    return form + struct.pack("<I", len(body) if size is None else size) + body


def fmt(rate_hz: int = 8_000, channels: int = 1, bits: int = 16) -> bytes:
    """Return a `fmt ` chunk for PCM."""
    frame = channels * bits // 8
    return chunk(b"fmt ", struct.pack("<HHIIHH", 1, channels, rate_hz, rate_hz * frame, frame, bits))


def pcm16(samples: np.ndarray) -> bytes:
    """Return samples as 16-bit little-endian bytes."""
    return np.clip(np.rint(samples * 32768), -32768, 32767).astype("<i2").tobytes()


def cue(*points: tuple[int, int]) -> bytes:
    """Return a `cue ` chunk of (id, frame) points."""
    entries = b"".join(struct.pack("<II4sIII", name, 0, b"data", 0, 0, frame) for name, frame in points)
    return chunk(b"cue ", struct.pack("<I", len(points)) + entries)


def labels(*texts: tuple[int, bytes]) -> bytes:
    """Return a `LIST` chunk of type `adtl` with a `labl` per (id, text)."""
    return chunk(b"LIST", b"adtl" + b"".join(chunk(b"labl", struct.pack("<I", n) + t + b"\0") for n, t in texts))
