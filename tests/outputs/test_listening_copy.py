"""A listening copy sounds like its source, lasts as long, and never needs the whole file in memory.

Copies are decoded by libsndfile (mpg123), which shares no code with the encoder.
"""

import os
import struct
import subprocess
import sys
from pathlib import Path

import av
import numpy as np
import numpy.typing as npt
import pytest
import soundfile

from intake.outputs.listening import ListeningCopyFailed, make_listening_copy, mp3_rate, stereo_weights

ROOT = Path(__file__).resolve().parents[2]
HEADERS = ROOT.parent / "shared" / "reference" / "headers"
Samples = npt.NDArray[np.float64]


def tone(seconds: float, rate: int = 48_000, *, hertz: float = 1000.0, peak_dbfs: float = -20.0) -> Samples:
    time = np.arange(round(seconds * rate)) / rate
    return 10 ** (peak_dbfs / 20) * np.sin(2 * np.pi * hertz * time)


def channels(signal: Samples, count: int) -> Samples:
    return np.repeat(signal[:, None], count, axis=1)


def level_dbfs(samples: Samples) -> Samples:
    """The peak level of a sine of the same power as the middle half, per channel."""
    middle = samples[len(samples) // 4 : 3 * len(samples) // 4]
    return 20 * np.log10(np.sqrt(2 * np.mean(middle**2, axis=0)) + 1e-12)


def copied(source: Path) -> tuple[Samples, int]:
    make_listening_copy(source, source.with_suffix(".mp3"))
    return soundfile.read(source.with_suffix(".mp3"), always_2d=True)


@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
def test_a_tone_keeps_its_level_within_half_a_decibel(subtype: str, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "tone.wav", tone(4), 48_000, subtype=subtype)
    heard, _ = copied(tmp_path / "tone.wav")
    assert level_dbfs(heard) == pytest.approx(-20, abs=0.5)


@pytest.mark.parametrize("rate", [8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 88_200, 96_000, 192_000])
@pytest.mark.parametrize("count", [1, 2])
def test_length_channels_and_level_survive_at_every_rate(rate: int, count: int, tmp_path: Path) -> None:
    source = tmp_path / "tone.wav"
    soundfile.write(source, channels(tone(3.21, rate), count), rate, subtype="PCM_24")
    copy = make_listening_copy(source, tmp_path / "copy.mp3")
    heard, heard_rate = soundfile.read(tmp_path / "copy.mp3", always_2d=True)
    one_mp3_frame = (1152 if heard_rate >= 32_000 else 576) / heard_rate  # ISO/IEC 11172-3 and 13818-3, layer III
    assert heard_rate == mp3_rate(rate) <= 48_000
    assert heard.shape[1] == count
    assert copy.seconds == pytest.approx(soundfile.info(source).duration)
    assert len(heard) / heard_rate == pytest.approx(copy.seconds, abs=one_mp3_frame)
    assert level_dbfs(heard) == pytest.approx(-20, abs=0.5)


def test_the_copy_is_described_as_it_is(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "tone.wav", channels(tone(5), 2), 48_000)
    copy = make_listening_copy(tmp_path / "tone.wav", tmp_path / "copy.mp3")
    assert copy.bytes == (tmp_path / "copy.mp3").stat().st_size
    assert copy.media_type == "audio/mpeg"
    assert copy.bytes * 8 / copy.seconds == pytest.approx(copy.bit_rate, rel=0.02)


def test_every_frame_of_the_copy_has_the_same_size(tmp_path: Path) -> None:
    """Constant bit rate: a layer III frame holds 144 x bit rate / sampling rate bytes (ISO/IEC 11172-3, 2.4.3.1)."""
    noise = np.random.default_rng(7).normal(0, 0.1, (48_000 * 6, 2)) * np.repeat([1, 0, 1], 96_000)[:, None]
    soundfile.write(tmp_path / "noise.wav", noise, 48_000)
    copy = make_listening_copy(tmp_path / "noise.wav", tmp_path / "copy.mp3")
    with av.open(str(tmp_path / "copy.mp3")) as container:
        sizes = {packet.size for packet in container.demux(container.streams.audio[0]) if packet.size}
    assert sizes == {144 * copy.bit_rate // 48_000}


def test_the_same_source_gives_the_same_bytes(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "tone.wav", tone(3, 44_100), 44_100)
    make_listening_copy(tmp_path / "tone.wav", tmp_path / "first.mp3")
    make_listening_copy(tmp_path / "tone.wav", tmp_path / "second.mp3")
    assert (tmp_path / "first.mp3").read_bytes() == (tmp_path / "second.mp3").read_bytes()


def test_left_stays_left_and_right_stays_right(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "sides.wav", np.stack([tone(3), np.zeros(144_000)], axis=1), 48_000)
    heard, _ = copied(tmp_path / "sides.wav")
    left, right = level_dbfs(heard)
    assert left == pytest.approx(-20, abs=0.5)
    assert right < -60


def test_silence_stays_silence(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "silence.wav", np.zeros((96_000, 2)), 48_000)
    heard, _ = copied(tmp_path / "silence.wav")
    assert np.max(np.abs(heard)) == 0


@pytest.mark.parametrize("peak_dbfs", [3, 12, 200])
@pytest.mark.parametrize("rate", [48_000, 96_000])
def test_a_float_over_full_scale_is_clipped_and_never_wraps(peak_dbfs: float, rate: int, tmp_path: Path) -> None:
    loud = tone(3, rate, hertz=200, peak_dbfs=peak_dbfs)
    soundfile.write(tmp_path / "loud.wav", loud, rate, subtype="FLOAT")
    heard, _ = copied(tmp_path / "loud.wav")
    clipped = np.clip(loud, -1, 1)[:: rate // 48_000]
    assert np.corrcoef(heard[4800:-4800, 0], clipped[4800 : len(heard) - 4800])[0, 1] > 0.99
    assert np.max(np.abs(heard)) < 1.25  # the coder rings a little at the corners; a wrapped sample would be at -1


def test_samples_that_are_no_number_are_silent(tmp_path: Path) -> None:
    broken = tone(3)
    broken[70_000:72_000] = np.nan
    broken[80_000] = np.inf
    soundfile.write(tmp_path / "broken.wav", broken, 48_000, subtype="FLOAT")
    heard, _ = copied(tmp_path / "broken.wav")
    assert np.all(np.isfinite(heard))
    assert np.max(np.abs(heard[70_600:71_400])) < 0.02
    assert level_dbfs(heard[100_000:]) == pytest.approx(-20, abs=0.5)


def test_sound_above_the_rate_of_the_copy_does_not_fold_down(tmp_path: Path) -> None:
    # 30 kHz sampled at 96 kHz would be heard at 18 kHz if every second sample were simply dropped (sampling theorem).
    soundfile.write(tmp_path / "high.wav", tone(3, 96_000, hertz=30_000, peak_dbfs=-6), 96_000, subtype="PCM_24")
    heard, rate = copied(tmp_path / "high.wav")
    assert rate == 48_000
    assert level_dbfs(heard) < -80


@pytest.mark.parametrize("microphone", range(6))
def test_each_of_six_microphones_is_heard_on_its_side(microphone: int, tmp_path: Path) -> None:
    six = np.zeros((144_000, 6))
    six[:, microphone] = tone(3)
    soundfile.write(tmp_path / "six.wav", six, 48_000, subtype="PCM_24")
    heard, _ = copied(tmp_path / "six.wav")
    assert heard.shape[1] == 2
    # One of three in the mean: 20 log10(1/3) = -9.54 dB.
    assert level_dbfs(heard)[microphone % 2] == pytest.approx(-20 - 9.54, abs=0.5)
    assert level_dbfs(heard)[1 - microphone % 2] < -60


@pytest.mark.parametrize("count", range(3, 33))
def test_no_channel_is_left_out_of_the_mix_and_the_mix_cannot_clip(count: int) -> None:
    weights = stereo_weights(count)
    assert np.all(weights.sum(axis=1) > 0)
    assert weights.sum(axis=0) == pytest.approx([1, 1])


def test_a_cut_off_wav_is_copied_as_far_as_it_goes(tmp_path: Path) -> None:
    source = tmp_path / "cut.wav"
    soundfile.write(source, tone(6), 48_000, subtype="PCM_24")
    os.truncate(source, 44 + 3 * 48_000 * 4 + 1)  # four of the six seconds and a third of a sample
    copy = make_listening_copy(source, tmp_path / "copy.mp3")
    assert copy.seconds == pytest.approx(4, abs=0.001)


def test_a_wav_whose_sizes_were_never_written_is_copied_whole(tmp_path: Path) -> None:
    source = tmp_path / "unfinished.wav"
    soundfile.write(source, tone(4), 48_000, subtype="PCM_16")
    data = bytearray(source.read_bytes())
    data[4:8] = data[40:44] = bytes(4)
    source.write_bytes(data)
    heard, _ = copied(source)
    assert len(heard) == pytest.approx(4 * 48_000, abs=1152)
    assert level_dbfs(heard) == pytest.approx(-20, abs=0.5)


@pytest.mark.parametrize(("suffix", "codec"), [("m4a", "aac"), ("ogg", "libopus"), ("wma", "wmav2"), ("flac", "flac")])
def test_the_formats_of_telephones_are_copied_too(suffix: str, codec: str, tmp_path: Path) -> None:
    source = tmp_path / f"telephone.{suffix}"
    encode(source, codec, tone(4))
    heard, rate = copied(source)
    assert len(heard) / rate == pytest.approx(4, abs=0.1)  # these codecs pad their last frames
    assert level_dbfs(heard) == pytest.approx(-20, abs=1)


@pytest.mark.parametrize(("suffix", "codec"), [("flac", "flac"), ("aac", "aac")])
def test_a_torn_spot_does_not_cost_the_whole_copy(suffix: str, codec: str, tmp_path: Path) -> None:
    source = tmp_path / f"torn.{suffix}"
    encode(source, codec, tone(8))
    data = bytearray(source.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 40] = b"\xa5" * 40
    source.write_bytes(data)
    heard, rate = copied(source)
    assert 7 < len(heard) / rate < 8.2
    assert level_dbfs(heard[-3 * rate :]) == pytest.approx(-20, abs=1)  # the sound behind the torn spot is there


def test_a_file_that_changes_its_rate_half_way_is_refused_in_a_sentence(tmp_path: Path) -> None:
    encode(tmp_path / "first.aac", "aac", tone(2))
    encode(tmp_path / "second.aac", "aac", tone(2, 32_000), rate=32_000)
    both = (tmp_path / "first.aac").read_bytes() + (tmp_path / "second.aac").read_bytes()
    (tmp_path / "both.aac").write_bytes(both)
    with pytest.raises(ListeningCopyFailed, match="changes its sample rate"):
        make_listening_copy(tmp_path / "both.aac", tmp_path / "copy.mp3")


def encode(target: Path, codec: str, signal: Samples, *, rate: int = 48_000) -> None:
    with av.open(str(target), "w") as container:
        stream = container.add_stream(codec, rate=rate, layout="mono", bit_rate=96_000)
        frame = av.AudioFrame.from_ndarray(signal.astype(np.float32)[None, :], format="fltp", layout="mono")
        frame.sample_rate = rate
        container.mux(stream.encode(frame))
        container.mux(stream.encode(None))


@pytest.mark.parametrize(
    "content", [b"", b"Dear library, here is my recording.\n" * 40, b"RIFF\x00\x00\x00\x00WAVE", bytes(5000)]
)
def test_what_is_no_recording_is_refused_in_a_sentence(content: bytes, tmp_path: Path) -> None:
    source, target = tmp_path / "letter.wav", tmp_path / "copy.mp3"
    source.write_bytes(content)
    with pytest.raises(ListeningCopyFailed, match=r"^This file holds no sound that we can read, .*\.$"):
        make_listening_copy(source, target)
    assert not target.exists()


@pytest.mark.parametrize("rate", [1, 3_999])
def test_a_header_with_an_impossible_rate_is_refused(rate: int, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "slow.wav", np.zeros(1000), rate)
    with pytest.raises(ListeningCopyFailed, match=f"claims {rate} samples a second"):
        make_listening_copy(tmp_path / "slow.wav", tmp_path / "copy.mp3")


def test_a_file_of_a_few_samples_is_copied_or_refused_but_never_half_made(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "one.wav", np.zeros(1), 48_000)
    assert make_listening_copy(tmp_path / "one.wav", tmp_path / "one.mp3").bytes > 0
    soundfile.write(tmp_path / "few.wav", np.zeros(10), 1_000_000)
    with pytest.raises(ListeningCopyFailed, match="too little sound"):
        make_listening_copy(tmp_path / "few.wav", tmp_path / "few.mp3")
    assert not (tmp_path / "few.mp3").exists()


PLAYLISTS = {
    "list of files": "ffconcat version 1.0\nfile secret.wav\n",
    "stream playlist": "#EXTM3U\n#EXT-X-TARGETDURATION:2\n#EXTINF:2,\nsecret.wav\n#EXT-X-ENDLIST\n",
}


@pytest.mark.parametrize("name", ["posing.wav", "posing.m3u8", "posing.m4a"])
@pytest.mark.parametrize("kind", PLAYLISTS)
def test_a_playlist_cannot_pull_in_another_file(name: str, kind: str, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "secret.wav", tone(2), 48_000)
    (tmp_path / name).write_text(PLAYLISTS[kind])
    with pytest.raises(ListeningCopyFailed):
        make_listening_copy(tmp_path / name, tmp_path / "copy.mp3")


def test_control_without_the_list_of_containers_a_playlist_is_followed(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "secret.wav", tone(2), 48_000)
    (tmp_path / "posing.wav").write_text(PLAYLISTS["list of files"])
    with av.open(str(tmp_path / "posing.wav")) as container:
        assert sum(frame.samples for frame in container.decode(audio=0)) == 96_000


def test_a_missing_source_is_an_error_of_the_store_not_of_the_recording(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        make_listening_copy(tmp_path / "gone.wav", tmp_path / "copy.mp3")


def test_the_source_is_never_changed(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "tone.wav", tone(2), 48_000)
    before = (tmp_path / "tone.wav").read_bytes()
    (tmp_path / "tone.wav").chmod(0o400)
    make_listening_copy(tmp_path / "tone.wav", tmp_path / "copy.mp3")
    assert (tmp_path / "tone.wav").read_bytes() == before


def test_the_copy_grows_while_the_source_is_read(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "long.wav", tone(60), 48_000)
    seen: list[tuple[float, int]] = []
    target = tmp_path / "copy.mp3"
    copy = make_listening_copy(
        tmp_path / "long.wav",
        target,
        progress=lambda seconds: seen.append((seconds, target.stat().st_size if target.exists() else 0)),
    )
    moments = [seconds for seconds, _ in seen]
    assert moments == sorted(moments)
    assert len(moments) > 20
    assert moments[-1] == pytest.approx(60)
    half_way = next(size for seconds, size in seen if seconds > 30)
    assert half_way > 0.3 * copy.bytes


def test_a_copy_that_is_stopped_leaves_nothing_behind(tmp_path: Path) -> None:
    class LeaseLostError(Exception):
        pass

    def stop(seconds: float) -> None:
        if seconds > 5:
            raise LeaseLostError

    soundfile.write(tmp_path / "long.wav", tone(20), 48_000)
    with pytest.raises(LeaseLostError):
        make_listening_copy(tmp_path / "long.wav", tmp_path / "copy.mp3", progress=stop)
    assert not (tmp_path / "copy.mp3").exists()


PEAK_OF_A_COPY = """
import sys
from pathlib import Path
from intake.outputs.listening import make_listening_copy
copy = make_listening_copy(Path(sys.argv[1]), Path(sys.argv[2]))
peak = next(line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmHWM"))
print(copy.seconds, int(peak.split()[1]))
"""


def peak_kilobytes(folder: Path, minutes: int) -> int:
    """The peak memory of a process of its own that copies a (sparse, silent) WAV of 16 kHz, 16 bit, mono."""
    source, size = folder / f"{minutes}.wav", minutes * 60 * 16_000 * 2
    form = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 1, 16_000, 32_000, 2, 16)
    source.write_bytes(struct.pack("<4sI4s", b"RIFF", 36 + size, b"WAVE") + form + struct.pack("<4sI", b"data", size))
    os.truncate(source, 44 + size)
    command = [sys.executable, "-c", PEAK_OF_A_COPY, str(source), str(folder / f"{minutes}.mp3")]
    answer = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout.split()
    assert float(answer[0]) == minutes * 60
    return int(answer[1])


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="reads the peak memory from Linux's /proc")
def test_half_an_hour_needs_no_more_memory_than_a_minute(tmp_path: Path) -> None:
    minute, half_hour = peak_kilobytes(tmp_path, 1), peak_kilobytes(tmp_path, 30)
    print(  # noqa: T201 - shown by pytest -s, for whoever wants the figures
        f"peak memory: {minute / 1024:.0f} MiB for 1 minute, {half_hour / 1024:.0f} MiB for 30 minutes"
    )
    # Held whole, the samples of half an hour would add 110 MiB as 32-bit floats.
    assert half_hour - minute < 20 * 1024


@pytest.mark.skipif(not HEADERS.is_dir(), reason="the folder of odd headers is not beside this checkout")
def test_odd_and_damaged_headers_give_a_copy_or_a_plain_refusal(tmp_path: Path) -> None:
    made, refusals = 0, []
    for source in sorted(HEADERS.glob("*.wav")):
        target = tmp_path / f"{source.name}.mp3"
        try:
            copy = make_listening_copy(source, target)
        except ListeningCopyFailed as refusal:
            refusals.append(str(refusal))
            assert not target.exists(), source.name
        else:
            assert copy.bytes == target.stat().st_size > 0, source.name
            made += 1
    assert made > len(refusals) > 0
    assert all(sentence.endswith(".") for sentence in refusals)
