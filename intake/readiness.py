"""What must hold before a hand-in and before an acceptance, in sentences.

The same functions speak to the page's checklist and to the refusal, so the two cannot disagree.
"""

from dataclasses import dataclass
from functools import partial

from django.db.models import prefetch_related_objects

from intake.files.models import Upload, UploadState
from intake.files.services import is_safe
from intake.interviews.attachments import attachments_of
from intake.interviews.models import Attachment, Interview, Part, State
from intake.interviews.services import parts_of
from intake.qc.services import are_twins, latest_report
from intake.releases.services import missing_signatures
from intake.releases.turns import waiting_for
from intake.review.listening import heard_seconds
from intake.review.services import to_ask, unanswered

# Heard to the end but for what a player leaves out at the edges.
WHOLE = 0.98


def missing_before_submission(interview: Interview) -> list[str]:
    """What the volunteer still has to do before handing in: sentences, none when ready."""
    parts = parts_of(interview)
    missing = [] if parts else ["Add at least one recording."]
    missing += [sentence for part in parts for sentence in _not_arrived(_part(part), part.upload)]
    missing += [
        sentence
        for attachment in attachments_of(interview)
        for sentence in _not_arrived(_attachment(attachment), attachment.upload)
    ]
    if not interview.summary.strip():
        missing.append("Write a few words on what the interview is about.")
    if not interview.people("narrator"):
        missing.append("Name the narrator.")
    if not interview.people("interviewer"):
        missing.append("Name the interviewer.")
    return missing


@dataclass(frozen=True)
class Gap:
    """One thing that must still hold, and which place of the review page is about it."""

    sentence: str
    place: str


def missing_before_acceptance(interview: Interview) -> list[str]:
    """What must still hold before the interview can be accepted: sentences, none when ready."""
    return [gap.sentence for gap in gaps_before_acceptance(interview)]


def gaps_before_acceptance(interview: Interview) -> list[Gap]:
    """The same, each with the place where something can be done about it."""
    parts = parts_of(interview)
    prefetch_related_objects(parts, "file__qc_reports__answers")
    places: list[tuple[str, list[str]]] = [
        ("listening", [] if parts else ["There is no recording."]),
        ("releases", missing_signatures(interview)),
        ("turns", waiting_for(interview)),
        *((f"part-{part.pk}", _not_acceptable(part)) for part in parts),
        *((f"attachment-{attachment.pk}", _not_kept(attachment)) for attachment in attachments_of(interview)),
    ]
    return [Gap(sentence, place) for place, sentences in places for sentence in sentences]


def worth_knowing(interview: Interview) -> list[str]:
    """What stands in the way of nothing and should not be overlooked: twins, and what the reviewer has not heard."""
    parts = parts_of(interview)
    prefetch_related_objects(parts, "file__qc_reports", "heard")
    twins = ((part, next(filter(partial(are_twins, part), parts[:place]), None)) for place, part in enumerate(parts))
    same = [f"Part {part.position} is the same recording as part {twin.position}." for part, twin in twins if twin]
    return same + _not_heard(interview, parts)


def _not_heard(interview: Interview, parts: list[Part]) -> list[str]:
    if interview.state != State.IN_REVIEW:
        return []
    reports = [latest_report(part.file) for part in parts]
    whole = sum(report.measurement["format"]["seconds"] for report in reports if report and report.measurement)
    heard = sum(heard_seconds(part, interview.reviewer) for part in parts)
    share = heard / whole if whole else 1
    return [f"The reviewer has heard {share * 100:.0f} % of the recording."] if share < WHOLE else []


def _part(part: Part) -> str:
    return f"Part {part.position}, “{part.upload.name}”,"


def _attachment(attachment: Attachment) -> str:
    return f"The attachment “{attachment.upload.name}”"


def _not_arrived(what: str, upload: Upload) -> list[str]:
    told = {
        UploadState.RECEIVING: "has not finished arriving",
        UploadState.RECEIVED: "is being compared with the file on your computer",
        UploadState.DAMAGED: "arrived damaged: take it out and hand it in again",
    }
    state = UploadState(upload.state)
    return [f"{what} {told[state]}."] if state in told else []


def _not_acceptable(part: Part) -> list[str]:
    if part.file is None:
        return _not_arrived(_part(part), part.upload)
    missing = [] if is_safe(part.file) else [f"Part {part.position} is not yet kept in two copies that match."]
    report = latest_report(part.file)
    if report is None:
        return [*missing, f"Part {part.position} is not yet measured."]
    missing += [f"Part {part.position}: “{finding['title']}” is not answered." for finding in unanswered(report)]
    return missing + [
        f"Part {part.position}: “{finding['title']}” is a matter to ask the volunteer about."
        for finding, _ in to_ask(report)
    ]


def _not_kept(attachment: Attachment) -> list[str]:
    if attachment.file is None:
        return _not_arrived(_attachment(attachment), attachment.upload)
    if is_safe(attachment.file):
        return []
    return [f"{_attachment(attachment)} is not yet kept in two copies that match."]
