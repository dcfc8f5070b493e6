"""Signing on paper: print a form, hand in its scans, and let staff confirm it or turn it down."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db import transaction
from django.utils import formats, timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.codes import readable_code
from intake.errors import Refused, refuse_if
from intake.files import uploads
from intake.files.models import StoredFile, Upload, UploadState
from intake.files.services import is_safe
from intake.interviews import arrivals, lifecycle
from intake.interviews.models import Participant
from intake.interviews.quota import refuse_over_quota
from intake.jobs.models import Kind
from intake.jobs.services import enqueue
from intake.mail import services as mail
from intake.releases.evidence import evidence_digest
from intake.releases.models import Agreement, FormState, Method, Moment, PrintedForm, Release, Scan, SignedForm
from intake.releases.services import (
    Choices,
    as_described,
    live_session,
    refuse_bad_choices,
    refuse_unless_signable,
)
from intake.releases.wordings import digest_of_text, filled, wording_for

# A release has a few pages; more is a whole folder chosen by mistake (common practice, no source).
MOST_SCANS = 20


@dataclass(frozen=True)
class Typed:
    """What is ticked and written on a signed form, as somebody reads it. `number` is the form's own.

    Nothing is chosen on an agreement.
    """

    number: str
    choices: Choices | None
    signed_on: date
    signed_by: str


@transaction.atomic
def print_form(
    participant_id: int, *, actor: User | None, moment: str = Moment.RELEASE, language: str = ""
) -> PrintedForm:
    """Make the form that this person signs on paper; the same one again while nothing on it has changed.

    In the interview's language where none is said. Without an actor, the signer asked for it in a signing session.
    """
    participant = Participant.objects.select_related("interview", "person").get(pk=participant_id)
    refuse_unless_signable(participant, moment)
    wording = wording_for(moment, participant.role, language or participant.interview.language)
    printed = {
        "wording": wording,
        "text": filled(wording, participant),
        "signer": participant.person.name,
        "interview_as_described": as_described(participant.interview),
    }
    latest = participant.printed_forms.filter(wording__moment=moment).first()
    if latest and all(getattr(latest, name) == value for name, value in printed.items()):
        return latest
    form = PrintedForm.objects.create(
        participant=participant, number=f"F-{readable_code(3)}", printed_by=actor, **printed
    )
    record(
        actor=actor,
        action=Action.FORM_PRINTED,
        subject=form,
        thread=participant.interview,
        names={"signer": form.signer},
        number=form.number,
        wording=wording.pk,
        wording_sha256=digest_of_text(form.text),
    )
    return form


def print_in_session(session_id: int | None, *, language: str) -> PrintedForm:
    """The form for the signer who would rather sign on paper. Raises Refused."""
    session = live_session(session_id)
    return print_form(session.participant.pk, actor=None, moment=session.moment, language=language)


@transaction.atomic
def type_in(participant_id: int, *, typed: Typed, actor: User) -> SignedForm:
    """Begin to hand in a signed form, or correct what was typed before it was handed in."""
    participant = Participant.objects.select_related("interview", "person").get(pk=participant_id)
    form = participant.printed_forms.select_related("wording").filter(number=typed.number).first()
    if form is None:
        raise Refused("No form with this number was printed for this person. The number stands at the top of the form.")
    refuse_unless_signable(participant, form.moment)
    _refuse_bad_claim(form, typed)
    in_hand = SignedForm.objects.filter(
        form__participant=participant,
        form__wording__moment=form.moment,
        state__in=[FormState.OPEN, FormState.WAITING],
    )
    signed = in_hand.first() or SignedForm(form=form, name_withheld=False)
    if signed.state == FormState.WAITING:
        raise Refused(f"A form of {participant.person} waits to be confirmed by the library's staff already.")
    signed.form, signed.typed_by = form, actor
    signed.signed_on, signed.signed_by = typed.signed_on, typed.signed_by
    if typed.choices:
        for name, value in vars(typed.choices).items():
            setattr(signed, name, value)
    signed.save()
    record(
        actor=actor,
        action=Action.FORM_TYPED,
        subject=signed,
        thread=participant.interview,
        names={"signed by": typed.signed_by},
        number=form.number,
    )
    return signed


@transaction.atomic
def add_scan(signed_form_id: int, *, upload: Upload, actor: User) -> Scan:
    """Add a page that is beginning to arrive to a form that was not handed in yet."""
    signed = _open(signed_form_id)
    if len(scans_of(signed)) >= MOST_SCANS:
        raise Refused(f"A form has at most {MOST_SCANS} scans. Take one back, or hand the pages in as one PDF.")
    refuse_over_quota(upload, actor)
    scan = Scan.objects.create(signed_form=signed, upload=upload)
    record(
        actor=actor,
        action=Action.SCAN_STARTED,
        subject=scan,
        thread=scan.interview,
        names={"file": upload.name},
        bytes=upload.length,
    )
    return scan


@transaction.atomic
def take_back_scan(scan_id: int, *, actor: User) -> None:
    """Take a page back before the form is handed in. What was stored stays with the library; what was arriving goes."""
    _open(Scan.objects.get(pk=scan_id).signed_form_id)
    scan = Scan.objects.select_related("upload", "signed_form__form__participant__interview").get(pk=scan_id)
    if scan.taken_back_at:
        return
    if scan.upload.state != UploadState.STORED:
        uploads.stop(scan.upload)
    scan.taken_back_at = timezone.now()
    scan.save(update_fields=["taken_back_at"])
    record(
        actor=actor,
        action=Action.SCAN_STOPPED,
        subject=scan,
        thread=scan.interview,
        names={"file": scan.upload.name},
    )


@transaction.atomic
def scan_arrived(upload_id: str, file: StoredFile) -> Scan | None:
    """Join the stored file to its scan; None if it was taken back meanwhile. Doing it again changes nothing."""
    scan = Scan.objects.select_related("upload", "signed_form__form__participant__interview").get(upload_id=upload_id)
    return scan if arrivals.join(scan, file, Action.SCAN_ARRIVED) else None


@transaction.atomic
def scan_damaged(upload_id: str) -> None:
    scan = Scan.objects.select_related("upload", "signed_form__form__participant__interview").get(upload_id=upload_id)
    arrivals.note_damage(scan, Action.SCAN_DAMAGED)


@transaction.atomic
def hand_in(signed_form_id: int, *, actor: User) -> SignedForm:
    """Say that the form is complete; from now on it waits for the library's staff. Two clicks hand it in once."""
    signed = _locked(signed_form_id)
    if signed.state == FormState.WAITING:
        return signed
    refuse_unless_signable(signed.participant, signed.form.moment)
    refuse_if(_not_open(signed) or missing_before_hand_in(signed))
    signed.state, signed.handed_in_by, signed.handed_in_at = FormState.WAITING, actor, timezone.now()
    signed.save(update_fields=["state", "handed_in_by", "handed_in_at"])
    record(
        actor=actor,
        action=Action.FORM_HANDED_IN,
        subject=signed,
        thread=signed.participant.interview,
        names={"signed by": signed.signed_by},
        number=signed.form.number,
        scans=_digests(signed),
    )
    return signed


@transaction.atomic
def confirm(signed_form_id: int, *, actor: User) -> Release | Agreement:
    """Staff have looked at the scans: the form becomes what its signer signed, with the scans as evidence.

    Nobody confirms their own signature. Two clicks confirm once.
    """
    signed = _locked(signed_form_id)
    refuse_if(why_not_confirm(signed, actor) or _not_waiting(signed))
    refuse_unless_signable(signed.participant, signed.form.moment)
    refuse_if([f"“{scan}” is not yet kept in two copies that match." for scan in _unsafe(signed)])
    _decide(signed, FormState.CONFIRMED, actor)
    stands = _agreement(signed) if signed.is_agreement else _release(signed)
    record(
        actor=actor,
        action=Action.FORM_CONFIRMED,
        subject=stands,
        thread=signed.participant.interview,
        names={"signer": signed.participant.person.name},
        number=signed.form.number,
        wording=stands.wording_id,
        wording_sha256=stands.wording_sha256,
        scans=_digests(signed),
        evidence_sha256=evidence_digest(stands),
    )
    enqueue(Kind.MAKE_AGREEMENT_COPY if signed.is_agreement else Kind.MAKE_RELEASE_COPY, stands.pk)
    return stands


@transaction.atomic
def turn_down(signed_form_id: int, *, reason: str, actor: User, url: str) -> SignedForm:
    """Say no to a form, with the reason; the volunteer is told and can hand in another. `url` is where they do.

    One's own as well: where nobody else of the staff is there, it is the way back to signing on the screen.
    """
    if not reason.strip():
        raise Refused("Write to the volunteer why the form is turned down.")
    signed = _locked(signed_form_id)
    refuse_if(_not_staff(actor) or _not_waiting(signed))
    _decide(signed, FormState.TURNED_DOWN, actor, reason.strip())
    interview = signed.participant.interview
    record(
        actor=actor,
        action=Action.FORM_TURNED_DOWN,
        subject=signed,
        thread=interview,
        names={"signer": signed.participant.person.name, "message": reason.strip()},
        number=signed.form.number,
    )
    mail.write(
        key=f"form-turned-down-{signed.pk}",
        to=interview.owner.email,
        template="form_turned_down",
        thread=interview,
        context={"signed": signed, "interview": interview, "actor": actor, "url": url},
    )
    return signed


def scans_of(signed: SignedForm) -> list[Scan]:
    """The pages in the order in which they came; those taken back are left out."""
    return list(
        signed.scans.filter(taken_back_at=None)
        .select_related("upload", "file")
        .prefetch_related("file__stored_copies")
        .order_by("pk")
    )


def missing_before_hand_in(signed: SignedForm) -> list[str]:
    """What is still to be done before a form can be handed in: sentences, none when ready."""
    scans = scans_of(signed)
    if not scans:
        return ["Add a photo or scan of the signed form."]
    damaged = [f"“{scan}” arrived damaged: take it back and send it again." for scan in scans if _is_damaged(scan)]
    waiting = [f"“{scan}” has not been stored yet." for scan in scans if not scan.file and not _is_damaged(scan)]
    others = [
        f"“{scan}” is a page of form {scan.form_read}, by the code printed on it: take it back."
        for scan in scans
        if scan.is_of_another_form
    ]
    return damaged + waiting + others


def why_not_confirm(signed: SignedForm, actor: User) -> list[str]:
    """Why this person does not confirm this form: sentences, none if they may."""
    person = signed.participant.person
    if not actor.is_archivist:
        return _not_staff(actor)
    if person.user_id == actor.pk or (person.email and person.email.lower() == actor.email.lower()):
        return ["It is your own signature, so somebody else of the library's staff looks at this form."]
    return []


def _not_staff(actor: User) -> list[str]:
    return [] if actor.is_archivist else ["Only the library's staff decide on a form signed on paper."]


def _not_waiting(signed: SignedForm) -> list[str]:
    if signed.state == FormState.WAITING:
        return []
    return [f"This form does not wait for a decision: it is {signed.get_state_display()}."]


def _decide(signed: SignedForm, state: FormState, actor: User, reason: str = "") -> None:
    signed.state, signed.decided_by, signed.decided_at, signed.reason = state, actor, timezone.now(), reason
    signed.save(update_fields=["state", "decided_by", "decided_at", "reason"])


def _release(signed: SignedForm) -> Release:
    return Release.objects.create(
        **_evidence(signed, "S"),
        access=signed.access,
        closed_until=signed.closed_until,
        closed_event=signed.closed_event,
        licence=signed.licence,
        name_withheld=signed.name_withheld,
    )


def _agreement(signed: SignedForm) -> Agreement:
    return Agreement.objects.create(**_evidence(signed, "P"))


def _evidence(signed: SignedForm, letter: str) -> dict[str, Any]:
    """What both keep; `letter` is the one that their numbers begin with."""
    return {
        "participant": signed.participant,
        "signer_name": signed.form.signer,
        "number": f"{letter}-{readable_code(3)}",
        "wording": signed.form.wording,
        "wording_text": signed.form.text,
        "wording_sha256": digest_of_text(signed.form.text),
        "method": Method.PAPER,
        "signed_form": signed,
        "interview_as_described": signed.form.interview_as_described,
    }


def _locked(signed_form_id: int) -> SignedForm:
    """The form, read under the lock of its interview, so that two decisions at once happen in turn."""
    lifecycle.locked(
        SignedForm.objects.select_related("form__participant").get(pk=signed_form_id).participant.interview_id
    )
    return SignedForm.objects.select_related(
        "form__participant__person", "form__participant__interview__owner", "form__wording"
    ).get(pk=signed_form_id)


def _open(signed_form_id: int) -> SignedForm:
    signed = _locked(signed_form_id)
    refuse_unless_signable(signed.participant, signed.form.moment)
    refuse_if(_not_open(signed))
    return signed


def _not_open(signed: SignedForm) -> list[str]:
    if signed.state == FormState.OPEN:
        return []
    return [f"This form was handed in already: it is {signed.get_state_display()}."]


def _is_damaged(scan: Scan) -> bool:
    return scan.upload.state == UploadState.DAMAGED


def _unsafe(signed: SignedForm) -> list[Scan]:
    return [scan for scan in scans_of(signed) if not (scan.file and is_safe(scan.file))]


def _digests(signed: SignedForm) -> list[str]:
    return [scan.file.sha256 for scan in scans_of(signed) if scan.file]


def _refuse_bad_claim(form: PrintedForm, typed: Typed) -> None:
    if not typed.signed_by.strip():
        raise Refused("Type whose signature stands on the form.")
    # One day's grace: the calendar of whoever signed may be ahead of the server's, or behind it.
    if typed.signed_on > timezone.localdate() + timedelta(days=1):
        raise Refused("The day of the signature lies in the future. Look at the form again.")
    if typed.signed_on < timezone.localdate(form.printed_at) - timedelta(days=1):
        day = formats.date_format(timezone.localdate(form.printed_at))
        raise Refused(f"Form {form.number} was printed on {day}, after the day that you typed. Look at the form again.")
    if form.moment == Moment.RELEASE:
        if typed.choices is None:
            raise Refused("Type what is ticked on the form.")
        refuse_bad_choices(typed.choices, on=typed.signed_on, wording=form.wording)
