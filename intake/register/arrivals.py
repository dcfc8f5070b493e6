"""Note what arrived with one hand-in. Nothing here accepts anything."""

from intake.accounts.models import User
from intake.codes import readable_code
from intake.files.models import StoredFile
from intake.files.services import is_safe
from intake.interviews.attachments import attachments_of
from intake.interviews.models import Interview, Participant
from intake.interviews.services import parts_of
from intake.qc.services import may_be_cleared
from intake.register.models import Arrival
from intake.releases.restrictions import names_withheld
from intake.releases.services import missing_signatures


def note_arrival(interview: Interview, *, actor: User) -> Arrival:
    """Write down what has arrived, in the transaction of the hand-in, which holds the interview's lock."""
    assert interview.submitted_at is not None, "an arrival is noted when the interview is handed in"
    return Arrival.objects.create(
        interview=interview,
        number=f"A-{readable_code(2)}",
        by=actor,
        at=interview.submitted_at,
        replaces=latest_arrival(interview),
        snapshot=_snapshot(interview, actor),
    )


def latest_arrival(interview: Interview) -> Arrival | None:
    return interview.arrivals.last()


def _snapshot(interview: Interview, actor: User) -> dict[str, object]:
    return {
        "title": interview.title,
        "collection": interview.collection.name,
        "recorded_on": interview.recorded_on.isoformat(),
        "place": interview.place,
        "narrators": [person.name for person in interview.people(Participant.Role.NARRATOR)],
        "handed_in_by": actor.name,
        "given_by": interview.given_by.name,
        "withheld": names_withheld(interview),
        "files": [_file(label, file) for label, file in _files(interview)],
        "may_be_cleared": _may_be_cleared(interview),
        "open": missing_signatures(interview),
    }


def _files(interview: Interview) -> list[tuple[str, StoredFile]]:
    """Everything handed in with the interview, in order, each with what it is called on the receipt."""
    parts = [(f"Part {part.position}", _stored(part.file)) for part in parts_of(interview)]
    return parts + [(one.get_kind_display(), _stored(one.file)) for one in attachments_of(interview)]


def _may_be_cleared(interview: Interview) -> bool:
    """Whether the card may lose all of it: recordings were looked at as sound; of the rest two copies match."""
    recordings = all(may_be_cleared(part.file) for part in parts_of(interview))
    return recordings and all(is_safe(_stored(one.file)) for one in attachments_of(interview))


def _stored(file: StoredFile | None) -> StoredFile:
    assert file is not None, "an interview is handed in only when every file is stored"
    return file


def _file(label: str, file: StoredFile) -> dict[str, object]:
    return {
        "label": label,
        "name": file.name,
        "bytes": file.bytes,
        "sha256": file.sha256,
        "arrived_at": file.stored_at.isoformat(),
    }
