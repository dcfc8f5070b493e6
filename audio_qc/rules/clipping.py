"""Judges clipping: at full scale, and at a ceiling below it."""

from audio_qc.facts.faults import Clipping, FlatTops
from audio_qc.finding import GOOD, LOOK_CLOSER, PROBLEM, Finding
from audio_qc.measurement import Measurement
from audio_qc.profile import Profile
from audio_qc.rules.words import channel_name, counted, listed, places, seconds_text


def judge_clipping(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """No clipped run is good, some look closer; much of the time or one long run is a problem."""
    facts = measurement.clipping
    standing = _standing(facts.moments, facts.share_percent, facts.longest_run_s, profile)
    return (
        Finding(
            code={GOOD: "clipped-none", LOOK_CLOSER: "clipped", PROBLEM: "clipped-badly"}[standing],
            measure="clipping",
            standing=standing,
            title="Clipping",
            value=float(facts.moments),
            unit="moment" if facts.moments == 1 else "moments",
            limit="none",
            source=_source("runs", profile),
            volunteer=_volunteer(facts),
            archivist=_archivist(facts),
            spans=facts.spans,
            channel=_only_channel(facts),
        ),
    )


def _standing(moments: int, share_percent: float, longest_s: float, profile: Profile) -> str:
    if not moments:
        return GOOD
    often = share_percent > profile.clipped_share_problem.value
    return PROBLEM if often or longest_s > profile.clipped_run_problem.value else LOOK_CLOSER


def _source(what: str, profile: Profile) -> str:
    return (
        f"Up to {profile.clipped_share_problem.value:g} % of the time and {what} up to "
        f"{profile.clipped_run_problem.value * 1000:g} ms look closer. {profile.clipped_share_problem.reason}"
    )


def _volunteer(facts: Clipping) -> str:
    if not facts.moments:
        return "The sound never hits its ceiling."
    return (
        f"The sound hits its ceiling in {counted(facts.moments, 'moment', 'moments')}, {places(facts.spans)}, which "
        "crackles and cannot be mended; next time turn the recording level down before you begin."
    )


def _archivist(facts: Clipping) -> str:
    if not facts.moments:
        return "No run of three or more equal samples at or near full scale."
    runs, samples = (
        sum(channel.runs for channel in facts.channels),
        sum(channel.clipped_samples for channel in facts.channels),
    )
    return (
        f"{counted(runs, 'run', 'runs')} of three or more equal samples near full scale, {samples} samples, longest "
        f"{seconds_text(facts.longest_run_s)}, {facts.share_percent:.4f} % of the time in the worst channel."
        + listed(facts.spans, facts.moments, facts.spans_merged_s)
    )


def _only_channel(facts: Clipping) -> int | None:
    clipped = [n for n, channel in enumerate(facts.channels) if channel.runs]
    return clipped[0] if len(clipped) == 1 and len(facts.channels) > 1 else None


def judge_flat_tops(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """A ceiling below full scale crackles as clipping does, so the same limits hold."""
    facts = measurement.flat_tops
    standing = _standing(facts.moments, facts.share_percent, facts.longest_s, profile)
    flat = [n for n, channel in enumerate(facts.channels) if channel.level_dbfs is not None]
    return (
        Finding(
            code={GOOD: "flat-tops-none", LOOK_CLOSER: "flat-tops", PROBLEM: "flat-tops-badly"}[standing],
            measure="flat_tops",
            standing=standing,
            title="Squashed peaks",
            value=float(facts.moments),
            unit="moment" if facts.moments == 1 else "moments",
            limit="none",
            source=_source("tops", profile),
            volunteer=_squashed(facts),
            archivist=_ceilings(facts),
            spans=facts.spans,
            channel=flat[0] if len(flat) == 1 and len(facts.channels) > 1 else None,
        ),
    )


def _squashed(facts: FlatTops) -> str:
    if not facts.moments:
        return "The loud moments keep their shape."
    return (
        f"Loud moments are squashed although the file has room above them, {places(facts.spans)}, which happens in "
        "the recorder's input or its limiter; next time turn the input level down or the limiter off."
    )


def _ceilings(facts: FlatTops) -> str:
    if not facts.moments:
        return "Peaks do not pile up with flat tops at any ceiling of their own."
    ceilings = "; ".join(
        f"{channel_name(n, len(facts.channels))} at {channel.level_dbfs:.2f} dBFS, {channel.positive_tops} positive "
        f"and {channel.negative_tops} negative tops"
        for n, channel in enumerate(facts.channels)
        if channel.level_dbfs is not None
    )
    return (
        f"Peaks pile up with flat tops: {ceilings}; longest {seconds_text(facts.longest_s)}, "
        f"{facts.share_percent:.4f} % of the time in the worst channel."
        + listed(facts.spans, facts.moments, facts.spans_merged_s)
    )
