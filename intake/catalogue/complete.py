"""What must hold before an accepted interview is catalogued, in sentences: none when its description is complete."""

from intake.catalogue.models import AccessPoint, Contributor, Description, TimedText
from intake.catalogue.rights import LABELS, LICENCES, licence_chosen
from intake.catalogue.withheld import Withheld, participants_of
from intake.interviews.models import Interview, Participant
from intake.people.models import Person
from intake.releases.services import missing_signatures


def description_of(interview: Interview) -> Description:
    """As it is kept; before anything is, what the volunteer and the releases say already, not saved."""
    kept = Description.objects.filter(interview=interview).select_related("changed_by").first()
    return kept or Description(
        interview=interview,
        summary=interview.summary,
        languages=[interview.language],
        periods=[],
        rights=licence_chosen(participants_of(interview)),
    )


def missing_before_cataloguing(interview: Interview) -> list[str]:
    """Title and day are always there: one is devised where none is written, the other is the interview's own."""
    said, participants = description_of(interview), participants_of(interview)
    withheld = Withheld.of(participants)
    unnamed = [one for one in people_named(interview) if one.pk not in withheld.people and not one.catalogue_name]
    return [
        *([] if said.summary.strip() else ["Write the summary."]),
        *([] if said.languages else ["Say which language is spoken."]),
        *_rights(said, participants),
        *(f"Write the name of {person} as the catalogue has it." for person in unnamed),
        *missing_signatures(interview),
        *_names_told(interview, said, withheld),
    ]


def people_named(interview: Interview) -> list[Person]:
    """Everybody whom the record names, or would if no name were withheld; each once."""
    taking_part = [one.person for one in participants_of(interview) if one.role != Participant.Role.GUARDIAN]
    others = [one.person for one in Contributor.objects.filter(interview=interview).select_related("person")]
    return list(dict.fromkeys([*taking_part, *others]))


def _rights(said: Description, participants: list[Participant]) -> list[str]:
    if said.rights not in LABELS:
        return ["Choose what the record says of the rights."]
    if said.rights in LICENCES.values() and said.rights != licence_chosen(participants):
        return ["Choose another statement of rights: the narrators have not all given this licence."]
    return []


def _names_told(interview: Interview, said: Description, withheld: Withheld) -> list[str]:
    outline = TimedText.objects.filter(interview=interview, kind=TimedText.Kind.OUTLINE)
    topics = outline.exclude(cues=None).values_list("cues__words", flat=True)
    headings = AccessPoint.objects.filter(interview=interview).values_list("heading__label", flat=True)
    places = {
        "title": said.title,
        "summary": said.summary,
        "outline": "\n".join(topics),
        "list of subjects and places": "\n".join(headings),
    }
    return [
        f"The {place} tells a name that was promised withheld. Write it without."
        for place, text in places.items()
        if withheld.stands_in(text)
    ]
