"""PREMIS 3: objects, events and agents (Library of Congress, premis.xsd version 3.0), from plain facts to XML.

The schema asks for less than is useful: here every event has an outcome, an agent and an object.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

NAMESPACE = "http://www.loc.gov/premis/v3"
XSI = "http://www.w3.org/2001/XMLSchema-instance"
EVENT_TYPES = "http://id.loc.gov/vocabulary/preservation/eventType"
LOCAL = "local"
UUID = "UUID"

# The preservation event type vocabulary of the Library of Congress: the code in its address, and its term.
TERMS = {
    "acc": "accession",
    "app": "appraisal",
    "cre": "creation",
    "dea": "deaccession",
    "fix": "fixity check",
    "ing": "ingestion",
    "ipc": "information package creation",
    "mee": "metadata extraction",
    "mem": "metadata modification",
    "mes": "message digest calculation",
    "mig": "migration",
    "poa": "policy assignment",
    "qua": "quarantine",
    "rec": "recovery",
    "rep": "replication",
    "tra": "transfer",
}


@dataclass(frozen=True)
class File:
    """One file of the package. `source` is the file that it was derived from."""

    id: str
    path: str
    name: str
    media_type: str
    bytes: int
    sha256: str
    sha512: str
    source: str = ""


@dataclass(frozen=True)
class Entity:
    """The interview itself, of which the files are parts."""

    id: str
    title: str


@dataclass(frozen=True)
class Agent:
    id: str
    name: str
    type: str


@dataclass(frozen=True)
class Event:
    """`code` is one of TERMS; `objects` and `agent` are ids of objects and of an agent above."""

    id: str
    code: str
    at: str
    detail: str
    outcome: str
    agent: str
    objects: tuple[str, ...]
    outcome_note: str = ""


@dataclass(frozen=True)
class Story:
    """All that one document tells."""

    entity: Entity
    files: tuple[File, ...]
    events: tuple[Event, ...]
    agents: tuple[Agent, ...]


def premis(story: Story) -> bytes:
    """The document as XML, valid against the schema of PREMIS 3.0."""
    ElementTree.register_namespace("premis", NAMESPACE)
    ElementTree.register_namespace("xsi", XSI)
    root = Element(_tag("premis"), version="3.0")
    _entity(root, story.entity)
    ids = {file.id for file in story.files}
    for file in story.files:
        _file(root, file, story.entity)
    for event in story.events:
        _event(root, event, ids)
    for agent in story.agents:
        _agent(root, agent)
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)


def _entity(root: Element, entity: Entity) -> None:
    made = SubElement(root, _tag("object"), {f"{{{XSI}}}type": "premis:intellectualEntity"})
    _identifier(made, "object", LOCAL, entity.id)
    _say(made, "originalName", entity.title)


def _file(root: Element, file: File, entity: Entity) -> None:
    made = SubElement(root, _tag("object"), {f"{{{XSI}}}type": "premis:file"})
    _identifier(made, "object", UUID, file.id)
    facts = SubElement(made, _tag("objectCharacteristics"))
    for algorithm, digest in (("SHA-512", file.sha512), ("SHA-256", file.sha256)):
        fixity = SubElement(facts, _tag("fixity"))
        _say(fixity, "messageDigestAlgorithm", algorithm)
        _say(fixity, "messageDigest", digest)
    _say(facts, "size", str(file.bytes))
    _say(SubElement(SubElement(facts, _tag("format")), _tag("formatDesignation")), "formatName", file.media_type)
    _say(made, "originalName", file.name)
    place = SubElement(SubElement(made, _tag("storage")), _tag("contentLocation"))
    _say(place, "contentLocationType", "path in the bag")
    _say(place, "contentLocationValue", file.path)
    if file.source:
        _relationship(made, "derivation", "has source", UUID, file.source)
    _relationship(made, "structural", "is part of", LOCAL, entity.id)


def _relationship(made: Element, kind: str, subtype: str, id_type: str, related: str) -> None:
    relationship = SubElement(made, _tag("relationship"))
    _say(relationship, "relationshipType", kind)
    _say(relationship, "relationshipSubType", subtype)
    _identifier(relationship, "relatedObject", id_type, related)


def _event(root: Element, event: Event, files: Iterable[str]) -> None:
    made = SubElement(root, _tag("event"))
    _identifier(made, "event", LOCAL, event.id)
    kind = _say(made, "eventType", TERMS[event.code])
    kind.attrib.update(authority="eventType", authorityURI=EVENT_TYPES, valueURI=f"{EVENT_TYPES}/{event.code}")
    _say(made, "eventDateTime", event.at)
    _say(SubElement(made, _tag("eventDetailInformation")), "eventDetail", event.detail)
    outcome = SubElement(made, _tag("eventOutcomeInformation"))
    _say(outcome, "eventOutcome", event.outcome)
    if event.outcome_note:
        _say(SubElement(outcome, _tag("eventOutcomeDetail")), "eventOutcomeDetailNote", event.outcome_note)
    _identifier(made, "linkingAgent", LOCAL, event.agent)
    for linked in event.objects:
        _identifier(made, "linkingObject", UUID if linked in files else LOCAL, linked)


def _agent(root: Element, agent: Agent) -> None:
    made = SubElement(root, _tag("agent"))
    _identifier(made, "agent", LOCAL, agent.id)
    _say(made, "agentName", agent.name)
    _say(made, "agentType", agent.type)


def _identifier(parent: Element, of: str, kind: str, value: str) -> None:
    made = SubElement(parent, _tag(f"{of}Identifier"))
    _say(made, f"{of}IdentifierType", kind)
    _say(made, f"{of}IdentifierValue", value)


def _say(parent: Element, name: str, text: str) -> Element:
    made = SubElement(parent, _tag(name))
    made.text = text
    return made


def _tag(name: str) -> str:
    return f"{{{NAMESPACE}}}{name}"
