"""The compiled loop that sums up a recording in units of a millisecond, on which many meters work.

Loops run over slices, where the compiler sees that no index is negative and uses its widest instructions.
"""

import numpy as np

from audio_qc.kernels.compiling import FAST, compiled

# Rows of a unit's sums.
TOTAL, SQUARES, ABSOLUTE, HIGHEST, LOWEST = range(5)
FRESH = (0.0, 0.0, 0.0, -np.inf, np.inf)


@compiled(**FAST)
def _sums(x: np.ndarray) -> tuple[float, float, float]:
    total, squares, absolute = 0.0, 0.0, 0.0
    for i in range(len(x)):
        total += x[i]
        squares += x[i] * x[i]
        absolute += abs(x[i])
    return total, squares, absolute


@compiled(**FAST)
def _extremes(x: np.ndarray) -> tuple[float, float]:
    highest, lowest = x[0], x[0]
    for i in range(len(x)):
        highest = x[i] if x[i] > highest else highest
        lowest = x[i] if x[i] < lowest else lowest
    return highest, lowest


@compiled()
def add_units(x: np.ndarray, frames: int, filled: int, state: np.ndarray, out: np.ndarray) -> int:
    """Write the sums of every unit of `frames` that `x` finishes, shape (5, units); return how many there are.

    `state` holds the sums of the unfinished unit, of which `filled` frames are known.
    """
    done, start = 0, 0
    while start < len(x):
        stop = min(len(x), start + frames - filled)
        total, squares, absolute = _sums(x[start:stop])
        highest, lowest = _extremes(x[start:stop])
        state[TOTAL] += total
        state[SQUARES] += squares
        state[ABSOLUTE] += absolute
        state[HIGHEST] = max(state[HIGHEST], highest)
        state[LOWEST] = min(state[LOWEST], lowest)
        filled += stop - start
        start = stop
        if filled == frames:
            out[:, done] = state
            done += 1
            filled = 0
            state[:] = FRESH
    return done


@compiled()
def follow_activity(
    means: np.ndarray, g: float, frames: float, hangover: float, thresholds: np.ndarray, state: np.ndarray,
    hung: np.ndarray, active: np.ndarray,
) -> None:  # fmt: skip
    """ITU-T P.56 method B on the mean absolute value of each unit.

    `state` holds both envelopes; per threshold `hung` the frames since it was last reached, `active` those counted.
    """
    p, q = state
    for i in range(len(means)):
        p = g * p + (1.0 - g) * means[i]
        q = g * q + (1.0 - g) * p
        for j in range(len(thresholds)):
            hung[j] = 0.0 if q >= thresholds[j] else hung[j] + frames
            active[j] += frames if hung[j] <= hangover else 0.0
    state[:] = (p, q)


@compiled(**FAST)
def add_powers(lines: np.ndarray, scale: float, channels: np.ndarray, classes: np.ndarray, sums: np.ndarray) -> None:
    """Add the squared size of each window's spectral lines, shape (windows, lines), to the sums of its level class."""
    for n in range(len(lines)):
        row = sums[channels[n], classes[n]]
        for k in range(len(row)):
            real, imaginary = lines[n, k].real, lines[n, k].imag
            row[k] += scale * (real * real + imaginary * imaginary)
