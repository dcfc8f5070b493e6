"""Answer findings; keep decisions."""

from django.db import transaction

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused
from intake.interviews import lifecycle
from intake.interviews.models import Interview, Part, State
from intake.interviews.services import parts_of
from intake.qc.models import QCReport
from intake.qc.services import latest_report
from intake.review.models import Decision, FindingAnswer


def channel_of(finding: dict) -> str:
    """The channel as part of a finding's key; empty for a finding about the whole."""
    channel = finding.get("channel")
    return "" if channel is None else str(channel)


@transaction.atomic
def answer_finding(part_id: int, *, code: str, channel: str, kind: str, answer: str, actor: User) -> FindingAnswer:
    """Say what becomes of a problem. A better answer replaces the first; the events keep both."""
    part = Part.objects.select_related("file").get(pk=part_id)
    interview = lifecycle.locked(part.interview_id)
    if interview.state != State.IN_REVIEW:
        raise Refused("Findings are answered while the interview is in review. Take it up first.")
    if interview.reviewer_id != actor.pk:
        raise Refused(f"{interview.reviewer} is reviewing this interview.")
    report = latest_report(part.file)
    if report is None or (code, channel) not in {(problem["code"], channel_of(problem)) for problem in report.problems}:
        raise Refused("This finding is not a problem of this part.")
    kept, _ = FindingAnswer.objects.update_or_create(
        report=report, code=code, channel=channel, defaults={"kind": kind, "answer": answer, "answered_by": actor}
    )
    record(
        actor=actor,
        action=Action.FINDING_ANSWERED,
        subject=part,
        thread=interview,
        code=code,
        kind=kind,
        names={"answer": answer},
    )
    return kept


def unanswered(report: QCReport) -> list[dict]:
    """The problems of a report that nobody has answered."""
    answered = {(answer.code, answer.channel) for answer in report.answers.all()}
    return [problem for problem in report.problems if (problem["code"], channel_of(problem)) not in answered]


def to_ask(report: QCReport) -> list[tuple[dict, FindingAnswer]]:
    """The problems that the reviewer means to ask the volunteer about, with the answers that say so."""
    answers = {(answer.code, answer.channel): answer for answer in report.answers.all()}
    pairs = [(problem, answers.get((problem["code"], channel_of(problem)))) for problem in report.problems]
    return [(problem, answer) for problem, answer in pairs if answer and answer.kind == FindingAnswer.Kind.ASK]


def open_problems(interview: Interview) -> list[str]:
    """The titles of problems that nobody has answered, or that are a matter to ask about; each once."""
    reports = [report for part in parts_of(interview) if (report := latest_report(part.file))]
    asked = [finding for report in reports for finding, _ in to_ask(report)]
    return sorted(
        {finding["title"] for finding in [*asked, *(one for report in reports for one in unanswered(report))]}
    )


def to_silence(report: QCReport | None) -> list[tuple[float, float]]:
    """The stretches of problems that are to be silent in the copies that leave, in seconds."""
    if report is None:
        return []
    chosen = {
        (answer.code, answer.channel) for answer in report.answers.all() if answer.kind == FindingAnswer.Kind.SILENCE
    }
    return [
        (span["start_s"], span["end_s"])
        for problem in report.problems
        if (problem["code"], channel_of(problem)) in chosen
        for span in problem["spans"]
    ]


def record_decision(interview: Interview, *, verdict: str, message: str, actor: User) -> Decision:
    """Keep the end of a review, in the transaction of the move it belongs to."""
    return Decision.objects.create(interview=interview, verdict=verdict, message=message, reviewer=actor)
