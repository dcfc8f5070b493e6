"""Spectra of short windows all along a recording, added up by the level of the slices that each touches.

In the first minute every slice is looked at, later one a second and two of those that may be pauses: what is added up
by level can be taken apart into pauses and speech at the end, when it is known which level divides them.
"""

from collections import deque

import numpy as np
from scipy.fft import next_fast_len, rfft, rfftfreq

from audio_qc.facts.sound import Spectrum
from audio_qc.kernels import units as kernels
from audio_qc.meters.slices import SLICES_PER_SECOND, SliceMeter, highest_of_three

WINDOW_S = 0.0853  # 4096 frames at 48 kHz
ALL_SLICES = 60 * SLICES_PER_SECOND
EVERY, EVERY_QUIET = 20, 10  # one in so many after them: of all slices, and of those that may be pauses
QUIET_PERCENT, QUIET_MARGIN_DB = 25.0, 3.0
QUIET_SLICES = 5 * SLICES_PER_SECOND  # how often the level of pauses is judged anew
LOWEST_DB, CLASSES = -160, 200  # classes of 1 dB
BATCH = 64
BANDS_PER_OCTAVE = 6
LOWEST_BAND_HZ = 20.0


class SpectrumMeter:
    """Sums of power density per channel and level class; stands behind the slice meter, whose levels it uses."""

    def __init__(self, rate_hz: int, channels: int, slices: SliceMeter) -> None:
        self._slices = slices
        self._size = next_fast_len(round(WINDOW_S * rate_hz), real=True)
        self.frequencies_hz = rfftfreq(self._size, 1.0 / rate_hz)
        self._taper = np.hanning(self._size + 1)[:-1].astype(np.float32)
        self._sums = np.zeros((channels, CLASSES, len(self.frequencies_hz)))
        self._counts = np.zeros((channels, CLASSES), dtype=np.int64)
        self._seen = np.zeros((channels, CLASSES), dtype=np.int64)
        self._quiet_db = np.full(channels, np.inf)
        self._next = 1  # the slice whose window comes next; the first one's would begin before the recording does
        self._recent: deque[tuple[int, np.ndarray]] = deque()  # blocks with the number of their first frame
        self._frames = 0
        self._batch = np.empty((BATCH, self._size), dtype=np.float32)
        self._places: list[tuple[int, int]] = []

    def add(self, block: np.ndarray) -> None:
        """Take the next block, shape (channels, frames); blocks are kept until the slices in them are known."""
        self._recent.append((self._frames, block))
        self._frames += block.shape[1]
        self._look()

    def finish(self) -> None:
        """Look at the last slices; called once, when all are known and before densities are asked for."""
        self._look()
        self._transform()

    def density(self, channel: int, lowest_db: float, highest_db: float) -> np.ndarray | None:
        """Return the mean power per frequency bin (square of full scale) of windows in slices between two levels.

        The bins add up to the mean square; None where no window stands in such a slice.
        """
        chosen = slice(max(0, _class(lowest_db)), min(CLASSES, _class(highest_db) + 1))
        count = int(self._counts[channel, chosen].sum())
        return self._sums[channel, chosen].sum(axis=0) / count if count else None

    def banded(self, lines: np.ndarray) -> np.ndarray:
        """Add up a density's bins in bands of a sixth of an octave; a narrow band takes its share of a bin."""
        step = self.frequencies_hz[1]
        edges = np.concatenate(([0.0], self.frequencies_hz + step / 2))
        below = np.concatenate(([0.0], np.cumsum(lines)))
        half = 2.0 ** (0.5 / BANDS_PER_OCTAVE)
        centres = self.band_centres_hz()
        return np.interp(centres * half, edges, below) - np.interp(centres / half, edges, below)

    def band_centres_hz(self) -> np.ndarray:
        """Return the centres of the bands up to half the sample rate."""
        octaves = np.log2(self.frequencies_hz[-1] / LOWEST_BAND_HZ)
        return LOWEST_BAND_HZ * 2.0 ** (np.arange(int(octaves * BANDS_PER_OCTAVE)) / BANDS_PER_OCTAVE)

    def _start(self, n: int) -> int:
        """Return the first frame of slice n's window, which has the slice in its middle."""
        return n * self._slices.frames_per_slice + (self._slices.frames_per_slice - self._size) // 2

    def _look(self) -> None:
        # A window reaches into both neighbours of its slice, whose levels count too.
        while self._next < self._slices.count - 1:
            until = min(self._slices.count - 1, self._next + QUIET_SLICES - self._next % QUIET_SLICES)
            self._look_at(self._next, until)
            self._next = until
            self._forget(self._start(until))

    def _look_at(self, start: int, stop: int) -> None:
        levels = highest_of_three(self._slices.levels(start - 1, stop + 1))
        if start % QUIET_SLICES == 0:
            self._quiet_db = self._quiet_limits()
        numbers = np.arange(start, stop)
        always = (numbers < ALL_SLICES) | (numbers % EVERY == 0)
        quiet = (numbers % EVERY_QUIET == 0) & (levels <= self._quiet_db[:, np.newaxis])
        sounding = np.isfinite(levels)
        classes = np.clip(np.floor(np.where(sounding, levels, 0.0)).astype(np.int64) - LOWEST_DB, 0, CLASSES - 1)
        for channel, n in np.argwhere((always | quiet) & sounding).tolist():
            self._take(channel, start + n, int(classes[channel, n]))
        channels, slices = np.nonzero(sounding)
        np.add.at(self._seen, (channels, classes[channels, slices]), 1)

    def _quiet_limits(self) -> np.ndarray:
        """Return, per channel, the level that no slice of a pause exceeds, judged by the slices before."""
        below = np.cumsum(self._seen, axis=1)
        place = (below < below[:, -1:] * QUIET_PERCENT / 100.0).sum(axis=1)
        return np.where(below[:, -1] > 0, place + LOWEST_DB + 1 + QUIET_MARGIN_DB, np.inf)

    def _take(self, channel: int, n: int, level_class: int) -> None:
        start, row = self._start(n), self._batch[len(self._places)]
        for first, block in self._recent:
            offset = max(0, start - first)
            filled = max(0, first - start)
            if filled >= self._size:
                break
            part = block[channel, offset : offset + self._size - filled]
            row[filled : filled + len(part)] = part
        self._places.append((channel, level_class))
        if len(self._places) == BATCH:
            self._transform()

    def _transform(self) -> None:
        channels, classes = np.array(self._places, dtype=np.int64).reshape(-1, 2).T
        windows = self._batch[: len(channels)]
        windows *= self._taper
        # Every line but the first stands for its twin at the negative frequency too.
        scale = 2.0 / (self._size * float((self._taper.astype(np.float64) ** 2).sum()))
        kernels.add_powers(rfft(windows, axis=1, overwrite_x=True), scale, channels, classes, self._sums)
        np.add.at(self._counts, (channels, classes), 1)
        self._places.clear()

    def _forget(self, frame: int) -> None:
        """Let go of blocks that end before a frame."""
        while self._recent and self._recent[0][0] + self._recent[0][1].shape[1] <= frame:
            self._recent.popleft()


def spectrum_facts(spectrum: SpectrumMeter, pauses_db: list[float | None]) -> Spectrum:
    """Return the spectrum of speech and of pauses, added up over the channels; `pauses_db` divides them in each."""
    loud, quiet = [], []
    for channel, limit in enumerate(pauses_db):
        if limit is not None:
            quiet.append(spectrum.density(channel, LOWEST_DB, limit))
        loud.append(spectrum.density(channel, LOWEST_DB if limit is None else limit + 1.0, LOWEST_DB + CLASSES))
    return Spectrum(
        bands_hz=tuple(round(float(hz), 1) for hz in spectrum.band_centres_hz()),
        sound_dbfs=_banded_dbfs(spectrum, loud),
        pauses_dbfs=_banded_dbfs(spectrum, quiet),
    )


def _banded_dbfs(spectrum: SpectrumMeter, densities: list[np.ndarray | None]) -> tuple[float, ...]:
    known = [lines for lines in densities if lines is not None]
    if not known:
        return ()
    bands = np.maximum(spectrum.banded(np.mean(known, axis=0)), 10.0 ** (LOWEST_DB / 10.0))
    return tuple(round(float(level), 1) for level in 10.0 * np.log10(bands))


def _class(level_db: float) -> int:
    return int(np.floor(level_db)) - LOWEST_DB
