"""How the papers write dates, times, durations, sizes and digests, whatever the machine's locale; shared sentences."""

import re
from datetime import date, datetime

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
SHA256_HEX = re.compile(r"[0-9a-f]{64}")
GROUP_LENGTH = 4
GROUPS_PER_LINE = 8

FIXITY_SENTENCE = (
    "The SHA-256 under each file is a fingerprint of its exact bytes. Anybody who holds a copy can compute the SHA-256 "
    "of that copy with a free tool on any computer and compare it with this paper: if all 64 digits are the same, the "
    "copy is the same file, byte for byte. If one digit differs, something in the file has changed."
)

NAMES_SENTENCE = "A name that its bearer wished withheld is left out of this paper; the library's register keeps it."


def day(value: date) -> str:
    """25 Nov 2026."""
    return f"{value.day} {MONTHS[value.month - 1]} {value.year}"


def zone(at: datetime) -> str:
    """The offset from UTC, with the zone's short name where it has one: "CET, UTC+01:00"; plain "UTC" at no offset."""
    offset = at.utcoffset()
    if offset is None:
        raise ValueError("A time on a paper needs its time zone.")
    name = at.tzname() or ""
    if name == "UTC":
        return name
    minutes = round(offset.total_seconds() / 60)
    sign, size = ("-" if minutes < 0 else "+"), abs(minutes)
    utc = f"UTC{sign}{size // 60:02d}:{size % 60:02d}"
    return f"{name}, {utc}" if name.isalpha() else utc


def moment(at: datetime) -> str:
    """25 Nov 2026, 14:05 (CET, UTC+01:00)."""
    return f"{day(at)}, {at.hour:02d}:{at.minute:02d} ({zone(at)})"


def exact_moment(at: datetime) -> str:
    """25 Nov 2026, 14:05:09 (CET, UTC+01:00)."""
    return f"{day(at)}, {at.hour:02d}:{at.minute:02d}:{at.second:02d} ({zone(at)})"


def clock(seconds: float) -> str:
    """A duration to the nearest second as h:mm:ss."""
    whole = int(seconds + 0.5)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def exact_clock(seconds: float) -> str:
    """A place in a recording to a tenth of a second as h:mm:ss.s."""
    tenths = int(seconds * 10 + 0.5)
    return f"{tenths // 36000}:{tenths // 600 % 60:02d}:{tenths // 10 % 60:02d}.{tenths % 10}"


def size(count: int) -> str:
    """A number of bytes with one decimal in kB, MB or GB: the SI's powers of 1000."""
    for unit, scale in (("GB", 10**9), ("MB", 10**6)):
        if count >= scale:
            return f"{count / scale:.1f} {unit}"
    return f"{count / 1000:.1f} kB"


def exact_bytes(count: int) -> str:
    """456,012,345 bytes."""
    return f"{count:,} {'byte' if count == 1 else 'bytes'}"


def digest_lines(sha256: str) -> tuple[str, ...]:
    """A SHA-256 as two lines of eight groups of four digits, so that it can be read aloud and compared; never cut."""
    digits = sha256.strip().lower()
    if not SHA256_HEX.fullmatch(digits):
        raise ValueError("A SHA-256 is 64 hexadecimal digits.")
    groups = [digits[at : at + GROUP_LENGTH] for at in range(0, len(digits), GROUP_LENGTH)]
    return tuple(" ".join(groups[at : at + GROUPS_PER_LINE]) for at in range(0, len(groups), GROUPS_PER_LINE))
