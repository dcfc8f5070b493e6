"""Listening copies: a small MP3 of an original for the browser. The original is only read, block by block.

Constant bit rate, because browsers seek coarsely in an MP3 of variable bit rate. The pass is one chain of blocks:
decode, at most two channels, one fixed gain, no sample over full scale, a rate that MP3 has, encode. At a constant bit
rate LAME lowers the sound by 0.45 dB for headroom of its own (measured): these copies are for listening, never for
measuring.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain
from pathlib import Path

import av
import numpy as np
import numpy.typing as npt
import soundfile
from av.audio.stream import AudioStream
from av.container import InputContainer, OutputContainer

MEDIA_TYPE = "audio/mpeg"
BIT_RATES = {1: 96_000, 2: 128_000}  # bits per second by channels; legal at every rate below
MP3_RATES = (16_000, 22_050, 24_000, 32_000, 44_100, 48_000)  # Hz, ISO/IEC 11172-3 and 13818-3
# SECURITY: a header that claims one sample a second would turn a small file into years of MP3.
LOWEST_SOURCE_RATE = 4_000  # Hz; common practice, no source
LAYOUTS = {1: "mono", 2: "stereo"}
BLOCK_FRAMES = 65_536
NO_SOUND = "This file holds no sound that we can read, so there is no copy of it."
# What a streamed file should have: -16 to -20 LUFS (AES TD1004.1.15-10), and no peak over -1 dBTP (EBU R 128).
TARGET_LUFS = -18.0
HIGHEST_DBTP = -1.0
LAME_HEADROOM_DB = 0.45
# More would bring up the noise of a room, or of a microphone not plugged in (common practice, no source).
MOST_GAIN_DB = 30.0

# SECURITY: FFmpeg also reads playlists and scripts that name other files or addresses, and a handed-in file may pose as
# anything. Only containers that hold their own sound are tried, and only from disk.
CONTAINERS = "wav,w64,aiff,caf,au,flac,mp3,aac,ogg,mov,matroska,asf,amr"
OPEN_OPTIONS = {"format_whitelist": CONTAINERS, "protocol_whitelist": "file"}

# What stands for full scale, and for zero, in the integer samples that FFmpeg hands out (floats are at scale already).
INTEGER_SCALES = {"u8": (128.0, 128.0), "s16": (32_768.0, 0.0), "s32": (2_147_483_648.0, 0.0)}

Block = npt.NDArray[np.float32]  # frames x channels, full scale at 1.0
Progress = Callable[[float], None]
Silences = Sequence[tuple[float, float]]
# Beside a silence, so that it does not click; nothing of the passage itself is let through.
RAMP_SECONDS = 0.005


class ListeningCopyFailed(Exception):
    """The source cannot be read as sound; the message is a sentence for people."""


@dataclass(frozen=True)
class ListeningCopy:
    """What was made: length in seconds, size in bytes, media type, constant bit rate in bits per second."""

    seconds: float
    bytes: int
    media_type: str
    bit_rate: int


@dataclass(frozen=True)
class Sleeve:
    """What the copy says of itself in its tag."""

    title: str = ""
    comment: str = ""


NO_SLEEVE = Sleeve()


@dataclass(frozen=True)
class Sound:
    """An opened recording: its rate in Hz, its channels, its blocks in order, once."""

    rate: int
    channels: int
    blocks: Iterator[Block]


@dataclass(frozen=True)
class _Wanted:
    """`gain` is a factor; `silences` are seconds from the beginning: from, to."""

    gain: float
    sleeve: Sleeve
    silences: Silences


def gain_for(integrated_lufs: float | None, true_peak_dbtp: float | None) -> float:
    """The one gain in dB that brings a recording to TARGET_LUFS, its peaks to HIGHEST_DBTP at most.

    Nothing is squeezed: where a peak stands in the way the copy stays softer. 0 where nothing was measured.
    """
    if integrated_lufs is None or true_peak_dbtp is None:
        return 0.0
    wanted = TARGET_LUFS + LAME_HEADROOM_DB - integrated_lufs
    return round(min(wanted, HIGHEST_DBTP - true_peak_dbtp, MOST_GAIN_DB), 1)


def make_listening_copy(
    source: Path,
    target: Path,
    *,
    gain_db: float = 0.0,
    sleeve: Sleeve = NO_SLEEVE,
    silences: Silences = (),
    progress: Progress | None = None,
) -> ListeningCopy:
    """Write an MP3 of `source` to `target` in bounded memory; the same source gives the same bytes.

    Mono stays mono, stereo stays stereo, more channels are mixed to stereo; all is made louder or softer by one
    `gain_db` from beginning to end, and the `silences` (seconds: from, to) are silent. `progress` is called after every
    block (65,536 samples of each channel, 1.4 s at 48 kHz) with the seconds read so far. ListeningCopyFailed if the
    source holds no readable sound; a missing source or a full disk stays an OSError. After any failure nothing stands
    at `target`. The caller syncs the file and renames it.
    """
    source.stat()  # a missing original is a fault of the store, not of the recording
    try:
        return _copied(source, target, _Wanted(10 ** (gain_db / 20), sleeve, silences), progress)
    except BaseException:
        target.unlink(missing_ok=True)
        raise


def sounds_of(source: Path) -> Iterator[Sound]:
    """A file's sound by each reader that finds any, the best first.

    Libsndfile keeps every sample of a WAV. FFmpeg knows the formats of telephones, finds the sound in a WAV whose
    recorder lost power before it wrote the sizes, and steps over torn spots.
    """
    for reader in (_by_libsndfile, _by_ffmpeg):
        if sound := reader(source):
            yield sound


def mp3_rate(source_rate: int) -> int:
    """The copy's rate in Hz: the source's own where MP3 has it, else the next above; at most 48 kHz."""
    if source_rate > MP3_RATES[-1]:
        return 44_100 if source_rate % 44_100 == 0 else 48_000
    return min(rate for rate in MP3_RATES if rate >= source_rate)


def _copied(source: Path, target: Path, wanted: _Wanted, progress: Progress | None) -> ListeningCopy:
    for sound in sounds_of(source):
        # Torn in the middle: start again with the other reader.
        with suppress(soundfile.LibsndfileError):
            return _encoded(sound, target, wanted, progress)
    raise ListeningCopyFailed(NO_SOUND)


def _encoded(sound: Sound, target: Path, wanted: _Wanted, progress: Progress | None) -> ListeningCopy:
    if sound.rate < LOWEST_SOURCE_RATE:
        raise ListeningCopyFailed(f"This file claims {sound.rate} samples a second, too few to be a recording.")
    channels = min(sound.channels, 2)
    bit_rate = BIT_RATES[channels]
    frames_read = packets_written = 0
    with av.open(str(target), "w", format="mp3") as container:
        container.metadata.update(vars(wanted.sleeve))
        # SECURITY: LAME aborts the whole process on floats far over full scale, so it is given integers only.
        stream = container.add_stream(
            "libmp3lame", rate=mp3_rate(sound.rate), bit_rate=bit_rate, layout=LAYOUTS[channels], format="s32p"
        )
        for block in sound.blocks:
            heard = _silenced(block * wanted.gain, sound.rate, frames_read, wanted.silences)
            packets_written += _put(container, stream.encode(_frame(heard, sound.rate, starts_at=frames_read)))
            frames_read += len(block)
            if progress:
                progress(frames_read / sound.rate)
        packets_written += _put(container, stream.encode(None))
    if not packets_written:
        raise ListeningCopyFailed("This file holds too little sound to make a listening copy of it.")
    return ListeningCopy(frames_read / sound.rate, target.stat().st_size, MEDIA_TYPE, bit_rate)


def _put(container: OutputContainer, packets: list[av.Packet]) -> int:
    container.mux(packets)
    return len(packets)


def _frame(block: Block, rate: int, *, starts_at: int) -> av.AudioFrame:
    """The block as the encoder takes it; the encoder's own resampler changes the rate where it must."""
    samples = _within_full_scale(_at_most_stereo(block))
    frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(samples.T), format="fltp", layout=LAYOUTS[samples.shape[1]])
    frame.sample_rate = rate
    frame.time_base = Fraction(1, rate)
    frame.pts = starts_at
    return frame


def _silenced(block: Block, rate: int, starts_at: int, silences: Silences) -> Block:
    if not silences:
        return block
    seconds = (starts_at + np.arange(len(block))) / rate
    share = np.ones(len(block))
    for begins, ends in silences:
        away = np.maximum(begins - seconds, seconds - ends)  # seconds to the passage; 0 and less within it
        share = np.minimum(share, np.clip(away / RAMP_SECONDS, 0.0, 1.0))
    # Not by the product alone: a sample that is no number stays one when multiplied by 0.
    return np.where(share[:, None] > 0, block * share[:, None], 0.0).astype(np.float32)


def _at_most_stereo(block: Block) -> Block:
    channels = block.shape[1]
    return block if channels <= 2 else block @ stereo_weights(channels)


def stereo_weights(channels: int) -> Block:
    """How much of each channel goes to left and right (channels x 2, each column sums to 1).

    Field recorders write one microphone a channel and seldom say where it stood, so no channel may be left out as a
    cinema mix would: odd ones go left, even ones right, an odd last one to both. The mean cannot go over full scale.
    """
    number = np.arange(channels)
    lone = (number == channels - 1) & (channels % 2 == 1)
    sides = np.stack([(number % 2 == 0) | lone, (number % 2 == 1) | lone], axis=1).astype(np.float32)
    return sides / sides.sum(axis=0)


def _within_full_scale(block: Block) -> Block:
    """Float files may go over full scale or hold values that are no number: clip the first, silence the second."""
    return np.clip(np.nan_to_num(block, nan=0.0), -1.0, 1.0)


def _by_libsndfile(source: Path) -> Sound | None:
    try:
        file = soundfile.SoundFile(source)
    except soundfile.LibsndfileError:
        return None
    if not file.frames:
        file.close()
        return None
    return Sound(file.samplerate, file.channels, _libsndfile_blocks(file))


def _libsndfile_blocks(file: soundfile.SoundFile) -> Iterator[Block]:
    with file:
        while len(block := file.read(BLOCK_FRAMES, dtype="float32", always_2d=True)):
            yield block


def _by_ffmpeg(source: Path) -> Sound | None:
    frames = _ffmpeg_frames(source)
    first = next(frames, None)
    if first is None:
        return None
    return Sound(first.sample_rate, first.layout.nb_channels, _ffmpeg_blocks(chain([first], frames), first))


def _ffmpeg_frames(source: Path) -> Iterator[av.AudioFrame]:
    """The decoded frames of the first audio stream; none if FFmpeg cannot open the file or finds no such stream."""
    try:
        container = av.open(str(source.resolve()), options=OPEN_OPTIONS, metadata_errors="replace")
    except av.FFmpegError:
        return
    with closing(container):
        for packet in _packets(container):
            yield from _decoded(packet)


def _packets(container: InputContainer) -> "Iterator[av.Packet[AudioStream]]":
    """The packets of the first audio stream, up to the end or to where the container is torn beyond reading."""
    if not container.streams.audio:
        return
    try:
        yield from container.demux(container.streams.audio[0])
    except av.FFmpegError as problem:
        if isinstance(problem, OSError):
            raise  # the disk failed, not the recording


def _decoded(packet: "av.Packet[AudioStream]") -> list[av.AudioFrame]:
    """The packet's frames; none for a damaged packet, as in any player: one torn spot does not cost the whole copy.

    FFmpeg's decoders report damage under many names, some of them borrowed from the operating system.
    """
    try:
        return [frame for frame in packet.decode() if frame.samples]
    except av.FFmpegError:
        return []


def _ffmpeg_blocks(frames: Iterator[av.AudioFrame], first: av.AudioFrame) -> Iterator[Block]:
    pending: list[Block] = []
    for frame in frames:
        if (frame.sample_rate, frame.layout.nb_channels) != (first.sample_rate, first.layout.nb_channels):
            raise ListeningCopyFailed("This file changes its sample rate or channels half-way, so we cannot copy it.")
        pending.append(_samples(frame))
        if sum(map(len, pending)) >= BLOCK_FRAMES:
            yield np.concatenate(pending)
            pending = []
    if pending:
        yield np.concatenate(pending)


def _samples(frame: av.AudioFrame) -> Block:
    samples = frame.to_ndarray()
    samples = samples.T if frame.format.is_planar else samples.reshape(-1, frame.layout.nb_channels)
    scale, zero = INTEGER_SCALES.get(frame.format.name.removesuffix("p"), (1.0, 0.0))
    return ((samples - zero) / scale).astype(np.float32)
