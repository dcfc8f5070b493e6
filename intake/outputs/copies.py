"""Copies of a part: for listening, for work where the original is of an odd kind, and described for keeping.

The original is only read. What was not derived exactly as it should be is not kept.
"""

from collections.abc import Callable
from pathlib import Path

from django.db import transaction

from intake.audit.actions import Action
from intake.audit.models import Outcome
from intake.audit.services import record
from intake.files import services as files
from intake.files import storage
from intake.files.models import StoredFile
from intake.interviews.models import Part, Participant
from intake.interviews.services import parts_of
from intake.library import services as libraries
from intake.outputs import listening, naming, pictures, working
from intake.outputs.listening import ListeningCopyFailed, Sleeve
from intake.outputs.models import Output, OutputKind
from intake.outputs.services import existing, id_of, keep
from intake.qc import services as qc
from intake.qc.models import QCReport
from intake.qc.services import latest_report
from intake.register.models import Accession
from intake.register.services import standing

Progress = Callable[[float], None]
NOT_THE_ORIGINAL = "A copy made for listening, changed in loudness and compressed. It is not the original recording."
SOFTWARE = "oral history intake"


def make_listening_copy(part_id: int, progress: Progress) -> Output | None:
    """A small copy for the browser, as loud as speech should be; None if the file holds no sound that can be read.

    Made after the part has been measured; where that failed it is as loud as the original.
    """
    part = _part(part_id)
    assert part.file is not None, "the job is enqueued when the file has been stored"
    made = existing(OutputKind.LISTENING_COPY, part_id)
    if made:
        return made
    report = latest_report(part.file)
    gain_db = gain_db_of(report)
    sleeve = Sleeve(f"Listening copy of {part.file.name}", f"{NOT_THE_ORIGINAL} Gain: {gain_db:+.1f} dB.")
    with storage.local_path(part.file.key) as source, storage.scratch_folder() as folder:
        target = folder / "listening.mp3"
        try:
            copy = listening.make_listening_copy(
                source, target, gain_db=gain_db, sleeve=sleeve, progress=share_of(report, progress)
            )
        except ListeningCopyFailed:
            return None
        file = _stored(OutputKind.LISTENING_COPY, part_id, target, f"{part.file.name[:250]}.mp3", copy.media_type)
    return keep(OutputKind.LISTENING_COPY, part_id, part.interview, file, Action.COPY_MADE, gain_db=gain_db)


def make_sound_picture(part_id: int, progress: Progress) -> Output | None:
    """What the review desk draws of a part, from its whole length down to milliseconds; None without sound."""
    part = _part(part_id)
    assert part.file is not None, "the job is enqueued when the file has been measured"
    made = existing(OutputKind.SOUND_PICTURE, part_id)
    report = QCReport.objects.defer(None).filter(file=part.file).order_by("-pk").first()
    if made or report is None or not report.measurement:
        return made
    with storage.local_path(part.file.key) as source, storage.scratch_folder() as folder:
        target = folder / "picture"
        qc.draw(source, target, report, progress)
        file = _stored(
            OutputKind.SOUND_PICTURE, part_id, target, f"{part.file.name[:246]}.picture", pictures.MEDIA_TYPE
        )
    return keep(OutputKind.SOUND_PICTURE, part_id, part.interview, file, Action.COPY_MADE)


def needs_working_copy(file: StoredFile) -> bool:
    """Whether a file is of a kind that most sound programs do not open as they open a WAV, and can be decoded."""
    report = latest_report(file)
    if report is None or not report.measurement:
        return False
    return report.measurement["format"]["container"] not in working.USUAL


def make_working_copy(part_id: int, progress: Progress) -> Output | None:
    """What can be decoded of a telephone's or a video's sound as a FLAC; None where nothing can be decoded."""
    part = _part(part_id)
    assert part.file is not None, "the job is enqueued when the file has been measured"
    made = existing(OutputKind.WORKING_COPY, part_id)
    if made:
        return made
    with storage.local_path(part.file.key) as source, storage.scratch_folder() as folder:
        target = folder / "working.flac"
        try:
            working.decode(source, target, progress=share_of(latest_report(part.file), progress))
        except ListeningCopyFailed:
            return None
        file = _stored(OutputKind.WORKING_COPY, part_id, target, f"{part.file.name[:249]}.flac", working.MEDIA_TYPE)
    return keep(OutputKind.WORKING_COPY, part_id, part.interview, file, Action.COPY_MADE)


def make_described_copies(accession_id: int, progress: Progress) -> list[Output]:
    """A copy of each part of an accession that says in itself what it is, its samples proven to be the original's.

    Kinds of files that take no texts, and damaged headers, have none; the record says why.
    """
    accession = Accession.objects.select_related("interview__collection").get(pk=accession_id)
    if not accession.stands:
        return []
    parts, made = parts_of(accession.interview), []
    for number, part in enumerate(parts):
        output = _described(accession, part)
        made += [output] if output else []
        progress((number + 1) / len(parts))
    return made


def described_copy_of(part: Part) -> Output | None:
    """The described copy that the standing accession has of a part."""
    accession = standing(part.interview)
    return existing(OutputKind.DESCRIBED_COPY, described_id(accession, part)) if accession else None


def described_id(accession: Accession, part: Part) -> str:
    """What a described copy is made of: a part, under the accession that it names."""
    return f"{accession.pk}/{part.pk}"


def _described(accession: Accession, part: Part) -> Output | None:
    report = latest_report(part.file)
    assert part.file is not None, "an interview is accepted only when every part is stored"
    assert report is not None, "an interview is accepted only when every part is measured"
    subject = described_id(accession, part)
    made = existing(OutputKind.DESCRIBED_COPY, subject)
    if made or not report.measurement:
        return made
    name = naming.copy_name(part, Path(part.file.name).suffix)
    with storage.local_path(part.file.key) as source, storage.scratch_folder() as folder:
        target = folder / "described"
        why_not = qc.describe(source, target, report, texts=_texts(accession, part))
        if why_not:
            _note_why_not(accession, part, why_not)
            return None
        file = _stored(OutputKind.DESCRIBED_COPY, subject, target, name, part.file.media_type)
    sha256 = report.samples_sha256
    return keep(OutputKind.DESCRIBED_COPY, subject, accession.interview, file, Action.COPY_MADE, samples_sha256=sha256)


@transaction.atomic
def _note_why_not(accession: Accession, part: Part, why_not: str) -> None:
    record(
        actor=None,
        action=Action.COPY_MADE,
        subject=part,
        thread=accession.interview,
        outcome=Outcome.FAILURE,
        kind=OutputKind.DESCRIBED_COPY,
        reason=why_not,
    )


def _texts(accession: Accession, part: Part) -> qc.Texts:
    interview = accession.interview
    assert part.file is not None, "only a stored part is described"
    people = [name for role in Participant.Role.values for name in naming.names_told(interview, role)]
    return qc.Texts(
        title=f"{naming.title_told(interview)}, part {part.position}",
        people="; ".join(people),
        date=interview.recorded_on.isoformat(),
        comment=f"Described copy of {part.file.name} (SHA-256 {part.file.sha256}); the samples are unchanged.",
        rights=accession.snapshot["restriction"],
        organisation=libraries.current().name,
        reference=accession.number,
        software=SOFTWARE,
    )


def _part(part_id: int) -> Part:
    return Part.objects.select_related("file", "interview__collection").get(pk=part_id)


def _stored(kind: OutputKind, subject: object, target: Path, name: str, media_type: str) -> StoredFile:
    return files.keep(target, file_id=id_of(kind, subject), name=name, media_type=media_type)


def gain_db_of(report: QCReport | None) -> float:
    if report is None or not report.measurement:
        return 0.0
    measured = report.measurement
    return listening.gain_for(measured["loudness"]["integrated_lufs"], measured["true_peak"]["true_peak_dbtp"])


def share_of(report: QCReport | None, progress: Progress) -> Progress:
    """Seconds read, told as the share of the whole; the length is known once the part has been measured."""
    seconds = report.measurement["format"]["seconds"] if report and report.measurement else 0
    return lambda read: progress(min(read / seconds, 1.0) if seconds else 0.0)
