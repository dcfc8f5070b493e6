"""House rules that a machine can see: what may stand where in the code."""

import ast
import re

import pytest
from django.template.loader import get_template

from intake.audit.actions import Action
from intake.jobs.models import Kind
from tests.architecture.source import ROOT, attributes_in, calls_in, files_under, tree_of

EVERYWHERE = files_under("intake", "audio_qc")
NOQA = "# no" + "qa"


def called(call: ast.Call) -> str:
    return call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")


def used(enumeration: str, *, but_in: str) -> set[str]:
    return set().union(*(attributes_in(path, enumeration) for path in EVERYWHERE if path != but_in))


def test_every_action_is_recorded_somewhere():
    assert set(Action.__members__) - used("Action", but_in="intake/audit/actions.py") == set()


def test_every_kind_of_work_is_asked_for_somewhere():
    asked = {
        call.args[0].attr
        for path in EVERYWHERE
        for _, call in calls_in(path)
        if called(call) == "enqueue" and call.args and isinstance(call.args[0], ast.Attribute)
    }
    assert set(Kind.__members__) - asked == set()


def test_rows_are_deleted_only_by_a_service_whose_name_says_so():
    deleting = {
        (path, inside) for path in files_under("intake") for inside, call in calls_in(path) if called(call) == "delete"
    }
    assert deleting - {("intake/files/stores.py", "set_aside")} == {
        ("intake/catalogue/services.py", "remove_contributor"),
        ("intake/catalogue/services.py", "remove_heading"),
        ("intake/catalogue/timed.py", "_delete_cues"),
        ("intake/catalogue/timed.py", "remove_cue"),
        ("intake/files/gathering/objects.py", "_delete_pieces"),
        ("intake/files/uploads.py", "_delete_remainder"),
        ("intake/interviews/participants.py", "remove_participant"),
        ("intake/people/second_step.py", "_delete_authenticators"),
        ("intake/once/services.py", "delete_old"),
        ("intake/queue/services.py", "_delete_notes"),
        ("intake/queue/saved.py", "delete_view"),
        ("intake/review/listening.py", "remove_mark"),
    }


def test_files_are_opened_and_written_in_few_places():
    allowed = re.compile(
        r"intake/(files/(storage|stores)\.py|library/logo\.py|outputs/|local/|settings/)"
        r"|audio_qc/(source|salvage|picture|described|reading/pyav|profile|command/(__init__|page))\.py"
    )
    names = {"open", "fdopen", "write_bytes", "write_text", "read_bytes", "rename", "unlink", "mkdir"}
    elsewhere = {
        f"{path}: {called(call)} in {inside}"
        for path in EVERYWHERE
        if not allowed.match(path)
        for inside, call in calls_in(path)
        if called(call) in names
    }
    assert elsewhere == set()


def test_the_sites_write_nothing_themselves():
    """Every write that carries a rule goes through a service. A session is no row of ours."""
    writing = {"save", "create", "update", "bulk_create", "bulk_update", "get_or_create", "update_or_create", "delete"}
    written = {
        f"{path}: {ast.unparse(call.func)}"
        for path in files_under("intake/portal", "intake/narrator", "intake/desk", "intake/web")
        for _, call in calls_in(path)
        if called(call) in writing and "session" not in ast.unparse(call.func)
    }
    assert written == set()


def test_nothing_is_imported_inside_a_function():
    """But for the one pair of a service and its task that need each other."""
    inside = {
        (path, function.name)
        for path in files_under("intake")
        for function in ast.walk(tree_of(path))
        if isinstance(function, ast.FunctionDef)
        for node in ast.walk(function)
        if isinstance(node, ast.Import | ast.ImportFrom)
    }
    assert inside == {("intake/jobs/services.py", "nudge")}


def test_nothing_is_caught_without_saying_what():
    bare = [
        f"{path}:{node.lineno}"
        for path in EVERYWHERE
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.ExceptHandler) and node.type is None
    ]
    assert bare == []


def test_a_rule_that_is_switched_off_says_why():
    """On the same line, or in a comment above the lines that it holds for."""
    silent = [
        f"{path}:{number + 1}"
        for path in EVERYWHERE
        for lines in [(ROOT / path).read_text().splitlines()]
        for number, line in enumerate(lines)
        if NOQA in line and not re.search(NOQA + r": [A-Z0-9, ]+  ?\S", line) and not _explained_above(lines, number)
    ]
    assert silent == []


def _explained_above(lines: list[str], number: int) -> bool:
    while NOQA in lines[number]:
        number -= 1
    return lines[number].strip().startswith("#")


def test_the_code_does_not_ask_whether_it_is_being_tested():
    asking = re.compile(r"pytest|TESTING|\btest_mode\b|sys\.argv")
    command_lines = ("audio_qc/__main__.py", "audio_qc/bench.py")
    elsewhere = [path for path in EVERYWHERE if "/local/" not in path and path not in command_lines]
    assert [path for path in elsewhere if asking.search(_code_of(path))] == []


def _code_of(path: str) -> str:
    """Without docstrings and comments: the settings for tests say in words what they are for."""
    return ast.unparse(tree_of(path)) if not path.endswith("settings/test.py") else ""


# Templates


def rendered() -> set[str]:
    return {
        node.value
        for path in files_under("intake")
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value.endswith(".html")
    }


@pytest.mark.parametrize("name", sorted(rendered()))
def test_every_page_that_a_view_draws_exists(name):
    assert get_template(name)


def test_every_page_is_drawn_by_a_view_or_by_another_page():
    templates = ROOT / "templates"
    pages = {
        path.relative_to(templates).as_posix()
        for folder in ("portal", "narrator", "desk", "components")
        for path in (templates / folder).rglob("*.html")
    }
    sources = [path.read_text() for path in templates.rglob("*.html")]
    sources += [(ROOT / path).read_text() for path in files_under("intake")]
    named = {name for source in sources for name in re.findall(r"[\w/]+\.html", source)}
    assert pages - named == set()


def messages_written() -> set[str]:
    return {
        keyword.value.value
        for path in files_under("intake")
        for _, call in calls_in(path)
        for keyword in call.keywords
        if keyword.arg == "template" and isinstance(keyword.value, ast.Constant)
    }


def test_every_message_that_is_written_has_its_words_and_the_other_way_round():
    assert messages_written() == {path.stem for path in (ROOT / "templates/emails").iterdir()}
    assert len(messages_written()) > 3


@pytest.mark.parametrize("name", sorted(messages_written()))
def test_a_message_begins_with_its_subject(name):
    lines = (ROOT / f"templates/emails/{name}.txt").read_text().splitlines()
    assert lines[0].startswith("{% autoescape off %}")
    assert lines[1].startswith("Dear ")
