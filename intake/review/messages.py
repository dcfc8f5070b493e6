"""The message with which an interview goes back to the volunteer, begun from what was found."""

from intake.interviews.models import Interview, Part
from intake.interviews.services import parts_of
from intake.qc.services import latest_report
from intake.review.listening import opening_of
from intake.review.models import OpeningCheck
from intake.review.services import to_ask, unanswered

# What the volunteer can do about it; where nothing can be done any more, the sentence helps the next time.
GREETING = "Thank you for this interview."
CLOSING = "If something here cannot be mended, say so in the notes on the recording and hand it in again."
OPENING = {
    OpeningCheck.Verdict.DIFFERS: "{what}: what is said at the beginning differs from the form. Which is right?",
    OpeningCheck.Verdict.NOT_SAID: "{what}: not said at the beginning. Is the form right?",
}


def begun_message(interview: Interview) -> str:
    """In plain words, part by part; names nobody, because it goes out by e-mail."""
    parts = parts_of(interview)
    found = [line for part in parts for line in _of_part(part, is_only=len(parts) == 1)]
    found += _of_opening(interview)
    return "\n\n".join([GREETING, *found, *([CLOSING] if found else [])])


def _of_part(part: Part, *, is_only: bool) -> list[str]:
    report = latest_report(part.file)
    if report is None:
        return []
    where = "" if is_only else f"Part {part.position}: "
    lines = [f"{where}{finding['volunteer']} {answer.answer}" for finding, answer in to_ask(report)]
    lines += [f"{where}{finding['volunteer']}" for finding in unanswered(report)]
    return list(dict.fromkeys(lines))  # the same of each channel is said once


def _of_opening(interview: Interview) -> list[str]:
    return [
        OPENING[OpeningCheck.Verdict(one.check.verdict)].format(what=one.label)
        for one in opening_of(interview)
        if one.check and one.check.verdict != OpeningCheck.Verdict.HEARD
    ]
