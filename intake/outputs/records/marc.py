"""MARC 21 for an interview: a bibliographic record of spoken word, as ISO 2709 and as MARCXML, by pymarc.

Fields after the MARC 21 format for bibliographic data (Library of Congress); terms of content, medium and carrier after
RDA. Names stand as they are spoken (first indicator 0): which part is the surname is not known.
"""

from collections.abc import Iterable
from datetime import UTC
from xml.etree import ElementTree

from pymarc import Field, Indicators, Record, Subfield
from pymarc.marcxml import record_to_xml_node

from intake.outputs.records.described import Described, Role
from intake.outputs.records.languages import UNDETERMINED, iso639_2b, iso639_3, name_of

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
    language = iso639_2b(said.language) or UNDETERMINED
    dates = f"{said.accepted_on:%y%m%d}s{said.recorded_on.year:04}    "
    # No place; no music; nothing of parts and audience; online; nothing with it; interviews; nothing transposed.
    spoken = "xx nnnn o      t  n "
    return [
        Field(tag="001", data=said.identifier),
        Field(tag="005", data=said.changed_at.astimezone(UTC).strftime("%Y%m%d%H%M%S.0")),
        Field(tag="008", data=f"{dates}{spoken}{language} d"),
    ]


def _about(said: Described) -> list[Field]:
    narrators = said.named(Role.NARRATOR)
    main = [_name("100", narrators[0], Role.NARRATOR)] if narrators else []
    others = [(name, Role.NARRATOR) for name in narrators[1:]]
    others += [(name, role) for role in (Role.INTERVIEWER, Role.INTERPRETER) for name in said.named(role)]
    return [
        _field("040", "  ", ("b", "eng"), ("e", "rda")),
        _language(said),
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
        _access(said),
        _field("518", "  ", ("o", "Recorded"), ("d", said.recorded_on.isoformat()), ("p", said.place)),
        *([_field("520", "2 ", ("a", said.summary))] if said.summary else []),
        *([_field("540", "  ", ("a", "Use by licence."), ("u", said.licence))] if said.licence else []),
        _field("541", "0 ", ("e", said.identifier), ("d", said.accepted_on.strftime("%Y%m%d"))),
        _field("546", "  ", ("a", f"In {name_of(said.language)}.")),
        _field("655", " 7", ("a", "Oral histories."), ("2", "lcgft")),
        *(_name("700", name, role) for name, role in others),
        _field("710", "2 ", ("a", f"{said.publisher}.")),
        _field("773", "0 ", ("t", said.collection)),
    ]


def _access(said: Described) -> Field:
    """Who may hear it; the day on which it opens as MARC writes days (subfield g, since 2019)."""
    opens = [("g", said.closed_until.strftime("%Y%m%d"))] if said.closed_until else []
    return _field("506", f"{int(said.is_restricted)} ", ("a", said.terms), *opens)


def _language(said: Described) -> Field:
    bibliographic = iso639_2b(said.language)
    if bibliographic:
        return _field("041", "0 ", ("a", bibliographic))
    return _field("041", "07", ("a", iso639_3(said.language)), ("2", "iso639-3"))


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


def _name(tag: str, name: str, role: Role) -> Field:
    return _field(tag, "0 ", ("a", f"{name},"), ("e", f"{role.term}."), ("4", role.uri))


def _field(tag: str, indicators: str, *subfields: tuple[str, str]) -> Field:
    return Field(
        tag=tag,
        indicators=Indicators(*indicators),
        subfields=[Subfield(code, _one_line(value)) for code, value in subfields],
    )


def _one_line(text: str) -> str:
    """A field has no lines, and its ends are control characters that nothing else may hold."""
    return " ".join("".join(" " if ord(letter) < 32 else letter for letter in text).split())
