"""The browser of this machine, which the tests and the README's pictures use."""

import os
import shutil
from pathlib import Path

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


def browser_path() -> str | None:
    """CHROME_PATH, else the first Chromium or Chrome that is found; None if there is none."""
    given = os.environ.get("CHROME_PATH")
    if given:
        return given if Path(given).exists() else None
    return next(filter(None, map(shutil.which, BROWSERS)), None)
