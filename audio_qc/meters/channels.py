"""Compares every two channels: correlation and exact equality."""

import math
from itertools import combinations

import numpy as np

from audio_qc.facts.sound import ChannelPair
from audio_qc.kernels import blocks as kernels
from audio_qc.meters.level import LevelMeter


class ChannelMeter:
    """Pearson's correlation over the whole recording; shares the sums of the level meter."""

    def __init__(self, channels: int, levels: LevelMeter) -> None:
        self._levels = levels
        self._pairs = list(combinations(range(channels), 2))
        self._products = np.zeros(len(self._pairs))
        self._unequal = np.zeros(len(self._pairs), dtype=np.int64)

    def add(self, block: np.ndarray) -> None:
        for n, (first, second) in enumerate(self._pairs):
            products, unequal = kernels.pair_sums(block[first], block[second])
            self._products[n] += products
            self._unequal[n] += unequal

    def result(self) -> tuple[ChannelPair, ...]:
        return tuple(
            ChannelPair(first, second, self._correlation(n, first, second), bool(self._unequal[n] == 0))
            for n, (first, second) in enumerate(self._pairs)
        )

    def _correlation(self, n: int, first: int, second: int) -> float | None:
        levels = self._levels
        scale = math.sqrt(levels.power_without_dc(first)) * math.sqrt(levels.power_without_dc(second))
        if scale == 0.0:
            return None
        covariance = float(self._products[n]) / levels.frames - levels.mean(first) * levels.mean(second)
        return max(-1.0, min(1.0, covariance / scale))
