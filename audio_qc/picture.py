"""Makes the sound picture of a recording: tiles of outline, spectrum and loudness, from hours down to milliseconds.

A tile of level 0 covers 16.384 s in 512 columns of 32 ms; one of the next level four times as long in as many columns,
up to the level whose one tile holds the whole recording. Each column has, byte by byte:

- the outline: for each channel 16 pairs of lowest and highest sample, signed, -127 to 127 (2 ms a pair at level 0);
- the spectrum: 128 rows from 50 Hz up to 12 kHz (or half the sample rate, if that is less), spaced evenly in octaves;
  the strongest line of the channels' mean power, 0 at -100 dB and 255 at -15 dB of a full-scale sine;
- the loudness: momentary and short-term, (LUFS + 70) x 3 + 1, or 0 where there is none.

In a tile all outlines stand first (channel, column, pair), then all spectra (column, row), then both loudnesses
(momentary, then short-term, column by column). Tiles are compressed by gzip, so that a browser unpacks them itself.
The file ends with an index in JSON and the index's length in 8 bytes (little-endian).
"""

import gzip
import json
import math
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np

from audio_qc.errors import NoSound
from audio_qc.facts.sound import LoudnessCurve
from audio_qc.source import Source, open_source

COLUMNS = 512
COLUMN_SECONDS = 0.032
TILE_SECONDS = COLUMNS * COLUMN_SECONDS
FACTOR = 4
PAIRS = 16
ROWS = 128
LOWEST_HZ, HIGHEST_HZ = 50.0, 12_000.0
QUIETEST_DB, LOUDEST_DB = -100.0, -15.0
WINDOW_SECONDS = 0.043
STEPS = 127
LENGTH_BYTES = 8
VERSION = 1

Progress = Callable[[float], None]


@dataclass
class _Tile:
    """Columns of one level: outline (channels, columns, pairs, 2), spectrum (columns, rows), loudness (2, columns)."""

    outline: np.ndarray
    spectrum: np.ndarray
    loudness: np.ndarray

    @property
    def columns(self) -> int:
        return len(self.spectrum)

    def packed(self) -> bytes:
        raw = self.outline.tobytes() + self.spectrum.tobytes() + self.loudness.tobytes()
        return gzip.compress(raw, compresslevel=5, mtime=0)  # no time of day: the same sound gives the same bytes

    def coarser(self) -> "_Tile":
        """The same stretch in a quarter of the columns; a last column of fewer is made of what there is."""
        channels, columns = len(self.outline), -(-self.columns // FACTOR)
        starts = np.arange(columns) * FACTOR
        pairs = self.outline.reshape(channels, -1, 2)
        at = np.arange(0, pairs.shape[1], FACTOR)
        low, high = np.minimum.reduceat(pairs[..., 0], at, axis=1), np.maximum.reduceat(pairs[..., 1], at, axis=1)
        outline = np.zeros((channels, columns * PAIRS, 2), np.int8)
        outline[:, : len(at), 0], outline[:, : len(at), 1] = low, high
        count = np.diff(np.append(starts, self.columns))
        spectrum = np.add.reduceat(self.spectrum.astype(np.uint32), starts, axis=0) // count[:, None]
        loudness = np.maximum.reduceat(self.loudness, starts, axis=1)
        return _Tile(outline.reshape(channels, columns, PAIRS, 2), spectrum.astype(np.uint8), loudness)


def draw_picture(
    path: str | os.PathLike[str],
    target: str | os.PathLike[str],
    *,
    loudness: LoudnessCurve | None = None,
    progress: Progress | None = None,
) -> None:
    """Write the sound picture of `path` to `target`; `progress` is told the share done.

    `loudness` is the recording's curve, if it has been measured. Memory is bounded, however long the recording.
    Raises Unreadable where there is no sound.
    """
    source = open_source(path)
    try:
        with Path(target).open("wb") as file:
            _Painter(source, file, loudness).paint(progress or _nobody)
    finally:
        source.close()


class _Painter:
    """Draws tiles of level 0 as the sound comes, and those of the levels above as soon as four below them are there."""

    def __init__(self, source: Source, file: BinaryIO, loudness: LoudnessCurve | None) -> None:
        self._source, self._file = source, file
        self._rate = source.sample_rate_hz
        self._curves = _curves(loudness)
        self._spectrum = _Spectrum(self._rate)
        self._waiting: list[list[_Tile]] = []
        self._places: list[list[tuple[int, int]]] = []  # of each level's tiles: where they begin, and how many bytes

    def paint(self, progress: Progress) -> None:
        frames = 0
        for number, samples in enumerate(self._stretches()):
            frames += samples.shape[1]
            self._add(0, self._tile(samples, number))
            progress(self._source.share_of(frames))
        if not frames:
            raise NoSound("The file holds no sound.")
        self._finish()
        index = {
            "version": VERSION,
            "seconds": frames / self._rate,
            "channels": self._source.channels,
            "tile_seconds": TILE_SECONDS,
            "columns": COLUMNS,
            "factor": FACTOR,
            "pairs": PAIRS,
            "rows": ROWS,
            "lowest_hz": LOWEST_HZ,
            "highest_hz": self._spectrum.highest_hz,
            "levels": self._places,
        }
        told = json.dumps(index, separators=(",", ":")).encode()
        self._file.write(told + len(told).to_bytes(LENGTH_BYTES, "little"))

    def _stretches(self) -> Iterator[np.ndarray]:
        """The samples of each tile of level 0; the last may be fewer."""
        held: list[np.ndarray] = []
        have, begins, number = 0, 0, 1
        for block in self._source.blocks():
            held.append(block)
            have += block.shape[1]
            while have >= (wanted := round(number * TILE_SECONDS * self._rate) - begins):
                whole = np.concatenate(held, axis=1)
                yield whole[:, :wanted]
                held, have = [whole[:, wanted:]], have - wanted
                begins, number = begins + wanted, number + 1
        if have:
            yield np.concatenate(held, axis=1)

    def _tile(self, samples: np.ndarray, number: int) -> _Tile:
        wide = COLUMN_SECONDS * self._rate
        columns = min(COLUMNS, math.ceil(samples.shape[1] / wide))
        return _Tile(
            _outline(samples, columns, wide / PAIRS),
            self._spectrum.of(samples, columns, wide),
            self._loudness(number * COLUMNS, columns),
        )

    def _loudness(self, first: int, columns: int) -> np.ndarray:
        ends = (first + np.arange(columns) + 1) * COLUMN_SECONDS
        return np.stack([_taken(curve, begins, ends) for begins, curve in self._curves])

    def _add(self, level: int, tile: _Tile) -> None:
        if level == len(self._waiting):
            self._waiting.append([])
            self._places.append([])
        packed = tile.packed()
        self._places[level].append((self._file.tell(), len(packed)))
        self._file.write(packed)
        self._waiting[level].append(tile)
        if len(self._waiting[level]) == FACTOR:
            self._join(level)

    def _join(self, level: int) -> None:
        waiting, self._waiting[level] = self._waiting[level], []
        self._add(level + 1, _joined([tile.coarser() for tile in waiting]))

    def _finish(self) -> None:
        """Draw what waits, level by level, until one tile holds all."""
        level = 0
        while level < len(self._waiting):
            if self._waiting[level] and len(self._places[level]) > 1:
                self._join(level)
            level += 1


class _Spectrum:
    """The rows of each column, by one window in the middle of it."""

    def __init__(self, rate_hz: int) -> None:
        self._size = 1 << max(6, round(np.log2(rate_hz * WINDOW_SECONDS)))
        self._window = np.hanning(self._size)
        self.highest_hz = min(HIGHEST_HZ, rate_hz / 2)
        edges = np.geomspace(min(LOWEST_HZ, self.highest_hz / 2), self.highest_hz, ROWS + 1) * self._size / rate_hz
        # A row narrower than a line of the transform shows the line that it lies in.
        lines = np.minimum(np.floor(edges + 0.5).astype(int), self._size // 2)
        self._first, self._end = lines[:-1], lines[-1] + 1
        self._scale = (2 / self._window.sum()) ** 2  # a full-scale sine has the power 1

    def of(self, samples: np.ndarray, columns: int, wide: float) -> np.ndarray:
        """Return bytes (columns, rows) of samples (channels, frames); a column is `wide` frames."""
        channels, frames = samples.shape
        if frames < self._size:
            samples = np.pad(samples, ((0, 0), (0, self._size - frames)))
            frames = self._size
        middles = ((np.arange(columns) + 0.5) * wide).astype(int)
        starts = np.clip(middles - self._size // 2, 0, frames - self._size)
        windows = np.lib.stride_tricks.sliding_window_view(samples, self._size, axis=1)[:, starts]
        power = np.zeros((columns, self._size // 2 + 1))
        for channel in windows:
            power += np.abs(np.fft.rfft(channel * self._window)) ** 2
        rows = np.maximum.reduceat(power[:, : self._end], self._first, axis=1)
        db = 10 * np.log10(np.maximum(rows * self._scale / channels, 1e-12))
        return np.clip(np.rint((db - QUIETEST_DB) / (LOUDEST_DB - QUIETEST_DB) * 255), 0, 255).astype(np.uint8)


def _outline(samples: np.ndarray, columns: int, wide: float) -> np.ndarray:
    """Return signed bytes (channels, columns, pairs, 2); a pair is of `wide` frames."""
    channels, frames = samples.shape
    starts = np.minimum((np.arange(columns * PAIRS) * wide).astype(int), frames - 1)
    low, high = np.minimum.reduceat(samples, starts, axis=1), np.maximum.reduceat(samples, starts, axis=1)
    both = np.stack((low, high), axis=2) * STEPS
    return np.clip(np.rint(both), -STEPS, STEPS).astype(np.int8).reshape(channels, columns, PAIRS, 2)


def _curves(loudness: LoudnessCurve | None) -> list[tuple[float, np.ndarray]]:
    """When the first value of momentary and short-term ends, in seconds, and all values as bytes."""
    if loudness is None:
        return [(0.0, np.zeros(0, np.uint8))] * 2
    return [
        (loudness.first_momentary_s, _as_bytes(loudness.momentary_lufs)),
        (loudness.first_short_term_s, _as_bytes(loudness.short_term_lufs)),
    ]


def _as_bytes(lufs: tuple[float | None, ...]) -> np.ndarray:
    values = np.array([np.nan if one is None else one for one in lufs], float)
    told = np.clip(np.rint((values + 70) * 3) + 1, 1, 255)
    return np.where(np.isnan(values), 0, told).astype(np.uint8)


def _taken(curve: np.ndarray, begins: float, ends: np.ndarray) -> np.ndarray:
    """The value that ended last at each moment; none before the first, none after the last."""
    at = np.floor((ends - begins) * 10 + 1e-6).astype(int)
    known = (at >= 0) & (at < len(curve))
    return np.where(known, curve[np.where(known, at, 0)] if len(curve) else 0, 0).astype(np.uint8)


def _joined(tiles: list[_Tile]) -> _Tile:
    return _Tile(
        np.concatenate([tile.outline for tile in tiles], axis=1),
        np.concatenate([tile.spectrum for tile in tiles]),
        np.concatenate([tile.loudness for tile in tiles], axis=1),
    )


def _nobody(share: float) -> None:
    """Nobody asked to hear of the progress."""
