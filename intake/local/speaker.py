"""Speaks the demo's scripts with espeak-ng and keeps them as small files: needed only when a script changes.

A script is a text of lines: `Name: words`, `Name (laughs): words`, `(pause)` or `(12 seconds)`. What comes out is a
dry, quiet recording without a room; room, recorder and faults are added when the demo is loaded (recordings.py).
"""

import re
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from scipy.signal import butter, fftconvolve, resample_poly, sosfilt

from intake.catalogue.webvtt import Spoken, write
from intake.local.recordings import RATE, SPEECH, Sound

ESPEAK_RATE = 22_050  # Hz
PEAK_DBFS = -8.0
LAUGHTER_DB = 6.0  # above the same voice's talk
CREST = 4.5  # the highest peak over the level of a voice: what a soft limiter leaves
BETWEEN_TURNS_S, PAUSE_S, AT_THE_ENDS_S = 0.7, 1.8, 1.0
COMPRESSION = 0.87  # of soundfile's scale from 0 to 1; about 32 kbit/s of Opus, which a single voice needs

LINE = re.compile(r"(?P<name>\w+)(?P<laughs> \(laughs\))?: (?P<words>.+)")
GAP = re.compile(r"\((?:(?P<seconds>\d+) seconds|pause)\)")


@dataclass(frozen=True)
class Voice:
    """A voice of espeak-ng: its name, words a minute, pitch from 0 to 99, and how far from the microphone in dB."""

    name: str
    pace: int
    pitch: int
    level_db: float = 0.0


# Whoever asks sits farther from the microphone.
VOICES = {
    "Tobias": Voice("en-gb+m3", 158, 46, -4),
    "Dalia": Voice("en-gb-x-rp+f2", 160, 55, -4),
    "Ramiro": Voice("es+m1", 160, 45, -4),
    "Marit": Voice("en-gb-scotland+f3", 138, 38),
    "Philippa": Voice("en-gb-x-gbclan+f4", 156, 50),
    "Henrietta": Voice("en-gb-x-rp+f5", 136, 46),
    "Edmund": Voice("en-gb-x-gbcwmd+m5", 136, 34),
    "Wilhelmina": Voice("en-gb+f1", 146, 44),
    "Osbert": Voice("en-gb-x-gbclan+m7", 134, 28),
    "Constance": Voice("en-gb+f3", 134, 42),
    "Ada": Voice("en-gb-x-gbcwmd+f2", 152, 40),
    "Ivy": Voice("en-gb-x-gbcwmd+f4", 150, 46),
    "Gideon": Voice("en-gb-scotland+m2", 134, 30),
    "Narrator": Voice("en-gb+f5", 150, 52),
    "Consuelo": Voice("es+f2", 148, 42),
    "Lionel": Voice("en-gb-x-rp+m8", 142, 36),
    "Aurel": Voice("en-gb+m4", 148, 40),
    "Beatrix": Voice("en-gb-scotland+f1", 138, 48),
}


class ScriptFault(Exception):
    """A line that cannot be read, or a name without a voice."""


def scripts() -> list[Path]:
    return sorted(path for path in SPEECH.glob("*.txt"))


def make(script: Path) -> Path:
    """Speak one script into a small Opus file beside it: always the same sound, in a stream with a new number.

    What is said when goes into a WebVTT file beside both.
    """
    lines = [line for line in script.read_text().splitlines() if line.strip()]
    turns = [turn(line) for line in lines]
    script.with_suffix(".vtt").write_text(transcript(lines, turns))
    ends = silence(AT_THE_ENDS_S)
    sound = in_a_room(np.concatenate([ends, *turns, ends]))
    target = script.with_suffix(".ogg")
    sound *= 10 ** (PEAK_DBFS / 20) / np.abs(sound).max()
    soundfile.write(target, sound, RATE, format="OGG", subtype="OPUS", compression_level=COMPRESSION)
    return target


def transcript(lines: list[str], turns: list[Sound]) -> str:
    """The words of each turn at its times, without the little gap at its end."""
    spoken, at = [], AT_THE_ENDS_S
    for line, sound in zip(lines, turns, strict=True):
        begins, at = at, at + len(sound) / RATE
        said = LINE.fullmatch(line)
        if said:
            words = "[laughs]" if said["laughs"] else said["words"]
            ends = round((at - BETWEEN_TURNS_S) * 1000)
            spoken.append(Spoken(round(begins * 1000), ends, said["name"], words))
    return write(spoken, notes=[])


def turn(line: str) -> Sound:
    """What one line of a script sounds like, with the little gap before the next."""
    if gap := GAP.fullmatch(line):
        return silence(float(gap["seconds"] or PAUSE_S))
    said = LINE.fullmatch(line)
    if said is None or said["name"] not in VOICES:
        raise ScriptFault(f"“{line}” is neither a gap nor said by somebody with a voice.")
    voice = VOICES[said["name"]]
    level_db = voice.level_db + (LAUGHTER_DB if said["laughs"] else 0.0)
    spoken = speak(said["words"], voice)
    return np.concatenate([evenly(spoken) * 10 ** (level_db / 20), silence(BETWEEN_TURNS_S)])


def speak(words: str, voice: Voice) -> Sound:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        command = ["espeak-ng", "-v", voice.name, "-s", str(voice.pace), "-p", str(voice.pitch), "-w", str(path), words]
        subprocess.run(command, check=True)  # noqa: S603  our own words, and no shell
        sound, rate = soundfile.read(path)
    if rate != ESPEAK_RATE:
        raise ScriptFault(f"espeak-ng spoke at {rate} Hz instead of {ESPEAK_RATE} Hz.")
    return resample_poly(sound, RATE // 150, ESPEAK_RATE // 150)


def evenly(spoken: Sound) -> Sound:
    """Bring every voice to one level, its highest peaks softly rounded, so that full scale is reached by no word."""
    level = np.sqrt(np.mean(spoken[np.abs(spoken) > 0.01] ** 2))
    return np.tanh(spoken / level / CREST)


def in_a_room(sound: Sound) -> Sound:
    """Take the edge off the synthesiser: a little less treble, and the soft echo of a furnished room."""
    softer = sosfilt(butter(1, [110, 6500], "bandpass", fs=RATE, output="sos"), sound)
    times = np.arange(int(0.22 * RATE)) / RATE
    echo = np.random.default_rng(7).standard_normal(len(times)) * 10 ** (-60 * times / 0.3 / 20)
    echo[: int(0.006 * RATE)] = 0.0
    return softer + 0.16 * fftconvolve(softer, echo / np.sqrt(np.sum(echo**2)))[: len(softer)]


def silence(seconds: float) -> Sound:
    return np.zeros(round(seconds * RATE))
