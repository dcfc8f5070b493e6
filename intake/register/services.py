"""Give an accession number and write the register's entry; undo an acceptance made by mistake."""

from django.db.models import Max, Q
from django.utils import timezone

from intake.accounts.models import User
from intake.codes import readable_code
from intake.files.models import StoredFile
from intake.interviews.attachments import attachments_of
from intake.interviews.models import Attachment, Interview, Part, Participant
from intake.interviews.services import parts_of
from intake.library import services as libraries
from intake.library.numbering import numbered, runs_by_year
from intake.qc.services import latest_report
from intake.register.models import Accession, YearCounter
from intake.releases.models import Release, SignedForm
from intake.releases.paper_forms import scans_of
from intake.releases.restrictions import chosen, restriction_of, standing_releases

# The year of the counter that never begins anew.
RUNNING_ON = 0


def enter(interview: Interview, *, actor: User) -> Accession:
    """Write the register's entry, in the transaction of the acceptance.

    The snapshot holds what the receipt says for ever.
    """
    now = timezone.now()
    year = timezone.localtime(now).year
    pattern = libraries.current().accession_pattern
    sequence = _next_sequence(pattern, year)
    return Accession.objects.create(
        interview=interview,
        year=year,
        sequence=sequence,
        number=numbered(pattern, year=year, sequence=sequence),
        receipt_number=f"R-{readable_code(3)}",
        accepted_by=actor,
        accepted_at=now,
        snapshot=_snapshot(interview),
    )


def standing(interview: Interview) -> Accession | None:
    """The accession that holds for this interview; one that was undone does not."""
    return interview.accessions.select_related("accepted_by", "undo_proposed_by").filter(undone_at=None).first()


def propose_undo(accession: Accession, *, reason: str, actor: User) -> None:
    """Note who thinks that the acceptance was a mistake, and why. The caller holds the interview's lock."""
    accession.undo_proposed_by, accession.undo_proposed_at, accession.undo_reason = actor, timezone.now(), reason
    accession.save(update_fields=["undo_proposed_by", "undo_proposed_at", "undo_reason"])


def drop_proposal(accession: Accession) -> None:
    """The acceptance stands; the events keep what was proposed. The caller holds the interview's lock."""
    accession.undo_proposed_by, accession.undo_proposed_at, accession.undo_reason = None, None, ""
    accession.save(update_fields=["undo_proposed_by", "undo_proposed_at", "undo_reason"])


def undo(accession: Accession, *, actor: User) -> None:
    """Mark the accession undone, its number spent for ever. The caller holds the interview's lock."""
    accession.undone_by, accession.undone_at = actor, timezone.now()
    accession.save(update_fields=["undone_by", "undone_at"])


def pass_over(accession: Accession) -> None:
    """Never give the number of an accession that came from elsewhere, nor one before it: others may still be there."""
    counted = _counted_under(libraries.current().accession_pattern, accession.year)
    counter, _ = YearCounter.objects.select_for_update().get_or_create(year=counted)
    counter.last = max(counter.last, accession.sequence)
    counter.save(update_fields=["last"])


def next_number(pattern: str) -> str:
    """The number that the next acceptance would get by a pattern, as an example on the set-up page."""
    year = timezone.localtime().year
    counter = YearCounter.objects.filter(year=_counted_under(pattern, year)).first()
    last = counter.last if counter else _last_before(pattern)
    return numbered(pattern, year=year, sequence=_unused_after(last, pattern, year))


def _next_sequence(pattern: str, year: int) -> int:
    counted = _counted_under(pattern, year)
    YearCounter.objects.get_or_create(year=counted, defaults={"last": _last_before(pattern)})
    counter = YearCounter.objects.select_for_update().get(year=counted)
    counter.last = _unused_after(counter.last, pattern, year)
    counter.save(update_fields=["last"])
    return counter.last


def _counted_under(pattern: str, year: int) -> int:
    """A sequence begins anew each year if the year stands in the number; otherwise it runs on, under the year 0."""
    return year if runs_by_year(pattern) else RUNNING_ON


def _last_before(pattern: str) -> int:
    """Where a new counter begins: one that runs on begins after every sequence that was ever used."""
    return 0 if runs_by_year(pattern) else Accession.objects.aggregate(last=Max("sequence"))["last"] or 0


def _unused_after(last: int, pattern: str, year: int) -> int:
    """The next sequence whose number was never given, whatever the pattern was before."""
    sequence = last + 1
    while Accession.objects.filter(
        Q(year=year, sequence=sequence) | Q(number=numbered(pattern, year=year, sequence=sequence))
    ).exists():
        sequence += 1
    return sequence


def _snapshot(interview: Interview) -> dict[str, object]:
    return {
        "title": interview.title,
        "collection": interview.collection.name,
        "recorded_on": interview.recorded_on.isoformat(),
        "place": interview.place,
        "language": interview.language,
        "summary": interview.summary,
        "narrators": [person.name for person in interview.people(Participant.Role.NARRATOR)],
        "interviewers": [person.name for person in interview.people(Participant.Role.INTERVIEWER)],
        "given_by": interview.given_by.name,
        "parts": [_part(part) for part in parts_of(interview)],
        "attachments": [_attachment(attachment) for attachment in attachments_of(interview)],
        "terms": [_terms(release) for release in standing_releases(interview)],
        "restriction": _restriction(interview),
    }


def _restriction(interview: Interview) -> str:
    restriction = restriction_of(interview)
    assert restriction is not None, "an interview is accepted only when everybody has signed"
    return restriction.sentence()


def _part(part: Part) -> dict[str, object]:
    assert isinstance(part.file, StoredFile), "an interview is accepted only when every part is stored"
    report = latest_report(part.file)
    assert report is not None, "an interview is accepted only when every part is measured"
    return {
        "position": part.position,
        "name": part.file.name,
        "bytes": part.file.bytes,
        "sha256": part.file.sha256,
        "seconds": report.measurement["format"]["seconds"] if report.measurement else None,
        "format": report.format_in_words or "not readable as sound",
    }


def _attachment(attachment: Attachment) -> dict[str, object]:
    assert attachment.file is not None, "an interview is accepted only when every attachment is stored"
    return {
        "kind": attachment.get_kind_display(),
        "caption": attachment.caption,
        "rights_note": attachment.rights_note,
        "name": attachment.file.name,
        "media_type": attachment.file.media_type,
        "bytes": attachment.file.bytes,
        "sha256": attachment.file.sha256,
    }


def _terms(release: Release) -> dict[str, object]:
    return {
        "signer": release.signer_name,
        "role": release.participant.get_role_display(),
        "wording": str(release.wording),
        "method": release.method,
        "signed_on": release.signed_on.isoformat(),
        "signed_at": release.signed_at and release.signed_at.isoformat(),
        "paper": _paper(release.signed_form) if release.signed_form else None,
        "number": release.number,
        "access": release.access,
        "closed_until": release.closed_until and release.closed_until.isoformat(),
        "closed_event": release.closed_event,
        "name_withheld": release.name_withheld,
        "restriction": chosen(release).sentence(),
    }


def _paper(signed: SignedForm) -> dict[str, object]:
    """The evidence of a release signed on paper."""
    assert signed.decided_by is not None, "the constraint decided_form_says_by_whom"
    assert signed.decided_at is not None, "the constraint decided_form_says_by_whom"
    return {
        "form": signed.form.number,
        "confirmed_by": signed.decided_by.name,
        "confirmed_at": signed.decided_at.isoformat(),
        "scans": [scan.file.sha256 for scan in scans_of(signed) if scan.file],
    }
