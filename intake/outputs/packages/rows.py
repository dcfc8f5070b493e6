"""The rows that an interview consists of, as plain data; which tables they are in, and how one says "the same row"."""

import json
from collections.abc import Callable, Iterable, Iterator
from datetime import date
from typing import Any
from uuid import UUID

from django.core import serializers
from django.db.models import ForeignKey, Model, Q, QuerySet

from intake.accounts.models import User
from intake.audit.models import Event
from intake.audit.services import thread_of
from intake.catalogue.models import (
    AccessPoint,
    AuthorityList,
    Contributor,
    Cue,
    Description,
    Heading,
    TimedText,
)
from intake.files.models import StoredFile, Upload
from intake.interviews.models import Attachment, Collection, Interview, Mark, Part, Participant
from intake.outputs.models import Letter, Output, Reissue
from intake.people.models import Person
from intake.qc.models import QCReport
from intake.register.models import Accession, Arrival, CardNotice
from intake.releases.models import (
    Agreement,
    ClosedPassage,
    Lifting,
    NarratorsTurn,
    PrintedForm,
    PrivateLink,
    Release,
    Scan,
    SignedForm,
    SigningSession,
    Wish,
    WithdrawalRequest,
    Wording,
)
from intake.review.models import Decision, FindingAnswer, Heard, OpeningCheck

Row = dict[str, Any]

# What more than one interview has a part in, and what tells of two rows that they are the same one. A wording's text
# never changes under its version, so it must be equal too (packages.restoring looks).
SHARED: dict[type[Model], tuple[str, ...]] = {
    User: ("email",),
    Person: ("name", "noted_at"),
    Collection: ("name",),
    Wording: ("moment", "role", "language", "version"),
    AuthorityList: ("name",),
    Heading: ("authority", "kind", "label", "uri"),
}

# The interview's own tables, in the order in which they point to each other, with its rows in each.
OWN: dict[type[Model], Callable[[Interview], Iterable[Model]]] = {
    StoredFile: lambda it: files_of(it).order_by("stored_at", "pk"),
    Upload: lambda it: _uploads(it).order_by("joined_into", "joined_at", "started_at", "pk"),
    Interview: lambda it: [it],
    Participant: lambda it: Participant.objects.filter(interview=it),
    Part: lambda it: Part.objects.filter(interview=it).order_by("pk"),
    Mark: lambda it: Mark.objects.filter(part__interview=it),
    Attachment: lambda it: Attachment.objects.filter(interview=it),
    PrivateLink: lambda it: PrivateLink.objects.filter(participant__interview=it),
    SigningSession: lambda it: SigningSession.objects.filter(participant__interview=it).order_by("pk"),
    PrintedForm: lambda it: PrintedForm.objects.filter(participant__interview=it).order_by("pk"),
    SignedForm: lambda it: SignedForm.objects.filter(form__participant__interview=it),
    Scan: lambda it: Scan.objects.filter(signed_form__form__participant__interview=it),
    Release: lambda it: Release.objects.filter(participant__interview=it).order_by("pk"),
    Agreement: lambda it: Agreement.objects.filter(participant__interview=it).order_by("pk"),
    Lifting: lambda it: Lifting.objects.filter(release__participant__interview=it).order_by("pk"),
    ClosedPassage: lambda it: ClosedPassage.objects.filter(part__interview=it).order_by("pk"),
    NarratorsTurn: lambda it: NarratorsTurn.objects.filter(participant__interview=it),
    Wish: lambda it: Wish.objects.filter(turn__participant__interview=it).order_by("pk"),
    WithdrawalRequest: lambda it: WithdrawalRequest.objects.filter(interview=it),
    QCReport: lambda it: _reports(it).order_by("pk"),
    FindingAnswer: lambda it: FindingAnswer.objects.filter(report__in=_reports(it)).order_by("pk"),
    Heard: lambda it: Heard.objects.filter(part__interview=it).order_by("pk"),
    OpeningCheck: lambda it: OpeningCheck.objects.filter(interview=it).order_by("pk"),
    Description: lambda it: Description.objects.filter(interview=it),
    AccessPoint: lambda it: AccessPoint.objects.filter(interview=it),
    Contributor: lambda it: Contributor.objects.filter(interview=it),
    TimedText: lambda it: TimedText.objects.filter(interview=it).order_by("pk"),
    Cue: lambda it: Cue.objects.filter(text__interview=it).order_by("pk"),
    Decision: lambda it: Decision.objects.filter(interview=it),
    Arrival: lambda it: Arrival.objects.filter(interview=it),
    Accession: lambda it: Accession.objects.filter(interview=it),
    CardNotice: lambda it: CardNotice.objects.filter(interview=it),
    Letter: lambda it: Letter.objects.filter(interview=it),
    Reissue: lambda it: Reissue.objects.filter(interview=it),
    Output: lambda it: Output.objects.filter(interview=it).order_by("pk"),
}


def rows_of(interview: Interview, events: Iterable[Event]) -> list[Row]:
    """Every row of the interview and every row that these and its events point to, those pointed to first."""
    own = [row for rows in OWN.values() for row in rows(interview)]
    return [_plain(row) for row in [*_pointed_to([*own, *events]), *own]]


def files_of(interview: Interview) -> QuerySet[StoredFile]:
    """Every stored file that a row of the interview points to."""
    uploads = _uploads(interview).filter(file__isnull=False)
    outputs = Output.objects.filter(interview=interview)
    return StoredFile.objects.filter(Q(pk__in=uploads.values("file")) | Q(pk__in=outputs.values("file")))


def events_of(interview: Interview, files: Iterable[StoredFile]) -> QuerySet[Event]:
    """What happened to the interview and to its files, oldest first."""
    threads = [thread_of(interview), *(thread_of(file) for file in files)]
    return Event.objects.filter(thread__in=threads).select_related("actor", "names").order_by("pk")


def plain_event(event: Event) -> Row:
    """An event as plain data, with the names that have not been erased and the salt of their digest."""
    told = _plain(event)
    if hasattr(event, "names"):
        told["names"] = {"salt": event.names.salt, "names": event.names.names}
    return told


def to_json(told: object) -> bytes:
    """As JSON, with moments to the microsecond, by which a row is known again."""
    return json.dumps(told, ensure_ascii=False, indent=1, default=_in_words).encode()


def _reports(interview: Interview) -> QuerySet[QCReport]:
    return QCReport._base_manager.filter(file__in=files_of(interview))


def _uploads(interview: Interview) -> QuerySet[Upload]:
    whole = Q(part__interview=interview) | Q(attachment__interview=interview)
    whole |= Q(scan__signed_form__form__participant__interview=interview)
    ids = Upload.objects.filter(whole).values("pk")
    return Upload.objects.filter(Q(pk__in=ids) | Q(joined_into__in=ids))


def _pointed_to(rows: list[Model]) -> list[Model]:
    """The shared rows that these point to, and those that they point to in turn, by table."""
    found: dict[type[Model], dict[object, Model]] = {model: {} for model in SHARED}
    looked_at = rows
    while looked_at:
        new = [shared for row in looked_at for shared in _shared_by(row) if shared.pk not in found[type(shared)]]
        for shared in new:
            found[type(shared)][shared.pk] = shared
        looked_at = new
    return [row for model in SHARED for _, row in sorted(found[model].items(), key=lambda item: str(item[0]))]


def _shared_by(row: Model) -> Iterator[Model]:
    for field in row._meta.concrete_fields:
        if isinstance(field, ForeignKey) and field.related_model in SHARED:
            shared = getattr(row, field.name)
            if shared is not None:
                yield shared


def _plain(row: Model) -> Row:
    told = serializers.serialize("python", [row])[0]
    if isinstance(row, User):
        # SECURITY: what opens an account stays where it is.
        del told["fields"]["password"]
    return told


def _in_words(value: object) -> str:
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, UUID):
        return str(value)
    raise TypeError(f"{type(value)} is not plain data")
