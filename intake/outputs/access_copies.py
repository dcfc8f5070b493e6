"""Access copies: what may leave the library. Closed passages are silent in them, and withheld names are left out.

What such a copy holds is decided when it is made: other passages, or another name, make another copy, and the one
before is never handed out again.
"""

import hashlib
from collections.abc import Callable
from functools import partial

from intake.audit.actions import Action
from intake.files import services as files
from intake.files import storage
from intake.interviews.models import Interview, Part
from intake.interviews.services import parts_of
from intake.outputs import listening, naming
from intake.outputs.copies import NOT_THE_ORIGINAL, gain_db_of, share_of
from intake.outputs.listening import ListeningCopyFailed, Sleeve
from intake.outputs.models import Output, OutputKind
from intake.outputs.services import existing, id_of, keep
from intake.qc.services import latest_report
from intake.register.services import standing
from intake.releases.passages import Span, joined, silences
from intake.review.services import to_silence

SILENT = "Passages that are closed are silent in it, and so are faults that the library chose to silence."


def make_access_copies(interview_id: int, progress: Callable[[float], None]) -> None:
    """An access copy of each part of an accepted interview, as things stand now. None where there is no sound."""
    interview = Interview.objects.get(pk=interview_id)
    if standing(interview) is None:  # nothing leaves before it is accepted
        return
    parts = parts_of(interview)
    for number, part in enumerate(parts):
        _make_the_latest(part, partial(_share_of_all, progress, number, len(parts)))


def access_copy_of(part: Part) -> Output | None:
    """The copy of a part that may leave as things stand now; None while it is being made."""
    return existing(OutputKind.ACCESS_COPY, _subject(part))


def _share_of_all(progress: Callable[[float], None], number: int, count: int, share: float) -> None:
    progress((number + share) / count)


def _make_the_latest(part: Part, progress: Callable[[float], None]) -> None:
    """A passage may be closed while a copy is being made, and this is the one job that is open for both."""
    while access_copy_of(part) is None:
        if _make(part, progress) is None:
            return
        part = Part.objects.select_related("interview__collection", "file").get(pk=part.pk)


def _make(part: Part, progress: Callable[[float], None]) -> Output | None:
    assert part.file is not None, "only an accepted interview's parts are copied, and they are stored"
    subject, silent = _subject(part), _silent(part)
    report = latest_report(part.file)
    sleeve = Sleeve(_title(part), f"{NOT_THE_ORIGINAL} {SILENT}" if silent else NOT_THE_ORIGINAL)
    with storage.local_path(part.file.key) as source, storage.scratch_folder() as folder:
        target = folder / "access.mp3"
        try:
            copy = listening.make_listening_copy(
                source,
                target,
                gain_db=gain_db_of(report),
                sleeve=sleeve,
                silences=silent,
                progress=share_of(report, progress),
            )
        except ListeningCopyFailed:
            return None
        name = naming.copy_name(part, naming.ACCESS_ENDING)
        file = files.keep(target, file_id=id_of(OutputKind.ACCESS_COPY, subject), name=name, media_type=copy.media_type)
    return keep(OutputKind.ACCESS_COPY, subject, part.interview, file, Action.COPY_MADE, silences=silent)


def _subject(part: Part) -> str:
    """All that such a copy depends on, and the part."""
    told = repr((_silent(part), _title(part)))
    return f"{hashlib.sha256(told.encode()).hexdigest()[:24]}/{part.pk}"


def _silent(part: Part) -> tuple[Span, ...]:
    """Closed passages, and the faults that the reviewer chose to silence in what leaves."""
    return joined([*silences(part), *to_silence(latest_report(part.file))])


def _title(part: Part) -> str:
    return f"{naming.title_told(part.interview)}, part {part.position}"
