"""All meters of one recording."""

from typing import Any

import numpy as np

from audio_qc.lanes import Taker
from audio_qc.meters.bandwidth import bandwidth_facts
from audio_qc.meters.channels import ChannelMeter
from audio_qc.meters.edges import EdgeMeter
from audio_qc.meters.level import LevelMeter
from audio_qc.meters.losses import channel_losses
from audio_qc.meters.loudness import LoudnessMeter
from audio_qc.meters.lowband import LowBandMeter
from audio_qc.meters.noise import find_pauses, noise_facts, speech_facts
from audio_qc.meters.resolution import ResolutionMeter
from audio_qc.meters.samples import SampleMeter
from audio_qc.meters.silence import level_histogram, long_silence
from audio_qc.meters.slices import SliceMeter
from audio_qc.meters.spectrum import SpectrumMeter, spectrum_facts
from audio_qc.meters.speech import SpeechMeter
from audio_qc.meters.truepeak import TruePeakMeter
from audio_qc.meters.units import UnitStage
from audio_qc.meters.waveform import WaveformMeter


class Meters:
    """Every meter for one recording, divided between the thread that reads and one beside it."""

    def __init__(self, rate_hz: int, channels: int, subtype: str) -> None:
        self._rate_hz = rate_hz
        self.levels = LevelMeter(channels)
        self.waveform = WaveformMeter(rate_hz, channels)
        self.speech = SpeechMeter(rate_hz, channels)
        self.slices = SliceMeter(rate_hz, channels)
        self.units = UnitStage(rate_hz, channels, (self.levels, self.waveform, self.speech, self.slices))
        self.spectrum = SpectrumMeter(rate_hz, channels, self.slices)
        self.channels = ChannelMeter(channels, self.levels)
        self.loudness = LoudnessMeter(rate_hz, channels)
        self.true_peak = TruePeakMeter(rate_hz, channels)
        self.samples = SampleMeter(rate_hz, channels)
        self.resolution = ResolutionMeter(subtype)
        self.low_band = LowBandMeter(rate_hz, channels)
        self.edges = EdgeMeter(rate_hz, channels)
        # Reading takes about as long as two thirds of the meters, so that thread measures little besides. The spectrum
        # stands behind the units, whose levels it uses.
        self.here: tuple[Taker, ...] = (self.loudness, self.edges)
        self.beside: tuple[Taker, ...] = (
            self.units, self.spectrum, self.channels, self.low_band, self.true_peak, self.samples, self.resolution
        )  # fmt: skip

    def add(self, block: np.ndarray) -> None:
        """Give every meter the next block, one after the other."""
        for meter in (*self.here, *self.beside):
            meter.add(block)

    def results(self) -> dict[str, Any]:
        """Return the facts by the names that Measurement gives them; called once."""
        self.units.finish()
        self.spectrum.finish()
        clipping, flat_tops, dropouts, silence = self.samples.result()
        hum, rumble = self.low_band.result()
        pauses = find_pauses(self.slices)
        noise = noise_facts(self.slices, self.spectrum, pauses)
        return {
            "levels": self.levels.result(),
            "channel_pairs": self.channels.result(),
            "channel_losses": channel_losses(self.slices, self._rate_hz, self.levels.frames),
            "loudness": self.loudness.result(),
            "true_peak": self.true_peak.result(),
            "clipping": clipping,
            "flat_tops": flat_tops,
            "dropouts": dropouts,
            "resolution": self.resolution.result(),
            "digital_silence": silence,
            "hum": hum,
            "rumble": rumble,
            "bandwidth": bandwidth_facts(self.spectrum, pauses.highest_db),
            "speech": speech_facts(self.speech.result(), noise, self.spectrum),
            "noise": noise,
            "long_silence": long_silence(self.slices, pauses, self._rate_hz, self.levels.frames),
            "level_histogram": level_histogram(self.slices),
            "spectrum": spectrum_facts(self.spectrum, pauses.highest_db),
            "edges": self.edges.result(),
            "waveform": self.waveform.result(),
        }
