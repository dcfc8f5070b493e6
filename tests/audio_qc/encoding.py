"""Writes sound in the formats that phones, browsers and old recorders make, through PyAV."""

import fractions
from pathlib import Path

import av
import numpy as np


def encode(
    path: Path,
    codec: str,
    samples: np.ndarray,
    sample_format: str,
    rate_hz: int = 48_000,
    bit_rate: int = 0,
    tags: dict[str, str] | None = None,
    chapters: list[tuple[float, float, str]] | None = None,
) -> Path:
    """Write samples of shape (frames,) or (frames, 2); the name's ending says which container."""
    planar = np.ascontiguousarray(np.atleast_2d(samples.T), dtype=np.float32)
    layout = {1: "mono", 2: "stereo"}[len(planar)]
    with av.open(str(path), "w") as container:
        container.metadata.update(tags or {})
        if chapters:
            container.set_chapters([_chapter(number, *chapter) for number, chapter in enumerate(chapters)])
        stream = container.add_stream(codec, rate=rate_hz, layout=layout)
        stream.codec_context.format = sample_format
        if bit_rate:
            stream.bit_rate = bit_rate
        stream.codec_context.open()
        for frame in _frames(planar, layout, sample_format, rate_hz, stream.codec_context.frame_size or 1024):
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def _chapter(number: int, start_s: float, end_s: float, title: str) -> dict[str, object]:
    unit = fractions.Fraction(1, 1000)
    return {
        "id": number,
        "start": round(start_s * 1000),
        "end": round(end_s * 1000),
        "time_base": unit,
        "metadata": {"title": title},
    }


def _frames(
    planar: np.ndarray, layout: str, sample_format: str, rate_hz: int, frame_size: int
) -> list[av.AudioFrame | None]:
    whole = av.AudioFrame.from_ndarray(planar, format="fltp", layout=layout)
    whole.sample_rate, whole.time_base, whole.pts = rate_hz, fractions.Fraction(1, rate_hz), 0
    cutter = av.AudioResampler(format=sample_format, layout=layout, rate=rate_hz, frame_size=frame_size)
    return [*cutter.resample(whole), *cutter.resample(None)]
