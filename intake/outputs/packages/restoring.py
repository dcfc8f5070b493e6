"""Take an interview in again from its package: into another site, or into this one after a loss."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from django.apps import apps
from django.contrib.auth.hashers import make_password
from django.core import serializers
from django.core.exceptions import FieldDoesNotExist, ValidationError
from django.core.management.color import no_style
from django.core.serializers.base import DeserializationError
from django.db import DatabaseError, connection, transaction
from django.db.models import AutoField, ForeignKey, Max, Model

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.models import Event, EventNames
from intake.audit.services import record
from intake.errors import Refused
from intake.files import services as files
from intake.files import storage
from intake.files.models import StoredFile
from intake.interviews.models import Interview
from intake.outputs.packages.contents import FORMAT, ROWS
from intake.outputs.packages.judging import judge
from intake.outputs.packages.rows import OWN, SHARED, Row
from intake.register import services as register
from intake.register.models import Accession
from intake.releases.models import PrivateLink, Wording

UNREADABLE = (KeyError, TypeError, ValueError, AttributeError, LookupError)


@dataclass(frozen=True)
class Held:
    """What a package's rows.json holds, each row under its model."""

    accession: str
    paths: dict[str, str]
    rows: list[tuple[type[Model], Row]]
    events: list[Row]

    def of(self, model: type[Model]) -> list[Row]:
        return [row for of, row in self.rows if of is model]


def take_in(folder: Path) -> Interview:
    """Judge a package, store its files and write its rows; the interview, as it was when the package was made.

    Accounts come closed and without a password. Raises Refused, with nothing written, for a bag that is not valid or
    not ours, and for an interview that is here already.
    """
    judgement = judge(folder)
    if not judgement.is_valid:
        raise Refused(f"“{folder.name}” is not a valid bag.", *judgement.faults)
    if judgement.remarks:
        raise Refused(f"“{folder.name}” is not whole in itself.", *judgement.remarks)
    held = _read(folder)
    _refuse_if_here(held)
    try:
        _refuse_other_files(folder, held)
        for row in held.of(StoredFile):
            _keep(folder, held, row)
        return _write(held)
    except (*UNREADABLE, DatabaseError, DeserializationError, ValidationError, FieldDoesNotExist) as error:
        raise Refused(f"The rows in “{folder.name}” do not fit together: {error}.") from error


def _read(folder: Path) -> Held:
    try:
        told = json.loads((folder / ROWS).read_bytes())
        if told["format"] != FORMAT:
            raise Refused(f"The package has format {told['format']}; this version of the site reads format {FORMAT}.")
        rows = [(_model(row["model"]), row) for row in told["rows"]]
        held = Held(str(told["accession"]), dict(told["files"]), rows, list(told["events"]))
    except OSError as error:
        raise Refused(f"“{folder.name}” is a bag, but no package of an interview: it has no {ROWS}.") from error
    except UNREADABLE as error:
        raise Refused(f"The {ROWS} of “{folder.name}” cannot be read: {error}.") from error
    if len(held.of(Interview)) != 1:
        raise Refused(f"The {ROWS} of “{folder.name}” is not about one interview.")
    return held


def _model(label: str) -> type[Model]:
    """SECURITY: a package writes to the tables that packages are made of, and to no others."""
    model = apps.get_model(label)
    if model not in OWN and model not in SHARED:
        raise LookupError(f"a package has no rows of {label}")
    return model


def _refuse_if_here(held: Held) -> None:
    """Stored files may be here: the same file under the same number is kept once."""
    if Accession.objects.filter(number=held.accession, pk__in=[row["pk"] for row in held.of(Accession)]).exists():
        raise Refused(f"Accession {held.accession} is here already. Nothing was changed.")
    for model in OWN:
        ids = [row["pk"] for row in held.of(model)]
        if model is not StoredFile and model._base_manager.filter(pk__in=ids).exists():
            raise Refused(
                f"Accession {held.accession} cannot be taken in: numbers of its rows ({model._meta.verbose_name}) are "
                "taken by others. It goes into an empty site, or into the one that it came from and that has lost it."
            )


def _refuse_other_files(folder: Path, held: Held) -> None:
    """Looked at before any is stored. SECURITY: rows may name files of the payload, and no others of this computer."""
    for row in held.of(StoredFile):
        path = _path(folder, held, row)
        if not path.is_relative_to((folder / "data").resolve()) or not path.is_file():
            raise Refused(f"“{held.paths[row['pk']]}” is no file of the package's payload.")
        told = row["fields"]["sha256"], row["fields"]["bytes"]
        if (storage.sha256_of_path(path), path.stat().st_size) != told:
            raise Refused(f"“{held.paths[row['pk']]}” is not the file that the package's rows tell of.")


def _keep(folder: Path, held: Held, row: Row) -> None:
    kept = files.keep(
        _path(folder, held, row),
        file_id=StoredFile._meta.pk.to_python(row["pk"]),
        name=row["fields"]["name"],
        media_type=row["fields"]["media_type"],
    )
    if kept.sha256 != row["fields"]["sha256"]:
        raise Refused(f"This site has another file under the number {row['pk']}.")


def _path(folder: Path, held: Held, row: Row) -> Path:
    return (folder / held.paths[row["pk"]]).resolve()


@transaction.atomic
def _write(held: Held) -> Interview:
    moved = _shared_places(held)
    for model, row in held.rows:
        if model is StoredFile:
            stored_at = datetime.fromisoformat(row["fields"]["stored_at"])
            StoredFile.objects.filter(pk=row["pk"]).update(stored_at=stored_at)
        elif model in OWN or not model._base_manager.filter(pk=moved[model, row["pk"]]).exists():
            _save(model, row, moved)
    interview = Interview.objects.get(pk=held.of(Interview)[0]["pk"])
    for event in held.events:
        _tell(event, moved)
    for accession in Accession.objects.filter(interview=interview):
        register.pass_over(accession)
    _reset_sequences({model for model, _ in held.rows})
    record(actor=None, action=Action.PACKAGE_TAKEN_IN, subject=interview, accession=held.accession)
    return interview


Moved = dict[tuple[type[Model], Any], Any]


def _shared_places(held: Held) -> Moved:
    """For each row that others share: the same one here, or the number that it gets."""
    moved: Moved = {}
    for model in SHARED:
        rows = held.of(model)
        last = model._base_manager.aggregate(last=Max("pk"))["last"] or 0
        free = max([last, *(row["pk"] for row in rows)]) + 1
        for row in rows:
            same = {name: _moved(model, name, row["fields"][name], moved) for name in SHARED[model]}
            twin = _twin(model, same, row["fields"])
            if twin is not None:
                moved[model, row["pk"]] = twin.pk
            elif not model._base_manager.filter(pk=row["pk"]).exists():
                moved[model, row["pk"]] = row["pk"]
            else:
                moved[model, row["pk"]], free = free, free + 1
    return moved


def _twin(model: type[Model], same: dict[str, Any], fields: dict[str, Any]) -> Model | None:
    """The row here that is the same as one of the package's. A wording of other words is no twin, and is refused."""
    twin = model._base_manager.filter(**same).first()
    if isinstance(twin, Wording) and twin.text != fields["text"]:
        raise Refused(f"This site has another text under “{twin}” ({twin.language}), and a release names its words.")
    return twin


def _save(model: type[Model], row: Row, moved: Moved) -> None:
    fields = {name: _moved(model, name, value, moved) for name, value in row["fields"].items()}
    if model is User:
        # SECURITY: a package opens no door. The coordinator opens an account again, and its owner sets a password.
        fields |= {"password": make_password(None), "is_active": False}
    if model is PrivateLink:
        # SECURITY: a link opens its one thing on the site that sent it, and nowhere else.
        fields["ended_at"] = fields["ended_at"] or fields["expires_at"]
    plain = {"model": row["model"], "pk": moved.get((model, row["pk"]), row["pk"]), "fields": fields}
    for ready in serializers.deserialize("python", [plain]):
        ready.save(force_insert=True)


def _moved(model: type[Model], name: str, value: Any, moved: Moved) -> Any:
    field = model._meta.get_field(name)
    if value is None or not isinstance(field, ForeignKey) or field.related_model not in SHARED:
        return value
    return moved[field.related_model, value]


def _tell(told: Row, moved: Moved) -> None:
    """The event as it was told, under a number of this site's, whose chain then seals it."""
    fields = {name: _moved(Event, name, value, moved) for name, value in told["fields"].items()}
    event = Event.objects.create(actor_id=fields.pop("actor"), **{**fields, "at": datetime.fromisoformat(fields["at"])})
    if "names" in told:
        EventNames.objects.create(event=event, salt=told["names"]["salt"], names=told["names"]["names"])


def _reset_sequences(models: Iterable[type[Model]]) -> None:
    """Numbers given from now on follow those that were taken in."""
    counted = [model for model in models if isinstance(model._meta.pk, AutoField)]
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), counted):
            cursor.execute(statement)
