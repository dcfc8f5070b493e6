"""Which letters the printed papers can draw, and how any text becomes safe markup for a paragraph.

The papers use DejaVu alone, and every face is embedded. A face that lacks a letter hands it to DejaVu Sans. A letter
that DejaVu Sans lacks too, or that belongs to a right-to-left script, is never drawn as an empty box: it becomes "[…]"
and a sentence says where the whole text stands.
"""

import unicodedata
from collections.abc import Iterator
from functools import cache
from itertools import groupby
from pathlib import Path
from xml.sax.saxutils import escape

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont

FONT_FOLDER = Path(__file__).resolve().parents[3] / "node_modules" / "dejavu-fonts-ttf" / "ttf"

SANS = "DejaVuSans"
SANS_BOLD = "DejaVuSans-Bold"
SANS_OBLIQUE = "DejaVuSans-Oblique"
SERIF = "DejaVuSerif"
SERIF_BOLD = "DejaVuSerif-Bold"
MONO = "DejaVuSansMono"
FACES = (SANS, SANS_BOLD, SANS_OBLIQUE, SERIF, SERIF_BOLD, MONO)

GAP = "[…]"
NOTE_COLOUR = "#5d574c"


class FontsMissingError(RuntimeError):
    """The font files that the papers are drawn with are not where they should be."""


@cache
def register_fonts(folder: Path = FONT_FOLDER) -> None:
    """Load the six faces once per process; FontsMissingError says which file is absent and how to get it."""
    for face in FACES:
        path = folder / f"{face}.ttf"
        try:
            pdfmetrics.registerFont(TTFont(face, str(path)))
        except (OSError, TTFError) as problem:
            raise FontsMissingError(
                f"The font {path.name} for printed papers cannot be read in {folder}. "
                "Run `npm ci` in the project's folder: it installs dejavu-fonts-ttf."
            ) from problem


@cache
def _letters_of(face: str) -> frozenset[int]:
    """Code points for which the face has a glyph."""
    register_fonts()
    return frozenset(pdfmetrics.getFont(face).face.charToGlyph)


def cleaned(text: str) -> str:
    """Composed form (NFC), every run of spaces as one, and no invisible control or format characters.

    SECURITY: format characters include the direction overrides with which a name can pose as another one.
    """
    composed = unicodedata.normalize("NFC", text)
    spaced = "".join(" " if char.isspace() else char for char in composed)
    visible = "".join(char for char in spaced if unicodedata.category(char) not in ("Cc", "Cf", "Cs"))
    return " ".join(visible.split())


def _marked(text: str) -> Iterator[tuple[str, bool]]:
    """Each character with whether it can be drawn; a mark shares the fate of the letter it stands on."""
    letters, drawable = _letters_of(SANS), True
    for char in text:
        if not (unicodedata.category(char).startswith("M") and not drawable):
            # Without a bidirectional layout the letters of these scripts would come out in reverse order.
            right_to_left = unicodedata.bidirectional(char) in ("R", "AL", "AN")
            drawable = ord(char) in letters and not right_to_left
        yield char, drawable


def undrawable(text: str) -> str:
    """The characters of a text that the papers cannot draw, each once, in the order in which they appear."""
    return "".join(dict.fromkeys(char for char, drawable in _marked(cleaned(text)) if not drawable))


def shown_elsewhere(noun: str) -> str:
    """The sentence that stands where a text cannot be printed whole."""
    return f"This {noun} is shown in full on the web page of this paper."


def gapped(text: str) -> str:
    """The text as far as it can be drawn, with "[…]" for each run of characters that cannot; "" if nothing is left."""
    pieces = []
    for drawable, run in groupby(_marked(cleaned(text)), key=lambda pair: pair[1]):
        pieces.append("".join(char for char, _ in run) if drawable else GAP)
    legible = any(char.isalnum() for piece in pieces if piece != GAP for char in piece)
    return "".join(pieces) if legible or GAP not in pieces else ""


def escaped(text: str, face: str) -> str:
    """Paragraph markup that prints the text literally in a face, with DejaVu Sans for letters that the face lacks."""
    letters = _letters_of(face)
    pieces = []
    for own, run in groupby(text, key=lambda char: ord(char) in letters):
        markup = escape("".join(run))
        pieces.append(markup if own else f'<font name="{SANS}">{markup}</font>')
    return "".join(pieces)


def note(sentence: str) -> str:
    """Paragraph markup for a sentence of ours that stands beside somebody's words."""
    return f'<font name="{SANS_OBLIQUE}" color="{NOTE_COLOUR}">{escape(sentence)}</font>'


def printable(text: str, *, face: str = SANS, noun: str = "name") -> str:
    """Paragraph markup for text that people typed: literal, and with a plain sentence where letters cannot be drawn."""
    drawn = escaped(gapped(text), face)
    if not undrawable(text):
        return drawn
    return f"{drawn} {note(shown_elsewhere(noun))}".strip()
