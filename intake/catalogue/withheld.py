"""Names that were promised withheld, wherever they stand in words that leave the house."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from intake.interviews.models import Interview, Participant
from intake.people.models import Person
from intake.releases.models import Release

INSTEAD = "[name withheld]"
# Anything shorter is more likely a word than a name (common practice, no source).
SHORTEST = 3


@dataclass(frozen=True)
class Withheld:
    """Whose names, and these in all their forms, the longest first."""

    people: frozenset[int]
    forms: tuple[str, ...]

    @classmethod
    def of(cls, participants: Iterable[Participant]) -> "Withheld":
        """Of participants who were fetched with their persons and releases."""
        promised = [release for one in participants for release in standing(one) if release.name_withheld]
        forms = {form for release in promised for form in _forms(release.participant.person, release.signer_name)}
        people = frozenset(release.participant.person_id for release in promised)
        return cls(people, tuple(sorted(forms, key=len, reverse=True)))

    def stands_in(self, text: str) -> bool:
        return bool(self.forms) and self._pattern().search(text) is not None

    def left_out_of(self, text: str) -> str:
        return self._pattern().sub(INSTEAD, text) if self.forms else text

    def _pattern(self) -> re.Pattern[str]:
        """The whole family is named by the plural."""
        return re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, self.forms))})(?:s|es)?(?!\w)", re.IGNORECASE)


def participants_of(interview: Interview) -> list[Participant]:
    """With their persons and releases."""
    return list(Participant.objects.filter(interview=interview).select_related("person").prefetch_related("releases"))


def standing(participant: Participant) -> list[Release]:
    return [release for release in participant.releases.all() if release.withdrawn_at is None]


def _forms(person: Person, signed: str) -> set[str]:
    """Whole names, and the family name by itself: what stands before the comma, or the last word where none is told."""
    family, comma, given = person.catalogue_name.partition(",")
    turned = f"{given.strip()} {family}" if comma else person.catalogue_name
    words = person.name.split()
    last = family if person.catalogue_name else words[-1] if len(words) > 1 else ""
    forms = {person.name, signed, person.catalogue_name, turned, last, *person.variant_names}
    return {form.strip() for form in forms if len(form.strip()) >= SHORTEST}
