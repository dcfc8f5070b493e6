"""Every view that hands out a stored file asks the policy first, or hands out a paper of one's own."""

import ast

import pytest

from tests.architecture.source import ROOT

HANDS_OUT = {"serve", "serve_from_outside", "paper_answer", "_copy"}
# Papers and evidence, which whoever may know of the interview may read (Act.SEE holds for them in every state), the
# library's logo, and a message's own attachments: the row policy decides.
PAPERS = {
    "desk/views/messages.py:attachment",
    "desk/views/review.py:receipt",
    "desk/views/review.py:_output",
    "desk/views/review.py:_copy",  # asked for by the views that call it
    "desk/views/signed_forms.py:scan",
    "narrator/views.py:copy",
    "portal/views/interviews.py:arrival_receipt",
    "portal/views/interviews.py:receipt",
    "portal/views/paper.py:scan",
    "portal/views/releases.py:agreement_copy",
    "portal/views/releases.py:copy",
}
FILES = sorted(path for site in ("portal", "desk", "narrator") for path in (ROOT / "intake" / site).rglob("*.py"))


def called(function: ast.FunctionDef) -> set[str]:
    calls = [node.func for node in ast.walk(function) if isinstance(node, ast.Call)]
    return {call.id for call in calls if isinstance(call, ast.Name)}


def handing_out() -> dict[str, set[str]]:
    """Each function of a site that hands out a stored file, with what it calls."""
    found = {}
    for path in FILES:
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.FunctionDef) and called(node) & HANDS_OUT:
                found[f"{path.relative_to(ROOT / 'intake')}:{node.name}"] = called(node)
    return found


@pytest.mark.parametrize("view", handing_out())
def test_a_stream_asks_the_policy(view):
    assert handing_out()[view] & {"permit", "permitted_part", "permitted_paper"} or view in PAPERS


def test_no_exception_is_left_over():
    assert set(handing_out()) >= PAPERS
