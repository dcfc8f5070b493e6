"""What stands in a loaded demo, gathered inside it for the tests outside."""

from typing import Any

from django.utils import timezone

from intake.accounts.models import User
from intake.audit.models import Event
from intake.backlog.models import BacklogRow
from intake.files.services import is_safe
from intake.interviews.attachments import attachments_of
from intake.interviews.merging import likely_twins
from intake.interviews.models import Interview
from intake.interviews.services import parts_of, taken_out
from intake.jobs.models import Job
from intake.kits.models import Kit, Loan
from intake.mail.models import Message
from intake.mail.services import troubled
from intake.outputs.models import Output
from intake.people.models import Invitation, Person
from intake.qc.services import latest_report
from intake.readiness import missing_before_acceptance
from intake.register.models import Arrival
from intake.releases.models import Release, SignedForm
from intake.releases.restrictions import restriction_of
from intake.releases.services import missing_signatures
from intake.review.models import Decision


def codes(report: Any, *standings: str) -> list[str]:
    return sorted(found["code"] for found in report.findings if found["standing"] in standings)


def part(one: Any) -> dict[str, Any]:
    if one.file is None:
        return {"name": one.upload.name, "share": one.upload.offset / one.upload.length}
    report = latest_report(one.file)
    return {
        "name": one.upload.name,
        "safe": is_safe(one.file),
        "standing": report.standing,
        "marks": len(report.measurement["marks"]),
        "seconds": report.measurement["format"]["seconds"],
        "found": codes(report, "problem", "look closer"),
        "noted": codes(report, "note"),
        "spans": [span["start_s"] for found in report.findings for span in found["spans"]],
    }


def attachment(one: Any) -> dict[str, Any]:
    return {
        "kind": one.kind,
        "caption": one.caption,
        "rights": one.rights_note,
        "name": one.upload.name,
        "type": one.file.media_type,
        "safe": is_safe(one.file),
    }


def accession(one: Any) -> dict[str, Any]:
    return {
        "number": one.number,
        "undone": one.undone_at is not None,
        "reason": one.undo_reason,
        "proposed_by": str(one.undo_proposed_by or ""),
        "undone_by": str(one.undone_by or ""),
        "attachments": len(one.snapshot["attachments"]),
    }


def form(one: Any) -> dict[str, Any]:
    return {
        "signer": one.form.signer,
        "state": one.state,
        "decided_by": str(one.decided_by or ""),
        "safe": [is_safe(scan.file) for scan in one.scans.all()],
    }


def restriction(one: Interview) -> str:
    held = restriction_of(one)
    return held.sentence() if held else ""


def look() -> dict[str, Any]:
    return {
        "interviews": {
            " and ".join(person.name for person in one.people("narrator")): {
                "state": one.state,
                "language": one.language,
                "recorded_on": one.recorded_on.isoformat(),
                "parts": [part(each) for each in parts_of(one)],
                "taken_out": len(taken_out(one)),
                "unsigned": len(missing_signatures(one)),
                "restriction": restriction(one),
                "missing": missing_before_acceptance(one) if one.state == "in_review" else [],
                "collection": one.collection.name,
                "owner": one.owner.name,
                "given_by": one.given_by.name,
                "giver_has_account": one.given_by.user is not None,
                "attachments": [attachment(each) for each in attachments_of(one)],
                "accessions": [accession(each) for each in one.accessions.order_by("pk")],
                "arrivals": [
                    [each.number, each.replaces and each.replaces.number] for each in one.arrivals.order_by("pk")
                ],
            }
            for one in Interview.objects.order_by("pk")
        },
        "count": Interview.objects.count(),
        "jobs": sorted(set(Job.objects.values_list("state", flat=True))),
        "forms": [form(one) for one in SignedForm.objects.order_by("pk")],
        "signed_on_paper": list(Release.objects.filter(method="paper").values_list("signer_name", flat=True)),
        "twins": [[person.name for person in group] for group in likely_twins()],
        "troubled": [[one.to, one.state, one.last_error] for one in troubled()],
        "backlog": [[row.interview and row.interview.state, row.note] for row in BacklogRow.objects.order_by("number")],
        "unsent": Message.objects.exclude(state__in=["sent", "bounced"]).count(),
        "mail_to": sorted(set(Message.objects.values_list("to", flat=True))),
        "arrivals": Arrival.objects.count(),
        "turned_away": Decision.objects.exclude(verdict="accepted").count(),
        "outputs": sorted(Output.objects.values_list("kind", flat=True)),
        "people": sorted(User.objects.values_list("role", flat=True)),
        "addresses": [one.email for one in [*User.objects.all(), *Person.objects.all()]],
        "kits": Kit.objects.count(),
        "out": sorted(Loan.objects.filter(returned_at=None).values_list("kit__number", flat=True)),
        "overdue": [loan.kit.number for loan in Loan.objects.filter(returned_at=None, due_on__lt="2026-11-25")],
        "back": Loan.objects.exclude(returned_at=None).count(),
        "codes_used": Loan.objects.exclude(code_used_at=None).count(),
        "open_invitations": list(
            Invitation.objects.filter(used_at=None, expires_at__gt=timezone.now()).values_list(
                "person__email", flat=True
            )
        ),
        "events": [moment.isoformat() for moment in Event.objects.order_by("pk").values_list("at", flat=True)],
    }
