"""What goes into the package of one accepted interview: its files, the records that tell of them, and its rows."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial

from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet

from intake.access.policy import Act, Audience
from intake.access.services import asked, refuse_unless
from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.models import Event
from intake.audit.services import record
from intake.errors import Refused
from intake.files import serving
from intake.files.models import FixityCheck, StoredFile
from intake.interviews.models import TAKEN_IN, Attachment, Collection, Interview, Part
from intake.library import services as libraries
from intake.outputs import naming
from intake.outputs.describing import accepted, described
from intake.outputs.models import Output, OutputKind
from intake.outputs.names import safe_name
from intake.outputs.packages import history, rows
from intake.outputs.packages.bags import Bag, Content, Told
from intake.outputs.records.dublin_core import dublin_core
from intake.outputs.records.marc import marcxml
from intake.outputs.records.mods import mods
from intake.outputs.records.premis import premis
from intake.outputs.texts import files_whole
from intake.qc.models import QCReport
from intake.qc.services import latest_report
from intake.register.models import Accession
from intake.register.services import standing
from intake.releases.models import Scan, WithdrawalRequest

ROWS = "metadata/rows.json"
FORMAT = 2
FOLDERS = {
    OutputKind.LISTENING_COPY: "listening-copies",
    OutputKind.WORKING_COPY: "working-copies",
    OutputKind.ACCESS_COPY: "access-copies",
    OutputKind.DESCRIBED_COPY: "described-copies",
    OutputKind.SOUND_PICTURE: "sound-pictures",
    OutputKind.RELEASE_COPY: "releases",
    OutputKind.AGREEMENT_COPY: "releases",
    OutputKind.ARRIVAL_RECEIPT: "receipts",
    OutputKind.RECEIPT: "receipts",
    OutputKind.LETTER: "letters",
    OutputKind.QUALITY_REPORT: "quality-reports",
}
README = """\
Accession {number}

A preservation package: everything that the library holds of one oral history interview. It is a bag after BagIt 1.0
(RFC 8493), which any validator of bags can check against the SHA-512 and SHA-256 of every file.

data/originals/         the recordings as the recorder wrote them, in their order
data/taken-out/         what was handed in and then taken out again
data/attachments/       photographs, field notes, transcripts and other documents
data/releases/          the signed releases, and the scans of those signed on paper
data/receipts/          the receipts of arrival and of acceptance
data/letters/           letters of the library to those who gave the interview or take part in it
data/quality-reports/   what was measured of each recording, printed
data/described-copies/  the same samples in files that say what they are
data/working-copies/    sound of odd kinds, decoded
data/listening-copies/  smaller copies for listening; never to be taken for an original
data/sound-pictures/    what the review desk draws of each recording
data/access-copies/     copies to hand out, in which closed passages are silent and withheld names left out
metadata/premis.xml     what happened to each file, when and by whom (PREMIS 3)
metadata/dublin-core.xml, marc.xml, mods.xml  the description (Dublin Core, MARCXML, MODS); names that are withheld
                        are left out
metadata/accession.json   the accession register's entry
metadata/outline-*.vtt, transcript-*.vtt  what it is about from where on, and what is said, for each recording (WebVTT)
metadata/quality-*.json   what was measured of each recording
metadata/rows.json      the same as the site's database holds it, to take the package in again

CLOSED: this package holds names and addresses, also of people whose names are withheld from the public, and recordings
that may be closed. Whoever may open it is for the library to say, by the signed releases and the law of the place.
"""


@dataclass(frozen=True)
class Place:
    """Where a bag stands among those that were made together; 1 is first."""

    group: str
    number: int
    of: int


@transaction.atomic
def package_of(interview: Interview, *, actor: User | None, place: Place | None = None) -> Bag:
    """The package of an accepted interview as things stand now; that it was made is among what it tells.

    Raises Refused for an interview that is not accepted, or whose withdrawal is asked for or granted.
    """
    accession = standing(interview)
    if accession is None:
        raise Refused("Only an accepted interview has a preservation package.")
    refuse_unless(Act.KEEP, interview, Audience.STAFF)
    record(actor=actor, action=Action.PACKAGE_MADE, subject=accession, thread=interview, accession=accession.number)
    files = {str(file.pk): file for file in rows.files_of(interview)}
    payload = tuple(_payload(interview, files))
    events = list(rows.events_of(interview, files.values()))
    held = {
        "format": FORMAT,
        "accession": accession.number,
        "files": {content.id: f"data/{content.path}" for content in payload},
        "rows": rows.rows_of(interview, events),
        "events": [rows.plain_event(event) for event in events],
    }
    (said,) = described(accepted().filter(pk=accession.pk))
    tags: list[tuple[str, Callable[[Told], bytes]]] = [
        ("README.txt", _always(README.format(number=accession.number).encode())),
        ("metadata/accession.json", _always(rows.to_json(_entry(accession)))),
        ("metadata/dublin-core.xml", _always(dublin_core(said))),
        ("metadata/marc.xml", _always(marcxml([said]))),
        ("metadata/mods.xml", _always(mods([said]))),
        *((path, _always(made)) for path, made in _quality(interview)),
        *((f"metadata/{file.name}", _always(file.content)) for file in files_whole(interview)),
        (ROWS, _always(rows.to_json(held))),
        ("metadata/premis.xml", partial(_premis, interview, said.title, payload, files, events)),
    ]
    return Bag(safe_name(accession.number), payload, tuple(tags), tuple(_info(interview, accession, place)))


def packages_of(collection: Collection, *, actor: User | None) -> list[Callable[[], Bag]]:
    """How to make the package of each accepted interview of a collection, in the order of the register.

    Each is made when its turn comes; those that may not be handed out (`left_out`) have none. Raises Refused if
    nothing of the collection is left.
    """
    accepted = [accession for accession in _accepted(collection) if _why_left_out(accession) is None]
    if not accepted:
        raise Refused(*(left_out(collection) or [f"Nothing of “{collection}” has been accepted yet."]))
    places = [Place(collection.name, number, len(accepted)) for number in range(1, len(accepted) + 1)]
    return [
        partial(package_of, accession.interview, actor=actor, place=place)
        for accession, place in zip(accepted, places, strict=True)
    ]


def left_out(collection: Collection) -> list[str]:
    """Why accepted interviews of a collection have no package now: a sentence for each."""
    # Only what may have been stopped since its acceptance is asked about: a collection has thousands.
    asked_for = Exists(WithdrawalRequest.objects.filter(interview=OuterRef("interview"), decided_at=None))
    stopped = _accepted(collection).filter(~Q(interview__state__in=TAKEN_IN) | asked_for)
    return [why_not for accession in stopped if (why_not := _why_left_out(accession))]


def _accepted(collection: Collection) -> QuerySet[Accession]:
    accepted = Accession.objects.filter(interview__collection=collection, undone_at=None)
    return accepted.select_related("interview")


def _why_left_out(accession: Accession) -> str | None:
    answer = asked(Act.KEEP, accession.interview, Audience.STAFF)
    return None if answer.allowed else f"{accession.number}: {answer.because}"


def _always(made: bytes) -> Callable[[Told], bytes]:
    return lambda told: made


def _payload(interview: Interview, files: dict[str, StoredFile]) -> Iterable[Content]:
    """Each file once, under a name that no other has on any computer: the number in front makes it so."""
    left = dict(files)
    counted: dict[str, int] = {}
    for folder, file_id in _places(interview):
        file = left.pop(str(file_id), None)
        if file is not None:
            counted[folder] = counted.get(folder, 0) + 1
            path = f"{folder}/{counted[folder]:02d}-{safe_name(file.name)}"
            yield Content(str(file.pk), path, file.bytes, file.sha256, partial(serving.open_copy, file))
    assert not left, "every file that a row points to has its place"


def _places(interview: Interview) -> Iterable[tuple[str, object]]:
    for part in Part.objects.filter(interview=interview).order_by("position", "pk"):
        yield ("originals" if part.position else "taken-out"), part.file_id
    for attachment in Attachment.objects.filter(interview=interview):
        yield ("taken-out" if attachment.taken_out_at else "attachments"), attachment.file_id
    for output in Output.objects.filter(interview=interview).order_by("pk"):
        yield FOLDERS[OutputKind(output.kind)], output.file_id
    for scan in Scan.objects.filter(signed_form__form__participant__interview=interview):
        yield "releases", scan.file_id


def _premis(
    interview: Interview,
    title: str,
    payload: tuple[Content, ...],
    files: dict[str, StoredFile],
    events: list[Event],
    digests: Told,
) -> bytes:
    checks = list(FixityCheck.objects.filter(file__in=files.values()).select_related("by"))
    return premis(
        history.story_told(
            interview,
            title=title,
            payload=payload,
            files=files,
            events=events,
            checks=checks,
            withheld=naming.accounts_withheld(interview),
            digests=digests,
        )
    )


def _entry(accession: Accession) -> dict[str, object]:
    return {
        "number": accession.number,
        "accepted_at": accession.accepted_at,
        "accepted_by": accession.accepted_by.name,
        "receipt": accession.receipt_number,
        **accession.snapshot,
    }


def _quality(interview: Interview) -> Iterable[tuple[str, bytes]]:
    """The newest report on each recording in its order, as figures; the rows have all reports and their drawings."""
    for part in interview.parts.filter(position__isnull=False).select_related("file").order_by("position"):
        report = latest_report(part.file)
        if report is not None:
            yield f"metadata/quality-{part.position:02d}.json", rows.to_json(_figures(part, report))


def _figures(part: Part, report: QCReport) -> dict[str, object]:
    assert part.file is not None, "a report is about a stored file"
    names = (
        "audio_qc_version",
        "profile",
        "measured_at",
        "standing",
        "verdict",
        "unreadable",
        "measurement",
        "findings",
    )
    return {"file": part.file.name, "sha256": part.file.sha256, **{name: getattr(report, name) for name in names}}


def _info(interview: Interview, accession: Accession, place: Place | None) -> Iterable[tuple[str, str]]:
    library = libraries.current()
    yield "Source-Organization", library.name
    yield "Organization-Address", library.contact
    yield "Contact-Email", library.email
    yield "External-Identifier", accession.number
    yield "External-Description", f"One oral history interview, recorded {interview.recorded_on.isoformat()}."
    if place:
        yield "Bag-Group-Identifier", place.group
        yield "Bag-Count", f"{place.number} of {place.of}"
