"""Reads the useful fields of an iXML chunk.

SECURITY: XML from strangers. Document types and entities are refused before they are expanded, size, depth and number
of elements are bounded, and nothing outside is ever fetched.
"""

from xml.parsers import expat

from audio_qc.facts.file import IXML

MAX_IXML_BYTES = 262_144
MAX_ELEMENTS = 2_000
MAX_DEPTH = 20
MAX_FIELD_SIGNS = 1_000
_FIELDS = ("PROJECT", "SCENE", "TAKE", "TAPE", "NOTE", "FILE_UID")


class _RefusedXML(Exception):
    pass


def read_ixml(payload: bytes) -> IXML | None:
    """Return the fields; None for what is no well-formed iXML, or no XML that a recorder would write."""
    text = payload[:MAX_IXML_BYTES].rstrip(b"\0 \r\n\t")
    if text[:2] in (b"\xff\xfe", b"\xfe\xff"):  # UTF-16: the last sign may end in a zero
        text += bytes(len(text) % 2)
    reader = _Reader()
    try:
        reader.read(text)
    # ValueError and LookupError: an encoding that does not exist, or with which the parser cannot deal.
    except (expat.ExpatError, _RefusedXML, ValueError, LookupError):
        return None
    return reader.result() if reader.is_ixml else None


class _Reader:
    def __init__(self) -> None:
        self.is_ixml = False
        self._path: list[str] = []
        self._text = ""
        self._elements = 0
        self._fields: dict[str, str] = {}
        self._tracks: list[str] = []

    def read(self, data: bytes) -> None:
        parser = expat.ParserCreate()
        parser.StartDoctypeDeclHandler = self._refuse
        parser.EntityDeclHandler = self._refuse
        parser.ExternalEntityRefHandler = self._refuse
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._characters
        parser.Parse(data, True)

    def result(self) -> IXML:
        texts = {name.lower(): self._fields.get(name, "") for name in _FIELDS}
        return IXML(**texts, track_names=tuple(self._tracks))

    def _refuse(self, *given: object) -> int:
        raise _RefusedXML

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self._elements += 1
        if self._elements > MAX_ELEMENTS or len(self._path) >= MAX_DEPTH:
            raise _RefusedXML
        self.is_ixml = self.is_ixml or (not self._path and name == "BWFXML")
        self._path.append(name)
        self._text = ""

    def _characters(self, text: str) -> None:
        self._text = (self._text + text)[:MAX_FIELD_SIGNS]

    def _end(self, name: str) -> None:
        text = "".join(sign for sign in self._text if sign.isprintable()).strip()
        if len(self._path) == 2 and name in _FIELDS:
            self._fields.setdefault(name, text)
        if self._path[-3:] == ["TRACK_LIST", "TRACK", "NAME"]:
            self._tracks.append(text)
        self._path.pop()
        self._text = ""
