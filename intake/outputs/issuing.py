"""The papers of an interview: what there is, who has them, sending them, and issuing them again."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Model, Q
from django.utils import timezone

from intake.access.policy import Act, Audience
from intake.access.services import refuse_unless
from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.codes import digest_of
from intake.errors import Refused, refuse_if
from intake.interviews.models import Interview, Part, Participant
from intake.interviews.services import correspondents_of, parts_of, patrons_of
from intake.jobs.models import Kind
from intake.jobs.services import enqueue
from intake.mail import services as mail
from intake.mail.models import Message
from intake.outputs.letters import LONGEST
from intake.outputs.models import PAPERS, Letter, Output, OutputKind, Reissue
from intake.outputs.paper_data import named_now
from intake.outputs.services import check_url, existing
from intake.people.models import Person
from intake.people.services import address_of
from intake.qc.services import latest_report
from intake.register.models import Accession, Arrival
from intake.releases.models import Agreement, Release

# What a message calls the paper that comes with it.
CALLED = {
    OutputKind.RELEASE_COPY: "your copy of the release that you signed",
    OutputKind.AGREEMENT_COPY: "your copy of the agreement that you signed",
    OutputKind.ARRIVAL_RECEIPT: "an arrival receipt",
    OutputKind.RECEIPT: "an acceptance receipt",
    OutputKind.LETTER: "a letter to you",
    OutputKind.QUALITY_REPORT: "a quality report",
}
SIGNED = (OutputKind.RELEASE_COPY, OutputKind.AGREEMENT_COPY)


@dataclass(frozen=True)
class Holder:
    """Somebody whom a paper is for; `address` is empty if they have none here."""

    name: str
    address: str


@dataclass(frozen=True)
class PaperRow:
    """One paper of an interview: its newest version, those before it, and a version that is being made."""

    title: str
    newest: Output
    earlier: list[Output]
    coming: Reissue | None


def papers_of(interview: Interview) -> list[PaperRow]:
    """Every paper that was made, in the order of their first versions."""
    made: dict[tuple[str, str], list[Output]] = {}
    for output in interview.outputs.select_related("file").filter(kind__in=PAPERS).order_by("pk"):
        made.setdefault((output.kind, output.subject_id), []).append(output)
    asked = {(one.kind, one.subject_id): one for one in interview.reissues.order_by("version")}
    return [_row(versions, asked.get(key)) for key, versions in made.items()]


def own_papers(participant: Participant) -> list[PaperRow]:
    """The papers of an interview that are for one of those who take part in it."""
    return [row for row in papers_of(participant.interview) if _is_for(row.newest, participant)]


def title_of(paper: Output) -> str:
    """What a paper is called in a list: its kind, with its number, its part or the person it is for."""
    kind, pk = OutputKind(paper.kind), paper.subject_id
    if kind == OutputKind.LETTER:
        return str(Letter.objects.select_related("person").get(pk=pk))
    if kind == OutputKind.QUALITY_REPORT:
        part = Part.objects.get(pk=pk.split("/")[1])
        return f"{kind.label} of {f'part {part.position}' if part.position else 'a part that was taken out'}"
    of = f", {_person_of(paper).name}" if kind in SIGNED else ""
    return f"{kind.label} {number_of(paper)}{of}"


def number_of(paper: Output) -> str:
    """The number under which anybody may check a paper; empty for letters and quality reports, which have none."""
    numbered: dict[str, tuple[type[Model], str]] = {
        OutputKind.RELEASE_COPY: (Release, "number"),
        OutputKind.AGREEMENT_COPY: (Agreement, "number"),
        OutputKind.ARRIVAL_RECEIPT: (Arrival, "number"),
        OutputKind.RECEIPT: (Accession, "receipt_number"),
    }
    if paper.kind not in numbered:
        return ""
    model, name = numbered[paper.kind]
    return str(getattr(model._base_manager.get(pk=paper.subject_id), name))


def holders_of(paper: Output) -> list[Holder]:
    """Whom a paper is for: nobody else is sent it. Those without an address come last."""
    interview = paper.interview
    if paper.kind == OutputKind.RECEIPT:
        holders = [Holder(name, address) for name, address in patrons_of(interview)]
        people = [interview.given_by, *interview.people(Participant.Role.NARRATOR)]
    elif paper.kind in {OutputKind.ARRIVAL_RECEIPT, OutputKind.QUALITY_REPORT}:
        holders = [Holder(name, address) for name, address, _ in correspondents_of(interview)]
        people = [interview.given_by]
    else:
        person = _person_of(paper)
        return [Holder(person.name, address_of(person))]
    without = {person.pk: Holder(person.name, "") for person in people if not address_of(person)}
    return [*holders, *without.values()]


def to_be_sent(paper: Output) -> list[Holder]:
    """Those whom a paper is for, who have an address, and to whom it was not written yet.

    A message that was written is sent once more from its own page, where its trouble shows.
    """
    written = {message.to for message in messages_with(paper)}
    return [holder for holder in holders_of(paper) if holder.address and holder.address not in written]


@transaction.atomic
def send_paper(paper: Output, *, to: Iterable[str], actor: User) -> list[Message]:
    """Send the newest version of a paper by e-mail to some of those whom it is for. Raises Refused."""
    refuse_if(_not_staff(actor))
    refuse_unless(Act.SEE, paper.interview, Audience.PARTY)
    chosen = [holder for holder in to_be_sent(paper) if holder.address in set(to)]
    if not chosen:
        raise Refused("Choose who gets it: somebody whom the paper is for, and to whom it was not sent yet.")
    written = [_write(paper, holder) for holder in chosen]
    record(
        actor=actor,
        action=Action.PAPER_SENT,
        subject=paper,
        thread=paper.interview,
        names={"to": ", ".join(holder.address for holder in chosen)},
        kind=paper.kind,
    )
    return written


@transaction.atomic
def reissue(paper: Output, *, reason: str, actor: User, text: str = "") -> Reissue:
    """Ask for the next version of a paper; it goes to everybody whom the paper is for. Raises Refused.

    A letter may have another `text`. A receipt names things as they are called now; what was accepted stays.
    """
    refuse_if(_not_staff(actor))
    reason, text = " ".join(reason.split()), text.strip()
    if not reason:
        raise Refused("Say why it is issued again. Whoever holds the paper reads it.")
    if len(text) > LONGEST:
        raise Refused(f"Keep the letter under {LONGEST:,} characters.")
    # The newest version is the lock under which two people do not ask for the same next one.
    newest = Output.objects.select_for_update(of=("self",)).select_related("interview").get(pk=paper.pk)
    refuse_if(_not_to_be_issued(newest))
    asked = Reissue.objects.filter(kind=newest.kind, subject_id=newest.subject_id).last()
    if asked and existing(newest.kind, newest.subject_id, version=asked.version) is None:
        raise Refused("The next version of this paper is being made already.")
    made = Reissue.objects.create(
        kind=newest.kind,
        subject_id=newest.subject_id,
        version=newest.version + 1,
        interview=newest.interview,
        reason=reason,
        words=_words_of(newest, text, asked),
        asked_by=actor,
        asked_at=timezone.now(),
    )
    record(
        actor=actor,
        action=Action.PAPER_REISSUED,
        subject=newest,
        thread=newest.interview,
        names={"reason": reason},
        kind=newest.kind,
        version=made.version,
    )
    enqueue(Kind.REISSUE_PAPER, made.pk)
    return made


@transaction.atomic
def ask_for_quality_report(part: Part, *, actor: User) -> None:
    """Have the newest report on a part printed. Raises Refused while there is none."""
    refuse_if(_not_staff(actor))
    report = latest_report(part.file)
    if report is None:
        raise Refused("This part has not been measured yet.")
    enqueue(Kind.MAKE_QUALITY_REPORT, f"{report.pk}/{part.pk}")


def print_quality_reports(interview: Interview) -> None:
    """Have the newest report on every part printed, as the acceptance rested on it."""
    for _, subject in _measured(interview):
        enqueue(Kind.MAKE_QUALITY_REPORT, subject)


def parts_to_report(interview: Interview) -> list[Part]:
    """The parts whose newest report has not been printed yet."""
    made = set(interview.outputs.filter(kind=OutputKind.QUALITY_REPORT).values_list("subject_id", flat=True))
    return [part for part, subject in _measured(interview) if subject not in made]


def send_to_holders(paper: Output) -> None:
    """Send a version that replaces another to everybody whom it is for and who has an address."""
    for holder in holders_of(paper):
        if holder.address:
            _write(paper, holder)


def messages_with(paper: Output) -> list[Message]:
    """The messages that carried a version of a paper, newest first."""
    return list(Message.objects.filter(attachments=paper.file))


def newest_of(paper: Output) -> Output:
    newest = existing(paper.kind, paper.subject_id)
    assert newest is not None, "it is there itself"
    return newest


def _measured(interview: Interview) -> list[tuple[Part, str]]:
    """The parts that have been measured, each with the subject of its newest quality report."""
    reports = [(part, latest_report(part.file)) for part in parts_of(interview)]
    return [(part, f"{report.pk}/{part.pk}") for part, report in reports if report]


def _row(versions: list[Output], asked: Reissue | None) -> PaperRow:
    *earlier, newest = sorted(versions, key=lambda output: output.version)
    coming = asked if asked and asked.version > newest.version else None
    return PaperRow(title_of(newest), newest, earlier, coming)


def _write(paper: Output, holder: Holder) -> Message:
    number = number_of(paper)
    why = Reissue.objects.filter(kind=paper.kind, subject_id=paper.subject_id, version=paper.version).first()
    message = mail.write(
        key=f"paper-{paper.pk}-{digest_of(holder.address)[:16]}",
        to=holder.address,
        template="paper",
        thread=paper.interview,
        context={
            "name": holder.name,
            "called": CALLED[OutputKind(paper.kind)],
            "reissue": why,
            "number": number,
            "url": check_url(number) if number else "",
        },
        attachments=[paper.file],
    )
    assert message is not None, "only somebody with an address is written to"
    return message


def _is_for(paper: Output, participant: Participant) -> bool:
    if paper.kind == OutputKind.RECEIPT:
        is_giver = participant.person_id == participant.interview.given_by_id
        return is_giver or participant.role == Participant.Role.NARRATOR
    return paper.kind in {*SIGNED, OutputKind.LETTER} and _person_of(paper).pk == participant.person_id


def _person_of(paper: Output) -> Person:
    if paper.kind == OutputKind.LETTER:
        return Letter.objects.select_related("person__user").get(pk=paper.subject_id).person
    model = Release if paper.kind == OutputKind.RELEASE_COPY else Agreement
    signed = model.objects.select_related("participant__person__user").get(pk=paper.subject_id)
    return signed.participant.person


def _words_of(paper: Output, text: str, before: Reissue | None) -> dict[str, object]:
    """What the next version says otherwise than the first; a letter without another text says what it said last."""
    if paper.kind == OutputKind.RECEIPT:
        return named_now(paper.interview)
    if paper.kind == OutputKind.LETTER and text:
        return {"text": text}
    return before.words if before else {}


def _not_to_be_issued(paper: Output) -> list[str]:
    if newest_of(paper).pk != paper.pk:
        return ["Only the newest version of a paper is issued again."]
    if paper.kind == OutputKind.RECEIPT and not Accession.objects.get(pk=paper.subject_id).stands:
        return ["This acceptance was undone, so its receipt is not issued again."]
    later = Q(replaced_by__isnull=False)
    if paper.kind == OutputKind.ARRIVAL_RECEIPT and Arrival.objects.filter(later, pk=paper.subject_id).exists():
        return ["A later arrival receipt has replaced this one."]
    return []


def _not_staff(actor: User) -> list[str]:
    return [] if actor.is_archivist else ["Only the library's staff hand papers out."]
