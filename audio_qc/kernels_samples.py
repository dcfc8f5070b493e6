"""The compiled loops that look for faults of single samples: first by units of half a millisecond, then inside a few.

`x` is one channel's stretch in float32, with units of context before and after the units from `begin` up to, not
including, `end` that are looked at; `highs` and `lows` are the extremes of each unit and `bends` its largest fourth
difference. Frames in the results are numbers in the recording; x[0] is frame `first`.

Loops run over slices because the compiler cannot use its widest instructions where an index might be negative.
"""

import numpy as np

from audio_qc.kernels import compiled

# Samples are finite and zeros have one sign (source.py, `to_float32`), so the order of comparing is free.
FAST = {"fastmath": {"reassoc", "nsz", "contract", "nnan", "ninf"}}


@compiled()
def to_float32(x: np.ndarray, out: np.ndarray) -> None:
    """Copy samples; 24 bits and less stay exact, and finer steps than that make no two samples less equal to hear."""
    for i in range(len(x)):
        out[i] = np.float32(x[i])


@compiled(**FAST)
def _largest(x: np.ndarray) -> np.float32:
    largest = x[0]
    for i in range(len(x)):
        largest = max(largest, x[i])
    return largest


@compiled(**FAST)
def _bend(x: np.ndarray, out: np.ndarray) -> None:
    """Write absolute fourth differences: speech has little there, a jump between two samples three times its size."""
    a, b, c, d, e = x[:-4], x[1:-3], x[2:-2], x[3:-1], x[4:]
    for i in range(len(a)):
        out[i] = abs((a[i] + e[i]) - np.float32(4.0) * (b[i] + d[i]) + np.float32(6.0) * c[i])


@compiled(**FAST)
def measure_units(
    x: np.ndarray, unit: int, begin: int, bend: np.ndarray, highs: np.ndarray, lows: np.ndarray, bends: np.ndarray
) -> None:
    """Write the figures of every unit from `begin` on; `bend` is where the fourth differences are kept."""
    for k in range(begin, len(highs)):
        samples = x[k * unit : (k + 1) * unit]
        high, low = samples[0], samples[0]
        for i in range(len(samples)):
            high = max(high, samples[i])
            low = min(low, samples[i])
        highs[k], lows[k] = high, low
    start = max(0, begin * unit - 4)
    _bend(x[start:], bend[start + 4 :])
    for k in range(begin, len(bends)):
        bends[k] = _largest(bend[k * unit : (k + 1) * unit])


# Places in the state of `clipped_runs`: the run under way, then the group of runs under way.
RUN_VALUE, RUN_START, RUN_LENGTH, GROUP_START, GROUP_END = 0, 1, 2, 3, 4
# Places in its totals.
RUNS, SAMPLES, LONGEST, POSITIVE = 0, 1, 2, 3


@compiled()
def _close_clipped(s: np.ndarray, least: int, gap: float, total: np.ndarray, out: np.ndarray, done: int) -> int:
    """Count the run that has ended; write the group before it when it is more than `gap` frames away."""
    length, start = s[RUN_LENGTH], s[RUN_START]
    s[RUN_LENGTH] = 0.0
    if length < least:
        return done
    total[RUNS] += 1
    total[SAMPLES] += length
    total[LONGEST] = max(total[LONGEST], length)
    total[POSITIVE] += s[RUN_VALUE] > 0.0
    if s[GROUP_END] >= 0 and start - s[GROUP_END] > gap:
        out[done, 0], out[done, 1] = s[GROUP_START], s[GROUP_END]
        done += 1
        s[GROUP_START] = start
    elif s[GROUP_END] < 0:
        s[GROUP_START] = start
    s[GROUP_END] = start + length
    return done


@compiled()
def clipped_runs(
    x: np.ndarray, unit: int, begin: int, end: int, first: int, highs: np.ndarray, lows: np.ndarray,
    rail: float, least: int, gap: float, s: np.ndarray, total: np.ndarray, out: np.ndarray,
) -> int:  # fmt: skip
    """Follow runs of `least` or more equal samples at or above `rail`; return how many finished groups are in `out`."""
    done = 0
    for k in range(begin, end):
        if highs[k] < rail and lows[k] > -rail:
            if s[RUN_LENGTH] > 0.0:
                done = _close_clipped(s, least, gap, total, out, done)
            continue
        for n in range(k * unit, (k + 1) * unit):
            if s[RUN_LENGTH] > 0.0 and x[n] == s[RUN_VALUE]:
                s[RUN_LENGTH] += 1.0
                continue
            if s[RUN_LENGTH] > 0.0:
                done = _close_clipped(s, least, gap, total, out, done)
            if abs(x[n]) >= rail:
                s[RUN_VALUE], s[RUN_START], s[RUN_LENGTH] = x[n], first + n, 1.0
    return done


# Columns of a side of a still run: the farthest sample near it and in a wider stretch, smallest step, highest and
# lowest sample, step into the run.
NEAR, WIDE, STEP, HIGH, LOW, JUMP = 0, 1, 2, 3, 4, 5
NO_GAP, SUDDEN_GAP, FADED_GAP = 0, 1, 2


@compiled()
def _side(x: np.ndarray, start: int, stop: int, near_start: int, near_stop: int, side: np.ndarray) -> None:
    """Describe the sound from `start` up to `stop`, of which a part is near the run; sizes are half peak to peak."""
    high, low, step = x[start], x[start], np.float32(np.inf)
    for n in range(start + 1, stop):
        high, low = max(high, x[n]), min(low, x[n])
        change = abs(x[n] - x[n - 1])
        if change > 0.0:
            step = min(step, change)
    near = x[near_start:near_stop]
    side[NEAR], side[WIDE], side[STEP] = (near.max() - near.min()) / 2, (high - low) / 2, step
    side[HIGH], side[LOW] = high, low


@compiled()
def _gap_kind(value: float, length: float, before: np.ndarray, after: np.ndarray, limits: np.ndarray) -> int:
    """Tell a hole in the sound, sudden or faded, from a still moment of it; `limits` are in meters/dropouts.py."""
    step, jump = min(before[STEP], after[STEP]), max(before[JUMP], after[JUMP])
    if value == 0.0:  # the sound is cut on both sides; into a held sample it goes as it would have gone
        jump = min(before[JUMP], after[JUMP])
    near, wide = min(before[NEAR], after[NEAR]), min(before[WIDE], after[WIDE])
    least_near, near_steps, least_wide, wide_steps, jump_steps, jump_share, jump_near, least_faded, longest = limits
    if length > longest:
        return NO_GAP
    inside = min(before[LOW], after[LOW]) < value < max(before[HIGH], after[HIGH])
    sudden = jump >= jump_steps * step
    if value != 0.0:
        sudden = sudden and jump >= max(jump_share * abs(value), jump_near * near)
    if inside and sudden and near >= max(least_near, near_steps * step):
        return SUDDEN_GAP
    faded = value == 0.0 and length >= least_faded and wide >= max(least_wide, wide_steps * step)
    return FADED_GAP if faded else NO_GAP


# Places in the state of `still_runs`: whether a run is under way, where and of what; how many runs were of zeros.
OPEN, START, VALUE, ZERO_RUNS = 0, 1, 2, 3


@compiled()
def still_runs(
    x: np.ndarray, unit: int, begin: int, end: int, first: int, highs: np.ndarray, lows: np.ndarray,
    windows: np.ndarray, least: np.ndarray, limits: np.ndarray, s: np.ndarray, before: np.ndarray, out: np.ndarray,
) -> int:  # fmt: skip
    """Find runs of equal samples that hold a whole unit; write (start, end, value, kind of gap) of those that count.

    A run counts when it is a gap of `least[0]` frames or more, or exact zeros for `least[1]` or more. `windows` are the
    frames near it and the wider ones, on each side.
    """
    done = 0
    near, wide = windows
    after = np.zeros(6)
    for k in range(begin, end):
        if s[OPEN] and not (highs[k] == s[VALUE] and lows[k] == s[VALUE]):
            n = k * unit
            while x[n] == s[VALUE]:
                n += 1
            s[OPEN] = 0.0
            length = first + n - s[START]
            _side(x, n, n + wide, n, n + near, after)
            after[JUMP] = abs(x[n] - s[VALUE])
            gap = _gap_kind(s[VALUE], length, before, after, limits) if length >= least[0] else NO_GAP
            s[ZERO_RUNS] += s[VALUE] == 0.0 and length >= least[0]
            if gap or (s[VALUE] == 0.0 and length >= least[1]):
                out[done, 0], out[done, 1], out[done, 2], out[done, 3] = s[START], first + n, s[VALUE], gap
                done += 1
        if not s[OPEN] and highs[k] == lows[k]:
            n = k * unit
            while n > wide + 1 and x[n - 1] == x[k * unit]:
                n -= 1
            s[OPEN], s[START], s[VALUE] = 1.0, first + n, x[n]
            _side(x, n - wide, n, n - near, n, before)
            before[JUMP] = abs(x[n - 1] - x[n])
    return done


# Columns of the histogram of peaks.
COUNT, WIDTHS, SQUARES, WIDEST, FLANKS, FLANK_SQUARES = 0, 1, 2, 3, 4, 5
# Places in the state of `peaks`: the highest so far, and the group of high peaks under way.
CEILING, TOP_START, TOP_END = 0, 1, 2


@compiled()
def _lobe(x: np.ndarray, sign: float, at: int, most: int, top: float, flank: float) -> tuple[int, int, int]:
    """Return where x stays above `top` of its peak at `at`, and for how long above `flank` of it.

    Nothing when a sample before is as high, or one after is higher: the peak is not there.
    """
    peak = sign * x[at]
    left, right = at, at + 1
    start, stop = at, at + 1
    while at - start < most and sign * x[start - 1] >= flank * peak:
        start -= 1
        if sign * x[start] >= peak:
            return 0, 0, 0
        if left == start + 1 and sign * x[start] >= top * peak:
            left = start
    while stop - at < most and sign * x[stop] >= flank * peak:
        if sign * x[stop] > peak:
            return 0, 0, 0
        if right == stop and sign * x[stop] >= top * peak:
            right = stop + 1
        stop += 1
    return left, right, stop - start


@compiled()
def peaks(
    x: np.ndarray, unit: int, begin: int, end: int, first: int, tops: np.ndarray, sign: float, floor: float,
    bins: np.ndarray, shares: np.ndarray, near: float, gap: float, histogram: np.ndarray, s: np.ndarray,
    out: np.ndarray,
) -> tuple[int, bool]:  # fmt: skip
    """Count each unit's peak by level and how long it stays above `shares` of itself, and group the highest.

    Peaks far below the highest so far are left out: `bins` are bins to a factor of e, and the number of the bin of
    full scale. Returns how many finished groups are in `out`, and whether earlier groups are out of date because a
    peak was higher than they by the factor `near`.
    """
    done, cleared = 0, False
    for k in range(begin, end):
        top = sign * tops[k]
        if top < floor or top < 0.5 * s[CEILING] or top < sign * tops[k - 1] or top < sign * tops[k + 1]:
            continue
        at = k * unit
        while sign * x[at] < top:
            at += 1
        left, right, flanks = _lobe(x, sign, at, 40 * unit, shares[0], shares[1])
        if right == 0:
            continue
        place = min(len(histogram) - 1, int(np.log(top) * bins[0] + bins[1]))
        width = right - left
        histogram[place, COUNT] += 1
        histogram[place, WIDTHS] += width
        histogram[place, SQUARES] += width * width
        histogram[place, FLANKS] += flanks
        histogram[place, FLANK_SQUARES] += flanks * flanks
        histogram[place, WIDEST] = max(histogram[place, WIDEST], width)
        if top > s[CEILING] * near:
            s[CEILING], s[TOP_END], done, cleared = top, -1.0, 0, True
        if top * near < s[CEILING]:
            continue
        if s[TOP_END] >= 0 and first + left - s[TOP_END] > gap:
            out[done, 0], out[done, 1] = s[TOP_START], s[TOP_END]
            done += 1
            s[TOP_END] = -1.0
        if s[TOP_END] < 0:
            s[TOP_START] = first + left
        s[TOP_END] = first + right
    return done, cleared


@compiled()
def jumps(
    x: np.ndarray, unit: int, begin: int, end: int, first: int, highs: np.ndarray, lows: np.ndarray,
    bend: np.ndarray, bends: np.ndarray, around: int, limits: np.ndarray, out: np.ndarray,
) -> int:  # fmt: skip
    """Find samples whose fourth difference stands far out of those around; write their frames, return how many.

    `limits`: least difference, how many times those within `around` units, least half peak-to-peak sound on each side,
    least share of the difference that its larger neighbour has (a bend without a jump has half).
    """
    least, times, sound, twin = limits
    done = 0
    for k in range(begin, end):
        largest = bends[k]
        if largest < least or largest <= bends[k - 1] or largest < bends[k + 1]:
            continue
        if largest < times * max(bends[k - 2], bends[k + 2]):
            continue
        if largest < times * max(_largest(bends[k - around : k - 1]), _largest(bends[k + 2 : k + around + 1])):
            continue
        n = k * unit
        while bend[n] < largest:
            n += 1
        if max(bend[n - 1], bend[n + 1]) < twin * largest:
            continue
        start, stop = n - around * unit, n + around * unit
        if largest < times * max(_largest(bend[start : n - 3]), _largest(bend[n + 4 : stop])):
            continue
        # bend[n] is made of x[n - 4] to x[n]; what is on either side of those is the sound around.
        left = max(highs[k - 10 : k - 1].max() - lows[k - 10 : k - 1].min(), 0.0) / 2
        right = max(highs[k + 2 : k + 11].max() - lows[k + 2 : k + 11].min(), 0.0) / 2
        still = (highs[k - 2 : k + 3] == lows[k - 2 : k + 3]).any()  # the edge of a gap, which is told by itself
        if min(left, right) >= sound and not still:
            out[done] = first + n - 2
            done += 1
    return done


@compiled()
def on_grid(x: np.ndarray, per_full_scale: float) -> bool:
    """Tell whether every sample is a whole number of steps, `per_full_scale` of them to full scale."""
    for start in range(0, len(x), 1024):
        part = x[start : start + 1024]
        off = 0
        for i in range(len(part)):
            steps = part[i] * per_full_scale
            off += steps != np.floor(steps)
        if off:
            return False
    return True
