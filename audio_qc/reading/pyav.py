"""Decodes through PyAV (FFmpeg): what phones, old recorders and browsers make.

SECURITY: FFmpeg is given an open file, one demuxer and a short list of decoders. It may open nothing else (playlists,
references to other files, the network), looks at a bounded part of the file before it decodes, and decodes the first
sound only. MP4 indexes are looked over beforehand (mp4.py).
"""

from collections.abc import Iterator
from io import RawIOBase
from itertools import chain
from typing import Any, BinaryIO

import numpy as np

from audio_qc.errors import BrokenHeader, NoSound, UnsupportedFormat
from audio_qc.facts.file import InfoText, StructureNote
from audio_qc.reading.decoder import MAX_TAG_SIGNS, MAX_TAGS, MISSING_S
from audio_qc.reading.details import MAX_MARKS, StoredMark, printable
from audio_qc.reading.kinds import MATROSKA, Kind
from audio_qc.reading.sndfile import CannotDecode

MAX_CHANNELS = 8
MAX_STREAMS = 32
MAX_USELESS_PACKETS = 500  # before the first sound; more is no recording
_OPTIONS = {
    "probesize": "1000000",
    "analyzeduration": "5000000",
    "max_probe_packets": "500",
    "max_streams": str(MAX_STREAMS),
    "protocol_whitelist": "none",
    "enable_drefs": "0",
}
SUBTYPES = {
    "aac": "AAC", "alac": "ALAC", "flac": "FLAC", "opus": "OPUS", "vorbis": "VORBIS", "speex": "SPEEX",
    "amrnb": "AMR_NB", "amrwb": "AMR_WB",
    "wmav1": "WMA", "wmav2": "WMA", "wmapro": "WMA_PRO", "wmavoice": "WMA_VOICE", "wmalossless": "WMA_LOSSLESS",
    "mp3": "MPEG_LAYER_III", "mp3float": "MPEG_LAYER_III", "mp2": "MPEG_LAYER_II", "mp2float": "MPEG_LAYER_II",
    "ac3": "AC3", "eac3": "EAC3", "gsm": "GSM610", "gsm_ms": "GSM610",
    "adpcm_ms": "MS_ADPCM", "adpcm_ima_wav": "IMA_ADPCM", "adpcm_ima_qt": "IMA_ADPCM", "adpcm_yamaha": "YAMAHA_ADPCM",
    "g726": "G726", "g726le": "G726", "pcm_alaw": "ALAW", "pcm_mulaw": "ULAW",
    "pcm_u8": "PCM_U8", "pcm_s8": "PCM_S8", "pcm_s16le": "PCM_16", "pcm_s16be": "PCM_16", "pcm_s24le": "PCM_24",
    "pcm_s24be": "PCM_24", "pcm_s32le": "PCM_32", "pcm_s32be": "PCM_32", "pcm_f32le": "FLOAT", "pcm_f32be": "FLOAT",
    "pcm_f64le": "DOUBLE", "pcm_f64be": "DOUBLE",
}  # fmt: skip
_PCM_BITS = {"PCM_U8": 8, "PCM_S8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32, "FLOAT": 32, "DOUBLE": 64,
             "ALAW": 8, "ULAW": 8}  # fmt: skip
# FFmpeg's sample formats: how numpy reads them, what is subtracted, and what full scale is.
_SAMPLES = {
    "u8": (np.uint8, 128.0, 2.0**7),
    "s16": (np.int16, 0.0, 2.0**15),
    "s32": (np.int32, 0.0, 2.0**31),
    "flt": (np.float32, 0.0, 1.0),
    "dbl": (np.float64, 0.0, 1.0),
}
# What a container says of itself, and no text about the recording.
_TECHNICAL_TAGS = {
    "major_brand", "minor_version", "compatible_brands", "handler_name", "vendor_id", "language", "duration",
}  # fmt: skip
_DURATIONS_ARE_STORED = ("mov", "matroska", "asf", "caf", "aiff", "wav")  # elsewhere FFmpeg estimates them


class PyAVDecoder:
    """The first sound of a file in FFmpeg's hands; its facts are those of the first frame that it decodes."""

    def __init__(self, file: BinaryIO | RawIOBase, kind: Kind) -> None:
        import av  # noqa: PLC0415 - its libraries are large, and most recordings never need them

        self._av = av
        self.container = kind.container
        self.stopped_by = ""
        self._undecodable_packets = 0
        self._changed = ""
        self._container = self._opened(file, kind)
        try:
            self._stream = self._first_sound()
            pieces = self._pieces()
            self._pieces_left = chain([self._first_piece(pieces)], pieces)
        except BaseException:
            self._container.close()
            raise
        self.container = self._container_name(kind)
        self.subtype = SUBTYPES[self._codec_name]
        self.bits_per_sample = self._bits()
        self.claimed_frames = self._claimed_frames(kind)

    def blocks(self, block_frames: int) -> Iterator[np.ndarray]:
        """Yield the sound in blocks of at most `block_frames`, however large the file's packets are."""
        waiting: list[np.ndarray] = []
        frames = 0
        for piece in self._pieces_left:
            waiting.append(piece)
            frames += piece.shape[1]
            if frames >= block_frames:
                joined = np.concatenate(waiting, axis=1)
                whole = frames - frames % block_frames
                for start in range(0, whole, block_frames):
                    yield np.ascontiguousarray(joined[:, start : start + block_frames])
                waiting, frames = [joined[:, whole:].copy()], frames - whole
        if frames:
            yield np.ascontiguousarray(np.concatenate(waiting, axis=1))

    def notes(self, frames_read: int) -> Iterator[StructureNote]:
        """Yield what was odd in the stream."""
        if self._changed:
            yield StructureNote("format-changes", self._changed)
            return
        missing = (self.claimed_frames or 0) - frames_read
        is_short = missing > MISSING_S * self.sample_rate_hz
        if is_short and not self.stopped_by:
            yield StructureNote("truncated", f"The file promises {missing} more frames of sound than it holds.")
        # Where a file ends in the middle of a packet, that packet is part of what is missing.
        if self._undecodable_packets > is_short and not self.stopped_by:
            yield StructureNote("damaged", f"{self._undecodable_packets} packets of sound cannot be decoded.")

    def tags(self) -> tuple[InfoText, ...]:
        """Return title, date, maker and the like, as the file names them."""
        texts = {**self._container.metadata, **self._stream.metadata}
        cleaned = {name: printable(text[:MAX_TAG_SIGNS]) for name, text in list(texts.items())[:MAX_TAGS]}
        return tuple(
            InfoText(printable(name[:100]), text)
            for name, text in cleaned.items()
            if text and name.lower() not in _TECHNICAL_TAGS
        )

    def marks(self) -> tuple[StoredMark, ...]:
        """Return the chapters."""
        return tuple(self._mark(chapter) for chapter in self._container.chapters()[:MAX_MARKS])

    def close(self) -> None:
        """Let go of FFmpeg's handles."""
        self._container.close()

    def _opened(self, file: BinaryIO | RawIOBase, kind: Kind) -> Any:
        file.seek(0)
        lists = {"format_whitelist": kind.demuxer, "codec_whitelist": ",".join(SUBTYPES)}
        try:
            return self._av.open(
                file,
                format=kind.demuxer,
                options={**_OPTIONS, **lists},
                metadata_errors="replace",
                io_open=_refuse_other_files,
            )
        # OSError: a damaged file sends FFmpeg to places where no file can be.
        except (self._av.FFmpegError, OSError, ValueError) as error:
            raise CannotDecode from error

    def _first_sound(self) -> Any:
        streams = self._container.streams
        if not streams.audio:
            raise NoSound("There is no sound in this file, only pictures or other data.")
        first = streams.audio[0]
        for stream in streams:
            if stream is not first:
                stream.discard = self._av.stream.Discard.all
        context = first.codec_context
        self._codec_name = context.name if context is not None else ""
        if self._codec_name not in SUBTYPES:
            raise UnsupportedFormat("The sound in this file is coded in a way that cannot be measured here.")
        context.thread_count = 1
        return first

    def _first_piece(self, pieces: Iterator[np.ndarray]) -> np.ndarray:
        piece = next(pieces, None)
        if piece is None and self._undecodable_packets:
            raise BrokenHeader("The sound in this file is damaged from its beginning on, so it cannot be read.")
        if piece is None:
            raise NoSound("The file has the beginning of a sound file and no sound in it.")
        return piece

    def _pieces(self) -> Iterator[np.ndarray]:
        """Yield what each frame holds, float64 (channels, frames), until the format changes or the decoder gives up."""
        self.sample_rate_hz, self.channels = 0, 0
        for frame in self._frames():
            rate_hz, channels = frame.sample_rate, frame.layout.nb_channels
            if not self.channels:
                self._refuse_too_many(channels)
                self.sample_rate_hz, self.channels = rate_hz, channels
            if (rate_hz, channels) != (self.sample_rate_hz, self.channels):
                self._changed = (
                    f"The recording changes from {self.channels} channels at {self.sample_rate_hz} Hz to {channels} at "
                    f"{rate_hz} Hz; what follows was not measured."
                )
                return
            if frame.samples:
                yield _samples_of(frame, channels)

    def _frames(self) -> Iterator[Any]:
        packets = self._container.demux(self._stream)
        while True:
            try:
                packet = next(packets, None)
                if packet is None:
                    return
                frames = packet.decode()
            except self._av.InvalidDataError:
                self._undecodable_packets += 1
                if not self.channels and self._undecodable_packets >= MAX_USELESS_PACKETS:
                    return
                continue
            except (self._av.FFmpegError, OSError, ValueError) as error:
                self.stopped_by = str(error)
                return
            yield from frames

    def _refuse_too_many(self, channels: int) -> None:
        if not 1 <= channels <= MAX_CHANNELS:
            raise UnsupportedFormat(
                f"This file says that it has {channels} channels; at most {MAX_CHANNELS} can be measured."
            )

    def _container_name(self, kind: Kind) -> str:
        is_webm = kind == MATROSKA and self._codec_name in ("opus", "vorbis")
        return "WebM" if is_webm else kind.container

    def _bits(self) -> int | None:
        """Return the word length of uncoded and losslessly coded sound, from where the coding keeps it."""
        setup = self._stream.codec_context.extradata or b""
        if self.subtype == "ALAC" and len(setup) >= 18:
            return setup[17]  # the setup is an MP4 box: 12 bytes of head, frame length, version, bits
        if self.subtype == "FLAC" and len(setup) >= 14:
            return ((setup[12] & 1) << 4 | setup[13] >> 4) + 1  # STREAMINFO of RFC 9639
        if self.subtype == "WMA_LOSSLESS":
            return 16 if self._stream.codec_context.format.name.startswith("s16") else 24
        return _PCM_BITS.get(self.subtype)

    def _claimed_frames(self, kind: Kind) -> int | None:
        if kind.demuxer not in _DURATIONS_ARE_STORED:
            return None
        stream = self._stream
        if stream.duration is not None and stream.time_base is not None:
            seconds = float(stream.duration * stream.time_base)
        elif self._container.duration is not None:
            seconds = self._container.duration / self._av.time_base
        else:
            return None
        return round(seconds * self.sample_rate_hz) if seconds > 0 else None

    def _mark(self, chapter: dict[str, Any]) -> StoredMark:
        frames = [round(float(chapter[end] * chapter["time_base"]) * self.sample_rate_hz) for end in ("start", "end")]
        start = max(0, frames[0])
        label = printable(str(chapter["metadata"].get("title", ""))[:MAX_TAG_SIGNS])
        return StoredMark(start, label, length_frames=max(0, frames[1] - start))


def _refuse_other_files(url: str, flags: int, options: dict[str, str]) -> Any:
    raise PermissionError("A sound file may not ask for other files.")


def _samples_of(frame: Any, channels: int) -> np.ndarray:
    """Return float64 of shape (channels, frames).

    Not `frame.to_ndarray()`: with eight channels PyAV finds a ninth plane that is not there, and reads it.
    """
    name = frame.format.name
    planar = name.endswith("p")
    dtype, offset, full_scale = _SAMPLES[name.removesuffix("p")]
    planes = frame.planes[: channels if planar else 1]
    count = frame.samples if planar else frame.samples * channels
    values = np.stack([np.frombuffer(plane, dtype=dtype, count=count) for plane in planes]).astype(np.float64)
    if not planar:
        values = np.ascontiguousarray(values.reshape(frame.samples, channels).T)
    return (values - offset) / full_scale if offset else values / full_scale
