"""Outline and transcript: words at times of the parts, written beside the sound or read from a file."""

import re
from collections.abc import Iterable

from django.db import transaction
from django.db.models import Count, Prefetch, Q
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.catalogue import webvtt
from intake.catalogue.complete import description_of
from intake.catalogue.models import Cue, TimedText
from intake.catalogue.services import describing
from intake.catalogue.webvtt import Spoken
from intake.errors import DoneAlready, Refused
from intake.interviews.models import Interview, Part
from intake.qc.services import latest_report

# SECURITY: a day of talk, a cue a second and a half (common practice, no source).
MOST_CUES = 60_000
# A player may tell a little more than was measured.
NEAR_MS = 500


def text_of(interview: Interview, kind: str) -> TimedText | None:
    """With its cues in the order of the recording; those of parts that were taken out are left out."""
    cues = (
        Cue.objects.filter(part__position__isnull=False)
        .select_related("part")
        .order_by("part__position", "starts_ms", "id")
    )
    found = TimedText.objects.filter(interview=interview, kind=kind).select_related("checked_by")
    return found.prefetch_related(Prefetch("cues", queryset=cues)).first()


@transaction.atomic
def write_cue(part_id: int, *, kind: str, said: Spoken, actor: User) -> Cue:
    """Write words at a time of a part."""
    part = Part.objects.select_related("file").get(pk=part_id)
    with describing(part.interview_id, actor) as interview:
        _refuse_outside(part, said)
        text = _text(interview, kind)
        if text.cues.count() >= MOST_CUES:
            raise Refused("There are more words here than one interview holds.")
        cue = Cue.objects.create(text=text, part=part, **vars(said))
        _tell(Action.CUE_WRITTEN, cue, actor)
        _uncheck(text)
    return cue


@transaction.atomic
def change_cue(cue_id: int, *, said: Spoken, began: str | None = None, actor: User) -> Cue:
    """Write words anew. `began` is what they were when the change was begun: what others wrote since is not lost."""
    cue = _still(cue_id)
    with describing(cue.text.interview_id, actor):
        cue = _still(cue_id)  # read under the lock
        if began is not None and began not in (cue.words, said.words) and cue.words != said.words:
            raise Refused(f"Somebody has changed these words meanwhile. They are now: “{cue.words}”")
        _refuse_outside(cue.part, said)
        before = cue.words
        if all(getattr(cue, name) == value for name, value in vars(said).items()):
            return cue
        for name, value in vars(said).items():
            setattr(cue, name, value)
        cue.save()
        _tell(Action.CUE_CHANGED, cue, actor, before=before)
        _uncheck(cue.text)
    return cue


@transaction.atomic
def remove_cue(cue_id: int, *, actor: User) -> None:
    """Take words away; the event keeps what they were."""
    cue = _still(cue_id)
    with describing(cue.text.interview_id, actor):
        _tell(Action.CUE_REMOVED, cue, actor, before=cue.words)
        _uncheck(cue.text)
        cue.delete()


@transaction.atomic
def read_file(interview_id: int, *, kind: str, part: Part | None, name: str, content: bytes, actor: User) -> int:
    """Put the cues of a WebVTT file in place of a part's words; of all parts' where its times run through. How many.

    Raises Refused, with nothing changed, for a file that is wrong or longer than the recording.
    """
    spoken = webvtt.read(content)
    if len(spoken) > MOST_CUES:
        raise Refused("There are more words in this file than one interview holds.")
    with describing(interview_id, actor) as interview:
        placed = _placed(spoken, _lengths(interview, part))
        text = _text(interview, kind)
        old = text.cues.filter(part__in=[one.pk for one, _ in placed])
        replaced = old.count()
        _delete_cues(text, [one for one, _ in placed])
        Cue.objects.bulk_create(
            [Cue(text=text, part=of, **vars(said)) for of, cues in placed for said in cues], batch_size=1000
        )
        _uncheck(text)
        record(
            actor=actor,
            action=Action.TEXT_READ,
            subject=interview,
            kind=kind,
            names={"file": name},
            cues=len(spoken),
            replaced=replaced,
        )
    return len(spoken)


@transaction.atomic
def respell(interview_id: int, *, kind: str, wrong: str, right: str, actor: User) -> int:
    """Write a name as it is spelt wherever these words have it otherwise; in how many cues."""
    pattern = re.compile(rf"(?<!\w){re.escape(wrong)}(?!\w)")
    with describing(interview_id, actor) as interview:
        cues = Cue.objects.filter(text__interview=interview, text__kind=kind).select_related("text__interview")
        told = cues.filter(Q(words__contains=wrong) | Q(voice__contains=wrong))
        found = [cue for cue in told if pattern.search(cue.words) or pattern.search(cue.voice)]
        if not wrong or not right.strip() or not found:
            raise DoneAlready(f"“{wrong}” does not stand there any more.")
        for cue in found:
            before = cue.words
            cue.words, cue.voice = (pattern.sub(lambda _: right.strip(), text) for text in (cue.words, cue.voice))
            cue.save(update_fields=["words", "voice"])
            _tell(Action.CUE_CHANGED, cue, actor, before=before)
        _uncheck(found[0].text)
    return len(found)


@transaction.atomic
def check(interview_id: int, *, kind: str, actor: User) -> TimedText:
    """Somebody of the staff has read the words against the sound; whoever changes them after that unsays it."""
    with describing(interview_id, actor) as interview:
        text = (
            TimedText.objects.annotate(number=Count("cues"))
            .filter(interview=interview, kind=kind, number__gt=0)
            .first()
        )
        if text is None:
            raise Refused("There are no words to check yet.")
        if text.checked_by:
            raise DoneAlready(f"{text.checked_by} has checked it already.")
        text.checked_by, text.checked_at = actor, timezone.now()
        text.save(update_fields=["checked_by", "checked_at"])
        record(actor=actor, action=Action.TEXT_CHECKED, subject=interview, kind=kind)
    return text


def length_ms(part: Part) -> int | None:
    """How long a part was measured to be; None where it could not be."""
    report = latest_report(part.file)
    return round(report.measurement["format"]["seconds"] * 1000) if report and report.measurement else None


def _text(interview: Interview, kind: str) -> TimedText:
    languages = description_of(interview).languages or [interview.language]
    text, _ = TimedText.objects.get_or_create(interview=interview, kind=kind, defaults={"language": languages[0]})
    return text


def _refuse_outside(part: Part, said: Spoken) -> None:
    length = length_ms(part)
    if not said.words.strip():
        raise Refused("Write some words.")
    if said.ends_ms is not None and said.ends_ms <= said.starts_ms:
        raise Refused("It ends before it begins.")
    if length is not None and said.starts_ms > length + NEAR_MS:
        raise Refused("The recording has ended before this begins.")


def _lengths(interview: Interview, part: Part | None) -> list[tuple[Part, int | None]]:
    parts = (
        [part]
        if part
        else list(interview.parts.filter(position__isnull=False).select_related("file").order_by("position"))
    )
    lengths = [(one, length_ms(one)) for one in parts]
    if len(parts) > 1 and any(length is None for _, length in lengths):
        raise Refused("Not every part is measured, so a file whose times run through all of them has no place yet.")
    return lengths


def _placed(spoken: list[Spoken], lengths: list[tuple[Part, int | None]]) -> list[tuple[Part, list[Spoken]]]:
    """The cues of each part, at times of its own; one that runs over the end of a part ends there."""
    placed, begins = [], 0
    for number, (part, length) in enumerate(lengths, start=1):
        is_last = number == len(lengths)
        ends = begins + length if length is not None else None
        here = [one for one in spoken if one.starts_ms >= begins and (ends is None or is_last or one.starts_ms < ends)]
        if is_last and ends is not None and any(one.starts_ms > ends + NEAR_MS for one in here):
            raise Refused(
                "The file goes on after the recording has ended. Is it of another recording, or of another part?"
            )
        placed.append((part, [_within(one, begins, ends) for one in here]))
        begins = ends or begins
    return placed


def _within(one: Spoken, begins: int, ends: int | None) -> Spoken:
    last = one.ends_ms if one.ends_ms is None or ends is None else max(min(one.ends_ms, ends), one.starts_ms + 1)
    return Spoken(one.starts_ms - begins, last and last - begins, one.voice, one.words)


def _delete_cues(text: TimedText, parts: Iterable[Part]) -> None:
    text.cues.filter(part__in=[part.pk for part in parts]).delete()


def _still(cue_id: int) -> Cue:
    found = Cue.objects.select_related("text__interview", "part__file").filter(pk=cue_id).first()
    if found is None:
        raise DoneAlready("These words were taken away already.")
    return found


def _uncheck(text: TimedText) -> None:
    if text.checked_by_id:
        text.checked_by, text.checked_at = None, None
        text.save(update_fields=["checked_by", "checked_at"])


def _tell(action: Action, cue: Cue, actor: User, *, before: str = "") -> None:
    record(
        actor=actor,
        action=action,
        subject=cue,
        thread=cue.text.interview,
        kind=cue.text.kind,
        part=cue.part_id,
        starts_ms=cue.starts_ms,
        names={"before": before} if before else None,
    )
