"""Answers of OAI-PMH 2.0 (http://www.openarchives.org/OAI/openarchivesprotocol.html) as XML, from plain facts."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from intake.outputs.records import dublin_core, marc, mods
from intake.outputs.records.described import Described

NAMESPACE = "http://www.openarchives.org/OAI/2.0/"
XSI = "http://www.w3.org/2001/XMLSchema-instance"
SCHEMA = "http://www.openarchives.org/OAI/2.0/OAI-PMH.xsd"
IDENTIFIERS = "http://www.openarchives.org/OAI/2.0/oai-identifier"


@dataclass(frozen=True)
class Prefix:
    """A format of metadata: its schema, its namespace, and how a description becomes an element of it."""

    schema: str
    namespace: str
    element: Callable[[Described], Element]


PREFIXES = {
    "oai_dc": Prefix(dublin_core.SCHEMA, dublin_core.CONTAINER, dublin_core.dublin_core_element),
    "marc21": Prefix(
        "http://www.loc.gov/standards/marcxml/schema/MARC21slim.xsd", marc.NAMESPACE, marc.marcxml_element
    ),
    "mods": Prefix("http://www.loc.gov/standards/mods/v3/mods-3-8.xsd", mods.NAMESPACE, mods.mods_element),
}


@dataclass(frozen=True)
class Header:
    identifier: str
    datestamp: datetime
    set_spec: str
    is_deleted: bool


@dataclass(frozen=True)
class Item:
    """A header, and what is said of it; None where it is deleted."""

    header: Header
    said: Described | None


@dataclass(frozen=True)
class Going:
    """How a list goes on: the next token (empty at the end of one that was cut), how many there are, and the place."""

    token: str
    size: int
    cursor: int


def answered(base_url: str, at: datetime, arguments: dict[str, str], *content: Element) -> bytes:
    """The whole document. `arguments` are those of the request, none where they were wrong."""
    ElementTree.register_namespace("", NAMESPACE)
    ElementTree.register_namespace("xsi", XSI)
    root = Element(_tag("OAI-PMH"), {f"{{{XSI}}}schemaLocation": f"{NAMESPACE} {SCHEMA}"})
    _text(root, "responseDate", moment(at))
    _text(root, "request", base_url, **arguments)
    root.extend(content)
    return ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)


def error(code: str, sentence: str) -> Element:
    made = Element(_tag("error"), code=code)
    made.text = sentence
    return made


def identify(*, name: str, base_url: str, email: str, earliest: datetime, domain: str, sample: str) -> Element:
    made = Element(_tag("Identify"))
    _text(made, "repositoryName", name)
    _text(made, "baseURL", base_url)
    _text(made, "protocolVersion", "2.0")
    _text(made, "adminEmail", email)
    _text(made, "earliestDatestamp", moment(earliest))
    _text(made, "deletedRecord", "persistent")
    _text(made, "granularity", "YYYY-MM-DDThh:mm:ssZ")
    told = SubElement(_text(made, "description"), f"{{{IDENTIFIERS}}}oai-identifier")
    location = f"{IDENTIFIERS} http://www.openarchives.org/OAI/2.0/oai-identifier.xsd"
    told.set(f"{{{XSI}}}schemaLocation", location)
    for tag, text in {
        "scheme": "oai",
        "repositoryIdentifier": domain,
        "delimiter": ":",
        "sampleIdentifier": sample,
    }.items():
        SubElement(told, f"{{{IDENTIFIERS}}}{tag}").text = text
    return made


def metadata_formats() -> Element:
    made = Element(_tag("ListMetadataFormats"))
    for name, prefix in PREFIXES.items():
        one = _text(made, "metadataFormat")
        _text(one, "metadataPrefix", name)
        _text(one, "schema", prefix.schema)
        _text(one, "metadataNamespace", prefix.namespace)
    return made


def sets(found: Iterable[tuple[str, str]]) -> Element:
    """`found` are each set's spec and name."""
    made = Element(_tag("ListSets"))
    for spec, name in found:
        one = _text(made, "set")
        _text(one, "setSpec", spec)
        _text(one, "setName", name)
    return made


def identifiers(items: Iterable[Item], going: Going | None) -> Element:
    made = Element(_tag("ListIdentifiers"))
    made.extend(_header(item.header) for item in items)
    _go_on(made, going)
    return made


def records(items: Iterable[Item], prefix: str, going: Going | None) -> Element:
    made = Element(_tag("ListRecords"))
    made.extend(_record(item, prefix) for item in items)
    _go_on(made, going)
    return made


def record(item: Item, prefix: str) -> Element:
    made = Element(_tag("GetRecord"))
    made.append(_record(item, prefix))
    return made


def moment(at: datetime) -> str:
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _record(item: Item, prefix: str) -> Element:
    made = Element(_tag("record"))
    made.append(_header(item.header))
    if item.said:
        _text(made, "metadata").append(PREFIXES[prefix].element(item.said))
    return made


def _header(header: Header) -> Element:
    made = Element(_tag("header"), {"status": "deleted"} if header.is_deleted else {})
    _text(made, "identifier", header.identifier)
    _text(made, "datestamp", moment(header.datestamp))
    _text(made, "setSpec", header.set_spec)
    return made


def _go_on(made: Element, going: Going | None) -> None:
    if going:
        size, cursor = str(going.size), str(going.cursor)
        _text(made, "resumptionToken", going.token or None, completeListSize=size, cursor=cursor)


def _text(parent: Element, tag: str, text: str | None = None, **attributes: str) -> Element:
    made = SubElement(parent, _tag(tag), attributes)
    made.text = text
    return made


def _tag(name: str) -> str:
    return f"{{{NAMESPACE}}}{name}"
