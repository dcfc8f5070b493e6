"""docs/states.md tells the same moves as the table in lifecycle.py, and names the functions of workflow.py."""

import re

from intake import workflow
from intake.interviews.lifecycle import MOVES
from intake.interviews.models import State
from tests.architecture.source import ROOT

PAGE = (ROOT / "docs/states.md").read_text()


def moves_of_the_table() -> set[tuple[str, str]]:
    return {(str(now), str(to)) for now, allowed in MOVES.items() for to in allowed}


def drawn() -> list[tuple[str, str, str]]:
    return re.findall(r"^    (\w+) --> (\w+) : (\w+)$", PAGE, re.MULTILINE)


def listed() -> list[tuple[str, str, str]]:
    rows = re.findall(r"^\| (\w+) \| (\w+) \| (\w+) \|", PAGE, re.MULTILINE)
    return [row for row in rows if row[0] != "from"]


def test_the_diagram_shows_the_moves_of_the_table():
    assert {(now, to) for now, to, _ in drawn()} == moves_of_the_table()


def test_the_list_shows_the_moves_of_the_table():
    assert {(now, to) for now, to, _ in listed()} == moves_of_the_table()
    assert sorted(drawn()) == sorted(listed())


def test_each_move_is_a_function_of_the_story():
    assert all(callable(getattr(workflow, verb, None)) for _, _, verb in drawn())


def test_the_ends_are_drawn_as_ends():
    ends = set(re.findall(r"^    (\w+) --> \[\*\]$", PAGE, re.MULTILINE))
    assert ends == {str(state) for state in State if not MOVES[state]}
