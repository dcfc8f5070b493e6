"""Conversions to decibels that never give minus infinity or NaN."""

import math


def amplitude_db(amplitude: float) -> float | None:
    """Return 20 log10 of an amplitude ratio, None for 0."""
    return 20.0 * math.log10(amplitude) if amplitude > 0.0 else None


def power_db(power: float) -> float | None:
    """Return 10 log10 of a power ratio, None for 0."""
    return 10.0 * math.log10(power) if power > 0.0 else None
