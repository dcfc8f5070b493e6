"""Draws the pictures of docs/measurements.md anew: `python -m tests.audio_qc.pictures`, or `make pictures`.

Every picture is of a sound that audio_qc has really measured, and the finding it illustrates is asserted on the way:
a picture of a fault is one that audio_qc finds, a picture of a good recording one that it praises.
"""

import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from html import escape
from pathlib import Path

import numpy as np
from scipy import signal

from audio_qc import Finding, Report, Span, drawing, report
from audio_qc.command.charts import charts
from audio_qc.drawing import Line
from tests.audio_qc import picture_sounds as sounds
from tests.signals import RATE_HZ, cue, labels, write

FOLDER = Path(__file__).parents[2] / "docs" / "pictures" / "measures"
STEPS = 127  # an outline's values are signed bytes

Sound = Callable[[], np.ndarray]
Draw = Callable[["Picture", np.ndarray, Report], str]


@dataclass(frozen=True)
class Picture:
    """One picture: what it shows in a sentence, of which sound, and the finding that it illustrates."""

    name: str
    says: str
    sound: Sound
    code: str
    draw: Draw
    marks: tuple[tuple[float, str], ...] = ()


def drawn(picture: Picture) -> str:
    """Measure the picture's sound and return the SVG; fails where audio_qc does not find what is to be shown."""
    samples, measured = _measured(picture.sound, picture.marks)
    finding(picture, measured)
    svg = picture.draw(picture, samples, measured)
    return drawing.picture(svg.replace("</desc>", f" {escape(picture.says)}</desc>", 1))


@lru_cache(maxsize=3)
def _measured(sound: Sound, marks: tuple[tuple[float, str], ...]) -> tuple[np.ndarray, Report]:
    """Return a sound and what audio_qc says of it; many pictures are of the same good recording."""
    samples = sound()
    with tempfile.TemporaryDirectory() as folder:
        path = write(Path(folder) / "sound.wav", samples)
        _append_marks(path, marks)
        return samples, report(path)


def finding(picture: Picture, measured: Report) -> Finding:
    """Return the finding that the picture is about; where it is missing, say what was found instead."""
    found = [one for one in measured.findings if one.code == picture.code]
    assert found, f"{picture.name}: no {picture.code} among {[one.code for one in measured.findings]}"
    return found[0]


def _append_marks(path: Path, marks: tuple[tuple[float, str], ...]) -> None:
    """Put a recorder's marks behind the sound, as recorders do."""
    if not marks:
        return
    points = cue(*((n, round(at * RATE_HZ)) for n, (at, _) in enumerate(marks, start=1)))
    texts = labels(*((n, label.encode()) for n, (_, label) in enumerate(marks, start=1)))
    whole = bytearray(path.read_bytes() + points + texts)
    whole[4:8] = (len(whole) - 8).to_bytes(4, "little")
    path.write_bytes(whole)


# --- ways to draw a sound ---


def whole(picture: Picture, samples: np.ndarray, measured: Report) -> str:
    """Draw the outline of the whole sound with the finding's places hatched."""
    facts = measured.measurement
    spans = finding(picture, measured).spans
    outline, seconds = facts.waveform, facts.format.seconds
    return drawing.waveform(picture.name, outline.peaks, outline.frames_per_bin, RATE_HZ, seconds, spans, facts.marks)


def zoomed(
    picture: Picture, samples: np.ndarray, measured: Report, start_s: float, seconds: float, times: float = 1.0
) -> str:
    """Draw a stretch from sample to sample, `times` as high, with the finding's places hatched."""
    first, count = round(start_s * RATE_HZ), round(seconds * RATE_HZ)
    shown = np.atleast_2d(samples.T)[:, first : first + count] * times
    spans = _moved(finding(picture, measured).spans, start_s, seconds)
    return drawing.waveform(picture.name, [_line(channel) for channel in shown], 1, RATE_HZ, seconds, spans)


def _line(channel: np.ndarray) -> list[int]:
    """Return an outline that looks like a line: from each sample to the next, and a step thicker on both sides."""
    values = np.rint(channel * STEPS)
    following = np.append(values[1:], values[-1])
    both = np.stack((np.minimum(values, following) - 1, np.maximum(values, following) + 1), axis=1)
    outline: list[int] = np.clip(both, -STEPS, STEPS).astype(int).ravel().tolist()
    return outline


def _moved(spans: tuple[Span, ...], start_s: float, seconds: float) -> Iterator[Span]:
    for span in spans:
        if span.end_s > start_s and span.start_s < start_s + seconds:
            yield replace(span, start_s=span.start_s - start_s, end_s=span.end_s - start_s)


def chart(title: str, picture: Picture, samples: np.ndarray, measured: Report) -> str:
    """Draw one of the charts of the report's page."""
    return dict(charts(measured, picture.name))[title]


LOUDNESS = partial(chart, "Loudness over time")
LEVELS = partial(chart, "How often each level occurs")
BANDS = partial(chart, "Spectrum")


def pauses(picture: Picture, samples: np.ndarray, measured: Report) -> str:
    """Draw what the quiet half of the sound holds below 1 kHz, finely enough to show single lines."""
    size = RATE_HZ
    _, _, windows = signal.spectrogram(samples, RATE_HZ, "hann", size, size // 2, scaling="spectrum")
    loudness = windows.sum(axis=0)
    quiet = windows[:1001, loudness <= np.median(loudness)].min(axis=1)
    levels = [round(float(level), 1) for level in 10 * np.log10(quiet + 1e-12)]
    return drawing.spectrum(picture.name, [Line("pauses, each hertz", list(range(1001)), levels)], "dBFS")


def near_the_loudest(seconds: float, times: float = 1.0) -> Draw:
    """Draw the sound around the voice's loudest moment."""
    return partial(zoomed, start_s=sounds.loudest_s() - seconds / 2, seconds=seconds, times=times)


MARKS = ((1.2, "name and date"), (4.9, "the boat race"), (8.1, "photograph"))

PAUSE_IN_DETAIL = partial(zoomed, start_s=0.02, seconds=0.004, times=4000.0)
GATED_PAUSE = partial(zoomed, start_s=4.5, seconds=3.0, times=100.0)

PICTURES = (
    Picture("loudness-even", "Two voices in turn, equally loud.",
            sounds.equal_speakers, "loudness-described", LOUDNESS),
    Picture("loudness-uneven", "The second voice, from 0:10 to 0:20, is far from the microphone.",
            sounds.unequal_speakers, "loudness-described", LOUDNESS),
    Picture("peak-good", "The loudest moment lies at -9 dBTP.",
            sounds.good, "peaks-good", whole),
    Picture("peak-high", "The loudest moment lies at -0.5 dBTP: no room is left.",
            partial(sounds.louder, 8.5), "peaks-too-high", whole),
    Picture("peak-low", "The loudest moment lies at -26 dBTP: the outline is hardly more than a line.",
            partial(sounds.louder, -17.0), "peaks-too-low", whole),
    Picture("dc-good", "The sound rests in the middle.",
            sounds.good, "dc-offset-none", whole),
    Picture("dc-bad", "The sound rests at 20 % of full scale, above the middle.",
            sounds.offset, "dc-offset-large", whole),
    Picture("speech-level-good", "The voice lies around -28 dBFS, the room around -62.",
            sounds.good, "speech-level-good", LEVELS),
    Picture("speech-level-bad", "The same, recorded far too softly: the voice lies around -58 dBFS.",
            partial(sounds.louder, -30.0), "speech-faint", LEVELS),
    Picture("background-good", "Two hills far apart: the room on the left, the voice on the right.",
            sounds.good, "voice-very-clear", LEVELS),
    Picture("background-bad", "The room's hill has moved up to the voice's.",
            partial(sounds.in_noise, -38.0), "background-loud", LEVELS),
    Picture("noise-drone", "A drone below 200 Hz, to which the ear is dull: -55 dBFS in the pauses, but -69 dB(A).",
            sounds.droning, "noise-described", BANDS),
    Picture("noise-hiss", "Hiss above 1.5 kHz, for which the ear is keen: -55 dBFS in the pauses, and -58 dB(A).",
            sounds.hissing, "noise-described", BANDS),
    Picture("clipping-good", "20 ms of the loudest vowel: every peak is round.",
            sounds.good, "clipped-none", near_the_loudest(0.020)),
    Picture("clipping-bad", "The same vowel 12 dB louder: its peaks are cut off at full scale.",
            partial(sounds.louder, 12.0), "clipped-badly", near_the_loudest(0.020)),
    Picture("flat-tops-good", "20 ms of the loudest vowel: every peak has its own height.",
            sounds.good, "flat-tops-none", near_the_loudest(0.020)),
    Picture("flat-tops-bad", "The same vowel through an overdriven input: all peaks end at -15 dBFS.",
            sounds.squashed, "flat-tops-badly", near_the_loudest(0.020)),
    Picture("hum-good", "The pauses of a quiet room: no line stands out.",
            sounds.good, "hum-none", pauses),
    Picture("hum-bad", "Lines at 50, 100, 150, 200 and 300 Hz stand out of the room's noise.",
            sounds.humming, "hum", pauses),
    Picture("rumble-good", "The outline is the voice's alone.",
            sounds.good, "rumble-none", whole),
    Picture("rumble-bad", "Three gusts of wind swell the outline, between words too.",
            sounds.gusts, "rumble", whole),
    Picture("dropout-good", "150 ms of a vowel: its periods follow each other without a hole.",
            sounds.good, "dropouts-none", near_the_loudest(0.15)),
    Picture("dropout-bad", "40 ms of the same vowel are missing.",
            sounds.with_gap, "dropout", near_the_loudest(0.15)),
    Picture("jump-bad", "12 ms were lost and the ends joined: one period breaks off and jumps.",
            sounds.with_lost_samples, "dropout", near_the_loudest(0.030)),
    Picture("digital-silence-good", "A pause, drawn 100 times as high: the room goes on.",
            sounds.paused, "digital-silence-none", GATED_PAUSE),
    Picture("digital-silence-bad", "The same pause after a noise gate: exact zeros.",
            sounds.muted, "digital-silence", GATED_PAUSE),
    Picture("long-silence-good", "A pause for thought of five seconds.",
            partial(sounds.talk, 5.0), "long-silence-none", whole),
    Picture("long-silence-bad", "Forty seconds in which nobody speaks.",
            partial(sounds.talk, 40.0), "long-silence", whole),
    Picture("channels-good", "20 ms from the two capsules of a stereo microphone.",
            sounds.two_microphones, "channels-good", near_the_loudest(0.020)),
    Picture("channels-inverted", "The right channel is the left one upside down.",
            sounds.inverted_channel, "channel-inverted", near_the_loudest(0.020)),
    Picture("channels-dead", "Nothing was recorded on the right channel.",
            sounds.dead_channel, "channel-dead", whole),
    Picture("channels-unbalanced", "The right channel is 13 dB quieter.",
            partial(sounds.two_microphones, -12.0), "channels-unbalanced", whole),
    Picture("bits-good", "4 ms of a pause in 24 bits, drawn 4000 times as high: steps too fine to see.",
            partial(sounds.coarse, 24), "bits-used", PAUSE_IN_DETAIL),
    Picture("bits-bad", "The same pause in 16 bits, in a file of 24: it moves in coarse steps.",
            partial(sounds.coarse, 16), "bits-padded", PAUSE_IN_DETAIL),
    Picture("bandwidth-good", "The sound reaches up to half the sample rate.",
            sounds.full_band, "band-full", BANDS),
    Picture("bandwidth-bad", "The same sound after a time at 16 kHz: it falls off a cliff at 8 kHz.",
            sounds.narrowed, "band-limited", BANDS),
    Picture("marks", "Three marks of the recorder, as triangles above the sound.",
            sounds.good, "marks-found", whole, MARKS),
)  # fmt: skip


def main() -> None:
    FOLDER.mkdir(parents=True, exist_ok=True)
    for picture in PICTURES:
        (FOLDER / f"{picture.name}.svg").write_text(drawn(picture), encoding="utf-8")


if __name__ == "__main__":
    main()
