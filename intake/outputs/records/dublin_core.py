"""Unqualified Dublin Core, in the container of OAI-PMH 2.0 (http://www.openarchives.org/OAI/2.0/oai_dc.xsd).

The narrator stands as creator and the interviewer as contributor; other mappings put both among the contributors.
"""

from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from intake.catalogue.languages import iso639_3
from intake.outputs.records.described import Described, Role

CONTAINER = "http://www.openarchives.org/OAI/2.0/oai_dc/"
TERMS = "http://purl.org/dc/elements/1.1/"
SCHEMA = "http://www.openarchives.org/OAI/2.0/oai_dc.xsd"
SOUND = "Sound"  # DCMI Type Vocabulary


def dublin_core(said: Described) -> bytes:
    """The record as an XML document."""
    root = dublin_core_element(said)
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)


def dublin_core_element(said: Described) -> Element:
    ElementTree.register_namespace("oai_dc", CONTAINER)
    ElementTree.register_namespace("dc", TERMS)
    root = Element(f"{{{CONTAINER}}}dc")
    for term, values in _terms(said):
        for value in filter(None, values):
            ElementTree.SubElement(root, f"{{{TERMS}}}{term}").text = value
    return root


def _terms(said: Described) -> list[tuple[str, list[str]]]:
    helpers = [name for role in Role if role != Role.NARRATOR for name in said.named(role)]
    subjects = [*said.named(None), *(point.label for point in said.subjects)]
    coverage = [said.place, *(point.label for point in said.points if point.is_place), *said.periods]
    return [
        ("title", [said.title]),
        ("creator", said.named(Role.NARRATOR)),
        ("contributor", helpers),
        ("subject", subjects),
        ("description", [said.summary, *(f"The {role}'s name is withheld." for role in said.withheld)]),
        ("publisher", [said.publisher]),
        ("date", [said.recorded_on.isoformat()]),
        ("type", [SOUND]),
        ("format", list(dict.fromkeys(file.told for file in said.files))),
        ("identifier", [said.identifier]),
        ("language", [iso639_3(language) for language in said.languages]),
        ("relation", [said.collection]),
        ("coverage", list(dict.fromkeys(coverage))),
        ("rights", [said.terms, *said.rights]),
    ]
