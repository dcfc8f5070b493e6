"""How a recording begins and ends: what tells whether another one goes on where it stops.

Each edge is described by linear prediction (the normal equations of least squares over its 0.05 s): how well do its
own last samples foretell what follows? On the reference recordings cut at random, a true continuation misses by less
than six times the usual error in 99.9 % of places, another place of the same recording in a quarter: what follows in a
pause sounds like the pause.
"""

import numpy as np

from audio_qc.facts.sound import ChannelEdge, Edges

EDGE_S = 0.05
ORDER = 12
REGULAR = 1e-6  # of the power, so that a pure tone, which any number of weights foretells, has one solution
FEWEST_FRAMES = 8 * ORDER


class EdgeMeter:
    """Keeps the first and the last moments of every channel."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        self._frames = max(FEWEST_FRAMES, round(EDGE_S * rate_hz))
        self._first = self._last = np.empty((channels, 0))

    def add(self, block: np.ndarray) -> None:
        """Take the next block."""
        missing = self._frames - self._first.shape[1]
        if missing > 0:
            self._first = np.concatenate((self._first, block[:, :missing]), axis=1)
        self._last = np.concatenate((self._last, block[:, -self._frames :]), axis=1)[:, -self._frames :]

    def result(self) -> Edges:
        """Return both edges, each channel's samples from the inside outwards."""
        return Edges(
            first=tuple(_edge(samples[::-1]) for samples in self._first),
            last=tuple(_edge(samples) for samples in self._last),
        )


def _edge(samples: np.ndarray) -> ChannelEdge | None:
    power = float(np.sum(samples**2))
    if len(samples) < FEWEST_FRAMES or power == 0.0:
        return None
    known = np.lib.stride_tricks.sliding_window_view(samples, ORDER)[:-1]
    told = samples[ORDER:]
    weights = np.linalg.solve(known.T @ known + REGULAR * power * np.eye(ORDER), known.T @ told)
    error = float(np.sqrt(np.mean((told - known @ weights) ** 2)))
    return ChannelEdge(tuple(samples[-ORDER:].tolist()), tuple(weights.tolist()), error)
