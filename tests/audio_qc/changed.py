"""The good recording's facts with one of them changed, and what the judge says of them."""

from dataclasses import replace

from audio_qc import SPOKEN_INTERVIEW, Finding, Measurement, judge
from audio_qc.facts.faults import (
    Bandwidth,
    ChannelClipping,
    ChannelFlatTops,
    ChannelLoss,
    Clipping,
    DigitalSilence,
    Dropouts,
    FlatTops,
    Hum,
    HumLine,
    LongSilence,
    Resolution,
    Rumble,
    RumbleBurst,
    Span,
)
from audio_qc.facts.sound import ChannelLevel, Levels


def found(measurement: Measurement, measure: str) -> list[Finding]:
    return [finding for finding in judge(measurement, SPOKEN_INTERVIEW) if finding.measure == measure]


def one(measurement: Measurement, measure: str) -> tuple[str, str]:
    (finding,) = found(measurement, measure)
    return finding.code, finding.standing


def with_peak(good: Measurement, dbtp: float | None) -> Measurement:
    at = None if dbtp is None else 4.0
    peak = replace(good.true_peak, true_peak_dbtp=dbtp, channels_dbtp=(dbtp, dbtp), at_seconds=at, reason="silent")
    return replace(good, true_peak=peak)


def with_clipping(good: Measurement, moments: int, share: float, longest_s: float) -> Measurement:
    spans = tuple(Span(n * 2.0, n * 2.0 + longest_s, n * 96_000, n * 96_000 + 9, 0) for n in range(moments))
    channels = (ChannelClipping(moments, 9 * moments, 9, moments, 0), ChannelClipping(0, 0, 0, 0, 0))
    return replace(good, clipping=Clipping(channels, moments, share, longest_s, spans, 0.25))


def with_flat_tops(good: Measurement, moments: int, share: float, longest_s: float) -> Measurement:
    spans = tuple(Span(n * 2.0, n * 2.0 + longest_s, n * 96_000, n * 96_000 + 9, 1) for n in range(moments))
    none = ChannelFlatTops(None, 0, 0, 0, 0)
    flat = ChannelFlatTops(-6.0, moments, 0, 9 * moments, 9) if moments else none
    return replace(good, flat_tops=FlatTops((none, flat), moments, share, longest_s, spans, 0.25))


def with_dropouts(good: Measurement, *spans: Span) -> Measurement:
    longest = max((span.end_s - span.start_s for span in spans), default=0.0)
    return replace(good, dropouts=Dropouts(len(spans), len(spans), 0, 0, longest, spans, 0.01))


def with_bits(good: Measurement, used: int | None, bits: int) -> Measurement:
    facts = Resolution(used, "" if used else "The samples are coded.")
    return replace(good, resolution=facts, format=replace(good.format, bits_per_sample=bits))


def with_voice(good: Measurement, level: float | None, reliable: bool = True) -> Measurement:
    speech = replace(
        good.speech, active_speech_level_dbov=level, is_reliable=reliable, reason="" if reliable else "No."
    )
    return replace(good, speech=speech)


def with_distance(good: Measurement, distance: float | None) -> Measurement:
    reason = "No pauses." if distance is None else ""
    speech = replace(good.speech, speech_to_noise_dba=distance, speech_to_noise_reason=reason)
    return replace(good, speech=speech)


def without_pauses(good: Measurement) -> Measurement:
    return replace(good, noise=replace(good.noise, noise_floor_dbfs=None, noise_floor_dba=None, reason="No pauses."))


def with_long_silence(good: Measurement, seconds: float, reason: str = "") -> Measurement:
    spans = (Span(5.0, 5.0 + seconds, 240_000, round((5.0 + seconds) * 48_000), None),) if seconds else ()
    return replace(good, long_silence=LongSilence(30.0, len(spans), seconds, spans, reason))


def channel_levels(*channels: ChannelLevel) -> Levels:
    return Levels(max(level.peak_dbfs or -200.0 for level in channels), channels)


def with_hum(good: Measurement, prominence_db: float | None, a_weighted_level_dbfs: float = -60.0) -> Measurement:
    if prominence_db is None:
        return replace(good, hum=Hum(None, None, None, None, None, (), None, "Less than 4.6 seconds of sound."))
    lines = (HumLine(100.1, prominence_db, -45.0),) if prominence_db >= 8.0 else ()
    hum = Hum(prominence_db, 50, 50.05, -45.0, a_weighted_level_dbfs, lines, 1, "")
    return replace(good, hum=hum, loudness=replace(good.loudness, integrated_lufs=-23.0))


def with_bursts(good: Measurement, *over_voice_db: float, seconds: float = 1.0) -> Measurement:
    spans = (Span(10.0 * n, 10.0 * n + seconds, 480_000 * n, 480_000 * n + 9, 0) for n in range(len(over_voice_db)))
    bursts = tuple(RumbleBurst(span, -25.0 + over, over, 50.0) for span, over in zip(spans, over_voice_db, strict=True))
    return replace(good, rumble=Rumble(bursts, 3.0, -25.0, ""))


def with_band(good: Measurement, edge_hz: float | None, reason: str) -> Measurement:
    return replace(good, bandwidth=Bandwidth(edge_hz, None if reason else 31.0, reason))


def with_silence(good: Measurement, *spans: Span) -> Measurement:
    longest = max((span.end_s - span.start_s for span in spans), default=0.0)
    return replace(good, digital_silence=DigitalSilence(0.1, len(spans), longest, (0.0, 0.0), spans, 0.1))


def with_levels(good: Measurement, left: float, right: float) -> Measurement:
    levels = channel_levels(*(replace(good.levels.channels[0], rms_without_dc_dbfs=level) for level in (left, right)))
    return replace(good, levels=levels)


def with_loss(good: Measurement, level: float | None, below: float | None) -> Measurement:
    return replace(good, channel_losses=(ChannelLoss(Span(2.0, 5.0, 96_000, 240_000, 1), level, below),))
