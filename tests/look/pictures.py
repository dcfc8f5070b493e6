"""Takes the README's pictures anew from the demo: `make pictures`. Needs a Chromium and pdftoppm (poppler-utils)."""

import subprocess
import tempfile
from collections.abc import Callable
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, expect, sync_playwright

from tests.browsers import browser_path
from tests.site import LiveSite, running_site

FOLDER = Path(__file__).parents[2] / "docs" / "pictures"
# Enough for paper, ink and a photograph in sepia, and a third of the size.
COLOURS = 96
PATIENCE_MS = 60_000
RECORDING = "REC_0032.WAV"


def main() -> None:
    with (
        running_site("load_demo", DJANGO_SETTINGS_MODULE="intake.settings.demo") as site,
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=browser_path(), args=["--no-sandbox"])
        volunteer(browser, site)
        narrator(browser, site)
        archivist(browser, site)
        receipts(browser, site)
        browser.close()


def volunteer(browser: Browser, site: LiveSite) -> None:
    """The recording has come in, is stored twice and measured."""
    page = visit(browser, site, "Tobias", width=1180, height=1060)
    page.get_by_role("link", name="Aurel Sandoval-Pike").click()
    expect(page.locator("#upload-files")).to_be_visible()
    page.locator("#upload-files").set_input_files(site.var_dir / "card" / RECORDING)
    expect(page.locator("#parts")).to_contain_text("You may clear", timeout=PATIENCE_MS)
    expect(page.locator("#parts")).to_contain_text("nothing to mend", timeout=PATIENCE_MS)
    page.mouse.wheel(0, -10_000)
    keep(page.screenshot, "volunteer")


def narrator(browser: Browser, site: LiveSite) -> None:
    """The release on the volunteer's telephone, handed over."""
    page = visit(browser, site, "Tobias", width=412, height=915)
    page.get_by_role("link", name="Edmund Quillfeather").click()
    page.get_by_role("link", name="Hand over for signing").first.click()
    page.get_by_role("button", name="Sign me out and show the release").click()
    page.get_by_label("I agree to sign").check()
    page.get_by_role("button", name="Show me the release").click()
    keep(page.screenshot, "narrator")


def archivist(browser: Browser, site: LiveSite) -> None:
    """The review of an interview whose recorder had one dead channel."""
    page = visit(browser, site, "Ines", width=1280, height=1180)
    page.get_by_role("link", name="Osbert Fallowdene").click()
    page.wait_for_load_state("networkidle")
    keep(page.screenshot, "archivist")


def receipts(browser: Browser, site: LiveSite) -> None:
    """The two receipts beside each other: what has arrived, and what has been accepted."""
    page = visit(browser, site, "Tobias", width=1180, height=900)
    page.get_by_role("link", name="Marit Oskarsen, 18 Apr 2026").click()
    papers = [
        page.get_by_role("link", name=name).first.get_attribute("href")
        for name in ("Arrival receipt", "Read the receipt")
    ]
    pages = [first_page(page.request.get(f"{site.url}{paper}").body()) for paper in papers]
    width, height = pages[0].size
    both = Image.new("RGB", (2 * width + 40, height), "#857a66")
    for place, one in enumerate(pages):
        both.paste(one, (place * (width + 40), 0))
    save(both, "receipts")


def visit(browser: Browser, site: LiveSite, first_name: str, *, width: int, height: int) -> Page:
    page = browser.new_context(base_url=site.url, viewport={"width": width, "height": height}).new_page()
    page.goto("/account/login/")
    page.get_by_role("button", name=f"Sign in as {first_name}").click()
    return page


def first_page(pdf: bytes) -> Image.Image:
    with tempfile.TemporaryDirectory() as folder:
        paper = Path(folder) / "paper.pdf"
        paper.write_bytes(pdf)
        subprocess.run(["pdftoppm", "-r", "80", "-png", "-singlefile", paper, paper.with_suffix("")], check=True)
        return Image.open(paper.with_suffix(".png")).convert("RGB")


def keep(screenshot: Callable[..., bytes], name: str) -> None:
    path = FOLDER / f"{name}.png"
    screenshot(path=path)
    save(Image.open(path).convert("RGB"), name)


def save(picture: Image.Image, name: str) -> None:
    picture.quantize(COLOURS, dither=Image.Dither.NONE).save(FOLDER / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
