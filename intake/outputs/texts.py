"""Outlines and transcripts as WebVTT files, one for each part: for others without what is closed or withheld."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import zip_longest

from intake.catalogue.languages import name_of
from intake.catalogue.models import Cue, TimedText
from intake.catalogue.timed import length_ms, text_of
from intake.catalogue.webvtt import Spoken, write
from intake.catalogue.withheld import Withheld, participants_of
from intake.interviews.models import Interview, Part
from intake.outputs.times import is_closed_at

LAST_MS = 2**31 - 1
LEFT_OUT = "Closed passages are left out."


@dataclass(frozen=True)
class TextFile:
    """`name` without a folder, such as "transcript-01.vtt"."""

    name: str
    content: bytes


def files_whole(interview: Interview) -> Iterator[TextFile]:
    """With everything, for the library's own keeping."""
    for text in _texts(interview):
        for part, cues in _by_part(text):
            yield _file(text, part, [_spoken(cue) for cue in cues], [])


def files_told(interview: Interview) -> Iterator[TextFile]:
    """SECURITY: for whoever may hear the recording: nothing from closed passages, and no name that is withheld."""
    withheld = Withheld.of(participants_of(interview))
    for text in _texts(interview):
        for part, cues in _by_part(text):
            kept = [cue for cue, ends_ms in _lasting(text, cues) if not is_closed_at(part, cue.starts_ms, ends_ms)]
            told = [
                Spoken(cue.starts_ms, cue.ends_ms, withheld.left_out_of(cue.voice), withheld.left_out_of(cue.words))
                for cue in kept
            ]
            yield _file(text, part, told, [LEFT_OUT] if len(kept) < len(cues) else [])


def _texts(interview: Interview) -> list[TimedText]:
    return [text for kind in TimedText.Kind if (text := text_of(interview, kind))]


def _by_part(text: TimedText) -> list[tuple[Part, list[Cue]]]:
    found: dict[Part, list[Cue]] = {}
    for cue in text.cues.all():
        found.setdefault(cue.part, []).append(cue)
    return list(found.items())


def _lasting(text: TimedText, cues: list[Cue]) -> Iterator[tuple[Cue, int | None]]:
    """Until when each may still be spoken: what is said and has no end, until the next is; a topic only begins."""
    for cue, following in zip_longest(cues, cues[1:]):
        if text.kind == TimedText.Kind.TRANSCRIPT and cue.ends_ms is None:
            yield cue, following.starts_ms if following else LAST_MS
        else:
            yield cue, cue.ends_ms


def _spoken(cue: Cue) -> Spoken:
    return Spoken(cue.starts_ms, cue.ends_ms, cue.voice, cue.words)


def _file(text: TimedText, part: Part, spoken: list[Spoken], notes: list[str]) -> TextFile:
    checked = "Checked against the sound." if text.checked_by_id else "A draft, not yet checked against the sound."
    about = f"{text.get_kind_display()} of part {part.position}, in {name_of(text.language)}. {checked}"
    content = write(spoken, notes=[about, *notes], lasts_ms=length_ms(part))
    return TextFile(f"{text.kind}-{part.position:02d}.vtt", content.encode())
