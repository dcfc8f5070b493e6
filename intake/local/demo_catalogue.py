"""How the demo's archivist describes: headings read, people named, records and words written, through the services."""

from typing import Any

from intake import workflow
from intake.catalogue import headings, timed
from intake.catalogue import services as catalogue
from intake.catalogue.models import TimedText
from intake.catalogue.services import Said
from intake.catalogue.webvtt import Spoken
from intake.interviews.models import Interview
from intake.local.demo_people import Account
from intake.local.demo_steps import user


def read_headings(name: str, lines: str, *, kind: str, by: Account) -> None:
    """Read a list of headings from CSV, as from a file."""
    headings.take_in_list(name, "local", kind=kind, file_name="headings.csv", content=lines.encode(), actor=user(by))


def name(interview: Interview, person: str, catalogued: str, *, by: Account, **said: Any) -> None:
    """Say how the catalogue names somebody who takes part in an interview."""
    known = interview.participants.get(person__name=person).person
    told = {"variant_names": [], "life_dates": "", "uri": "", **said}
    catalogue.name_person(known.pk, catalogue_name=catalogued, actor=user(by), **told)


def describe(interview: Interview, said: Said, found_under: dict[str, str], *, by: Account) -> None:
    """Write the record, and give it headings: what each has to do with it, by its label."""
    catalogue.describe(interview.pk, said=said, actor=user(by))
    for label, use in found_under.items():
        catalogue.give_heading(interview.pk, heading=headings.named(label)[0], use=use, actor=user(by))


def outline(interview: Interview, topics: dict[float, str], *, by: Account) -> None:
    """What the first part is about, by the seconds at which it begins."""
    part = interview.parts.get(position=1)
    for seconds, words in topics.items():
        said = Spoken(round(seconds * 1000), None, "", words)
        timed.write_cue(part.pk, kind=TimedText.Kind.OUTLINE, said=said, actor=user(by))


def read_transcript(interview: Interview, content: bytes, *, by: Account) -> None:
    part = interview.parts.get(position=1)
    kind = TimedText.Kind.TRANSCRIPT
    timed.read_file(interview.pk, kind=kind, part=part, name="transcript.vtt", content=content, actor=user(by))


def catalogued(interview: Interview, *, by: Account) -> None:
    timed.check(interview.pk, kind=TimedText.Kind.TRANSCRIPT, actor=user(by))
    workflow.describe(interview.pk, actor=user(by))
