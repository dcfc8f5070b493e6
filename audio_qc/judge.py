"""Holds a measurement against a profile."""

from audio_qc.finding import Finding
from audio_qc.measurement import Measurement
from audio_qc.profile import Profile
from audio_qc.rules import RULES


def judge(measurement: Measurement, profile: Profile) -> tuple[Finding, ...]:
    """Return at least one finding per measure, good ones and unmeasurable ones included; reads nothing else."""
    return tuple(finding for rule in RULES for finding in rule(measurement, profile))
