"""Names as they were noted, and words that are nearly one. What counts as near is common practice, no source."""

import pytest

from intake.catalogue.spelling import Suggestion, names_in, suggestions

NAMES = names_in("Kessler (not Kesler)\nAlder Ferry, Sill Island\nLindworm; Aurélie\nthe old toll", ["Marit Oskarsen"])


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("Then Kesler came.", [("Kesler", "Kessler")]),
        ("We lived in Elder Ferry.", [("Elder Ferry", "Alder Ferry")]),
        ("Merit Oskarson said so.", [("Merit Oskarson", "Marit Oskarsen")]),
        ("The Lindwurm sank, the Lindwurm!", [("Lindwurm", "Lindworm")]),
        ("Aurelie laughed.", [("Aurelie", "Aurélie")]),
        ("Oskarson's boat", [("Oskarson", "Oskarsen")]),
    ],
)
def test_what_is_nearly_a_name_is_suggested(words, expected):
    assert suggestions(words, NAMES) == [Suggestion(*pair) for pair in expected]


@pytest.mark.parametrize(
    "words",
    [
        "Marit Oskarsen told me of Alder Ferry.",
        "It had its merit, a ferry of merit.",  # no name: small letters
        "Mark and Anna",
        "",
        "ALDER FERRY",
    ],
)
def test_what_is_right_or_far_is_left_alone(words):
    assert suggestions(words, NAMES) == []


def test_without_names_nothing_is_suggested():
    assert suggestions("Kesler", names_in("")) == []
