"""Judges how the channels stand to each other."""

from audio_qc.facts.faults import ChannelLoss, Span
from audio_qc.facts.sound import ChannelPair
from audio_qc.finding import GOOD, LOOK_CLOSER, NOT_MEASURED, NOTE, PROBLEM, Finding
from audio_qc.measurement import Measurement
from audio_qc.profile import Profile
from audio_qc.rules.words import channel_name, channel_names, places, seconds_text

SHORTEST_S = 1.0  # in less, two channels can differ by chance
QUIETEST_DBFS = -200.0  # stands for digital silence when levels are compared


def judge_channels(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """A dead or inverted channel is a problem, an imbalance looks closer, two equal channels are a note."""
    if measurement.format.channels == 1:
        return (_finding("channels-one", GOOD, "The recording has one channel.", "One channel: nothing to compare."),)
    if measurement.format.seconds < SHORTEST_S:
        return (_too_short(),)
    dead = _dead_channels(measurement, profile)
    findings = [_dead(channel, measurement, profile) for channel in dead]
    findings += _lost_channels(dead, measurement, profile)
    pairs = [pair for pair in measurement.channel_pairs if not {pair.first, pair.second} & set(dead)]
    for pair in pairs:
        findings += _pair_findings(pair, measurement, profile)
    return tuple(findings) or (_fine(measurement, pairs),)


def _level(channel: int, measurement: Measurement) -> float:
    level = measurement.levels.channels[channel].rms_without_dc_dbfs
    return QUIETEST_DBFS if level is None else level


def _dead_channels(measurement: Measurement, profile: Profile) -> list[int]:
    """A channel is dead when it is very quiet and another is far louder; a quiet recording has no dead channel."""
    levels = [_level(channel, measurement) for channel in range(measurement.format.channels)]
    quiet = profile.dead_channel_level.value
    far_below = max(levels) - profile.dead_channel_below_other.value
    return [channel for channel, level in enumerate(levels) if level < quiet and level < far_below]


def _dead(channel: int, measurement: Measurement, profile: Profile) -> Finding:
    name = channel_name(channel, measurement.format.channels)
    level = measurement.levels.channels[channel].rms_without_dc_dbfs
    return _finding(
        "channel-dead",
        PROBLEM,
        f"Nothing was recorded on {name}: before the next interview check that microphone, its cable and its switch.",
        f"RMS of {name} without DC: "
        + ("digital silence." if level is None else f"{level:.1f} dBFS, a full-scale sine reading -3.01."),
        value=level,
        unit="dBFS",
        limit=f"{profile.dead_channel_level.value:g} dBFS or higher",
        source=profile.dead_channel_below_other.reason,
        channel=channel,
        reason="" if level is not None else "The channel is digital silence.",
    )


def _lost_channels(dead: list[int], measurement: Measurement, profile: Profile) -> list[Finding]:
    """A channel that is dead for a while only; one that is dead as a whole has been told."""
    lost: dict[int, list[ChannelLoss]] = {}
    for loss in measurement.channel_losses:
        quiet = loss.level_dbfs is None or loss.level_dbfs < profile.dead_channel_level.value
        far = loss.below_db is None or loss.below_db > profile.dead_channel_below_other.value
        if quiet and far and loss.span.channel is not None and loss.span.channel not in dead:
            lost.setdefault(loss.span.channel, []).append(loss)
    return [_lost(channel, losses, measurement, profile) for channel, losses in lost.items()]


def _lost(channel: int, losses: list[ChannelLoss], measurement: Measurement, profile: Profile) -> Finding:
    name, spans = channel_name(channel, measurement.format.channels), tuple(loss.span for loss in losses)
    longest = max(span.end_s - span.start_s for span in spans)
    levels = ["digital silence" if loss.level_dbfs is None else f"{loss.level_dbfs:.1f} dBFS" for loss in losses]
    return _finding(
        "channel-lost",
        PROBLEM,
        f"On {name} the sound is gone {places(spans)}, for up to {seconds_text(longest)}: before the next interview "
        "check that microphone's battery, cable and switch.",
        f"RMS of {name} there without DC: {', '.join(levels)}, while another channel sounds.",
        value=longest,
        unit="s",
        limit=f"{profile.dead_channel_level.value:g} dBFS or higher",
        source=profile.dead_channel_below_other.reason,
        channel=channel,
        spans=spans,
    )


def _pair_findings(pair: ChannelPair, measurement: Measurement, profile: Profile) -> list[Finding]:
    names = channel_names([pair.first, pair.second], measurement)
    found = []
    difference = _level(pair.first, measurement) - _level(pair.second, measurement)
    if abs(difference) > profile.imbalance.value:
        found.append(_imbalance(pair, difference, measurement, profile))
    if pair.identical or (pair.correlation is not None and pair.correlation >= profile.same_correlation.value):
        found.append(_same(pair, names, profile))
    elif pair.correlation is not None and pair.correlation < profile.inverted_correlation.value:
        found.append(_inverted(pair, names, profile))
    return found


def _imbalance(pair: ChannelPair, difference: float, measurement: Measurement, profile: Profile) -> Finding:
    channels = measurement.format.channels
    quieter, louder = (pair.first, pair.second) if difference < 0 else (pair.second, pair.first)
    return _finding(
        "channels-unbalanced",
        LOOK_CLOSER,
        f"Much less is heard on {channel_name(quieter, channels)} than on {channel_name(louder, channels)}; next time "
        "give each speaker a microphone at the same distance, or set both levels alike.",
        f"RMS without DC differs by {abs(difference):.1f} dB.",
        value=abs(difference),
        unit="dB",
        limit=f"up to {profile.imbalance.value:g} dB",
        source=profile.imbalance.reason,
        channel=quieter,
    )


def _inverted(pair: ChannelPair, names: str, profile: Profile) -> Finding:
    return _finding(
        "channel-inverted",
        PROBLEM,
        f"Between {names} one is turned upside down, so voices vanish on a single loudspeaker: tell the library "
        "which cable or adapter you used.",
        f"Correlation of {names}: {pair.correlation:+.3f}; one has its polarity inverted.",
        value=pair.correlation,
        unit="correlation",
        limit=f"{profile.inverted_correlation.value:g} or higher",
        source=profile.inverted_correlation.reason,
    )


def _same(pair: ChannelPair, names: str, profile: Profile) -> Finding:
    detail = "are equal sample for sample" if pair.identical else f"have a correlation of {pair.correlation:.5f}"
    return _finding(
        "channels-identical",
        NOTE,
        "Both channels hold the same sound, so one microphone made this recording; nothing needs doing.",
        f"{names[0].upper()}{names[1:]} {detail}.",
        value=pair.correlation,
        unit="correlation",
        limit=f"below {profile.same_correlation.value:g} for two microphones",
        source=profile.same_correlation.reason,
        reason="" if pair.correlation is not None else "Neither channel ever changes.",
    )


def _too_short() -> Finding:
    reason = "The recording is shorter than one second."
    return _finding("channels-not-measured", NOT_MEASURED, "The channels could not be compared.", reason, reason=reason)


def _fine(measurement: Measurement, pairs: list[ChannelPair]) -> Finding:
    known = [f"{pair.correlation:+.3f}" for pair in pairs if pair.correlation is not None]
    return _finding(
        "channels-good",
        GOOD,
        "Every channel carries sound, at levels that fit each other.",
        f"Correlation of each two channels: {', '.join(known) or 'not measurable'}.",
    )


def _finding(
    code: str, standing: str, volunteer: str, archivist: str, *, value: float | None = None, unit: str = "",
    limit: str = "", source: str = "", channel: int | None = None, reason: str = "", spans: tuple[Span, ...] = (),
) -> Finding:  # fmt: skip
    return Finding(
        code=code, measure="channels", standing=standing, title="Channels", value=value, unit=unit, limit=limit,
        source=source, volunteer=volunteer, archivist=archivist, channel=channel, reason=reason,
        spans=spans,
    )  # fmt: skip
