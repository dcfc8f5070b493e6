"""Words of a transcript that are nearly a name which somebody wrote down: suggestions, which people take or leave."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from rapidfuzz import process
from rapidfuzz.distance import OSA

from intake.people.services import folded

WORD = re.compile(r"[^\W\d_]+(?:[-’'][^\W\d_]{2,})*")
# "Kessler (not Kesler)", as people write it down.
NOT = re.compile(r"([^\n;,()]+)\((?:not|nicht|no|non)\s+([^)]+)\)", re.IGNORECASE)
SPLIT = re.compile(r"[\n;,()]+")
# A name of so many letters is taken for another one that differs in so many places (common practice, no source).
ONE_SLIP, TWO_SLIPS = 4, 8
# Nobody writes whole sentences as a name.
LONGEST_NAME = 5


@dataclass(frozen=True)
class Suggestion:
    """`wrong` as it stands in the words, and the name that may be meant."""

    wrong: str
    right: str


@dataclass(frozen=True)
class Names:
    """Names as they are to be written, and forms that somebody said are wrong."""

    right: tuple[str, ...]
    wrong: dict[str, str]

    @cached_property
    def known(self) -> set[str]:
        return {name.casefold() for name in self.right}

    @cached_property
    def by_length(self) -> dict[int, dict[str, str]]:
        """By how many words they have; each name and its folded form."""
        found: dict[int, dict[str, str]] = {}
        for name in self.right:
            found.setdefault(len(WORD.findall(name)), {})[name] = folded(name)
        return found


def names_in(noted: str, people: Iterable[str] = ()) -> Names:
    """From what a volunteer wrote down of names and spellings, and from names that the library knows.

    The words of a name are names by themselves: "Oskarsen" of "Marit Oskarsen".
    """
    wrong = {folded(bad): good.strip() for good, bad in NOT.findall(noted)}
    told = [piece.strip() for piece in SPLIT.split(NOT.sub(r"\1\n", noted))]
    whole = [name for name in [*told, *people] if 0 < len(WORD.findall(name)) <= LONGEST_NAME]
    single = [word for name in whole for word in WORD.findall(name) if len(word) >= ONE_SLIP and word[0].isupper()]
    return Names(tuple(dict.fromkeys([*whole, *single])), wrong)


def suggestions(words: str, names: Names) -> list[Suggestion]:
    """Each once, in the order of the words. The longest name wins; what is a name already is never a suggestion's."""
    here, taken, found = list(WORD.finditer(words)), set[int](), {}
    for length in range(LONGEST_NAME, 0, -1):
        for first, last in enumerate(range(length - 1, len(here))):
            stretch = words[here[first].start() : here[last].end()]
            meant = stretch if stretch.casefold() in names.known else _meant(stretch, length, names)
            if meant and taken.isdisjoint(range(first, last + 1)):
                taken.update(range(first, last + 1))
                found[here[first].start()] = Suggestion(stretch, meant)
    return list(dict.fromkeys(one for _, one in sorted(found.items()) if one.wrong.casefold() != one.right.casefold()))


def _meant(stretch: str, length: int, names: Names) -> str:
    """The name that so many words may mean; empty where they are like none."""
    if folded(stretch) in names.wrong:
        return names.wrong[folded(stretch)]
    return _near(stretch, names.by_length.get(length, {})) if stretch[0].isupper() else ""


def _near(stretch: str, right: dict[str, str]) -> str:
    """A name that differs in few letters, not counting accents: one without its accent is told all the same."""
    found = process.extractOne(folded(stretch), right, scorer=OSA.distance, score_cutoff=2)
    return found[2] if found and found[1] <= _allowed(found[2]) else ""


def _allowed(name: str) -> int:
    letters = len(name)
    return 2 if letters >= TWO_SLIPS else 1 if letters >= ONE_SLIP else 0
