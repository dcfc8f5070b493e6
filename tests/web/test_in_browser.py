"""The page of pieces in a real browser: what HTML alone cannot show. The site runs as its own process."""

import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
START_SECONDS = 60

pytestmark = pytest.mark.browser


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def answers(url: str) -> bool:
    try:
        with urllib.request.urlopen(url, timeout=5) as response:
            return bool(response.status == 200)
    except urllib.error.URLError:
        return False


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    address = f"127.0.0.1:{free_port()}"
    environment = os.environ | {
        "DEBUG": "1",
        "DJANGO_SETTINGS_MODULE": "intake.settings.local",
        "VAR_DIR": str(tmp_path_factory.mktemp("var")),
    }
    subprocess.run([sys.executable, "manage.py", "migrate", "--verbosity=0"], cwd=ROOT, env=environment, check=True)
    command = [sys.executable, "manage.py", "runserver", "--noreload", "--skip-checks", address]
    process = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        until = time.monotonic() + START_SECONDS
        while not answers(f"http://{address}/pieces/"):
            assert process.poll() is None, "the site stopped while it was starting"
            assert time.monotonic() < until, "the site did not start"
            time.sleep(0.2)
        yield f"http://{address}"
    finally:
        process.terminate()
        process.wait(timeout=20)


def opened(browser: Any, url: str, **context: Any) -> Any:
    """A page with its troubles gathered in page.troubles."""
    page = browser.new_context(**context).new_page()
    page.troubles = []
    page.on("console", lambda message: page.troubles.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: page.troubles.append(str(error)))
    page.goto(url, wait_until="networkidle")
    return page


@pytest.mark.parametrize("path", ["/pieces/", "/account/login/", "/account/password/reset/"])
def test_nothing_is_blocked_by_the_content_security_policy(site: str, browser: Any, path: str) -> None:
    page = opened(browser, site + path)
    assert page.troubles == []
    page.context.close()


def test_the_policy_is_in_force_so_that_the_test_above_can_fail(site: str, browser: Any) -> None:
    page = opened(browser, f"{site}/pieces/")
    page.evaluate("document.body.insertAdjacentHTML('beforeend', '<p style=\"color: red\">')")
    page.wait_for_timeout(200)
    assert any("Content Security Policy" in trouble for trouble in page.troubles)
    page.context.close()


@pytest.mark.parametrize("width", [320, 640, 1280])
def test_the_page_never_scrolls_sideways(site: str, browser: Any, width: int) -> None:
    page = opened(browser, f"{site}/pieces/", viewport={"width": width, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth") <= width  # WCAG 2.2, 1.4.10 (AA): 320 CSS px
    page.context.close()


SMALL_TARGETS = """least => [...document.querySelectorAll('a, button, input, select, summary, [role=slider]')]
    .filter(element => element.checkVisibility() && !element.closest('.visually-hidden, .skip'))
    .filter(element => !(element.matches('a') && getComputedStyle(element).display === 'inline'))
    .map(element => [element.outerHTML.slice(0, 120), element.getBoundingClientRect()])
    .filter(([, box]) => box.width < least || box.height < least)
    .map(([html, box]) => `${html} ${box.width} x ${box.height}`)"""


def test_targets_have_the_size_that_the_standard_asks_for(site: str, browser: Any) -> None:
    page = opened(browser, f"{site}/pieces/")
    assert page.evaluate(SMALL_TARGETS, 24) == []  # WCAG 2.2, 2.5.8 (AA); links within a sentence are excepted there
    page.context.close()


def test_buttons_are_larger_under_a_finger(site: str, browser: Any) -> None:
    page = opened(browser, f"{site}/pieces/", viewport={"width": 360, "height": 800}, has_touch=True, is_mobile=True)
    heights = page.eval_on_selector_all(
        ".button", "all => all.filter(b => b.checkVisibility()).map(b => b.getBoundingClientRect().height)"
    )
    assert heights
    assert min(heights) >= 44  # WCAG 2.2, 2.5.5 (AAA), as this house's own rule for phones
    page.context.close()


def test_a_refused_form_brings_its_errors_to_the_reader(site: str, browser: Any) -> None:
    page = opened(browser, f"{site}/pieces/")
    assert page.evaluate("document.activeElement.matches('[data-error-summary]')")
    page.context.close()


def test_a_drawn_signature_is_sent_as_a_picture_and_only_on_submit(site: str, browser: Any) -> None:
    page = opened(browser, f"{site}/pieces/")
    page.get_by_label("Draw my signature").check()
    canvas = page.locator("[data-signature-canvas]")
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    page.mouse.move(box["x"] + 30, box["y"] + 30)
    page.mouse.down()
    page.mouse.move(box["x"] + 160, box["y"] + 90, steps=10)
    page.mouse.up()
    assert "Your signature is drawn (1 stroke)." in page.locator("[data-signature-state]").inner_text()
    assert page.locator("[name=signature_png]").input_value() == ""
    page.evaluate(
        "document.querySelector('[data-signature]').closest('form').addEventListener('submit', e => e.preventDefault())"
    )
    page.get_by_role("button", name="Sign", exact=True).click()
    assert page.locator("[name=signature_png]").input_value().startswith("data:image/png;base64,")
    page.get_by_role("button", name="Clear").click()
    page.get_by_role("button", name="Sign", exact=True).click()
    assert page.locator("[name=signature_png]").input_value() == ""
    page.context.close()


def test_a_strip_is_drawn_from_stored_peaks_without_fetching_the_sound(site: str, browser: Any) -> None:
    page = browser.new_context().new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"{site}/pieces/", wait_until="networkidle")
    assert page.locator(".strip-span").count() > 0
    assert page.evaluate("!!document.querySelector('[data-strip-wave] > div').shadowRoot.querySelector('canvas')")
    assert not [url for url in asked if "nothing-here" in url]
    page.locator("[data-strip-play]").click()
    page.get_by_text("The sound could not be fetched.").wait_for(timeout=10_000)
    page.context.close()


def test_an_empty_file_is_refused_in_words_before_anything_is_sent(site: str, browser: Any) -> None:
    page = browser.new_context().new_page()
    page.goto(f"{site}/pieces/", wait_until="networkidle")
    sent: list[str] = []
    page.on("request", lambda request: sent.append(request.method) if request.method != "GET" else None)
    page.locator("[data-upload-files]").set_input_files(
        {"name": "FERRY002.WAV", "mimeType": "audio/wav", "buffer": b""}
    )
    page.get_by_text("This file is empty.").first.wait_for()
    assert sent == []
    page.context.close()
