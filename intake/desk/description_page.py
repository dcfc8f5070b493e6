"""Everything on the page that describes one interview, and on the page of its words."""

import json
from collections import Counter
from dataclasses import dataclass

from django.db.models import QuerySet
from django.urls import reverse

from intake.accounts.models import User
from intake.catalogue import headings, spelling
from intake.catalogue.complete import description_of, missing_before_cataloguing
from intake.catalogue.dates import in_words
from intake.catalogue.models import AccessPoint, Contributor, Cue, Description, Heading, TimedText
from intake.catalogue.services import DESCRIBABLE
from intake.catalogue.spelling import Suggestion, names_in
from intake.catalogue.timed import text_of
from intake.catalogue.withheld import Withheld, participants_of
from intake.desk.listening import ListeningDesk, listening_desk
from intake.desk.review_page import Check
from intake.interviews.models import Interview, Part, Participant
from intake.outputs.naming import devised_title, names_told
from intake.people.models import Person
from intake.web.parts import part_rows

UNITS = {TimedText.Kind.OUTLINE: "topic,topics", TimedText.Kind.TRANSCRIPT: "cue,cues"}


@dataclass(frozen=True)
class Named:
    """Somebody in the record: what they did, and whether the record leaves the name out."""

    person: Person
    role: str
    is_withheld: bool
    contributor: Contributor | None = None

    @property
    def life(self) -> str:
        return in_words(self.person.life_dates) if self.person.life_dates else ""


@dataclass(frozen=True)
class DescriptionPage:
    interview: Interview
    said: Description
    devised: str
    named: list[Named]
    points: list[AccessPoint]
    suggested: list[Heading]
    texts: list[tuple[TimedText.Kind, TimedText | None, str]]
    checklist: list[Check]

    @property
    def is_complete(self) -> bool:
        return all(check.done for check in self.checklist)

    @property
    def is_open(self) -> bool:
        return self.interview.state in DESCRIBABLE

    @property
    def periods(self) -> list[tuple[str, str]]:
        return [(period, in_words(period)) for period in self.said.periods]


def description_page(interview: Interview) -> DescriptionPage:
    said = description_of(interview)
    texts = [(kind, text_of(interview, kind), UNITS[kind]) for kind in TimedText.Kind]
    outline = next((text for kind, text, _ in texts if kind == TimedText.Kind.OUTLINE and text), None)
    topics = [cue.words for cue in outline.cues.all()] if outline else []
    missing = missing_before_cataloguing(interview)
    return DescriptionPage(
        interview=interview,
        said=said,
        devised=devised_title(names_told(interview, Participant.Role.NARRATOR), interview.recorded_on),
        named=_named(interview),
        points=list(interview.access_points.select_related("heading__authority")),
        suggested=headings.suggested(interview, " ".join([said.title, said.summary, interview.place, *topics])),
        texts=texts,
        checklist=[Check(False, sentence) for sentence in missing] or [Check(True, "The description is complete.")],
    )


def _named(interview: Interview) -> list[Named]:
    withheld = Withheld.of(participants_of(interview)).people
    taking_part = [
        Named(one.person, one.get_role_display(), one.person_id in withheld)
        for one in participants_of(interview)
        if one.role != Participant.Role.GUARDIAN
    ]
    others = interview.contributors.select_related("person")
    return taking_part + [Named(one.person, one.get_role_display(), one.person_id in withheld, one) for one in others]


@dataclass(frozen=True)
class TextPage:
    """`spellings` are suggestions, each with the number of cues it is about; `voices` are those who may be speaking."""

    interview: Interview
    kind: TimedText.Kind
    text: TimedText | None
    cues: list[Cue]
    parts: QuerySet[Part]
    desk: ListeningDesk | None
    spellings: list[tuple[Suggestion, int]]
    voices: list[str]

    @property
    def is_open(self) -> bool:
        return self.interview.state in DESCRIBABLE

    @property
    def is_outline(self) -> bool:
        return self.kind == TimedText.Kind.OUTLINE

    @property
    def files(self) -> list[tuple[str, str]]:
        """The name of each WebVTT file, and what it is of."""
        positions = sorted({cue.part.position for cue in self.cues if cue.part.position})
        return [(f"{self.kind}-{position:02d}.vtt", f"Part {position}") for position in positions]

    @property
    def unit(self) -> str:
        """What is counted: singular and plural, as the template takes them."""
        return UNITS[self.kind]

    @property
    def other(self) -> TimedText.Kind:
        return TimedText.Kind.TRANSCRIPT if self.is_outline else TimedText.Kind.OUTLINE


def text_page(interview: Interview, kind: TimedText.Kind, user: User) -> TextPage:
    rows = part_rows(interview, listen="desk:part-listen", user=user, drawn=False)
    text = text_of(interview, kind)
    cues = list(text.cues.all()) if text else []
    return TextPage(
        interview=interview,
        kind=kind,
        text=text,
        cues=cues,
        parts=parts_in_order(interview),
        desk=listening_desk(interview, rows, user),
        spellings=_spellings(interview, cues),
        voices=voices_of(interview),
    )


def parts_in_order(interview: Interview) -> QuerySet[Part]:
    return interview.parts.filter(position__isnull=False).order_by("position")


def voices_of(interview: Interview) -> list[str]:
    also_heard = interview.contributors.filter(role=Contributor.Role.ALSO_HEARD).select_related("person")
    taking_part = [one.person.name for one in participants_of(interview) if one.role != Participant.Role.GUARDIAN]
    return list(dict.fromkeys([*taking_part, *(one.person.name for one in also_heard)]))


def cue_urls(interview: Interview, kind: str) -> str:
    """For the page's script, as JSON: where new words of a part go."""
    return json.dumps({part.pk: reverse("desk:cue-write", args=[part.pk, kind]) for part in parts_in_order(interview)})


def _spellings(interview: Interview, cues: list[Cue]) -> list[tuple[Suggestion, int]]:
    """By the volunteer's list of names and spellings, the people and the places that the record knows."""
    people = interview.participants.select_related("person"), interview.contributors.select_related("person")
    places = Heading.objects.filter(access_points__interview=interview, kind=Heading.Kind.PLACE)
    known = [one.person.name for group in people for one in group]
    names = names_in(interview.names_and_spellings, [*known, *places.values_list("label", flat=True)])
    found = Counter(one for cue in cues for one in spelling.suggestions(f"{cue.voice}\n{cue.words}", names))
    return found.most_common()
