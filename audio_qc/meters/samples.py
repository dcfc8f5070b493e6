"""The faults that single samples show, looked for together because they share one look at the units of the sound."""

import numpy as np

from audio_qc.facts.faults import Clipping, DigitalSilence, Dropouts, FlatTops
from audio_qc.meters.clipping import FlatTopped, FullScale, clipping_facts, flat_top_facts
from audio_qc.meters.dropouts import Still, dropout_facts, silence_facts
from audio_qc.meters.spans import MOST_SPANS
from audio_qc.meters.stretches import Stretch, Stretches


class _Channel:
    def __init__(self, rate_hz: int, most_spans: int) -> None:
        self._stretches = Stretches(rate_hz)
        self.full_scale = FullScale(rate_hz, most_spans)
        self.flat_topped = FlatTopped(rate_hz, most_spans)
        self.still = Still(rate_hz, most_spans)

    def add(self, samples: np.ndarray) -> None:
        for stretch in self._stretches.add(samples):
            self._look(stretch)

    def finish(self, frames: int) -> None:
        for stretch in self._stretches.last():
            self._look(stretch)
        self.full_scale.finish()
        self.flat_topped.finish(clipped=self.full_scale.facts().runs > 0)
        self.still.finish(frames)

    def _look(self, stretch: Stretch) -> None:
        self.full_scale.add(stretch)
        self.flat_topped.add(stretch)
        self.still.add(stretch)


class SampleMeter:
    """Finds clipping, flat tops, dropouts and digital silence; `result()` gives them in this order, once."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        self._rate_hz = rate_hz
        self._channels = [_Channel(rate_hz, MOST_SPANS // channels) for _ in range(channels)]
        self._frames = 0

    def add(self, block: np.ndarray) -> None:
        for channel, samples in zip(self._channels, block, strict=True):
            channel.add(samples)
        self._frames += block.shape[1]

    def result(self) -> tuple[Clipping, FlatTops, Dropouts, DigitalSilence]:
        for channel in self._channels:
            channel.finish(self._frames)
        channels, frames, rate_hz = self._channels, self._frames, self._rate_hz
        return (
            clipping_facts([channel.full_scale for channel in channels], frames, rate_hz),
            flat_top_facts([channel.flat_topped for channel in channels], frames, rate_hz),
            dropout_facts([channel.still for channel in channels], rate_hz),
            silence_facts([channel.still for channel in channels], frames, rate_hz),
        )
