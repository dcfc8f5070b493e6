"""MARC 21 for an interview: a bibliographic record of spoken word, as ISO 2709 and as MARCXML, by pymarc.

Fields after the MARC 21 format for bibliographic data (Library of Congress); terms of content, medium and carrier after
RDA. A name that nobody has written in catalogue order stands as it is spoken (first indicator 0).
"""

from collections.abc import Iterable
from datetime import UTC
from xml.etree import ElementTree

from pymarc import Field, Indicators, Record, Subfield
from pymarc.marcxml import record_to_xml_node

from intake.catalogue.dates import in_words
from intake.catalogue.languages import UNDETERMINED, iso639_2b, iso639_3, name_of
from intake.catalogue.rights import LABELS
from intake.outputs.records.described import Described, Point, Role, Somebody

NAMESPACE = "http://www.loc.gov/MARC21/slim"
# New; non-musical sound; one item; Unicode; described after RDA with the punctuation of ISBD.
LEADER = "00000nim a2200000 i 4500"
FROM_A_CARD = "computer card"


def marc(said: Described) -> bytes:
    """One record in ISO 2709, for a file of many."""
    return _record(said).as_marc()


def marcxml(records: Iterable[Described]) -> bytes:
    """A collection in MARCXML."""
    ElementTree.register_namespace("", NAMESPACE)
    root = ElementTree.Element(f"{{{NAMESPACE}}}collection")
    root.extend(marcxml_element(said) for said in records)
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)


def marcxml_element(said: Described) -> ElementTree.Element:
    ElementTree.register_namespace("", NAMESPACE)
    node = record_to_xml_node(_record(said))
    for element in node.iter():
        element.tag = f"{{{NAMESPACE}}}{element.tag.rpartition('}')[2]}"
    return node


def _record(said: Described) -> Record:
    record = Record(leader=LEADER, force_utf8=True)
    for field in [*_fixed(said), *_about(said)]:
        record.add_field(field)
    return record


def _fixed(said: Described) -> list[Field]:
    """The control number, when it was changed, and the forty places of field 008 (its places are from memory)."""
    language = (iso639_2b(said.languages[0]) if said.languages else "") or UNDETERMINED
    dates = f"{said.accepted_on:%y%m%d}s{said.recorded_on.year:04}    "
    # No place; no music; nothing of parts and audience; online; nothing with it; interviews; nothing transposed.
    spoken = "xx nnnn o      t  n "
    return [
        Field(tag="001", data=said.identifier),
        Field(tag="005", data=said.changed_at.astimezone(UTC).strftime("%Y%m%d%H%M%S.0")),
        Field(tag="008", data=f"{dates}{spoken}{language} d"),
    ]


def _about(said: Described) -> list[Field]:
    named = [somebody for role in Role for somebody in said.people_as(role)]
    has_main = bool(said.people_as(Role.NARRATOR))
    main = [_name("100", named[0])] if has_main else []
    return [
        *(_coordinates(point) for point in said.points if point.latitude is not None),
        _field("040", "  ", ("b", "eng"), ("e", "rda")),
        *_languages(said),
        *main,
        _field("245", "10" if main else "00", ("a", f"{said.title}.")),
        _field("264", " 0", ("a", f"{said.place},"), ("c", f"{said.recorded_on.year}.")),
        _field("300", "  ", ("a", _extent(said))),
        _field("336", "  ", ("a", "spoken word"), ("b", "spw"), ("2", "rdacontent")),
        _field("337", "  ", ("a", "audio"), ("b", "s"), ("2", "rdamedia")),
        _field("337", "  ", ("a", "computer"), ("b", "c"), ("2", "rdamedia")),
        _field("338", "  ", ("a", FROM_A_CARD), ("b", "ck"), ("2", "rdacarrier")),
        _field("344", "  ", ("a", "digital"), ("2", "rdatr")),
        *(_field("347", "  ", ("a", "audio file"), ("b", kind), ("2", "rdaft")) for kind in _kinds(said)),
        _field("500", "  ", ("a", "Title devised by the library.")),
        *(_field("500", "  ", ("a", f"The {role}'s name is withheld.")) for role in said.withheld),
        *([_field("500", "  ", ("a", "A transcript is kept with the recording."))] if said.has_transcript else []),
        *([_field("505", "0 ", ("a", _contents(said)))] if said.outline else []),
        _access(said),
        _field("518", "  ", ("o", "Recorded"), ("d", said.recorded_on.isoformat()), ("p", said.place)),
        *([_field("520", "2 ", ("a", said.summary))] if said.summary else []),
        *(_field("540", "  ", ("a", f"{LABELS.get(uri, 'Rights')}."), ("u", uri)) for uri in said.rights),
        _field("541", "0 ", ("e", said.identifier), ("d", said.accepted_on.strftime("%Y%m%d"))),
        *([_field("546", "  ", ("a", f"In {' and '.join(map(name_of, said.languages))}."))] if said.languages else []),
        *(_name("600", somebody) for somebody in said.people_as(None)),
        *(_field("648", " 4", ("a", f"{in_words(period)}.")) for period in said.periods),
        *(_heading("650", point) for point in said.subjects),
        *(_heading("651", point) for point in said.places_spoken_of),
        _field("655", " 7", ("a", "Oral histories."), ("2", "lcgft")),
        *(_name("700", somebody) for somebody in named[has_main:]),
        _field("710", "2 ", ("a", f"{said.publisher}.")),
        *(_recorded_at(point) for point in said.places_recorded_at),
        _field("773", "0 ", ("t", said.collection)),
    ]


def _access(said: Described) -> Field:
    """Who may hear it; the day on which it opens as MARC writes days (subfield g, since 2019)."""
    opens = [("g", said.closed_until.strftime("%Y%m%d"))] if said.closed_until else []
    return _field("506", f"{int(said.is_restricted)} ", ("a", said.terms), *opens)


def _languages(said: Described) -> list[Field]:
    """A language without a code in ISO 639-2 has a field of its own, which says that its code is of ISO 639-3."""
    bibliographic = [code for code in map(iso639_2b, said.languages) if code]
    others = [tag for tag in said.languages if not iso639_2b(tag)]
    return [
        *([_field("041", "0 ", *(("a", code) for code in bibliographic))] if bibliographic else []),
        *(_field("041", "07", ("a", iso639_3(tag)), ("2", "iso639-3")) for tag in others),
    ]


def _contents(said: Described) -> str:
    return " -- ".join(f"{topic.at} {topic.words}" for topic in said.outline) + "."


def _coordinates(point: Point) -> Field:
    """A point is the box that has no width: west, east, north, south in decimal degrees (from memory)."""
    east, north = f"{point.longitude:+011.6f}", f"{point.latitude:+011.6f}"
    return _field("034", "0 ", ("d", east), ("e", east), ("f", north), ("g", north), ("3", point.label))


def _heading(tag: str, point: Point) -> Field:
    return _field(tag, " 7", ("a", f"{point.label}."), ("2", point.code), *_uri(point.uri))


def _recorded_at(point: Point) -> Field:
    """Field 751, an added place (from memory)."""
    relator = "http://id.loc.gov/vocabulary/relators/prp"
    told = ("a", point.label), ("e", "production place."), ("2", point.code), ("4", relator)
    return _field("751", "  ", *told, *_uri(point.uri))


def _uri(uri: str) -> list[tuple[str, str]]:
    return [("0", uri)] if uri else []


def _extent(said: Described) -> str:
    files = f"{len(said.files)} audio file{'' if len(said.files) == 1 else 's'}"
    if said.seconds is None:
        return files
    minutes, seconds = divmod(round(said.seconds), 60)
    hours, minutes = divmod(minutes, 60)
    parts = [(hours, "hr."), (minutes, "min."), (seconds, "sec.")]
    return f"{files} ({', '.join(f'{number} {unit}' for number, unit in parts if number) or '0 sec.'})"


def _kinds(said: Described) -> list[str]:
    """RDA calls a WAV file WAVE."""
    kinds = dict.fromkeys("WAVE" if file.container.startswith("WAV") else file.container for file in said.files)
    return [kind for kind in kinds if kind]


def _name(tag: str, somebody: Somebody) -> Field:
    """Whoever is spoken of has no role; the rest of field 600 then says which list the name is of: our own."""
    dates = [("d", f"{_life(somebody.dates)},")] if somebody.dates else []
    role = [("e", f"{somebody.role.term}."), ("4", somebody.role.uri)] if somebody.role else [("2", "local")]
    indicators = f"{int(',' in somebody.catalogued)}{' ' if somebody.role else '7'}"
    return _field(tag, indicators, ("a", f"{somebody.catalogued},"), *dates, *role, *_uri(somebody.uri))


def _life(dates: str) -> str:
    """Years as name headings have them: 1943-2001, 1943-, approximately 1943-."""
    return "-".join(
        f"approximately {end[:-1]}" if end.endswith("~") else end.replace("..", "") for end in dates.split("/")
    )


def _field(tag: str, indicators: str, *subfields: tuple[str, str]) -> Field:
    return Field(
        tag=tag,
        indicators=Indicators(*indicators),
        subfields=[Subfield(code, _one_line(value)) for code, value in subfields],
    )


def _one_line(text: str) -> str:
    """A field has no lines, and its ends are control characters that nothing else may hold."""
    return " ".join("".join(" " if ord(letter) < 32 else letter for letter in text).split())
