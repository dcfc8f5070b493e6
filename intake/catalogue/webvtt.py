"""WebVTT: times and words as players and editors exchange them (W3C, WebVTT: The Web Video Text Tracks Format).

Read strictly: a library that skips what it does not understand loses words without a sound.
"""

import html
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from intake.errors import Refused

MEDIA_TYPE = "text/vtt"
HEADER = re.compile(r"WEBVTT(?:[ \t].*)?")
TIMING = re.compile(r"[ \t]*(\S+)[ \t]+-->[ \t]+(\S+)(?:[ \t].*)?")
TIME = re.compile(r"(?:(\d{2,}):)?([0-5]\d):([0-5]\d)\.(\d{3})")
SUBRIP_TIME = re.compile(r"\d+:\d\d:\d\d,\d{3}")
VOICE = re.compile(r"<v(?:\.[^\s>]*)?[ \t]+([^>]*)>")
TAG = re.compile(r"</?[^>]*>")
ARROW = "-->"
# Most faults that are told at once.
MOST_TOLD = 5
LARGEST_BYTES = 10_000_000
SECOND, MINUTE, HOUR = 1000, 60_000, 3_600_000


@dataclass(frozen=True)
class Spoken:
    """Words from one time to another, in milliseconds; `voice` is who speaks, empty where nobody is told.

    `ends_ms` None lasts until the next.
    """

    starts_ms: int
    ends_ms: int | None
    voice: str
    words: str


def read(content: bytes) -> list[Spoken]:
    """The cues in the order of the file; a cue of two voices becomes two at the same time.

    Raises Refused with what is wrong in which line, and then nothing of it may be kept.
    """
    lines = _lines(content)
    if not HEADER.fullmatch(lines[0]):
        raise Refused("This is no WebVTT file: its first line has to begin with WEBVTT.")
    if len(lines) > 1 and lines[1]:
        raise Refused("Line 2 has to be empty: it parts the heading from what follows.")
    faults: list[str] = []
    found = [spoken for block in _blocks(lines) for spoken in _cue(block, faults)]
    faults += _out_of_order(found)
    if faults:
        more = [f"And {len(faults) - MOST_TOLD} more like these."] if len(faults) > MOST_TOLD else []
        raise Refused(*faults[:MOST_TOLD], *more)
    if not found:
        raise Refused("There are no words in this file.")
    return [spoken for _, spoken in found]


def write(spoken: Iterable[Spoken], *, notes: Iterable[str], lasts_ms: int | None = None) -> str:
    """A file of cues, `notes` above them. One without an end lasts until the next, the last until `lasts_ms`."""
    ordered = sorted(spoken, key=lambda one: one.starts_ms)
    blocks = ["WEBVTT", *(f"NOTE\n{_no_arrow(note)}" for note in notes)]
    for number, one in enumerate(ordered, start=1):
        later = next((other.starts_ms for other in ordered[number:] if other.starts_ms > one.starts_ms), lasts_ms)
        ends = one.ends_ms or max(later or 0, one.starts_ms + SECOND)
        voice = f"<v {_escaped(one.voice)}>" if one.voice else ""
        blocks.append(f"{number}\n{_time(one.starts_ms)} --> {_time(ends)}\n{voice}{_payload(one.words)}")
    return "\n\n".join(blocks) + "\n"


def _lines(content: bytes) -> list[str]:
    if len(content) > LARGEST_BYTES:
        raise Refused(f"The file is larger than {LARGEST_BYTES // 1_000_000} MB; a transcript is smaller.")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Refused("The file is not text in UTF-8. Save it as UTF-8 and try again.") from error
    return text.replace("\x00", "\ufffd").replace("\r\n", "\n").replace("\r", "\n").split("\n")


Numbered = tuple[int, str]  # counted from 1, as editors count lines


def _blocks(lines: list[str]) -> Iterator[list[Numbered]]:
    """What stands between empty lines, without notes, styles and regions."""
    block: list[Numbered] = []
    for number, line in enumerate([*lines[1:], ""], start=2):
        if line:
            block.append((number, line))
        elif block:
            if block[0][1].split()[:1] not in (["NOTE"], ["STYLE"], ["REGION"]) or ARROW in block[0][1]:
                yield block
            block = []


Found = tuple[int, Spoken]  # with the line of its times


def _cue(block: list[Numbered], faults: list[str]) -> Iterator[Found]:
    if ARROW not in block[0][1]:
        block = block[1:]  # the cue's name
    if not block or ARROW not in block[0][1]:
        faults.append(f"Line {block[0][0] if block else '?'}: words without a time. A cue begins with two times.")
        return
    (number, timing), payload = block[0], block[1:]
    for line_number, line in payload:
        if ARROW in line:
            faults.append(
                f"Line {line_number}: a time within the words of another. An empty line is missing before it."
            )
            return
    times = _times(timing)
    if isinstance(times, str):
        faults.append(f"Line {number}: {times}")
        return
    for voice, words in _voices("\n".join(line for _, line in payload)):
        yield number, Spoken(*times, voice, words)


def _times(line: str) -> tuple[int, int] | str:
    """From and to; a sentence where they cannot be read."""
    read = TIMING.fullmatch(line)
    both = [TIME.fullmatch(told) for told in read.groups()] if read else []
    if not read or not all(both):
        if SUBRIP_TIME.search(line):
            return "the times have a comma, as in SubRip. WebVTT has a full stop: 00:00:01.500 --> 00:00:04.000."
        return "these are no two times such as 00:00:01.500 --> 00:00:04.000."
    begins, ends = (_ms(one) for one in both if one)
    return (begins, ends) if ends > begins else "it ends before it begins, or at once."


def _ms(time: re.Match[str]) -> int:
    hours, minutes, seconds, thousandths = (int(part or 0) for part in time.groups())
    return hours * HOUR + minutes * MINUTE + seconds * SECOND + thousandths


def _voices(payload: str) -> Iterator[tuple[str, str]]:
    """The words of each voice, without other markup; nothing for a voice that says nothing."""
    pieces = VOICE.split(payload)
    for voice, words in [("", pieces[0]), *zip(pieces[1::2], pieces[2::2], strict=True)]:
        plain = html.unescape(TAG.sub("", words)).strip()
        if plain:
            yield html.unescape(voice).strip(), plain


def _out_of_order(found: list[Found]) -> list[str]:
    return [
        f"Line {number}: it begins before the one above it."
        for (_, before), (number, here) in pairwise(found)
        if here.starts_ms < before.starts_ms
    ]


def _time(ms: int) -> str:
    seconds, thousandths = divmod(ms, SECOND)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02}:{minutes:02}:{seconds:02}.{thousandths:03}"


def _payload(words: str) -> str:
    """Without empty lines, which would end the cue."""
    return "\n".join(_escaped(line) for line in words.splitlines() if line.strip())


def _escaped(text: str) -> str:
    return " ".join(text.split()).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _no_arrow(note: str) -> str:
    return "\n".join(line for line in note.splitlines() if line.strip()).replace(ARROW, "to")
