"""Unqualified Dublin Core, in the container of OAI-PMH 2.0 (http://www.openarchives.org/OAI/2.0/oai_dc.xsd).

The narrator stands as creator and the interviewer as contributor; other mappings put both among the contributors.
"""

from dataclasses import dataclass
from xml.etree import ElementTree

CONTAINER = "http://www.openarchives.org/OAI/2.0/oai_dc/"
TERMS = "http://purl.org/dc/elements/1.1/"
SOUND = "Sound"  # DCMI Type Vocabulary


@dataclass(frozen=True)
class Description:
    """What may be said of an interview: names that are withheld are left out by whoever makes it."""

    title: str
    narrators: tuple[str, ...]
    interviewers: tuple[str, ...]
    summary: str
    recorded_on: str
    place: str
    language: str
    formats: tuple[str, ...]
    identifier: str
    collection: str
    publisher: str
    rights: tuple[str, ...]


def dublin_core(said: Description) -> bytes:
    """The record as an XML document."""
    ElementTree.register_namespace("oai_dc", CONTAINER)
    ElementTree.register_namespace("dc", TERMS)
    root = ElementTree.Element(f"{{{CONTAINER}}}dc")
    for term, values in _terms(said):
        for value in filter(None, values):
            ElementTree.SubElement(root, f"{{{TERMS}}}{term}").text = value
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)


def _terms(said: Description) -> list[tuple[str, tuple[str, ...]]]:
    return [
        ("title", (said.title,)),
        ("creator", said.narrators),
        ("contributor", said.interviewers),
        ("description", (said.summary,)),
        ("publisher", (said.publisher,)),
        ("date", (said.recorded_on,)),
        ("type", (SOUND,)),
        ("format", said.formats),
        ("identifier", (said.identifier,)),
        ("language", (said.language,)),
        ("relation", (said.collection,)),
        ("coverage", (said.place,)),
        ("rights", said.rights),
    ]
