"""Fill a store again that was lost as a whole, from the other one: one event, and no incident for each missing copy."""

from collections.abc import Callable

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.models import Outcome
from intake.audit.services import record
from intake.errors import Refused
from intake.files import audits, fixity, incidents, storage, stores
from intake.files.fixity import Reader
from intake.files.models import Audit, FixityCheck, Found, StoredFile, Why


def rebuild(store: str, progress: Callable[[int, int], None], *, actor: User | None = None) -> Audit:
    """Mark the new place as this store, and place every file that it lacks from a copy that has just been read.

    What stands there already is read; what is bad is mended like any other. Stopped, it goes on where it was.
    Raises Refused for a store that is not among ours.
    """
    if store not in storage.STORES:
        raise Refused(f"There is no {store} store. The stores are {' and '.join(storage.STORES)}.")
    stores.mark(store)
    incidents.note_stores()
    fixity.ensure_copies()
    audit = audits.open_audit(about=f"store:{store}", why=Why.ASKED, actor=actor)
    reader = Reader(Why.ASKED, by=actor, audit=audit)
    files = StoredFile.objects.order_by("stored_at", "pk")
    done, total = 0, files.aggregate(bytes=Sum("bytes"))["bytes"] or 0
    for pk in list(files.values_list("pk", flat=True)):
        file = StoredFile.objects.get(pk=pk)
        if not _is_filled(file, store, audit):
            _fill(file, store, reader)
        done += file.bytes
        progress(done, total)
    return _end(audit, store)


def _fill(file: StoredFile, store: str, reader: Reader) -> None:
    """Place a copy where there is none; whatever stands there, or could not be placed, is left to the incidents."""
    with fixity.alone_with(file):
        if not stores.stands(store, file.key):
            for other in storage.STORES:
                if other != store and fixity.read_and_note(file, other, reader)[0].is_good:
                    with stores.path_of_copy(other, file.key) as source:
                        storage.place(store, file.key, source)
                    fixity.note(
                        file, fixity.read_copy(file, store), Reader(Why.RESTORED, by=reader.by, audit=reader.audit)
                    )
                    break
    if not _is_filled(file, store, reader.audit):
        incidents.examine(file, reader, only=store)


def _is_filled(file: StoredFile, store: str, audit: Audit | None) -> bool:
    """Whether this audit has read the copy in this store and found it right."""
    return FixityCheck.objects.filter(audit=audit, file=file, store=store, found=Found.MATCHES).exists()


@transaction.atomic
def _end(audit: Audit, store: str) -> Audit:
    audit.refresh_from_db()
    audit.finished_at, audit.ended_because = timezone.now(), audits.ALL_ASKED_FOR
    audit.save(update_fields=["finished_at", "ended_because"])
    placed = audit.checks.filter(store=store, why=Why.RESTORED, found=Found.MATCHES).count()
    record(
        actor=audit.by,
        action=Action.STORE_REBUILT,
        subject=audit,
        outcome=Outcome.FAILURE if audit.bad_copies else Outcome.SUCCESS,
        store=store,
        placed=placed,
        bad_copies=audit.bad_copies,
        bytes=audit.bytes_read,
    )
    return audit
