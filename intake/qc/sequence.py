"""How the parts of one interview follow each other: the recorder's own order, its settings, and whether one goes on."""

import operator
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

from intake.interviews.models import Part
from intake.qc.services import latest_report

# A recorder's clock without a time reference tells whole seconds, of the beginning; one may round, another cut off.
CLOCK_S = 1.5
# Of a true continuation 99.9 % miss less, of another place of the same recording a quarter (audio_qc.meters.edges).
MOST_ERRORS = 6.0
FORETOLD = 3  # samples on either side of the cut
# Where recorders begin another file: the largest that a card can hold, and round figures below it; and how
# near a file comes to it (common practice, no source).
SPLIT_BYTES = (1 << 30, 2_000_000_000, 1 << 31, 4_000_000_000, 1 << 32)
NEAR_SPLIT = 0.02


@dataclass(frozen=True)
class Recorded:
    """What is known of one measured part for its place among the others."""

    part: Part
    seconds: float
    settings: tuple[int, int | None, int]
    settings_in_words: str
    began_at: datetime | None
    edges: dict[str, Any]

    @property
    def is_split(self) -> bool:
        """Whether its size is one at which recorders begin another file."""
        return any(0 <= 1 - self.part.upload.length / most < NEAR_SPLIT for most in SPLIT_BYTES)


@dataclass(frozen=True)
class Join:
    """Whether a part goes on where the one before it ends, in a sentence; `is_odd` where somebody should look."""

    sentence: str
    is_odd: bool


def recorded(parts: Sequence[Part]) -> list[Recorded]:
    """Those of the parts that are measured, in their order."""
    return [known for part in parts if (known := _known(part))]


def recorders_order(parts: Sequence[Part]) -> list[int] | None:
    """The ids of the parts in the recorder's own order: by its clock, else by its numbering.

    None where it does not tell, while something is still to be measured, or where the parts are in that order already.
    """
    if len(parts) < 2 or any(latest_report(part.file) is None for part in parts):
        return None
    clocks = [one.began_at for one in recorded(parts) if one.began_at]
    is_by_clock = len(set(clocks)) == len(parts)
    told: Sequence[Any] = clocks if is_by_clock else _numbers([part.upload.name for part in parts]) or []
    ids = [part.pk for _, part in sorted(zip(told, parts, strict=True), key=lambda both: both[0])] if told else []
    return ids if ids and ids != [part.pk for part in parts] else None


def other_settings(parts: Sequence[Part]) -> dict[int, str]:
    """A sentence for each part (by id) that was recorded with other settings than most."""
    known = recorded(parts)
    if len({one.settings for one in known}) < 2:
        return {}
    usual, count = Counter(one.settings for one in known).most_common(1)[0]
    words = next(one.settings_in_words for one in known if one.settings == usual)
    others = "the others" if count > 1 else "the first"
    usual = usual if count > 1 else known[0].settings
    words = words if count > 1 else known[0].settings_in_words
    return {
        one.part.pk: f"Recorded as {one.settings_in_words}, {others} as {words}: the recorder's settings were changed."
        for one in known
        if one.settings != usual
    }


def joins(parts: Sequence[Part]) -> dict[int, Join]:
    """For each part (by id) after the first whether it goes on where the one before it ends, where that can be told."""
    found = {}
    for before, after in pairwise(parts):
        one, other = _known(before), _known(after)
        join = _join(one, other) if one and other else None
        if join:
            found[after.pk] = join
    return found


def _known(part: Part) -> Recorded | None:
    report = latest_report(part.file)
    if report is None or not report.measurement:
        return None
    measured = report.measurement
    facts = measured["format"]
    return Recorded(
        part=part,
        seconds=facts["seconds"],
        settings=(facts["sample_rate_hz"], facts["bits_per_sample"], facts["channels"]),
        settings_in_words=report.format_in_words,
        began_at=_began_at(measured["details"]["broadcast"], facts["sample_rate_hz"]),
        edges=measured["edges"],
    )


def _began_at(broadcast: dict[str, Any] | None, rate_hz: int) -> datetime | None:
    """By the recorder's clock: its day, and the samples since midnight, else its time (EBU Tech 3285)."""
    if broadcast is None:
        return None
    told = re.sub(r"[^0-9]", "-", f"{broadcast['origination_date']} {broadcast['origination_time']}")
    try:
        began = datetime.strptime(told, "%Y-%m-%d-%H-%M-%S")  # noqa: DTZ007  the recorder knows no zone
    except ValueError:
        return None
    reference_s = broadcast["time_reference_frames"] / rate_hz
    if 0 < reference_s < timedelta(days=1).total_seconds():
        return began.replace(hour=0, minute=0, second=0) + timedelta(seconds=reference_s)
    return began


def _numbers(names: Sequence[str]) -> list[tuple[int, ...]] | None:
    """The numbers in names that differ in their numbers alone; None for names of different kinds."""
    if len({re.sub(r"\d+", "0", name) for name in names}) > 1 or len(set(names)) < len(names):
        return None
    found = [tuple(map(int, re.findall(r"\d+", name))) for name in names]
    return found if all(found) and len(set(found)) == len(names) else None


def _join(one: Recorded, other: Recorded) -> Join | None:
    first, second = one.part.position, other.part.position
    if one.settings != other.settings:
        return None
    fits = _sound_goes_on(one.edges["last"], other.edges["first"])
    if one.began_at and other.began_at:
        gap_s = (other.began_at - one.began_at).total_seconds() - one.seconds
        if gap_s < -CLOCK_S:
            return Join(
                f"By the recorder's clock part {second} begins before part {first} has ended: look at their order.",
                True,
            )
        if gap_s > CLOCK_S:
            return Join(f"By the recorder's clock {_span(gap_s)} pass between part {first} and part {second}.", False)
        if fits is False:
            return Join(f"The sound jumps between part {first} and part {second}: something may be missing.", True)
        return Join(f"It goes on where part {first} ends.", False)
    if not one.is_split or fits is None:
        return None
    if fits:
        return Join(f"It seems to go on where part {first} ends.", False)
    return Join(f"The sound jumps between part {first} and part {second}: something may be missing.", True)


def _sound_goes_on(last: list[dict[str, Any] | None], first: list[dict[str, Any] | None]) -> bool | None:
    """Whether one edge foretells the other; None where either side is silent and says nothing."""
    fits = [_foretell(one, other) for one, other in zip(last, first, strict=True) if one and other]
    return all(fits) if fits else None


def _foretell(last: dict[str, Any], first: dict[str, Any]) -> bool:
    """Forwards from the end of one part, and backwards from the beginning of the other."""
    usual = max(last["error"], first["error"])
    outwards, inwards = last["samples"], first["samples"][::-1]
    missed = _missed(outwards + inwards, last["weights"]) + _missed((outwards + inwards)[::-1], first["weights"])
    return max(missed) <= MOST_ERRORS * usual


def _missed(samples: list[float], weights: list[float]) -> list[float]:
    order = len(weights)
    return [
        abs(samples[place + order] - sum(map(operator.mul, samples[place : place + order], weights)))
        for place in range(FORETOLD)
    ]


def _span(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    told = [(hours, "h"), (minutes, "min"), (rest, "s")]
    return " ".join(f"{count} {unit}" for count, unit in told if count)
