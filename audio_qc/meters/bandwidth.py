"""Where the spectrum ends: the steep edge that resampling and lossy coding leave well below half the sample rate."""

import numpy as np

from audio_qc.facts.faults import Bandwidth
from audio_qc.meters.spectrum import SpectrumMeter

LEAST_DROP_DB = 20.0
LOWEST_EDGE_HZ = 3_000.0  # a telephone's is at 3.4 kHz; below, voices themselves fall as steeply
HIGHEST_EDGE_SHARE = 0.85  # of half the sample rate: above it lie the filters of honest converters
GAP_HZ = 150.0  # to each side of an edge: filters need some width to fall
WIDTH_HZ = 350.0  # how much is averaged beyond the gap, so that single peaks of speech do not count
STAYS_DOWN_DB = 15.0  # nothing beyond the edge may come closer to what was before it
LOWEST_DB, HIGHEST_DB = -200.0, 140.0


def bandwidth_facts(spectrum: SpectrumMeter, pauses_db: list[float | None]) -> Bandwidth:
    """Look for the edge in the sound above the pauses, all channels averaged; `pauses_db` divides them in each."""
    densities = (
        spectrum.density(channel, LOWEST_DB if limit is None else limit + 1.0, HIGHEST_DB)
        for channel, limit in enumerate(pauses_db)
    )
    known = [lines for lines in densities if lines is not None]
    if not known:
        return Bandwidth(None, None, "There is no sound to look for an edge in.")
    hz = spectrum.frequencies_hz
    return bandwidth(hz, 10.0 * np.log10(np.maximum(np.mean(known, axis=0), 1e-20)), float(hz[-1]))


def bandwidth(hz: np.ndarray, density_db: np.ndarray, half_rate_hz: float) -> Bandwidth:
    """Find the edge in a long-term spectrum of loud moments, evenly spaced from 0 to half the sample rate.

    The means are of decibels, in which a line (hum, a test tone) weighs no more than any other bin.
    """
    step = float(hz[1] - hz[0])
    gap, width = round(GAP_HZ / step), max(1, round(WIDTH_HZ / step))
    means = _running_means(np.maximum(density_db, LOWEST_DB), width)
    # Place n stands for an edge at bin n + gap + width: means[n] is what lies before it, the other what lies beyond.
    count = len(means) - width - 2 * gap
    edges = hz[gap + width : gap + width + max(0, count)]
    usable = (edges >= LOWEST_EDGE_HZ) & (edges <= HIGHEST_EDGE_SHARE * half_rate_hz)
    if not usable.any():
        return Bandwidth(None, None, "The sample rate is too low for an edge to be told from the end of the spectrum.")
    before, beyond = means[:count], means[width + 2 * gap :]
    highest_later = np.maximum.accumulate(beyond[::-1])[::-1]
    drops = np.where(usable & (highest_later <= before - STAYS_DOWN_DB), before - beyond, 0.0)
    steepest = int(np.argmax(drops))
    drop = float(drops[steepest])
    return Bandwidth(float(edges[steepest]) if drop >= LEAST_DROP_DB else None, drop, "")


def _running_means(values: np.ndarray, width: int) -> np.ndarray:
    sums = np.concatenate(([0.0], np.cumsum(values)))
    return np.asarray((sums[width:] - sums[:-width]) / width)
