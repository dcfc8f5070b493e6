"""Tells kinds of sound files apart by their first bytes; names and endings decide nothing.

SECURITY: both decoding libraries can guess among hundreds of formats, playlists and network protocols among them.
Strangers' bytes are given to the one parser that is named here, or to none.
"""

from dataclasses import dataclass

HEAD_BYTES = 16


@dataclass(frozen=True)
class Kind:
    """One kind: its `container` in reports, and FFmpeg's demuxer where PyAV reads it or may try after libsndfile."""

    container: str
    demuxer: str
    by_libsndfile: bool = False


WAV = Kind("WAV", "wav", by_libsndfile=True)
FLAC = Kind("FLAC", "flac", by_libsndfile=True)
MP3 = Kind("MP3", "", by_libsndfile=True)
ADTS = Kind("AAC", "aac")
MATROSKA = Kind("Matroska", "matroska")

_BY_MAGIC = (
    (0, b"RIFF", WAV),
    (0, b"RIFX", WAV),
    (0, b"RF64", WAV),
    (0, b"BW64", WAV),
    (8, b"WAVE", WAV),
    (0, b"riff", Kind("W64", "", by_libsndfile=True)),
    (0, b"FORM", Kind("AIFF", "aiff", by_libsndfile=True)),
    (0, b".snd", Kind("AU", "", by_libsndfile=True)),
    (0, b"caff", Kind("CAF", "caf", by_libsndfile=True)),
    (0, b"fLaC", FLAC),
    (0, b"OggS", Kind("OGG", "ogg", by_libsndfile=True)),
    (0, b"#!AMR", Kind("AMR", "amr")),
    (0, bytes.fromhex("3026b2758e66cf11"), Kind("WMA", "asf")),
    (0, bytes.fromhex("1a45dfa3"), MATROSKA),
)
# The box that begins an MP4 file is `ftyp`; QuickTime's oldest files begin with their index or their sound at once.
_MP4_BOXES = (b"ftyp", b"moov", b"mdat", b"wide", b"styp")
_MP4_BRANDS = {b"M4A": "M4A", b"M4B": "M4A", b"3gp": "3GP", b"3g2": "3GP", b"qt ": "MOV"}


def kind_of(head: bytes) -> Kind | None:
    """Return the kind that these first bytes (HEAD_BYTES of them) begin, None for anything else."""
    for offset, magic, kind in _BY_MAGIC:
        if head[offset : offset + len(magic)] == magic:
            return kind
    if head[4:8] in _MP4_BOXES:
        return Kind(_mp4_container(head), "mov")
    return _mpeg_kind(head)


def id3_bytes(head: bytes) -> int:
    """Return the length of an ID3v2 tag (its size is four times seven bits), 0 when the file begins with none."""
    if head[:3] != b"ID3" or len(head) < 10:
        return 0
    size = 0
    for byte in head[6:10]:
        size = size << 7 | byte & 0x7F
    return 10 + size


def _mp4_container(head: bytes) -> str:
    if head[4:8] != b"ftyp":
        return "MOV"
    return _MP4_BRANDS.get(head[8:11], "MP4")


def _mpeg_kind(head: bytes) -> Kind | None:
    """MPEG audio frames begin with eleven set bits; the layer of AAC is written as 00."""
    if len(head) < 2 or head[0] != 0xFF or head[1] & 0xE0 != 0xE0:
        return None
    if head[1] & 0x06:
        return MP3
    return ADTS if head[1] & 0xF0 == 0xF0 else None
