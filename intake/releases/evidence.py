"""The digest of everything that was agreed to, as the event of the signature tells it: one changed letter shows."""

import hashlib
import json

from intake.releases.models import Agreement, Release, SignedForm, Wording

PLAIN = (
    "number",
    "signer_name",
    "wording_text",
    "wording_sha256",
    "method",
    "typed_name",
    "consented_at",
    "signed_at",
    "address",
    "agent",
    "interview_as_described",
)
CHOICES = ("access", "closed_until", "closed_event", "licence", "name_withheld")


def evidence_digest(signed: Release | Agreement) -> str:
    """SHA-256 over the canonical JSON (sorted keys, UTF-8) of what was signed, by whom, how and when.

    As the database has it now. Moments are told in seconds since 1970 with six decimals, so that the database's own
    zone does not matter, and a wording by what it is, since its row may have another number elsewhere.
    """
    signed = type(signed)._default_manager.get(pk=signed.pk)
    told: dict[str, object] = {name: getattr(signed, name) for name in PLAIN}
    told["participant"] = signed.participant_id
    told["wording"] = _wording(signed.wording)
    told["session"] = signed.session_id
    if isinstance(signed, Agreement):
        told["spoken"] = [signed.spoken_in_id, signed.spoken_at_seconds]
    told["signature"] = hashlib.sha256(bytes(signed.signature_png)).hexdigest() if signed.signature_png else ""
    told["form"] = _form(signed.signed_form) if signed.signed_form else None
    if isinstance(signed, Release):
        told |= {name: getattr(signed, name) for name in CHOICES}
    canonical = json.dumps(told, sort_keys=True, ensure_ascii=False, separators=(",", ":"), default=_plain)
    return hashlib.sha256(canonical.encode()).hexdigest()


def _wording(wording: Wording | None) -> list[object] | None:
    return [wording.moment, wording.role, wording.language, wording.version] if wording else None


def _form(signed: SignedForm) -> list[object]:
    """A form signed by hand: its number, what is written on it, and the digests of its scans."""
    scans = signed.scans.filter(taken_back_at=None, file__isnull=False).order_by("pk")
    return [
        signed.form.number,
        signed.signed_on,
        signed.signed_by,
        list(scans.values_list("file__sha256", flat=True)),
    ]


def _plain(value: object) -> str:
    if hasattr(value, "timestamp"):
        return f"{value.timestamp():.6f}"
    return str(value)
