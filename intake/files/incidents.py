"""A bad copy: told, set aside, restored from a good one, and never in a way that could lose a byte.

Every step leaves a row that says how far it came, and may be done again after a stop at any point.
"""

import logging
from contextlib import AbstractContextManager, nullcontext
from datetime import timedelta
from pathlib import Path

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.models import Outcome
from intake.audit.services import record
from intake.errors import Refused
from intake.files import fixity, storage, stores
from intake.files.fixity import Reader, Reading
from intake.files.models import Audit, FixityCheck, Incident, IncidentState, StoredFile, Why
from intake.files.stores import FAULTS, StoreGone

# Time for a copy to be restored, and for one letter to tell of many.
TOLD_AFTER = timedelta(minutes=10)

logger = logging.getLogger(__name__)


class NotRestored(OSError):
    """What was placed is not what was read back; the incident stays open."""


def examine(
    file: StoredFile, reader: Reader, *, only: str = "", progress: storage.Progress = lambda count: None
) -> dict[str, Reading]:
    """Read every copy of a file (or one store's alone) and mend what is bad; what was found, by store.

    Raises fixity.BeingRead. A store that is gone is told as an incident of its own, and its copies are not judged.
    """
    with fixity.alone_with(file):
        readings = {}
        for store in [only] if only else storage.STORES:
            reading = _judge(file, store, reader, progress)
            if reading:
                readings[store] = reading
        if fixity.open_incidents(file):
            _mend(file, reader, dict(readings))
    return readings


def go_on_with(file: StoredFile, reader: Reader) -> None:
    """Take what is open about a file as far as it goes now. Raises fixity.BeingRead."""
    with fixity.alone_with(file):
        _mend(file, reader, {})


def give_back(file: StoredFile, source: Path, *, actor: User | None = None) -> list[str]:
    """Put a good copy of a damaged file, from a card or a backup, wherever a store has none; the stores mended.

    Raises Refused for anything but the very bytes that were handed in.
    """
    if storage.sha256_of_path(source) != file.sha256:
        raise Refused(
            f"This is not “{file.name}” as it was handed in: its SHA-256 differs. Nothing was changed. "
            f"Look for the file whose SHA-256 is {file.sha256}."
        )
    reader = Reader(Why.ASKED, by=actor)
    with fixity.alone_with(file):
        readings = {store: _judge(file, store, reader) for store in storage.STORES}
        with transaction.atomic():
            record(actor=actor, action=Action.GOOD_COPY_GIVEN_BACK, subject=file, sha256=file.sha256)
        for incident in fixity.open_incidents(file):
            _restore_from(incident, file, nullcontext(source), reader)
    return [store for store, reading in readings.items() if reading and not reading.is_good]


def tell_store_gone(store: str, why: StoreGone) -> None:
    """One incident for the whole store, however many copies it holds."""
    incident = _open(None, store, None, f"The {store} store is not there. {why}")
    if incident:
        logger.error("%s", incident.told)


def note_stores() -> set[str]:
    """Look whether the stores are there; tells of one that has gone or come back. Returns those that are gone."""
    gone = set()
    for store in storage.STORES:
        try:
            stores.require(store)
        except StoreGone as why:
            gone.add(store)
            tell_store_gone(store, why)
        else:
            _store_is_back(store)
    return gone


def are_to_be_told() -> bool:
    """Whether there is something that nobody was written to about. It waits a little: most is put right by then."""
    return Incident.objects.filter(notified_at=None, found_at__lt=timezone.now() - TOLD_AFTER).exists()


def is_lost(file: StoredFile) -> bool:
    """Whether no copy of this file is known to be good: nothing was overwritten, and somebody has to look."""
    copies = list(file.stored_copies.all())
    return any(copy.found for copy in copies) and not fixity.verified_stores(file)


def _judge(
    file: StoredFile, store: str, reader: Reader, progress: storage.Progress = lambda count: None
) -> Reading | None:
    """Read one copy; if it is bad, an incident is open afterwards. None if its store is gone."""
    try:
        reading, check = fixity.read_and_note(file, store, reader, progress)
    except StoreGone as why:
        tell_store_gone(store, why)
        return None
    if not reading.is_good:
        _accuse(file, store, check, reading.in_words(file), reader.audit)
    return reading


def _accuse(file: StoredFile, store: str, check: FixityCheck, told: str, audit: Audit | None) -> None:
    if _open(file, store, check, told):
        logger.error("%s %s", told, file.key)
        if audit:
            Audit.objects.filter(pk=audit.pk).update(bad_copies=F("bad_copies") + 1)


def _open(file: StoredFile | None, store: str, check: FixityCheck | None, told: str) -> Incident | None:
    """The new incident; None if one is open already."""
    if Incident.objects.filter(file=file, store=store, closed_at=None).exists():
        return None
    try:
        with transaction.atomic():
            incident = Incident.objects.create(file=file, store=store, check_found=check, told=told[:500])
            record(
                actor=None,
                action=Action.BAD_COPY_FOUND if file else Action.STORE_GONE,
                subject=file or incident,
                outcome=Outcome.FAILURE,
                store=store,
                told=incident.told,
                incident=incident.pk,
            )
    except IntegrityError:  # another process was quicker to say so
        return None
    return incident


def _mend(file: StoredFile, reader: Reader, fresh: dict[str, Reading]) -> None:
    """Restore every bad copy from one that has been read just now and matches; `fresh` holds what was read just now."""
    for store in storage.STORES:
        if store not in fresh:
            reading = _judge(file, store, reader)
            if reading:
                fresh[store] = reading
    good = next((store for store, reading in fresh.items() if reading.is_good), "")
    for incident in fixity.open_incidents(file):
        if incident.store not in fresh:
            continue  # its store is gone
        if fresh[incident.store].is_good:
            was_ours = incident.state == IncidentState.SET_ASIDE  # we were stopped before we could say so
            _close(incident, IncidentState.RESTORED if was_ours else IncidentState.RIGHT_AGAIN, reader)
        elif not good:
            _no_good_copy(incident)
        else:
            _restore_from(incident, file, stores.path_of_copy(good, file.key), reader)


def _restore_from(incident: Incident, file: StoredFile, source: AbstractContextManager[Path], reader: Reader) -> None:
    """Set aside, place, read back, compare, say so. What a disk says against it stands on the incident."""
    try:
        with source as path:
            _set_aside(incident, file)
            storage.place(incident.store, file.key, path)
        _read_back(incident, file, reader)
    except FAULTS as error:
        logger.warning("the %s copy of %s was not restored: %s", incident.store, file.key, error)
        incident.hindrance = stores.in_words(error)[:500]
        incident.save(update_fields=["hindrance"])
    else:
        _close(incident, IncidentState.RESTORED, reader)


def _set_aside(incident: Incident, file: StoredFile) -> None:
    """Told once per name: also of what was moved just before we were stopped."""
    name = stores.set_aside(incident.store, file.key, str(incident.pk))
    is_first = incident.state != IncidentState.SET_ASIDE
    if is_first and not name:
        name = stores.set_aside_before(incident.store, file.key, str(incident.pk))
    with transaction.atomic():
        if is_first:
            incident.state = IncidentState.SET_ASIDE
            incident.save(update_fields=["state"])
        if name:
            record(
                actor=None,
                action=Action.COPY_SET_ASIDE,
                subject=file,
                store=incident.store,
                name=name,
                incident=incident.pk,
            )


def _read_back(incident: Incident, file: StoredFile, reader: Reader) -> None:
    reading = fixity.read_copy(file, incident.store)
    fixity.note(file, reading, Reader(Why.RESTORED, by=reader.by, audit=reader.audit))
    if not reading.is_good:
        raise NotRestored(f"what was placed was read back: {reading.in_words(file)}")


def _no_good_copy(incident: Incident) -> None:
    """Nothing is moved and nothing overwritten: what is left of the file may be all there is."""
    if incident.state == IncidentState.NO_GOOD_COPY:
        return
    with transaction.atomic():
        incident.state = IncidentState.NO_GOOD_COPY
        incident.save(update_fields=["state"])
        assert incident.file is not None, "only a file's copy lacks a good one"
        record(
            actor=None,
            action=Action.NO_GOOD_COPY,
            subject=incident.file,
            outcome=Outcome.FAILURE,
            store=incident.store,
            incident=incident.pk,
        )


@transaction.atomic
def _close(incident: Incident, state: IncidentState, reader: Reader) -> None:
    incident.state, incident.closed_at, incident.hindrance = state, timezone.now(), ""
    incident.save(update_fields=["state", "closed_at", "hindrance"])
    record(
        actor=reader.by,
        action=Action.COPY_RESTORED if state == IncidentState.RESTORED else Action.COPY_RIGHT_AGAIN,
        subject=incident.file or incident,
        store=incident.store,
        incident=incident.pk,
    )


def _store_is_back(store: str) -> None:
    for incident in Incident.objects.filter(file=None, store=store, closed_at=None):
        _close(incident, IncidentState.RIGHT_AGAIN, Reader(Why.SCHEDULE))
