"""Who may reach each route, with whose things. A route without a row fails.

Columns: a stranger (signed out), the volunteer whose thing it is, another volunteer, an archivist (who reviews it), the
coordinator. 302 for a stranger is the way to the sign-in page. A volunteer meets 404 for what is another's, and 403 at
the desk, whose addresses are no secret.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import pytest
from django.apps import apps
from django.db import transaction
from django.test import Client
from django.urls import resolve, reverse

from intake.audit.models import Event
from intake.interviews.models import Interview
from intake.jobs.models import Job
from intake.portal.capabilities import program_address, upload_address
from intake.queue.models import QueueEntry, Touched
from tests.access.routes import all_routes
from tests.access.world import World, a_world

pytestmark = pytest.mark.django_db
ROLES = ("stranger", "owner", "other", "archivist", "coordinator")
TUS = {"Tus-Resumable": "1.0.0"}
BEGIN = {**TUS, "Upload-Length": "1"}
PIECE = {**TUS, "Content-Type": "application/offset+octet-stream", "Upload-Offset": "0"}


@dataclass(frozen=True)
class Row:
    """One route asked in one way: `expected` holds a status for each of ROLES."""

    name: str
    expected: tuple[int, int, int, int, int]
    method: str = "GET"
    arg: Callable[[World], object] | None = None
    data: dict[str, str] = field(default_factory=dict)
    headers: dict[str, str] = field(default_factory=dict)

    def __str__(self) -> str:
        return f"{self.method} {self.name}"

    def url(self, world: World) -> str:
        asked = self.arg(world) if self.arg else ()
        return reverse(self.name, args=asked if isinstance(asked, tuple) else [asked])


def draft(world: World) -> int:
    return world.draft.pk


def submitted(world: World) -> int:
    return world.submitted.pk


def in_review(world: World) -> int:
    return world.in_review.pk


def accepted(world: World) -> int:
    return world.accepted.interview_id


def cue(world: World) -> int:
    return world.cue.pk


def transcript(world: World) -> tuple:
    return world.accepted.interview_id, "transcript"


def named_person(world: World) -> tuple:
    return world.accepted.interview_id, world.contributor.person_id


def arrival(world: World) -> int:
    return world.accepted.interview.arrivals.get().pk


def paper(world: World) -> int:
    return world.accepted.interview.outputs.get(kind="receipt").pk


def addressee(world: World) -> tuple:
    return world.accepted.interview_id, world.accepted.interview.given_by_id


def message(world: World) -> int:
    return world.message.pk


def part(world: World) -> int:
    return world.part.pk


def accepted_part(world: World) -> int:
    return world.part_of_accepted.pk


def wish(world: World) -> int:
    return world.wish.pk


def signer(world: World) -> int:
    return world.own_release.participant_id


def unsigned(world: World) -> int:
    return world.unsigned.pk


def attachment(world: World) -> int:
    return world.attachment.pk


def scan(world: World) -> int:
    return world.scan.pk


def waiting(world: World) -> int:
    return world.waiting_form.pk


def upload(world: World) -> tuple:
    return tuple(resolve(upload_address(world.upload)).captured_kwargs.values())


def program(world: World) -> object:
    return resolve(program_address(world.draft.pk, world.owner)).captured_kwargs["signed"]


EVERYBODY = (200, 200, 200, 200, 200)
SIGNED_IN = (302, 200, 200, 200, 200)
OWN = (302, 200, 404, 200, 200)  # staff see what volunteers hand in
OWN_MOVED = (302, 302, 404, 302, 302)  # done, and sent on to a page
STAFF = (302, 403, 403, 200, 200)
STAFF_MOVED = (302, 403, 403, 302, 302)
COORDINATOR = (302, 403, 403, 403, 200)
COORDINATOR_MOVED = (302, 403, 403, 403, 302)
REFUSED_BY_METHOD = (302, 405, 405, 405, 405)

NUMBERS = {"pattern": "{year}.{sequence:03d}", "copy_names": "{date}_{part}"}
LIBRARY = {"name": "x", "room": "x", "place": "x", "contact": "", "email": "x@example.org"}
INVITED = {"name": "x", "email": "x@example.org", "role": "archivist"}  # staff are invited by the coordinator alone

ROWS = [
    Row("home", (302, 302, 302, 302, 302)),
    Row("health", EVERYBODY),
    Row("trust", (404,) * 5),  # a site on the local network alone: tests/local/test_https.py
    Row("trust-certificate", (404,) * 5),
    Row("logo", EVERYBODY, arg=lambda world: world.logo.pk),
    # The volunteers' site
    Row("portal:home", SIGNED_IN),
    Row("portal:interview-start", SIGNED_IN),
    Row("portal:interview-detail", OWN, arg=draft),
    Row("portal:interview-detail", OWN, arg=accepted),
    Row("portal:interview-parts", OWN, arg=draft),
    Row("portal:interview-before-upload", OWN, arg=draft),
    Row("portal:interview-edit", OWN, arg=draft),
    Row("portal:interview-submit", OWN_MOVED, "POST", draft),
    Row("portal:interview-withdraw", OWN, arg=draft),
    Row("portal:interview-withdraw", OWN_MOVED, "POST", draft, {"reason": "x"}),
    Row("portal:interview-withdrawal", OWN, arg=accepted),
    Row("portal:interview-withdrawal", OWN_MOVED, "POST", accepted, {"wished_by": "x", "reason": "x"}),
    Row("portal:person-add", OWN, arg=draft),
    Row("portal:person-add", OWN_MOVED, "POST", draft, {"role": "narrator", "name": "Jonna", "email": ""}),
    Row("portal:interview-receipt", OWN, arg=accepted),
    Row("portal:arrival-receipt", OWN, arg=arrival),
    Row("portal:person-edit", OWN, arg=unsigned),
    Row("portal:person-remove", OWN_MOVED, "POST", unsigned),
    Row("portal:part-detail", OWN, arg=part),
    Row("portal:part-remove", OWN_MOVED, "POST", part),
    Row("portal:part-put-back", OWN_MOVED, "POST", part),
    Row("portal:parts-order", OWN_MOVED, "POST", draft),
    Row("portal:part-move", OWN_MOVED, "POST", part, {"to": "later"}),
    Row("portal:part-listen", OWN, arg=part),
    Row("portal:release-hand-over", OWN, arg=unsigned),
    Row("portal:release-hand-over", OWN_MOVED, "POST", unsigned),
    Row("portal:agreement-hand-over", OWN, arg=unsigned),
    Row("portal:agreement-hand-over", OWN, "POST", unsigned),  # has agreed already
    Row("portal:agreement-spoken", OWN, arg=unsigned),
    Row("portal:agreement-copy", (302, 404, 404, 404, 404), arg=lambda world: world.agreement.pk),  # not made yet
    Row("portal:link-send", OWN, arg=unsigned),
    Row("portal:link-send", OWN_MOVED, "POST", unsigned, {"moment": "release"}),
    Row("portal:person-alone", OWN, arg=unsigned),
    Row("portal:person-alone", OWN_MOVED, "POST", unsigned, {"needs_guardian": "on"}),
    Row("portal:release-copy", OWN, arg=lambda world: world.own_release.pk),
    Row("portal:release-withdraw", OWN, arg=lambda world: world.own_release.pk),
    Row("portal:release-withdraw", OWN, "POST", lambda world: world.own_release.pk, {"reason": "x"}),  # accepted
    Row("portal:release-withdraw", (302, 404, 404, 200, 200), arg=lambda world: world.narrators_release.pk),
    Row("portal:release-copy", (302, 404, 404, 200, 200), arg=lambda world: world.narrators_release.pk),
    # Attachments, and signing on paper
    Row("portal:interview-attachments", OWN, arg=draft),
    Row("portal:attachment-edit", OWN, arg=attachment),
    Row("portal:attachment-edit", OWN_MOVED, "POST", attachment, {"kind": "other"}),
    Row("portal:attachment-take-out", OWN, arg=attachment),
    Row("portal:attachment-take-out", OWN_MOVED, "POST", attachment, {"reason": "x"}),
    Row("portal:attachment-file", OWN, arg=attachment),
    Row("portal:paper", OWN, arg=unsigned),
    Row("portal:paper", OWN, arg=lambda world: world.open_form.participant.pk),
    Row("portal:paper-print", OWN_MOVED, "POST", unsigned),
    Row("portal:agreement-paper", OWN, arg=unsigned),
    Row("portal:agreement-paper-print", OWN_MOVED, "POST", unsigned),
    Row("portal:printed-form", OWN, arg=lambda world: world.printed_form.pk),
    Row("portal:signed-form-scans", OWN, arg=lambda world: world.open_form.pk),
    Row("portal:signed-form-hand-in", OWN_MOVED, "POST", lambda world: world.open_form.pk),
    Row("portal:scan-file", OWN, arg=scan),
    Row("portal:scan-take-back", OWN_MOVED, "POST", scan),
    # The upload protocol answers a stranger with 401, since a redirect would be taken for an answer. The address of an
    # upload is the right to it, whoever is signed in; a made-up one is nobody's.
    Row("portal:uploads", (204,) * 5, "OPTIONS"),
    Row("portal:uploads", (401, 404, 404, 404, 404), "POST", headers=BEGIN),
    Row("portal:upload", (200,) * 5, "HEAD", upload, headers=TUS),
    Row("portal:upload", (204,) * 5, "PATCH", upload, headers=PIECE),
    Row("portal:upload", (204,) * 5, "DELETE", upload, headers=TUS),
    Row("portal:upload", (404,) * 5, "DELETE", lambda world: (upload(world)[0], "0" * 40), headers=TUS),
    Row("portal:upload-digest", (204,) * 5, "POST", upload, {"sha256": "0" * 64}),
    Row("portal:upload-digest", (404,) * 5, "POST", lambda world: (upload(world)[0], "0" * 40), {"sha256": "0" * 64}),
    Row("portal:uploads-for-program", (201,) * 5, "POST", program, headers=BEGIN),
    Row("portal:uploads-for-program", (404,) * 5, "POST", lambda world: "guessed", headers=BEGIN),
    # First steps
    Row("portal:welcome", EVERYBODY, arg=lambda world: world.invitation),
    Row("portal:welcome", (410,) * 5, arg=lambda world: "guessed"),
    Row("portal:kit-code", EVERYBODY),
    Row("portal:kit-account", (302,) * 5),
    # Behind a signing session, of which nobody here has one; and the check of a paper
    Row("narrator:link", EVERYBODY, arg=lambda world: world.link),
    Row("narrator:link", (302,) * 5, "POST", arg=lambda world: world.link),
    Row("narrator:link", (410,) * 5, arg=lambda world: "guessed"),
    Row("narrator:consent", (410,) * 5),
    Row("narrator:sign", (410,) * 5),
    Row("narrator:paper", (410,) * 5),
    Row("narrator:printed-form", (404,) * 5),
    Row("narrator:done", (410,) * 5),
    Row("narrator:copy", (404,) * 5),
    Row("narrator:give-back", (302,) * 5, "POST"),
    Row("narrator:check", EVERYBODY),
    Row("narrator:check-paper", EVERYBODY, arg=lambda world: world.accepted.receipt_number),
    Row("narrator:check-paper", EVERYBODY, arg=lambda world: world.accepted.interview.arrivals.get().number),
    Row("narrator:check-paper", (404,) * 5, arg=lambda world: "R-2222-2222-2222"),
    Row("narrator:check-file", (422,) * 5, "POST"),
    Row("narrator:copies", (410,) * 5),
    Row("narrator:hear", (410,) * 5),
    Row("narrator:hear-part", (404,) * 5, arg=accepted_part),
    Row("narrator:wish-take-back", (410,) * 5, "POST", wish),
    Row("narrator:turn-answer", (410,) * 5, "POST"),
    Row("narrator:copy-of-part", (404,) * 5, arg=accepted_part),
    Row("narrator:own-paper", (404,) * 5, arg=paper),
    Row("harvest:provider", EVERYBODY),
    Row("harvest:provider", EVERYBODY, "POST", data={"verb": "Identify"}),
    # The desk
    Row("desk:queue", STAFF),
    Row("desk:queue-next", STAFF_MOVED),
    Row("desk:queue-together", STAFF_MOVED, "POST", data={"act": "take-up"}),
    Row("desk:queue-view-save", STAFF_MOVED, "POST", data={"name": "x", "filters": "state=submitted"}),
    Row("desk:queue-view-delete", STAFF_MOVED, "POST", lambda world: 1),
    Row("desk:interview-hand-over", STAFF, arg=in_review),
    Row("desk:interview-hand-over", STAFF, "POST", in_review),  # nobody is chosen
    Row("desk:interview-put-back", STAFF_MOVED, "POST", in_review),
    Row("desk:interview-detail", STAFF, arg=in_review),
    Row("desk:interview-take-up", STAFF_MOVED, "POST", submitted),
    Row("desk:interview-take-over", STAFF_MOVED, "POST", in_review),
    Row("desk:interview-undo", STAFF, arg=accepted),
    Row("desk:interview-undo", STAFF_MOVED, "POST", accepted, {"reason": "x"}),
    Row("desk:interview-undo-confirm", STAFF_MOVED, "POST", accepted),
    Row("desk:interview-undo-refuse", STAFF, arg=accepted),
    Row("desk:interview-undo-refuse", STAFF, "POST", accepted, {"reason": "x"}),  # nobody has proposed it
    Row("desk:description", STAFF, arg=accepted),
    Row("desk:description", STAFF_MOVED, "POST", accepted, {"languages": "English", "summary": "x"}),
    Row("desk:interview-catalogue", STAFF_MOVED, "POST", accepted),
    Row("desk:interview-describe-again", STAFF_MOVED, "POST", accepted),
    Row("desk:heading-give", STAFF, arg=accepted),
    Row("desk:heading-give", STAFF_MOVED, "POST", accepted, {"typed": "x", "new": "subject", "use": "about"}),
    Row("desk:contributor-name", STAFF, arg=accepted),
    Row("desk:contributor-name", STAFF, "POST", accepted, {"role": "transcriber"}),  # nobody is named
    Row("desk:person-name", STAFF, arg=named_person),
    Row("desk:person-name", STAFF_MOVED, "POST", named_person, {"catalogue_name": "x"}),
    Row("desk:heading-remove", STAFF_MOVED, "POST", lambda world: world.point.pk),
    Row("desk:contributor-remove", STAFF_MOVED, "POST", lambda world: world.contributor.pk),
    Row("desk:suggest", STAFF, arg=lambda world: "headings"),
    Row("desk:text", STAFF, arg=transcript),
    Row("desk:text", STAFF, "POST", transcript),  # no file is chosen
    Row("desk:text-respell", STAFF_MOVED, "POST", transcript, {"wrong": "x", "right": "y"}),
    Row("desk:text-checked", STAFF_MOVED, "POST", transcript),
    Row("desk:text-file", STAFF, arg=lambda world: (world.accepted.interview_id, "transcript-01.vtt")),
    Row("desk:cue-write", STAFF, arg=lambda world: (accepted_part(world), "outline")),
    Row("desk:cue-write", STAFF, "POST", lambda world: (accepted_part(world), "outline")),  # nothing is written
    Row("desk:cue", STAFF, arg=cue),
    Row("desk:cue", STAFF, "POST", cue),  # nothing is written
    Row("desk:cue-remove", STAFF_MOVED, "POST", cue),
    Row("desk:heading-lists", STAFF),
    Row("desk:heading-lists", STAFF, "POST"),  # no file is chosen
    Row("desk:heading-list", STAFF, arg=lambda world: world.point.heading.authority_id),
    Row("desk:heading-new", STAFF),
    Row("desk:heading-new", STAFF_MOVED, "POST", data={"kind": "subject", "label": "x"}),
    Row("desk:heading-change", STAFF, arg=lambda world: world.point.heading_id),
    Row(
        "desk:heading-change",
        STAFF_MOVED,
        "POST",
        lambda world: world.point.heading_id,
        {"kind": "subject", "label": "x"},
    ),
    Row("desk:register", STAFF),
    Row("desk:exports", STAFF),
    Row("desk:exports", STAFF, "POST", data={"format": "csv", "audience": "house"}),
    Row("desk:numbers", STAFF),
    Row("desk:numbers-csv", STAFF),
    Row("desk:numbers-pdf", STAFF),
    Row("desk:interview-accept", STAFF_MOVED, "POST", in_review),
    Row("desk:interview-send-back", STAFF, arg=in_review),
    Row("desk:interview-send-back", (302, 403, 403, 302, 200), "POST", in_review, {"message": "x"}),
    Row("desk:interview-decline", STAFF, arg=in_review),
    Row("desk:interview-decline", (302, 403, 403, 302, 200), "POST", in_review, {"reason": "x"}),
    Row("desk:interview-receipt", STAFF, arg=accepted),
    Row("desk:arrival-receipt", STAFF, arg=arrival),
    Row("desk:interview-papers", STAFF, arg=accepted),
    Row("desk:paper", STAFF, arg=paper),
    Row("desk:paper-send", STAFF, arg=paper),
    Row("desk:paper-send", STAFF, "POST", paper, {"to": "marit@example.org"}),  # it went to her already
    Row("desk:paper-reissue", STAFF, arg=paper),
    Row("desk:paper-reissue", STAFF_MOVED, "POST", paper, {"reason": "x"}),
    Row("desk:letter-write", STAFF, arg=addressee),
    Row("desk:letter-write", STAFF_MOVED, "POST", addressee, {"text": "x", "language": "en"}),
    Row("desk:quality-report", STAFF_MOVED, "POST", accepted_part),
    Row("desk:labels", STAFF, arg=accepted),
    Row("desk:labels", STAFF, "POST", accepted, {"papers": "1", "copies": "1", "first": "1"}),
    Row("desk:part-answer", STAFF_MOVED, "POST", lambda world: world.problem_part.pk, {"code": "x", "answer": "x"}),
    Row("desk:part-picture", STAFF, arg=accepted_part),
    Row("desk:part-picture-tile", STAFF, arg=lambda world: (accepted_part(world), 0, 0)),
    Row("desk:part-picture-tile", (302, 403, 403, 404, 404), arg=lambda world: (accepted_part(world), 0, 9)),
    Row("desk:part-marks", STAFF, "POST", part, {"kind": "note", "at_seconds": "0.1", "note": "x"}),
    Row("desk:part-heard", STAFF, "POST", part, {"spans": "[[0, 0.1]]"}),
    Row("desk:mark-remove", STAFF_MOVED, "POST", lambda world: world.mark.pk),
    Row("desk:interview-opening", STAFF_MOVED, "POST", in_review, {"item": "day", "verdict": "heard"}),
    Row("desk:part-listen", STAFF, arg=part),
    Row("desk:part-working-copy", (302, 403, 403, 404, 404), arg=part),
    Row("desk:part-described-copy", (302, 403, 403, 404, 404), arg=part),
    Row("desk:part-original", STAFF, arg=part),
    Row("desk:turn-offer", STAFF, arg=unsigned),
    Row("desk:turn-offer", STAFF, "POST", unsigned, {"until": "2099-01-01"}),  # not handed in yet
    Row("desk:wish-close", STAFF_MOVED, "POST", wish),
    Row("desk:wish-decline", STAFF, arg=wish),
    Row("desk:wish-decline", STAFF_MOVED, "POST", wish, {"reason": "x"}),
    Row("desk:narrators-copy", STAFF, arg=signer),
    Row("desk:narrators-copy", STAFF_MOVED, "POST", signer, {"on": "2026-11-01", "carrier": "x"}),
    Row("desk:narrators-copy-link", STAFF_MOVED, "POST", signer),
    Row("desk:part-access-copy", STAFF, arg=accepted_part),
    Row("desk:part-access-copy", (302, 403, 403, 403, 403), arg=part),  # not accepted yet
    Row("desk:part-passages", STAFF, arg=accepted_part),
    Row(
        "desk:part-passages",
        STAFF_MOVED,
        "POST",
        accepted_part,
        {"from_seconds": "0.1", "to_seconds": "0.2", "reason": "x"},
    ),
    Row("desk:passage-open", STAFF, arg=lambda world: world.passage.pk),
    Row("desk:passage-open", STAFF_MOVED, "POST", lambda world: world.passage.pk, {"reason": "x"}),
    Row("desk:release-evidence", STAFF, arg=lambda world: world.narrators_release.pk),
    Row("desk:agreement-evidence", STAFF, arg=lambda world: world.agreement.pk),
    Row("desk:release-event", STAFF, arg=lambda world: world.closed_release.pk),
    Row(
        "desk:release-event",
        STAFF_MOVED,
        "POST",
        lambda world: world.closed_release.pk,
        {"on": "2026-11-01", "how_known": "x"},
    ),
    Row("desk:interview-withdrawal", STAFF, arg=accepted),
    Row("desk:interview-withdrawal", STAFF, "POST", accepted, {"decision": "agree", "reason": "x"}),  # nobody has asked
    Row("desk:release-copy", STAFF, arg=lambda world: world.narrators_release.pk),
    Row("desk:imports", STAFF),
    Row("desk:import-detail", STAFF, arg=lambda world: world.backlog_import.pk),
    Row("desk:counter", STAFF),
    Row("desk:counter-start", STAFF),
    Row("desk:counter-start", STAFF, "POST", data={"giver_name": "x"}),  # the form says what is missing
    Row("desk:counter-start-for", STAFF, arg=lambda world: world.unsigned.person_id),
    Row("desk:attachment-file", STAFF, arg=attachment),
    Row("desk:signed-forms", STAFF),
    Row("desk:signed-form-detail", STAFF, arg=waiting),
    Row("desk:signed-form-confirm", STAFF_MOVED, "POST", waiting),
    Row("desk:signed-form-turn-down", STAFF, arg=waiting),
    Row("desk:signed-form-turn-down", STAFF_MOVED, "POST", waiting, {"reason": "x"}),
    Row("desk:scan-file", STAFF, arg=scan),
    Row("desk:collections", STAFF),
    Row("desk:collection-package", STAFF, "POST", lambda world: world.accepted.interview.collection_id),
    Row("desk:interview-package", STAFF, "POST", accepted),
    Row("desk:people", STAFF),
    Row(
        "desk:people",
        (302, 403, 403, 200, 302),
        "POST",
        data={"name": "x", "email": "x@example.org", "role": "archivist"},
    ),
    Row("desk:account", STAFF, arg=lambda world: world.owner.pk),
    Row("desk:account", STAFF, "POST", lambda world: world.owner.pk, {"reason": "x"}),  # nobody is chosen
    Row("desk:account-reopen", STAFF_MOVED, "POST", lambda world: world.other.pk),
    Row("desk:persons", STAFF),
    Row("desk:person-merge", STAFF, arg=lambda world: world.unsigned.person_id),
    Row("desk:kits", STAFF),
    Row("desk:kit-lend", STAFF, arg=lambda world: world.kit.pk),
    Row("desk:loan-code", STAFF, "POST", lambda world: world.loan.pk),
    Row("desk:copies", STAFF),
    Row("desk:part-check-copies", STAFF_MOVED, "POST", part),
    Row("desk:interview-check-copies", STAFF_MOVED, "POST", submitted),
    Row("desk:unexpected-set-aside", STAFF_MOVED, "POST", lambda world: world.unexpected.pk),
    Row("desk:loan-take-back", STAFF, arg=lambda world: world.loan.pk),
    Row("desk:messages", STAFF),
    Row("desk:message-detail", STAFF, arg=message),
    Row("desk:message-preview", STAFF, arg=message),
    Row(
        "desk:message-attachment",
        STAFF,
        arg=lambda world: (world.message.pk, world.message.attachments.get().pk),
    ),
    Row("desk:message-send-again", STAFF_MOVED, "POST", message),
    Row("desk:message-came-back", STAFF, arg=message),
    Row("desk:message-came-back", STAFF_MOVED, "POST", message, {"told": "x"}),
    Row("desk:message-address", STAFF, arg=message),
    Row("desk:message-address", STAFF_MOVED, "POST", message, {"to": "x@example.org"}),
    Row("desk:message-settle", STAFF_MOVED, "POST", message),
    Row("desk:jobs", STAFF),
    Row("desk:job-retry", STAFF_MOVED, "POST", lambda world: world.failed_job.pk),
    Row("desk:second-step-not-now", STAFF_MOVED, "POST"),
    Row("desk:second-step-reset", COORDINATOR, arg=lambda world: world.archivist.pk),
    Row("desk:second-step-reset", COORDINATOR_MOVED, "POST", lambda world: world.archivist.pk),
    # The set-up
    Row("desk:set-up", COORDINATOR),
    Row("desk:set-up-library", COORDINATOR),
    Row("desk:set-up-library", COORDINATOR_MOVED, "POST", data=LIBRARY),
    Row("desk:set-up-logo", COORDINATOR),
    Row("desk:set-up-no-logo", COORDINATOR_MOVED, "POST"),
    Row("desk:set-up-numbers", COORDINATOR),
    Row("desk:set-up-numbers", COORDINATOR_MOVED, "POST", data=NUMBERS),
    Row("desk:set-up-number-example", COORDINATOR),
    Row("desk:set-up-mail", COORDINATOR),
    Row("desk:set-up-mail-test", COORDINATOR_MOVED, "POST"),
    Row("desk:set-up-certificate", COORDINATOR),
    Row("desk:wordings", COORDINATOR),
    Row("desk:wordings-are-right", COORDINATOR_MOVED, "POST"),
    Row("desk:wording-new-version", COORDINATOR, arg=lambda world: world.wording.pk),
    Row("desk:letter-texts", COORDINATOR),
    Row("desk:letter-text-change", COORDINATOR, arg=lambda world: ("thanks", "en")),
    Row("desk:letter-text-change", COORDINATOR_MOVED, "POST", lambda world: ("thanks", "en"), {"text": "x"}),
]

# Asked with GET, these do nothing. Strangers are sent to sign in, volunteers are refused at the desk.
POST_ONLY = {
    "desk:queue-together": None,
    "desk:queue-view-save": None,
    "desk:queue-view-delete": lambda world: 1,
    "desk:interview-put-back": in_review,
    "desk:interview-catalogue": accepted,
    "desk:interview-describe-again": accepted,
    "desk:heading-remove": lambda world: world.point.pk,
    "desk:contributor-remove": lambda world: world.contributor.pk,
    "desk:text-respell": transcript,
    "desk:text-checked": transcript,
    "desk:cue-remove": cue,
    "desk:part-marks": part,
    "desk:part-heard": part,
    "desk:mark-remove": lambda world: world.mark.pk,
    "desk:interview-opening": in_review,
    "desk:part-check-copies": part,
    "desk:interview-check-copies": submitted,
    "desk:unexpected-set-aside": lambda world: world.unexpected.pk,
    "portal:interview-submit": draft,
    "portal:person-remove": unsigned,
    "portal:part-remove": part,
    "portal:part-put-back": part,
    "portal:part-move": part,
    "portal:parts-order": draft,
    "desk:interview-take-up": submitted,
    "desk:interview-accept": in_review,
    "desk:message-send-again": message,
    "desk:message-settle": message,
    "desk:interview-package": accepted,
    "desk:collection-package": lambda world: world.accepted.interview.collection_id,
    "desk:interview-take-over": in_review,
    "desk:interview-undo-confirm": accepted,
    "desk:part-answer": lambda world: world.problem_part.pk,
    "desk:account-reopen": lambda world: world.other.pk,
    "desk:loan-code": lambda world: world.loan.pk,
    "desk:job-retry": lambda world: world.failed_job.pk,
    "portal:paper-print": unsigned,
    "portal:agreement-paper-print": unsigned,
    "portal:signed-form-hand-in": lambda world: world.open_form.pk,
    "portal:scan-take-back": scan,
    "desk:signed-form-confirm": waiting,
    "portal:upload-digest": upload,
    "portal:upload": upload,
    "portal:uploads-for-program": program,
    "portal:uploads": None,
    "narrator:give-back": None,
    "narrator:check-file": None,
    "narrator:wish-take-back": wish,
    "narrator:turn-answer": None,
    "desk:quality-report": accepted_part,
    "desk:wish-close": wish,
    "desk:narrators-copy-link": signer,
    "desk:second-step-not-now": None,
    "desk:set-up-no-logo": None,
    "desk:set-up-mail-test": None,
    "desk:wordings-are-right": None,
}

# allauth's own pages, as a block: these may be seen signed out, all others ask for a sign-in first or send elsewhere.
ENTRANCE = {
    "account_login",
    "account_signup",
    "account_inactive",
    "account_reset_password",
    "account_reset_password_done",
    "account_reset_password_from_key",
    "account_reset_password_from_key_done",
    "account_email_verification_sent",
    "account_confirm_email",
}


@pytest.fixture(scope="module")
def world(django_db_setup, django_db_blocker):
    """Built once; what a test changes in it is rolled back."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield a_world()
        transaction.set_rollback(True)


def browser_of(world: World, role: str) -> Client:
    browser = Client()
    person = world.person(role)
    if person:
        browser.force_login(person)
    return browser


def ask(world: World, role: str, row: Row):
    """The answer, after which everything is as it was."""
    with transaction.atomic():
        browser = browser_of(world, role)
        headers = dict(row.headers)
        content_type = headers.pop("Content-Type", None)
        if row.method in {"GET", "HEAD", "OPTIONS"}:
            answer = browser.generic(row.method, row.url(world), headers=headers)
        elif content_type or row.method != "POST":
            answer = browser.generic(
                row.method, row.url(world), b"01234", content_type or "text/plain", headers=headers
            )
        else:
            answer = browser.post(row.url(world), {"csrfmiddlewaretoken": "x", **row.data}, headers=headers)
        transaction.set_rollback(True)
    return answer


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_each_person_gets_the_answer_of_the_table(world, row):
    answers = {role: ask(world, role, row) for role in ROLES}
    assert {role: answer.status_code for role, answer in answers.items()} == dict(zip(ROLES, row.expected, strict=True))
    if row.expected[0] == 302 and row.name not in {"portal:kit-account", "narrator:give-back", "narrator:link"}:
        assert answers["stranger"]["Location"].startswith(reverse("account_login") + "?next=")


def test_every_route_has_its_row():
    ours = {name for name in all_routes() if not name.startswith(("account", "mfa_"))}
    assert ours == {row.name for row in ROWS}


@pytest.mark.parametrize("name", [name for name in all_routes() if name.startswith(("account_", "mfa_"))])
def test_account_pages_ask_for_a_sign_in_unless_they_are_the_entrance(world, name):
    args = {"account_confirm_email": ["key"], "account_reset_password_from_key": ["1", "key"]}.get(name, [])
    answer = Client().get(reverse(name, args=args))
    if name in ENTRANCE:
        assert answer.status_code == 200
    else:
        assert answer.status_code in {302, 404}


def test_the_door_for_signing_up_is_closed(world):
    assert "Create" not in Client().get(reverse("account_signup")).content.decode()
    answer = Client().post(
        reverse("account_signup"), {"email": "a@example.org", "password1": "seven-otters-by-lantern"}
    )
    assert "_auth_user_id" not in answer.client.session
    assert not type(world.owner).objects.filter(email="a@example.org").exists()


@pytest.mark.parametrize("name", POST_ONLY)
def test_looking_at_what_only_acts_does_nothing(world, name):
    before = everything()
    for role in ROLES:
        answer = ask(world, role, Row(name, (0,) * 5, arg=POST_ONLY[name]))
        expected = {302, 403, 405, 412}
        assert answer.status_code in expected, (role, answer.status_code)
    answer = browser_of(world, "coordinator").get(Row(name, (0,) * 5, arg=POST_ONLY[name]).url(world))
    assert answer.status_code in {405, 412}
    assert everything() == before


@pytest.mark.parametrize("row", [row for row in ROWS if row.method in {"GET", "HEAD", "OPTIONS"}], ids=str)
def test_looking_changes_nothing(world, row):
    """RFC 9110, section 9.2.1: GET, HEAD and OPTIONS are safe."""
    before = everything()
    for role in ROLES:
        browser_of(world, role).generic(row.method, row.url(world), headers=row.headers)
    assert everything() == before


def test_every_acting_route_is_known_to_act_only():
    acting = {row.name for row in ROWS if row.method not in {"GET", "HEAD", "OPTIONS"}}
    looking = {row.name for row in ROWS if row.method == "GET"}
    assert acting - looking == set(POST_ONLY)


def everything() -> dict[str, object]:
    """Enough of the database to see a change: how many rows of each of our models, and the states.

    But for the queue's entries, which whoever reads them brings up to date: they say nothing that was not said before.
    """
    derived = (QueueEntry, Touched)
    ours = [model for model in apps.get_models() if model.__module__.startswith("intake.") and model not in derived]
    counted = {model._meta.label: model.objects.count() for model in ours}
    return {
        **counted,
        "states": sorted(Interview.objects.values_list("pk", "state", "reviewer")),
        "jobs": sorted(Job.objects.values_list("pk", "state", "attempts")),
        "last event": Event.objects.last().pk,
    }
