"""What must hold before a hand-in and before an acceptance, in sentences.

The same functions speak to the page's checklist and to the refusal, so the two cannot disagree.
"""

from functools import partial

from django.db.models import prefetch_related_objects

from intake.files.models import Upload, UploadState
from intake.files.services import is_safe
from intake.interviews.attachments import attachments_of
from intake.interviews.models import Attachment, Interview, Part
from intake.interviews.services import parts_of
from intake.qc.services import are_twins, latest_report
from intake.releases.services import missing_signatures
from intake.releases.turns import waiting_for
from intake.review.services import unanswered


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


def missing_before_acceptance(interview: Interview) -> list[str]:
    """What must still hold before the interview can be accepted: sentences, none when ready."""
    parts = parts_of(interview)
    prefetch_related_objects(parts, "file__qc_reports__answers")
    return [
        *([] if parts else ["There is no recording."]),
        *missing_signatures(interview),
        *waiting_for(interview),
        *(sentence for part in parts for sentence in _not_acceptable(part)),
        *(sentence for attachment in attachments_of(interview) for sentence in _not_kept(attachment)),
    ]


def worth_knowing(interview: Interview) -> list[str]:
    """What stands in the way of nothing and should not be overlooked: parts that hold the same recording."""
    parts = parts_of(interview)
    prefetch_related_objects(parts, "file__qc_reports")
    twins = ((part, next(filter(partial(are_twins, part), parts[:place]), None)) for place, part in enumerate(parts))
    return [f"Part {part.position} is the same recording as part {twin.position}." for part, twin in twins if twin]


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
    return missing + [f"Part {part.position}: “{finding['title']}” is not answered." for finding in unanswered(report)]


def _not_kept(attachment: Attachment) -> list[str]:
    if attachment.file is None:
        return _not_arrived(_attachment(attachment), attachment.upload)
    if is_safe(attachment.file):
        return []
    return [f"{_attachment(attachment)} is not yet kept in two copies that match."]
