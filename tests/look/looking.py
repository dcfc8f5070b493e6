"""What is looked at on every page, whoever sees it: widths, colours, and the rules of WCAG that a program can check."""

import os
import re
from pathlib import Path

from playwright.sync_api import Page

# A desk, a tablet, a phone; 320 px is where WCAG 2.2 asks that a page still reflows (success criterion 1.4.10).
WIDTHS_PX = (1280, 768, 390, 320)
PICTURED_PX = (1280, 768, 390)
HEIGHT_PX = 900
# The success criteria of WCAG 2.2 A and AA that axe-core knows, and its own advice on headings and landmarks.
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
OVERFLOW = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


def troubles(page: Page, axe: str, picture: str) -> list[str]:
    """What is wrong with the page that stands open, one sentence each.

    Where the environment names a folder in PICTURES, the page is also pictured there at three widths, light and dark.
    """
    found = []
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        found += _wide_and_narrow(page, scheme, picture) + _rules_broken(page, axe, scheme)
    page.emulate_media(color_scheme="light")
    return [f"{page.url}: {trouble}" for trouble in found]


def _wide_and_narrow(page: Page, scheme: str, picture: str) -> list[str]:
    found = []
    for width in WIDTHS_PX:
        page.set_viewport_size({"width": width, "height": HEIGHT_PX})
        over = page.evaluate(OVERFLOW)
        if over > 0:
            found.append(f"{over} px wider than a window of {width} px")
        if width in PICTURED_PX:
            _take(page, f"{picture}-{width}-{scheme}")
    page.set_viewport_size({"width": WIDTHS_PX[0], "height": HEIGHT_PX})
    return found


def _rules_broken(page: Page, axe: str, scheme: str) -> list[str]:
    # Given to the page by the browser's own tools, so the content security policy stays as it is.
    page.evaluate(axe)
    # Without its preloading, which copies the style of shadow trees into the page and offends that policy.
    answer = page.evaluate("rules => axe.run({runOnly: rules, preload: false})", RULES)
    return [
        f"{broken['id']} ({scheme}): {broken['help']}: {broken['nodes'][0]['html'][:160]}"
        for broken in answer["violations"]
    ]


def _take(page: Page, name: str) -> None:
    folder = os.environ.get("PICTURES")
    if folder:
        page.screenshot(
            path=Path(folder) / f"{re.sub(r'[^a-z0-9]+', '-', name.lower()).strip('-')}.png", full_page=True
        )
