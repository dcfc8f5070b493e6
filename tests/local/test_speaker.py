"""Scripts are read line by line; speaking them needs espeak-ng, which the demo does not."""

import re
import shutil

import numpy as np
import pytest

from intake.local import speaker
from intake.local.recordings import RATE


@pytest.mark.parametrize("script", speaker.scripts(), ids=lambda path: path.stem)
def test_every_line_of_every_script_is_a_gap_or_said_by_somebody_with_a_voice(script) -> None:
    lines = [line for line in script.read_text().splitlines() if line.strip()]
    assert len(lines) > 0
    for line in lines:
        said = speaker.LINE.fullmatch(line)
        assert speaker.GAP.fullmatch(line) or (said and said["name"] in speaker.VOICES), line


def test_a_gap_is_as_long_as_it_says() -> None:
    assert len(speaker.turn("(3 seconds)")) == 3 * RATE
    assert not speaker.turn("(pause)").any()


def test_a_stranger_in_a_script_is_refused() -> None:
    with pytest.raises(speaker.ScriptFault, match="Nobody: Good morning"):
        speaker.turn("Nobody: Good morning.")


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="needs espeak-ng, as nothing but a changed script does")
def test_laughter_is_louder_than_talk() -> None:
    talk, laughter = speaker.turn("Marit: ha ha ha"), speaker.turn("Marit (laughs): ha ha ha")
    louder_db = 20 * np.log10(np.abs(laughter).max() / np.abs(talk).max())
    assert louder_db == pytest.approx(speaker.LAUGHTER_DB, abs=0.1)  # samples are rounded to 16 bit


def test_voices_differ() -> None:
    assert len({(voice.name, voice.pitch) for voice in speaker.VOICES.values()}) == len(speaker.VOICES)
    assert all(re.match(r"(en|es)\b", voice.name) for voice in speaker.VOICES.values())
