"""Noise floor, the level in the pauses, and how far the speech stands above it."""

from dataclasses import dataclass

import numpy as np

from audio_qc.facts.sound import ChannelNoise, ChannelSpeech, Noise, Speech
from audio_qc.meters.decibel import power_db
from audio_qc.meters.slices import SLICES_PER_SECOND, SliceMeter, highest_of_three
from audio_qc.meters.spectrum import LOWEST_DB, SpectrumMeter

PERCENTILE = 10.0  # speech leaves at least a tenth of the time to pauses: common practice, no source
PAUSE_RANGE_DB = 6.0  # what is this little above the quietest tenth is still background: common practice, no source
TAIL_DB = 3.0  # slices of steady noise differ by less
LEAST_PAUSE_S = 0.5  # in all; in less, a breath or the end of a word passes for the background
LEAST_SLICES = 2 * SLICES_PER_SECOND
LEAST_RANGE_DB = 6.0  # a signal that hardly changes has no pauses to measure
SPEECH_RANGE_DB = 15.9  # P.56's margin: slices so far below the active level are no speech
VOICE_RANGE_DB = 20.0  # a channel this far below the loudest carries nobody's voice of its own


@dataclass(frozen=True)
class Pauses:
    """The level at or below which a slice is a pause, per channel; None, with a reason, where that cannot be told."""

    highest_db: list[float | None]
    reasons: list[str]


def find_pauses(slices: SliceMeter) -> Pauses:
    """Divide pauses from speech in every channel."""
    limits, reasons = zip(*(_limit(levels) for levels in slices.levels()), strict=True)
    return Pauses(list(limits), list(reasons))


def _limit(levels: np.ndarray) -> tuple[float | None, str]:
    sounding = levels[np.isfinite(levels)]
    if 2 * len(sounding) < len(levels):
        return None, "Most of the recording is digital silence, so there are no natural pauses to measure."
    if len(sounding) < LEAST_SLICES:
        return None, "The recording has less than two seconds of sound."
    floor, loud = np.percentile(sounding, [PERCENTILE, 100.0 - PERCENTILE])
    if loud - floor < LEAST_RANGE_DB:
        return None, "The level hardly changes, so there are no pauses to measure."
    return float(floor) + PAUSE_RANGE_DB, ""


def noise_facts(slices: SliceMeter, spectrum: SpectrumMeter, pauses: Pauses) -> Noise:
    """Return the mean level of the pauses, plain and A-weighted; the noisiest channel stands for the recording."""
    channels = tuple(_channel_noise(slices, channel, spectrum, pauses) for channel in range(len(pauses.highest_db)))
    plain = [one.floor_dbfs for one in channels if one.floor_dbfs is not None]
    weighted = [one.floor_dba for one in channels if one.floor_dba is not None]
    return Noise(
        noise_floor_dbfs=max(plain, default=None),
        noise_floor_dba=max(weighted, default=None),
        reason="" if plain else pauses.reasons[0],
        channels=channels,
    )


def _channel_noise(slices: SliceMeter, channel: int, spectrum: SpectrumMeter, pauses: Pauses) -> ChannelNoise:
    limit = pauses.highest_db[channel]
    if limit is None:
        return ChannelNoise(None, None, 0.0, pauses.reasons[channel])
    quiet = _quiet_levels(slices.levels()[channel], limit)
    # The voice dies away into a pause: what is far above its middle level is not background.
    highest = float(np.median(quiet)) + TAIL_DB
    steady = quiet[quiet <= highest]
    lines = spectrum.density(channel, LOWEST_DB, highest)
    weighted = None if lines is None else power_db(float(lines @ a_weighting(spectrum.frequencies_hz)))
    return ChannelNoise(
        floor_dbfs=power_db(float(np.mean(10.0 ** (steady / 10.0)))),
        floor_dba=weighted,
        pause_s=len(steady) * slices.seconds_per_slice,
        reason="" if weighted is not None else "No pause is long enough for A-weighting.",
    )


def _quiet_levels(levels: np.ndarray, limit: float) -> np.ndarray:
    """Return the levels inside the pauses, away from what is louder; all quiet slices if every pause is short."""
    around = highest_of_three(levels)
    inside = np.isfinite(around) & (around <= limit)
    return np.asarray(levels[1:-1][inside] if inside.any() else levels[np.isfinite(levels) & (levels <= limit)])


def a_weighting(frequencies_hz: np.ndarray) -> np.ndarray:
    """Return the A-weighting of IEC 61672-1:2013 Annex E as factors of power, 1 at 1 kHz."""
    f = np.asarray(frequencies_hz) ** 2
    f1, f2, f3, f4 = (pole**2 for pole in (20.598997, 107.65265, 737.86223, 12194.217))
    gain = f4 * f**2 / ((f + f1) * np.sqrt((f + f2) * (f + f3)) * (f + f4))
    return np.asarray((gain * 10.0 ** (1.999656 / 20.0)) ** 2)


def speech_facts(channels: tuple[ChannelSpeech, ...], noise: Noise, spectrum: SpectrumMeter) -> Speech:
    """Return the figures of the loudest voice, and the smallest distance to the noise of any channel with a voice."""
    levels = [-np.inf if one.level_dbov is None else one.level_dbov for one in channels]
    loudest = channels[int(np.argmax(levels))]
    voiced = [n for n, level in enumerate(levels) if np.isfinite(level) and level > max(levels) - VOICE_RANGE_DB]
    floors = [noise.channels[n] for n in voiced]
    plain = [levels[n] - one.floor_dbfs for n, one in zip(voiced, floors, strict=True) if one.floor_dbfs is not None]
    weighted = [
        levels[n] + _speech_weight_db(spectrum, n, levels[n]) - one.floor_dba
        for n, one in zip(voiced, floors, strict=True)
        if one.floor_dba is not None
    ]
    return Speech(
        active_speech_level_dbov=loudest.level_dbov,
        activity_factor_percent=loudest.activity_percent,
        is_reliable=loudest.is_reliable,
        reason=loudest.reason,
        speech_to_noise_db=min(plain, default=None),
        speech_to_noise_dba=min(weighted, default=None),
        speech_to_noise_reason=_distance_reason(loudest, noise, floors, known=bool(plain and weighted)),
        channels=channels,
    )


def _distance_reason(loudest: ChannelSpeech, noise: Noise, floors: list[ChannelNoise], *, known: bool) -> str:
    if not known:
        return loudest.reason or noise.reason or noise.channels[0].reason
    if min(one.pause_s for one in floors) < LEAST_PAUSE_S:
        return f"The pauses are shorter than {LEAST_PAUSE_S:g} s in all."
    return ""


def _speech_weight_db(spectrum: SpectrumMeter, channel: int, level_db: float) -> float:
    """Return what A-weighting changes in the level of the speech; 0 where no window shows speech."""
    lines = spectrum.density(channel, level_db - SPEECH_RANGE_DB, LOWEST_DB + 1000.0)
    if lines is None or not lines.sum():
        return 0.0
    return power_db(float(lines @ a_weighting(spectrum.frequencies_hz) / lines.sum())) or 0.0
