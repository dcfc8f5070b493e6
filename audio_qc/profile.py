"""Target profiles: every limit that the judge uses, with its reason, read from a TOML file."""

import math
import os
import tomllib
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from audio_qc.errors import ProfileError


@dataclass(frozen=True)
class Limit:
    """One figure and where it comes from; `reason` names the published source or says that there is none."""

    value: float
    unit: str
    reason: str


@dataclass(frozen=True)
class Profile:
    """A named and versioned set of limits; each field is one table of the TOML file."""

    name: str
    version: int
    title: str
    preferred_rate: Limit
    preferred_bits: Limit
    accepted_rate: Limit
    accepted_bits: Limit
    peak_low: Limit
    peak_high: Limit
    peak_too_low: Limit
    peak_too_high: Limit
    peak_inaudible: Limit
    dc_note: Limit
    dc_look_closer: Limit
    clipped_share_problem: Limit
    clipped_run_problem: Limit
    dropouts_allowed: Limit
    speech_low: Limit
    speech_high: Limit
    speech_too_low: Limit
    speech_to_noise_praised: Limit
    speech_to_noise_good: Limit
    speech_to_noise_problem: Limit
    long_silence: Limit
    hum_prominence: Limit
    hum_below_voice: Limit
    rumble_to_voice: Limit
    rumble_time: Limit
    audible_band: Limit
    silence_look_closer: Limit
    dead_channel_level: Limit
    dead_channel_below_other: Limit
    imbalance: Limit
    inverted_correlation: Limit
    same_correlation: Limit


def load_profile(path: str | os.PathLike[str]) -> Profile:
    """Read a profile; raises ProfileError with one sentence if a limit is missing, unknown or unexplained."""
    try:
        data = tomllib.loads(Path(path).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ProfileError(f"The profile {Path(path).name} cannot be read: {error}") from error
    names = {field.name for field in fields(Profile)}
    if wrong := names ^ data.keys():
        raise ProfileError(f"The profile {Path(path).name} lacks or does not know: {', '.join(sorted(wrong))}.")
    name, version, title = (data.pop(key) for key in ("name", "version", "title"))
    if not (isinstance(version, int) and isinstance(name, str) and isinstance(title, str)):
        raise ProfileError("A profile needs a name, a title and a version that is a whole number.")
    limits = {key: _limit(key, table) for key, table in data.items()}
    return Profile(name=name, version=version, title=title, **limits)


def _limit(name: str, table: Any) -> Limit:
    try:
        value, unit, reason = float(table["value"]), str(table["unit"]), str(table["reason"]).strip()
    except (KeyError, TypeError, ValueError) as error:
        raise ProfileError(f"The limit {name} needs a value, a unit and a reason.") from error
    if not reason or not math.isfinite(value):
        raise ProfileError(f"The limit {name} needs a finite value and a reason.")
    return Limit(value, unit, reason)


SPOKEN_INTERVIEW = load_profile(Path(__file__).with_name("profiles") / "spoken-interview.toml")
