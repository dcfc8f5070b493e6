"""The project's own Python files as syntax trees, for tests about what may stand where."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


@cache
def tree_of(path: str) -> ast.Module:
    return ast.parse((ROOT / path).read_text())


@cache
def files_under(*folders: str, migrations: bool = False) -> tuple[str, ...]:
    """The Python files below some folders, as paths from the root."""
    found = [path.relative_to(ROOT).as_posix() for folder in folders for path in sorted((ROOT / folder).rglob("*.py"))]
    return tuple(path for path in found if migrations or "/migrations/" not in path)


def calls_in(path: str) -> Iterator[tuple[str, ast.Call]]:
    """Every call in a file with the name of the function that it stands in (empty outside of any)."""
    yield from _calls(tree_of(path), "")


def _calls(node: ast.AST, inside: str) -> Iterator[tuple[str, ast.Call]]:
    for child in ast.iter_child_nodes(node):
        name = child.name if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef) else inside
        if isinstance(child, ast.Call):
            yield inside, child
        yield from _calls(child, name)


def imports_in(path: str) -> Iterator[str]:
    """The full names that a file imports."""
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def attributes_in(path: str, of: str) -> set[str]:
    """`NAME` wherever `of.NAME` is written."""
    return {
        node.attr
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == of
    }
