"""The published schemas, where they are at hand."""

import importlib.util
from pathlib import Path

import pytest
from lxml import etree

SCHEMAS = Path(__file__).parents[3] / "shared/reference/schemas"


def schema(*names: str) -> etree.XMLSchema:
    if not SCHEMAS.is_dir():
        pytest.skip("needs the published schemas, which are not on this machine")
    spec = importlib.util.spec_from_file_location("check", SCHEMAS / "check.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.load(*names)
