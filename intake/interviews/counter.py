"""Somebody comes to the counter with a card or a folder: staff begin the interview for them."""

from dataclasses import dataclass

from django.db import models, transaction
from django.db.models import QuerySet

from intake.accounts.models import Role, User
from intake.errors import Refused
from intake.interviews import services
from intake.interviews.models import Interview
from intake.interviews.services import Description
from intake.people import services as people
from intake.people.models import Person


class Involved(models.TextChoices):
    """What whoever gives a recording has to do with it."""

    NARRATOR = "narrator", "They are the narrator"
    INTERVIEWER = "interviewer", "They are the interviewer"
    FINDER = "finder", "Neither: they found or kept the recording"


@dataclass(frozen=True)
class Named:
    """Somebody as staff name them: a person who is known already, or a name and an address to note."""

    name: str
    email: str = ""
    known: Person | None = None

    def person(self, actor: User) -> Person:
        return self.known or people.note_person(name=self.name, email=self.email, actor=actor)


@transaction.atomic
def start_at_counter(
    *,
    actor: User,
    description: Description,
    giver: Named,
    giver_is: str,
    narrator: Named | None,
    interviewer: Named | None,
) -> Interview:
    """Note the giver, and who else is named, and begin the interview. Staff look after it; the giver gave it."""
    gave = giver.person(actor)
    told = gave if giver_is == Involved.NARRATOR else _person(narrator, actor)
    asked = gave if giver_is == Involved.INTERVIEWER else _person(interviewer, actor)
    if told is None:
        raise Refused("Name the narrator.")
    return services.start_for(gave, actor=actor, description=description, narrator=told, interviewer=asked)


def _person(named: Named | None, actor: User) -> Person | None:
    return named.person(actor) if named else None


def looked_after_for_others() -> QuerySet[Interview]:
    """What staff look after for whoever gave it: begun at the counter, imported, or left by a volunteer."""
    in_staff_hands = Interview.objects.filter(owner__role__in=[Role.ARCHIVIST, Role.COORDINATOR])
    own = models.Q(given_by__user=models.F("owner"))
    return (
        in_staff_hands.exclude(own)
        .select_related("collection", "owner", "given_by")
        .prefetch_related("participants__person")
        .order_by("-started_at", "-pk")
    )
