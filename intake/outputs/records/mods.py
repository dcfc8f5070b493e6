"""MODS 3.8 for an interview (Library of Congress, http://www.loc.gov/standards/mods/v3/mods-3-8.xsd)."""

from collections.abc import Iterable
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from intake.catalogue.languages import iso639_3
from intake.outputs.records.described import Described, Point, Role, Somebody

NAMESPACE = "http://www.loc.gov/mods/v3"
XLINK = "http://www.w3.org/1999/xlink"
RELATORS = "http://id.loc.gov/vocabulary/relators"
VERSION = "3.8"


def mods(records: Iterable[Described]) -> bytes:
    """A collection of records as an XML document."""
    _register()
    root = Element(_tag("modsCollection"))
    root.extend(mods_element(said) for said in records)
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)


def mods_element(said: Described) -> Element:
    _register()
    root = Element(_tag("mods"), version=VERSION)
    _text(_text(root, "titleInfo", supplied="yes"), "title", said.title)
    for role in Role:
        for somebody in said.people_as(role):
            _role(_name(root, somebody), role)
    _text(root, "typeOfResource", "sound recording-nonmusical")
    _text(root, "genre", "Oral histories", authority="lcgft")
    origin = _text(root, "originInfo", eventType="production")
    _text(_text(origin, "place"), "placeTerm", said.place, type="text")
    for point in said.places_recorded_at:
        _text(_text(origin, "place"), "placeTerm", point.label, type="text", **_authority(point))
    _text(origin, "dateCreated", said.recorded_on.isoformat(), encoding="edtf", keyDate="yes")
    for language in said.languages:
        _text(_text(root, "language"), "languageTerm", iso639_3(language), type="code", authority="iso639-3")
    _physical(root, said)
    if said.summary:
        _text(root, "abstract", said.summary)
    if said.outline:
        _text(root, "tableOfContents", " -- ".join(f"{topic.at} {topic.words}" for topic in said.outline))
    for unnamed in said.withheld:
        _text(root, "note", f"The {unnamed}'s name is withheld.")
    _subjects(root, said)
    _text(_text(_text(root, "relatedItem", type="host"), "titleInfo"), "title", said.collection)
    _text(root, "identifier", said.identifier, type="local")
    _text(_text(root, "location"), "physicalLocation", said.publisher)
    _text(root, "accessCondition", said.terms, type="restriction on access")
    for uri in said.rights:
        _text(root, "accessCondition", uri, type="use and reproduction", **{f"{{{XLINK}}}href": uri})
    record = _text(root, "recordInfo")
    _text(record, "recordChangeDate", said.changed_at.strftime("%Y-%m-%d"), encoding="iso8601")
    _text(record, "recordIdentifier", said.identifier)
    return root


def _name(root: Element, somebody: Somebody) -> Element:
    made = _text(root, "name", type="personal", **({"valueURI": somebody.uri} if somebody.uri else {}))
    _text(made, "namePart", somebody.catalogued)
    if somebody.dates:
        _text(made, "namePart", somebody.dates, type="date")
    for variant in somebody.variants:
        _text(_text(made, "alternativeName"), "namePart", variant)
    return made


def _role(name: Element, role: Role) -> None:
    _text(_text(name, "role"), "roleTerm", role.term, type="text", authority="marcrelator", valueURI=role.uri)


def _subjects(root: Element, said: Described) -> None:
    for point in said.subjects:
        _text(_subject(root, point), "topic", point.label)
    for point in said.places_spoken_of:
        made = _subject(root, point)
        _text(made, "geographic", point.label)
        if point.latitude is not None:
            _text(_text(made, "cartographics"), "coordinates", f"{point.latitude}, {point.longitude}")
    for period in said.periods:
        _text(_text(root, "subject"), "temporal", period, encoding="edtf")
    for somebody in said.people_as(None):
        _name(_text(root, "subject"), somebody)


def _subject(root: Element, point: Point) -> Element:
    return _text(root, "subject", **_authority(point))


def _authority(point: Point) -> dict[str, str]:
    return {"authority": point.code, **({"valueURI": point.uri} if point.uri else {})}


def _physical(root: Element, said: Described) -> None:
    made = _text(root, "physicalDescription")
    for media_type in dict.fromkeys(file.media_type for file in said.files):
        _text(made, "internetMediaType", media_type)
    if said.seconds is not None:
        _text(made, "extent", f"{round(said.seconds)} s", unit="seconds")
    _text(made, "digitalOrigin", "born digital")


def _text(parent: Element, tag: str, text: str | None = None, **attributes: str) -> Element:
    made = SubElement(parent, _tag(tag), attributes)
    made.text = text
    return made


def _tag(name: str) -> str:
    return f"{{{NAMESPACE}}}{name}"


def _register() -> None:
    ElementTree.register_namespace("mods", NAMESPACE)
    ElementTree.register_namespace("xlink", XLINK)
