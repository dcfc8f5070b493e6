"""Lists of headings as they come in files: SKOS (W3C, 2009) in RDF/XML, Turtle or N-Triples, and CSV."""

import csv
import io
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from xml.sax import SAXException, SAXParseException

from rdflib import RDF, Graph, Literal, Namespace, Node, URIRef
from rdflib.exceptions import ParserError
from rdflib.namespace import OWL, SKOS
from rdflib.plugins.parsers.notation3 import BadSyntax

from intake.errors import Refused

GEO = Namespace("http://www.w3.org/2003/01/geo/wgs84_pos#")
LARGEST_BYTES = 60_000_000
# SECURITY: JSON-LD is not read: a file of it may name an address from which the reader would fetch the rest.
SKOS_FORMATS = {"ttl": "turtle", "rdf": "xml", "xml": "xml", "nt": "nt"}
CSV = "csv"
ENDINGS = (*SKOS_FORMATS, CSV)
COLUMNS = ("label", "variants", "uri", "broader", "note", "latitude", "longitude")
BETWEEN = "|"
MOST_TOLD = 5
LONGEST_LABEL, LONGEST_URI = 300, 500
# Brackets within brackets without end are what the reader has no room for.
UNREADABLE = (ParserError, BadSyntax, SAXException, ValueError, SyntaxError, RecursionError)


@dataclass(frozen=True)
class Listed:
    """One heading of a file. `broader` is the URI of a wider one, or its label where the list has no URIs."""

    label: str
    variants: tuple[str, ...] = ()
    uri: str = ""
    broader: str = ""
    note: str = ""
    latitude: float | None = None
    longitude: float | None = None


def read(name: str, content: bytes, *, language: str = "en") -> list[Listed]:
    """The headings of a file that is named so, each once. Raises Refused, with what is wrong where that can be said.

    `language` is the one whose labels are taken where a list has several.
    """
    ending = name.rpartition(".")[2].lower()
    if ending not in ENDINGS:
        raise Refused(f"A list is a file that ends in {', '.join(ENDINGS[:-1])} (SKOS) or {CSV}.")
    if len(content) > LARGEST_BYTES:
        raise Refused(f"The file is larger than {LARGEST_BYTES // 1_000_000} MB.")
    found = _from_csv(content) if ending == CSV else _from_skos(content, SKOS_FORMATS[ending], language)
    if not found:
        raise Refused("There are no headings in this file.")
    return found


def _from_skos(content: bytes, form: str, language: str) -> list[Listed]:
    graph = Graph()
    try:
        graph.parse(data=content, format=form)
    except UNREADABLE as error:
        raise Refused(f"The file cannot be read as SKOS{_where(error)}. Is it what its ending says?") from error
    concepts = set(graph.subjects(RDF.type, SKOS.Concept)) | set(graph.subjects(SKOS.prefLabel, None))
    concepts -= set(graph.subjects(RDF.type, SKOS.ConceptScheme)) | set(graph.subjects(RDF.type, SKOS.Collection))
    listed = [_concept(graph, one, language) for one in sorted(concepts, key=str) if not _is_retired(graph, one)]
    return [one for one in listed if one]


def _where(error: BaseException) -> str:
    if isinstance(error, BadSyntax):
        return f": something is wrong near line {error.lines + 1}"
    if isinstance(error, SAXParseException):
        return f": something is wrong near line {error.getLineNumber()}"
    return ""


def _concept(graph: Graph, concept: Node, language: str) -> Listed | None:
    """None without a label. Its labels in other languages are variants, by which it is found."""
    preferred = _literals(graph, concept, SKOS.prefLabel)
    if not preferred:
        return None
    label = min(preferred, key=lambda one: (_distance(one, language), str(one)))
    others = [*preferred, *_literals(graph, concept, SKOS.altLabel), *_literals(graph, concept, SKOS.hiddenLabel)]
    notes = _literals(graph, concept, SKOS.scopeNote) or _literals(graph, concept, SKOS.definition)
    north, east = _place(_first(graph, concept, GEO.lat), _first(graph, concept, GEO.long))
    broader = next(iter(sorted(map(str, graph.objects(concept, SKOS.broader)))), "")
    return Listed(
        label=_kept(label)[:LONGEST_LABEL],
        variants=tuple(sorted({_kept(one) for one in others} - {_kept(label)})),
        uri=_kept(concept)[:LONGEST_URI] if isinstance(concept, URIRef) else "",
        broader=_kept(broader),
        note=_kept(min(notes, key=lambda one: _distance(one, language))) if notes else "",
        latitude=north,
        longitude=east,
    )


def _kept(text: object) -> str:
    """Without what no database keeps: control characters, and halves of characters."""
    whole = str(text).encode("utf-8", "replace").decode()
    return "".join(letter for letter in whole if letter in "\n\t" or ord(letter) >= 32).strip()


def _literals(graph: Graph, concept: Node, says: URIRef) -> list[Literal]:
    return [one for one in graph.objects(concept, says) if isinstance(one, Literal) and _kept(one)]


def _distance(literal: Literal, language: str) -> int:
    """How far its language is from the wanted one: the same, one of its kinds, none said, another."""
    tag = (literal.language or "").lower()
    return 0 if tag == language else 1 if tag.partition("-")[0] == language else 2 if not tag else 3


def _is_retired(graph: Graph, concept: Node) -> bool:
    return any(str(one).lower() in {"true", "1"} for one in graph.objects(concept, OWL.deprecated))


def _first(graph: Graph, concept: Node, says: URIRef) -> str:
    return next((str(one) for one in graph.objects(concept, says)), "")


def _from_csv(content: bytes) -> list[Listed]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Refused("The file is not text in UTF-8. Save it as “CSV UTF-8” and try again.") from error
    lines = csv.DictReader(io.StringIO(text, newline=""), delimiter=_delimiter(text))
    given = [name.strip().lower() for name in lines.fieldnames or []]
    if "label" not in given:
        raise Refused(
            f"The first line has to name the columns, and “label” among them. Known are: {', '.join(COLUMNS)}."
        )
    unknown = sorted(set(given) - set(COLUMNS))
    if unknown:
        raise Refused(f"Unknown columns: {', '.join(unknown)}. Known are: {', '.join(COLUMNS)}.")
    lines.fieldnames = given
    return _all_or_faults(_line, enumerate(lines, start=2))


def _delimiter(text: str) -> str:
    """Spreadsheets of many countries part columns by semicolons."""
    first = text.partition("\n")[0]
    return ";" if first.count(";") > first.count(",") else ","


def _all_or_faults(
    read_one: Callable[[dict[str, str]], Listed], lines: Iterable[tuple[int, dict[str, str]]]
) -> list[Listed]:
    found, faults = [], []
    for number, line in lines:
        try:
            found.append(read_one(line))
        except Refused as refused:
            faults += [f"Line {number}: {reason}" for reason in refused.reasons]
    faults += _twice(found)
    if faults:
        more = [f"And {len(faults) - MOST_TOLD} more like these."] if len(faults) > MOST_TOLD else []
        raise Refused(*faults[:MOST_TOLD], *more)
    return found


def _twice(found: list[Listed]) -> Iterator[str]:
    seen: set[str] = set()
    for one in found:
        key = one.uri or one.label.lower()
        if key in seen:
            yield f"“{one.uri or one.label}” stands there twice."
        seen.add(key)


def _line(line: dict[str, str]) -> Listed:
    if None in line or None in line.values():
        raise Refused("it has not as many columns as the first line.")
    told = {name: _kept(line.get(name) or "") for name in COLUMNS}
    if not told["label"]:
        raise Refused("it has no label.")
    if len(told["label"]) > LONGEST_LABEL or len(told["uri"]) > LONGEST_URI:
        raise Refused(f"a label has at most {LONGEST_LABEL} characters, a URI {LONGEST_URI}.")
    north, east = _place(told["latitude"], told["longitude"])
    return Listed(
        label=told["label"],
        variants=tuple(filter(None, (one.strip() for one in told["variants"].split(BETWEEN)))),
        uri=told["uri"],
        broader=told["broader"],
        note=told["note"],
        latitude=north,
        longitude=east,
    )


def _place(latitude: str, longitude: str) -> tuple[float, float] | tuple[None, None]:
    """Degrees north and east. Raises Refused for what is no place on the earth."""
    if not latitude and not longitude:
        return None, None
    try:
        north, east = float(latitude.replace(",", ".")), float(longitude.replace(",", "."))
    except ValueError as error:
        raise Refused("latitude and longitude are degrees such as 55.6761 and 12.5683, both or neither.") from error
    if not (-90 <= north <= 90 and -180 <= east <= 180):
        raise Refused(f"{north}, {east} lies nowhere on the earth: latitude goes to 90 degrees, longitude to 180.")
    return north, east
