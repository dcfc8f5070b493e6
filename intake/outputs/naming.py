"""What a copy and a record may be called: names that were promised withheld are left out."""

from collections.abc import Iterable
from datetime import date

from django.db.models import QuerySet

from intake.interviews.models import Interview, Part, Participant
from intake.library import services as libraries
from intake.library.naming import named
from intake.outputs.names import safe_name
from intake.register.services import standing
from intake.releases.models import Release

WITHHELD = "name withheld"
# So that nobody takes either for the original.
LISTENING_ENDING = "_listening-copy.mp3"
WORKING_ENDING = "_working-copy.flac"
ACCESS_ENDING = "_access-copy.mp3"


def names_told(interview: Interview, role: str) -> list[str]:
    """The people in one role by name, or that it is withheld, in the order in which they were added."""
    withheld = set(_withheld(interview).values_list("participant", flat=True))
    return [
        f"{role}, {WITHHELD}" if participant.pk in withheld else participant.person.name
        for participant in interview.participants.filter(role=role).select_related("person")
    ]


def people_withheld(interview: Interview) -> set[int]:
    """The persons whose names are withheld."""
    return set(_withheld(interview).values_list("participant__person", flat=True))


def accounts_withheld(interview: Interview) -> set[int]:
    """The accounts of those whose names are withheld."""
    people = _withheld(interview).exclude(participant__person__user=None)
    return set(people.values_list("participant__person__user", flat=True))


def title_told(interview: Interview) -> str:
    """A devised title, as it may go out of the house."""
    return devised_title(names_told(interview, Participant.Role.NARRATOR), interview.recorded_on)


def devised_title(narrators: Iterable[str], recorded_on: date) -> str:
    """Of the narrators as they may be named, and the day."""
    return f"Interview with {' and '.join(narrators) or 'a narrator not yet named'}, {recorded_on.isoformat()}"


def copy_name(part: Part, ending: str) -> str:
    """The file name of a copy of a part, by the library's pattern; with this ending."""
    interview = part.interview
    narrators = names_told(interview, Participant.Role.NARRATOR)
    accession = standing(interview)
    known = {
        "date": interview.recorded_on.isoformat(),
        "narrator": _plain(narrators[0] + ("-and-others" if len(narrators) > 1 else "")) if narrators else "",
        "part": f"part-{part.position}" if part.position else f"taken-out-{part.pk}",
        "accession": _plain(accession.number) if accession else "",
        "collection": _plain(interview.collection.name),
        "place": _plain(interview.place),
    }
    return safe_name(named(libraries.current().copy_name_pattern, known) + ending)


def _plain(words: str) -> str:
    """Without its dots, which would be taken for an ending."""
    return safe_name(words.replace(".", "-"), otherwise="")


def _withheld(interview: Interview) -> QuerySet[Release]:
    return Release.objects.filter(participant__interview=interview, withdrawn_at=None, name_withheld=True)
