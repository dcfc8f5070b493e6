"""What phones, browsers and old recorders make measures like the same sound in WAV."""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from audio_qc import AudioQCError, measure
from audio_qc.errors import BrokenHeader, NoSound, UnsupportedFormat
from audio_qc.source import open_source
from tests.audio_qc.encoding import encode
from tests.signals import noise, steps, stereo, tone, write

FFMPEG = shutil.which("ffmpeg")
needs_ffmpeg = pytest.mark.skipif(FFMPEG is None, reason="the ffmpeg command is not on this machine")

# Ending, encoder, sample format, rate, bit rate; container, subtype, bits; loudness tolerance in LU: the codings that
# lose nothing must agree to rounding, the others are given what they change (measured here, rounded up).
KINDS = [
    ("m4a", "aac", "fltp", 48_000, 128_000, "M4A", "AAC", None, 0.2),
    ("m4a", "alac", "s16p", 44_100, 0, "M4A", "ALAC", 16, 0.001),
    ("m4a", "alac", "s32p", 48_000, 0, "M4A", "ALAC", 24, 0.001),
    ("mp4", "aac", "fltp", 44_100, 96_000, "MP4", "AAC", None, 0.2),
    ("mov", "pcm_s24le", "s32", 48_000, 0, "MOV", "PCM_24", 24, 0.001),
    ("3gp", "aac", "fltp", 44_100, 64_000, "3GP", "AAC", None, 0.3),
    ("aac", "aac", "fltp", 48_000, 128_000, "AAC", "AAC", None, 0.2),
    ("wma", "wmav2", "fltp", 44_100, 128_000, "WMA", "WMA", None, 0.3),
    ("webm", "libopus", "flt", 48_000, 64_000, "WebM", "OPUS", None, 0.3),
    ("mka", "flac", "s32", 96_000, 0, "Matroska", "FLAC", 24, 0.001),
    ("mkv", "pcm_f32le", "flt", 48_000, 0, "Matroska", "FLOAT", 32, 0.001),
    ("caf", "pcm_s16le", "s16", 48_000, 0, "CAF", "PCM_16", 16, 0.001),
    ("opus", "libopus", "flt", 48_000, 64_000, "OGG", "OPUS", None, 0.3),
    ("flac", "flac", "s16", 44_100, 0, "FLAC", "PCM_16", 16, 0.001),
    ("mp3", "libmp3lame", "fltp", 44_100, 128_000, "MP3", "MPEG_LAYER_III", None, 0.5),
]


def voice(rate_hz: int) -> np.ndarray:
    """Return six seconds of bursts of a tone with pauses, over a little noise."""
    return steps([(0.7, -8.0), (0.3, None)] * 6, 330.0, rate_hz) + noise(6, -60.0, rate_hz)


@pytest.mark.parametrize(("ending", "codec", "form", "rate", "bit_rate", "container", "subtype", "bits", "lu"), KINDS)
def test_a_kind_measures_like_the_same_sound_in_wav(
    ending: str, codec: str, form: str, rate: int, bit_rate: int, container: str, subtype: str, bits: int | None,
    lu: float, tmp_path: Path,
) -> None:  # fmt: skip
    sound = stereo(voice(rate), 0.5 * voice(rate))
    known = measure(write(tmp_path / "known.wav", sound, rate))
    found = measure(encode(tmp_path / f"a.{ending}", codec, sound, form, rate, bit_rate))
    facts = found.format
    assert (facts.container, facts.subtype, facts.bits_per_sample) == (container, subtype, bits)
    assert (facts.sample_rate_hz, facts.channels) == (rate, 2)
    assert facts.seconds == pytest.approx(6.0, abs=0.0 if lu == 0.001 else 0.1)  # coded frames are padded
    assert found.loudness.integrated_lufs == pytest.approx(known.loudness.integrated_lufs, abs=lu)
    assert found.structure == ()
    assert not found.salvageable


TELEPHONES = [
    ("amr", "libopencore_amrnb", 8_000, "12.2k", "AMR", "AMR_NB"),
    ("3gp", "libopencore_amrnb", 8_000, "12.2k", "3GP", "AMR_NB"),
    ("amr", "libvo_amrwbenc", 16_000, "23.85k", "AMR", "AMR_WB"),
    ("3gp", "libvo_amrwbenc", 16_000, "23.85k", "3GP", "AMR_WB"),
    ("ogg", "libspeex", 16_000, "28k", "OGG", "SPEEX"),
]


@needs_ffmpeg
@pytest.mark.parametrize(("ending", "codec", "rate", "bit_rate", "container", "subtype"), TELEPHONES)
def test_a_telephone_recording_is_measured(
    ending: str, codec: str, rate: int, bit_rate: str, container: str, subtype: str, tmp_path: Path
) -> None:
    source = write(tmp_path / "known.wav", voice(rate), rate)
    path = tmp_path / f"a.{ending}"
    try:
        ffmpeg("-i", source, "-c:a", codec, "-b:a", bit_rate, path)
    except subprocess.CalledProcessError:
        pytest.skip(f"the ffmpeg command has no {codec} encoder")
    known, found = measure(source), measure(path)
    assert (found.format.container, found.format.subtype, found.format.sample_rate_hz) == (container, subtype, rate)
    assert found.format.seconds == pytest.approx(6.0, abs=0.1)
    assert found.loudness.integrated_lufs == pytest.approx(known.loudness.integrated_lufs, abs=1.5)
    assert found.structure == ()


def test_samples_over_full_scale_are_kept_in_float(tmp_path: Path) -> None:
    path = encode(tmp_path / "a.mka", "pcm_f32le", tone(1, 6.0), "flt")
    assert measure(path).levels.sample_peak_dbfs == pytest.approx(6.0, abs=1e-3)


def test_tags_and_chapters_are_told(tmp_path: Path) -> None:
    sound, tags = voice(48_000), {"title": "The ferry\x07 years", "artist": "Field recorder"}
    chapters = [(0.0, 2.0, "Childhood"), (2.0, 6.0, "The crossing")]
    for ending in ("m4a", "mka"):
        found = measure(encode(tmp_path / f"a.{ending}", "aac", sound, "fltp", tags=tags, chapters=chapters))
        told = {tag.key.lower(): tag.text for tag in found.details.tags}
        assert (told["title"], told["artist"]) == ("The ferry years", "Field recorder")
        assert [(mark.at_seconds, mark.label) for mark in found.marks] == [(0.0, "Childhood"), (2.0, "The crossing")]
        assert found.marks[0].length_frames == 96_000


def test_tags_of_flac_and_mp3_are_told(tmp_path: Path) -> None:
    for ending, codec, form in (("flac", "flac", "s16"), ("mp3", "libmp3lame", "fltp")):
        path = encode(tmp_path / f"a.{ending}", codec, voice(44_100), form, 44_100, tags={"title": "The ferry years"})
        assert ("title", "The ferry years") in [(tag.key, tag.text) for tag in measure(path).details.tags]


def test_aac_behind_an_id3_tag_is_aac(tmp_path: Path) -> None:
    path = encode(tmp_path / "a.aac", "aac", voice(48_000), "fltp")
    path.write_bytes(b"ID3\4\0\0\0\0\1\0" + bytes(128) + path.read_bytes())
    assert (measure(path).format.container, measure(path).structure) == ("AAC", ())


@needs_ffmpeg
def test_eight_channels_in_planes_are_eight_channels(tmp_path: Path) -> None:
    levels = [-6.0 - 3 * n for n in range(8)]
    source = write(tmp_path / "a.wav", np.stack([tone(2, level) for level in levels], axis=1))
    ffmpeg("-i", source, "-af", "pan=7.1|c0=c0|c1=c1|c2=c2|c3=c3|c4=c4|c5=c5|c6=c6|c7=c7", tmp_path / "a.mka",
           "-c:a", "flac")  # fmt: skip
    assert measure(tmp_path / "a.mka").format.channels == 8
    ffmpeg("-i", tmp_path / "a.mka", "-c:a", "aac", "-b:a", "600k", tmp_path / "a.m4a")
    measurement = measure(tmp_path / "a.m4a")
    assert measurement.format.channels == 8
    heard = sorted((level.rms_dbfs or -200.0 for level in measurement.levels.channels), reverse=True)
    assert heard[:3] == pytest.approx([-9.0, -12.0, -15.0], abs=1.0)


@needs_ffmpeg
def test_the_sound_of_a_video_is_measured_and_its_pictures_are_not_looked_at(tmp_path: Path) -> None:
    source = write(tmp_path / "a.wav", stereo(voice(48_000)))
    for ending, video, audio in (("mp4", "mpeg4", "aac"), ("mkv", "mpeg4", "flac"), ("mov", "mjpeg", "pcm_s16le")):
        path = tmp_path / f"a.{ending}"
        ffmpeg("-f", "lavfi", "-i", "testsrc=duration=6", "-i", source, "-c:v", video, "-c:a", audio, path)
        measurement = measure(path)
        assert measurement.format.seconds == pytest.approx(6.0, abs=0.1)
        assert measurement.structure == ()
    ffmpeg("-f", "lavfi", "-i", "testsrc=duration=1", "-c:v", "mpeg4", tmp_path / "silent.mp4")
    with pytest.raises(NoSound):
        measure(tmp_path / "silent.mp4")


def ffmpeg(*arguments: str | Path) -> None:
    assert FFMPEG is not None
    subprocess.run([FFMPEG, "-v", "error", "-y", *map(str, arguments)], check=True, capture_output=True)


@pytest.mark.parametrize("ending", ["m4a", "mka", "wma"])
def test_a_file_that_arrived_by_half_is_measured_as_far_as_it_goes(ending: str, tmp_path: Path) -> None:
    codec = {"m4a": "aac", "mka": "flac", "wma": "wmav2"}[ending]
    form = "s16" if codec == "flac" else "fltp"
    sound = voice(44_100)
    path = encode(tmp_path / f"a.{ending}", codec, np.tile(sound, 4), form, 44_100, bit_rate=96_000)
    content = path.read_bytes()
    if ending == "m4a":
        content = index_first(content)
    path.write_bytes(content[: len(content) // 2])
    measurement = measure(path)
    assert 8.0 < measurement.format.seconds < 16.0
    assert [note.code for note in measurement.structure] == ["truncated"]
    assert measurement.salvageable


def index_first(content: bytes) -> bytes:
    """Return an MP4 file with its index before its sound, as a file ready for the web has it."""
    moov = content.index(b"moov") - 4
    mdat = content.index(b"mdat") - 4
    index = bytearray(content[moov:])
    at = index.index(b"stco") + 8
    count = int.from_bytes(index[at : at + 4], "big")
    for n in range(count):
        place = at + 4 + 4 * n
        moved = int.from_bytes(index[place : place + 4], "big") + len(index)
        index[place : place + 4] = moved.to_bytes(4, "big")
    return content[:mdat] + bytes(index) + content[mdat:moov]


def test_an_m4a_without_its_index_is_refused_with_the_reason(tmp_path: Path) -> None:
    path = encode(tmp_path / "a.m4a", "aac", voice(48_000), "fltp")
    content = path.read_bytes()
    path.write_bytes(content[: content.index(b"moov") - 4])
    with pytest.raises(BrokenHeader, match="index"):
        measure(path)


def test_damage_inside_is_told(tmp_path: Path) -> None:
    path = encode(tmp_path / "a.mka", "flac", voice(48_000), "s16")
    content = bytearray(path.read_bytes())
    content[len(content) // 3 : len(content) // 3 + 20_000] = bytes(range(250)) * 80
    path.write_bytes(content)
    codes = [note.code for note in measure(path).structure]
    assert codes
    assert set(codes) <= {"damaged", "truncated"}


def test_a_change_of_format_on_the_way_ends_the_measurement_and_is_told(tmp_path: Path) -> None:
    first = encode(tmp_path / "a.aac", "aac", stereo(voice(48_000)), "fltp")
    second = encode(tmp_path / "b.aac", "aac", voice(24_000), "fltp", 24_000)
    joined = tmp_path / "c.aac"
    joined.write_bytes(first.read_bytes() + second.read_bytes())
    measurement = measure(joined)
    assert [note.code for note in measurement.structure] == ["format-changes"]
    assert measurement.format.seconds == pytest.approx(6.0, abs=0.1)
    assert not measurement.salvageable


def test_blocks_have_one_size_whatever_the_packets(tmp_path: Path) -> None:
    source = open_source(encode(tmp_path / "a.mka", "flac", stereo(voice(48_000)), "s16"))
    sizes = [block.shape for block in source.blocks(10_000)]
    source.close()
    assert sizes == [(2, 10_000)] * 28 + [(2, 8_000)]


def test_more_channels_than_can_be_measured_are_refused(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", np.zeros((4_800, 16)))
    with pytest.raises(UnsupportedFormat, match="16 channels"):
        measure(path)


PLAYLISTS = [
    b"#EXTM3U\n#EXT-X-TARGETDURATION:10\n#EXTINF:10,\nfile:///etc/hostname\n#EXT-X-ENDLIST\n",
    b"ffconcat version 1.0\nfile /etc/hostname\n",
    b"v=0\no=- 0 0 IN IP4 127.0.0.1\nc=IN IP4 127.0.0.1\nm=audio 9 RTP/AVP 0\n",
    b"<?xml version='1.0'?><MPD xmlns='urn:mpeg:dash:schema:mpd:2011'></MPD>",
]


@pytest.mark.parametrize("content", PLAYLISTS)
def test_a_playlist_is_never_followed(content: bytes, tmp_path: Path) -> None:
    for name in ("a.m3u8", "a.wav", "a.m4a"):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(AudioQCError):
            measure(tmp_path / name)


def test_a_long_recording_of_uncoded_sound_in_a_movie_is_not_taken_for_a_lie(tmp_path: Path) -> None:
    """One sample of its index is one frame: 40 minutes have 115 million."""
    path = encode(tmp_path / "a.mov", "pcm_s16le", voice(48_000), "s16")
    content = bytearray(path.read_bytes())
    size = content.index(b"stsz")
    content[size + 12 : size + 16] = (115_200_000).to_bytes(4, "big")
    path.write_bytes(content)
    assert measure(path).format.frames == 288_000


@pytest.mark.parametrize("samples", [4_600_000, 100_000_000, 2**32 - 1])
def test_an_index_that_claims_more_than_a_day_of_sound_is_refused_before_anything_is_decoded(
    samples: int, tmp_path: Path
) -> None:
    content = encode(tmp_path / "a.m4a", "aac", voice(48_000), "fltp").read_bytes()
    lying = bytearray(content)
    at = lying.index(b"stsz")
    lying[at + 8 : at + 16] = (1).to_bytes(4, "big") + samples.to_bytes(4, "big")
    (tmp_path / "b.m4a").write_bytes(lying)
    uncoded = bytearray(encode(tmp_path / "a.mov", "pcm_s16le", voice(48_000), "s16").read_bytes())
    at = uncoded.index(b"stsc")
    chunk = min(2**32 - 1, samples * 1_000)
    uncoded[at + 16 : at + 20] = chunk.to_bytes(4, "big")
    at = uncoded.index(b"stco")
    uncoded[at + 8 : at + 12] = (2_000).to_bytes(4, "big")
    (tmp_path / "b.mov").write_bytes(uncoded)
    for name in ("b.m4a", "b.mov"):
        with pytest.raises(BrokenHeader, match="more sound than"):
            measure(tmp_path / name)
