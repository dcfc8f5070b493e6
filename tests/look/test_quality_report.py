"""The page that `python -m audio_qc --html` writes: whole at every width, in light and dark, for every reader."""

from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser

from audio_qc.command import main
from tests.conftest import TELL_VIOLATIONS
from tests.look.looking import troubles
from tests.signals import noise, steps, stereo, write

pytestmark = pytest.mark.browser


def test_the_page_of_sound_reports_is_whole(
    browser: Browser, axe: str, console_errors: list[str], tmp_path: Path
) -> None:
    voice = steps([(0.7, -8.0), (0.3, None)] * 20, hz=330.0) + noise(20, -70.0)
    clipped = write(tmp_path / "clipped.wav", np.clip(stereo(4 * voice, voice), -1.0, 1.0))
    letter = tmp_path / ("a-name-without-any-place-to-break-it-" * 4 + ".wav")
    letter.write_text("Dear all,\n")
    assert main([str(clipped), str(letter), "--html", str(tmp_path / "report.html")]) == 2
    context = browser.new_context()
    context.add_init_script(TELL_VIOLATIONS)
    page = context.new_page()
    page.on("console", lambda message: message.type == "error" and console_errors.append(message.text))
    page.goto((tmp_path / "report.html").as_uri())
    assert page.locator("svg[role=img]").count() == 4
    assert not troubles(page, axe, "quality-report")
    context.close()
