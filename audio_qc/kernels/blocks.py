"""Loops over whole blocks: loudness, true peak, and what channels have in common.

Inner loops run over slices, where the compiler sees that no index is negative and uses its widest instructions.
"""

import numpy as np

from audio_qc.kernels.compiling import FAST, compiled


@compiled(**FAST)
def pair_sums(x: np.ndarray, y: np.ndarray) -> tuple[float, int]:
    """Return the sum of products and the number of unequal samples of two channels."""
    products, unequal = 0.0, 0
    for i in range(len(x)):
        products += x[i] * y[i]
    for i in range(len(x)):
        unequal += x[i] != y[i]
    return products, unequal


@compiled(**FAST)
def _absolute_peak(x: np.ndarray) -> float:
    highest = 0.0
    for i in range(len(x)):
        value = abs(x[i])
        highest = value if value > highest else highest
    return highest


@compiled()
def absolute_peaks(x: np.ndarray, step: int) -> np.ndarray:
    """Return the largest absolute sample of every `step` samples."""
    out = np.empty((len(x) + step - 1) // step)
    for k in range(len(out)):
        out[k] = _absolute_peak(x[k * step : (k + 1) * step])
    return out


@compiled()
def edge(index: int, rate: int, per_second: int) -> int:
    """Return the first frame of window `index` when `per_second` windows share each second, to the nearest sample."""
    return (2 * index * rate + per_second) // (2 * per_second)


@compiled()
def window_of(frame: int, rate: int, per_second: int) -> int:
    """Return the number of the window that holds `frame`."""
    window = (frame * per_second) // rate
    while edge(window + 1, rate, per_second) <= frame:
        window += 1
    while edge(window, rate, per_second) > frame:
        window -= 1
    return window


@compiled(fastmath={"contract"})
def k_weighted_energies(
    x: np.ndarray, c: np.ndarray, state: np.ndarray, first_frame: int, rate: int, per_second: int, out: np.ndarray
) -> int:
    """Filter a block by two biquads and add up its squares per window; return how many windows were finished.

    `c` holds b0 b1 b2 a1 a2 of both stages, `state` two inputs, two outputs of each stage and the unfinished sum.
    """
    x1, x2, v1, v2, y1, y2, energy = state
    window = window_of(first_frame, rate, per_second)
    done, i = 0, 0
    while i < len(x):
        end = edge(window + 1, rate, per_second) - first_frame
        for n in range(i, min(len(x), end)):
            # Written so that each output waits for one multiplication only after the output before it.
            v = (c[0] * x[n] + c[1] * x1 + c[2] * x2 - c[4] * v2) - c[3] * v1
            y = (c[5] * v + c[6] * v1 + c[7] * v2 - c[9] * y2) - c[8] * y1
            x1, x2, v1, v2, y1, y2 = x[n], x1, v, v1, y, y1
            energy += y * y
        i = min(len(x), end)
        if i == end:
            out[done] = energy
            done += 1
            window += 1
            energy = 0.0
            # In digital silence the outputs would decay into subnormal numbers, which are very slow.
            if abs(v1) + abs(v2) + abs(y1) + abs(y2) < 1e-30:
                v1, v2, y1, y2 = 0.0, 0.0, 0.0, 0.0
    state[:] = (x1, x2, v1, v2, y1, y2, energy)
    return done


@compiled()
def sliding_sums(values: np.ndarray, width: int) -> np.ndarray:
    """Return the sum of every run of `width` neighbours; each is added up anew, so no rounding builds up."""
    count = max(0, len(values) - width + 1)
    out = np.empty(count)
    for i in range(count):
        total = 0.0
        for k in range(i, i + width):
            total += values[k]
        out[i] = total
    return out


@compiled(**FAST)
def _steepest(x: np.ndarray) -> float:
    steepest, later = 0.0, x[1:]
    for i in range(len(later)):
        step = abs(later[i] - x[i])
        steepest = step if step > steepest else steepest
    return steepest


@compiled(**FAST)
def _dot(x: np.ndarray, taps: np.ndarray) -> float:
    total = 0.0
    for k in range(len(taps)):
        total += x[k] * taps[k]
    return total


@compiled()
def _peak_in_step(
    x: np.ndarray, start: int, stop: int, phases: np.ndarray, margin: float, best: float, at: int
) -> tuple[float, int]:
    centre = phases.shape[1] // 2 - 1
    for i in range(start, stop):
        if abs(x[i + centre]) + margin <= best:
            continue
        for p in range(phases.shape[0]):
            value = abs(_dot(x[i:], phases[p]))
            if value > best:
                best, at = value, i
    return best, at


@compiled()
def peak_between_samples(
    x: np.ndarray, phases: np.ndarray, gain_bound: float, slope_bound: float, best: float
) -> tuple[float, int]:
    """Return the larger of `best` and the highest sample or interpolated value in `x`, and its index there.

    `x` carries len(taps) - 1 samples of history before the new ones; output i is centred on tap i + taps / 2 - 1.
    Stretches are skipped, exactly, where no output can exceed `best`: none is larger than the largest sample under the
    filter times `gain_bound`, or than the sample it is centred on plus the steepest step times `slope_bound`.
    """
    taps = phases.shape[1]
    outputs, at, half = len(x) - taps + 1, -1, taps // 2
    peaks = absolute_peaks(x, taps)
    for k in range(len(peaks)):
        start, stop = k * taps, min((k + 1) * taps, len(x))
        if peaks[k] > best:
            for i in range(start, stop):
                if abs(x[i]) > best:
                    best, at = abs(x[i]), i - half + 1
        largest = max(peaks[k], peaks[min(k + 1, len(peaks) - 1)])
        if largest * gain_bound <= best or start >= outputs:
            continue
        margin = slope_bound * _steepest(x[start : stop + taps])
        if largest + margin > best:
            best, at = _peak_in_step(x, start, min(stop, outputs), phases, margin, best, at)
    return best, at


@compiled(**FAST)
def _interpolate_into(x: np.ndarray, phases: np.ndarray, out: np.ndarray) -> None:
    count, taps = phases.shape
    for i in range(len(x) - taps + 1):
        for p in range(count):
            out[i * count + p] = _dot(x[i:], phases[p])


@compiled()
def interpolated(x: np.ndarray, phases: np.ndarray) -> np.ndarray:
    """Return `x` (with history) at the whole multiple of its rate that `phases` makes."""
    out = np.empty(max(0, len(x) - phases.shape[1] + 1) * phases.shape[0])
    _interpolate_into(x, phases, out)
    return out
