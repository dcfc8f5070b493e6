"""The sound picture: what was put in stands where it belongs, at every level, whatever the recording's length."""

import gzip
import json
import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from audio_qc import draw_picture, measure
from audio_qc.errors import Unreadable
from audio_qc.picture import COLUMN_SECONDS, COLUMNS, LOUDEST_DB, PAIRS, QUIETEST_DB, ROWS, TILE_SECONDS
from tests.signals import amplitude, silence, stereo, tone, write


@dataclass(frozen=True)
class Seen:
    """A picture read back as a browser reads it: the index, and the tiles unpacked."""

    index: dict
    tiles: list[list[tuple[np.ndarray, np.ndarray, np.ndarray]]]


def picture_of(path: Path, **options) -> Seen:
    target = path.with_suffix(".picture")
    draw_picture(path, target, **options)
    whole = target.read_bytes()
    length = int.from_bytes(whole[-8:], "little")
    index = json.loads(whole[-8 - length : -8])
    channels = index["channels"]
    return Seen(
        index,
        [[unpacked(whole[at : at + size], channels) for at, size in places] for places in index["levels"]],
    )


def unpacked(packed: bytes, channels: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    raw = gzip.decompress(packed)
    columns = len(raw) // (channels * PAIRS * 2 + ROWS + 2)
    one, two = columns * channels * PAIRS * 2, columns * (channels * PAIRS * 2 + ROWS)
    return (
        np.frombuffer(raw[:one], np.int8).reshape(channels, columns, PAIRS, 2),
        np.frombuffer(raw[one:two], np.uint8).reshape(columns, ROWS),
        np.frombuffer(raw[two:], np.uint8).reshape(2, columns),
    )


def row_of(hz: float, index: dict) -> int:
    low, high = index["lowest_hz"], index["highest_hz"]
    return int(ROWS * np.log(hz / low) / np.log(high / low))


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 44_100, 48_000, 96_000])
@pytest.mark.parametrize("seconds", [0.01, 0.5, 16.384, 16.4, 70.0])
def test_every_column_is_there_once_at_every_level(tmp_path, rate_hz, seconds):
    seen = picture_of(write(tmp_path / "a.wav", tone(seconds, -6, 400, rate_hz), rate_hz))
    columns = int(np.ceil(round(seconds * rate_hz) / (COLUMN_SECONDS * rate_hz) - 0.01))
    for tiles in seen.tiles:
        assert sum(tile[1].shape[0] for tile in tiles) == columns
        assert [tile[1].shape[0] for tile in tiles[:-1]] == [COLUMNS] * (len(tiles) - 1)
        columns = -(-columns // 4)
    assert len(seen.tiles[-1]) == 1
    assert seen.index["seconds"] == pytest.approx(seconds, abs=1 / rate_hz)


def test_a_click_stands_at_its_moment_at_every_level(tmp_path):
    samples, at = silence(300.0), 211.1234
    samples[round(at * 48_000)] = amplitude(-1)
    seen = picture_of(write(tmp_path / "a.wav", samples))
    assert len(seen.tiles) == 4
    for level, tiles in enumerate(seen.tiles):
        outline = np.concatenate([tile[0] for tile in tiles], axis=1).reshape(-1, 2)
        (place,) = np.flatnonzero(outline[:, 1])
        assert place == int(at / (COLUMN_SECONDS / PAIRS * 4**level))
        assert outline[place, 1] == round(amplitude(-1) * 127)


@pytest.mark.parametrize("hz", [100, 440, 3_000, 10_000])
def test_a_tone_stands_in_its_row_at_its_level(tmp_path, hz):
    seen = picture_of(write(tmp_path / "a.wav", tone(20, -40, hz)))
    for tiles in seen.tiles:
        spectrum = tiles[0][1][5]
        loudest = int(spectrum.argmax())
        assert abs(loudest - row_of(hz, seen.index)) <= (4 if hz < 200 else 1)
        db = QUIETEST_DB + spectrum[loudest] / 255 * (LOUDEST_DB - QUIETEST_DB)
        assert db == pytest.approx(-40, abs=1.6)  # a Hann window shows a tone between two lines 1.42 dB too low


def test_each_channel_has_an_outline_of_its_own(tmp_path):
    seen = picture_of(write(tmp_path / "a.wav", stereo(tone(5, -6), tone(5, -20))))
    outline = seen.tiles[0][0][0]
    assert outline[0].max() == round(amplitude(-6) * 127)
    assert outline[1].max() == round(amplitude(-20) * 127)
    assert outline[0].min() == -outline[0].max()


def test_the_loudness_is_that_which_was_measured(tmp_path):
    path = write(tmp_path / "a.wav", stereo(np.concatenate((tone(20, -23), silence(5), tone(20, -33)))))
    curve = measure(path).loudness.curve
    seen = picture_of(path, loudness=curve)
    momentary = np.concatenate([tile[2][0] for tile in seen.tiles[0]])
    short_term = np.concatenate([tile[2][1] for tile in seen.tiles[0]])

    def lufs(told: int) -> float:
        return (int(told) - 1) / 3 - 70

    def at(seconds: float) -> int:
        return int(seconds / COLUMN_SECONDS)

    assert lufs(momentary[at(10)]) == pytest.approx(-23, abs=0.3)  # EBU Tech 3341: a tone at -23 dBFS, in phase
    assert lufs(short_term[at(40)]) == pytest.approx(-33, abs=0.3)
    assert momentary[at(23)] == 0  # digital silence has no loudness
    assert momentary[0] == 0  # the first window has not ended


def test_without_measured_loudness_there_is_none(tmp_path):
    seen = picture_of(write(tmp_path / "a.wav", tone(1, -6)))
    assert not seen.tiles[0][0][2].any()


def test_the_same_sound_gives_the_same_bytes_and_progress_ends_at_the_whole(tmp_path):
    path, told = write(tmp_path / "a.wav", tone(40, -6)), []
    for name in "xy":
        draw_picture(path, tmp_path / name, progress=told.append)
    assert (tmp_path / "x").read_bytes() == (tmp_path / "y").read_bytes()
    assert told == sorted(told[: len(told) // 2]) * 2
    assert told[-1] == 1.0


def test_what_holds_no_sound_is_refused(tmp_path):
    path = tmp_path / "0003.wav"
    path.write_text("This is a shopping list.")
    with pytest.raises(Unreadable):
        draw_picture(path, tmp_path / "picture")


def test_what_is_not_a_number_is_drawn_as_silence(tmp_path):
    samples = tone(2, -6).astype(np.float32)
    samples[48_000:48_100] = np.nan
    seen = picture_of(write(tmp_path / "a.wav", samples, subtype="FLOAT"))
    assert seen.tiles[0][0][0].max() == 64


def test_the_picture_is_small_beside_its_recording(tmp_path):
    rng = np.random.default_rng(3)
    voice = rng.standard_normal(48_000 * 60) * np.abs(np.sin(np.arange(48_000 * 60) / 20_000)) * 0.1
    path = write(tmp_path / "a.wav", stereo(voice))
    draw_picture(path, tmp_path / "picture")
    assert os.path.getsize(tmp_path / "picture") < 0.06 * path.stat().st_size  # noise: nothing packs worse
    assert TILE_SECONDS == 16.384
