"""What some tests need of the machine they run on."""

import os

import pytest


def needs(what: str, found: object) -> None:
    """Skip the test, with the reason, where something it needs is not on this machine; in CI that is a failure."""
    if found:
        return
    if os.environ.get("CI") == "true":
        pytest.fail(f"CI must have {what}", pytrace=False)
    pytest.skip(f"needs {what}, which is not on this machine")
