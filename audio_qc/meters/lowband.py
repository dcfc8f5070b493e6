"""Hum and rumble from one stream of about 2 kHz."""

import numpy as np

from audio_qc.facts.faults import Hum, Rumble
from audio_qc.meters import hum, rumble
from audio_qc.meters.decimation import Decimator

BATCH_HOPS = 16  # windows looked at together: enough that what each call costs does not count


class LowBandMeter:
    """Brings every channel down to about 2 kHz and looks there for hum and for rumble; `result()` gives both."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        self._rate_hz = rate_hz
        self._decimator = Decimator(rate_hz, channels)
        self._waiting = [np.zeros((channels, 0))]
        self._quiet = [hum.QuietWindows() for _ in range(channels)]
        self._low = [rumble.LowFrames(self._decimator.rate_hz, rate_hz) for _ in range(channels)]

    def add(self, block: np.ndarray) -> None:
        self._waiting.append(self._decimator.add(block))
        if sum(part.shape[1] for part in self._waiting) >= BATCH_HOPS * hum.HOP:
            self._look()

    def result(self) -> tuple[Hum, Rumble]:
        self._look()
        hums = [
            hum.hum_in(windows.quietest(), self._decimator.rate_hz, self._rate_hz, channel)
            for channel, windows in enumerate(self._quiet)
        ]
        powers = [frames.powers() for frames in self._low]
        return hum.worst(hums), rumble.rumble_in(powers, rumble.HOP * self._decimator.factor, self._rate_hz)

    def _look(self) -> None:
        """Hand on all whole hops; the last one is kept, because windows reach from one into the next."""
        samples = np.concatenate(self._waiting, axis=1)
        hops = samples.shape[1] // hum.HOP
        if hops > 1:
            beginnings = (hops - 1) * hum.HOP
            for channel, whole in enumerate(samples):
                self._quiet[channel].add(whole[: hops * hum.HOP])
                self._low[channel].add(whole[: beginnings + rumble.HOP])
            samples = samples[:, beginnings:]
        self._waiting = [samples]
