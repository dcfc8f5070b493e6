"""Judges places where sound is missing."""

from audio_qc.facts.faults import Dropouts
from audio_qc.finding import GOOD, PROBLEM, Finding
from audio_qc.measurement import Measurement
from audio_qc.profile import Profile
from audio_qc.rules.words import counted, listed, places, seconds_text


def judge_dropouts(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """A recorder that loses sound once may lose it again, so none is allowed."""
    facts = measurement.dropouts
    missing = facts.count > profile.dropouts_allowed.value
    channels = {span.channel for span in facts.spans}
    return (
        Finding(
            code="dropout" if missing else "dropouts-none",
            measure="dropouts",
            standing=PROBLEM if missing else GOOD,
            title="Dropouts",
            value=float(facts.count),
            unit=profile.dropouts_allowed.unit,
            limit=f"up to {profile.dropouts_allowed.value:g}",
            source=profile.dropouts_allowed.reason,
            volunteer=_volunteer(facts) if missing else "The sound never breaks off.",
            archivist=_archivist(facts),
            spans=facts.spans,
            channel=channels.pop() if len(channels) == 1 and measurement.format.channels > 1 else None,
        ),
    )


def _volunteer(facts: Dropouts) -> str:
    return (
        f"Sound is missing for a moment {places(facts.spans)}: listen there to hear whether words are lost, and check "
        "card, cable and batteries before the next interview."
    )


def _archivist(facts: Dropouts) -> str:
    if not facts.count:
        return "No gap of zeros or of a held sample inside sound, and no jump between samples."
    gaps = f", longest {seconds_text(facts.longest_gap_s)}" if facts.longest_gap_s else ""
    return (
        f"{counted(facts.silent_gaps, 'gap', 'gaps')} of exact zeros and {facts.held_gaps} of a held sample inside "
        f"sound{gaps}; {counted(facts.jumps, 'jump', 'jumps')} between samples that lost or altered samples leave."
        + listed(facts.spans, facts.count, facts.spans_merged_s)
    )
