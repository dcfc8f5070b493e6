"""Lists of headings from files: SKOS as W3C defines it, and CSV as spreadsheets write it."""

import pytest
from rdflib import Graph

from intake.catalogue.list_files import Listed, read
from intake.errors import Refused

TURTLE = """
@prefix skos: <http://www.w3.org/2004/02/skos/core#> .
@prefix owl: <http://www.w3.org/2002/07/owl#> .
@prefix geo: <http://www.w3.org/2003/01/geo/wgs84_pos#> .
@prefix ex: <https://example.org/subjects/> .
ex:list a skos:ConceptScheme ; skos:prefLabel "Subjects of the two banks"@en .
ex:ferries a skos:Concept ; skos:prefLabel "Ferries"@en, "Fähren"@de ; skos:altLabel "Ferry boats"@en ;
  skos:scopeNote "Boats that cross and come back."@en ; skos:inScheme ex:list .
ex:cable a skos:Concept ; skos:prefLabel "Cable ferries"@en ; skos:broader ex:ferries ; skos:hiddenLabel "cabel ferry" .
ex:sill a skos:Concept ; skos:prefLabel "Sill Island" ; geo:lat "55.5" ; geo:long "-12.25" .
ex:steam a skos:Concept ; skos:prefLabel "Steamers"@en ; owl:deprecated true .
ex:bare a skos:Concept .
"""
SUBJECTS = "https://example.org/subjects/"
EXPECTED = [
    Listed("Cable ferries", ("cabel ferry",), f"{SUBJECTS}cable", f"{SUBJECTS}ferries"),
    Listed("Ferries", ("Ferry boats", "Fähren"), f"{SUBJECTS}ferries", "", "Boats that cross and come back."),
    Listed("Sill Island", (), f"{SUBJECTS}sill", "", "", 55.5, -12.25),
]  # fmt: skip


@pytest.mark.parametrize(("ending", "form"), [("ttl", "turtle"), ("rdf", "xml"), ("xml", "pretty-xml"), ("nt", "nt")])
def test_skos_is_read_in_each_of_its_forms(ending, form):
    content = Graph().parse(data=TURTLE, format="turtle").serialize(format=form, encoding="utf-8")
    assert read(f"subjects.{ending}", content) == EXPECTED


def test_labels_are_taken_in_the_language_asked_for():
    german = {one.label for one in read("a.ttl", TURTLE.encode(), language="de")}
    assert german == {"Fähren", "Cable ferries", "Sill Island"}


def test_csv_is_read_with_commas_or_semicolons():
    comma = "\ufefflabel,variants,broader\nFerries,Ferry boats|Boats,\nCable ferries,,Ferries\n"
    assert read("own.csv", comma.encode()) == [
        Listed("Ferries", ("Ferry boats", "Boats")), Listed("Cable ferries", (), "", "Ferries"),
    ]  # fmt: skip
    semicolon = "Label;Latitude;Longitude\nAlder Ferry;55,6761;12,5683\n"
    assert read("places.CSV", semicolon.encode()) == [Listed("Alder Ferry", latitude=55.6761, longitude=12.5683)]


def test_what_no_database_keeps_is_left_out():
    turtle = '<https://example.org/a> <http://www.w3.org/2004/02/skos/core#prefLabel> "Fer\\u0000ries", "\\u0001" .'
    assert [one.label for one in read("a.ttl", turtle.encode())] == ["Ferries"]
    assert [one.label for one in read("a.csv", b"label\nFer\0ries\n")] == ["Ferries"]


BOMB = b"""<?xml version="1.0"?><!DOCTYPE r [<!ENTITY a "aaaaaaaaaa">
<!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">
<!ENTITY d "&c;&c;&c;&c;&c;&c;&c;&c;&c;&c;"><!ENTITY e "&d;&d;&d;&d;&d;&d;&d;&d;&d;&d;">
<!ENTITY f "&e;&e;&e;&e;&e;&e;&e;&e;&e;&e;"><!ENTITY g "&f;&f;&f;&f;&f;&f;&f;&f;&f;&f;">
<!ENTITY h "&g;&g;&g;&g;&g;&g;&g;&g;&g;&g;">]>
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#" xmlns:s="http://www.w3.org/2004/02/skos/core#">
<s:Concept rdf:about="https://example.org/a"><s:prefLabel>&h;</s:prefLabel></s:Concept></rdf:RDF>"""
OUTSIDE = b"""<?xml version="1.0"?><!DOCTYPE r [<!ENTITY a SYSTEM "file:///etc/passwd">]>
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#" xmlns:s="http://www.w3.org/2004/02/skos/core#">
<s:Concept rdf:about="https://example.org/a"><s:prefLabel>x&a;</s:prefLabel></s:Concept></rdf:RDF>"""


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("list.jsonld", b"{}", "A list is a file that ends in"),
        ("list", b"", "A list is a file that ends in"),
        ("a.ttl", b"this is not turtle", "cannot be read as SKOS"),
        ("a.ttl", b"<a> <b> " + b"[" * 100_000, "cannot be read as SKOS"),
        ("a.rdf", b"<rdf", "cannot be read as SKOS"),
        ("a.nt", b"\xff\xfe", "cannot be read as SKOS"),
        ("a.ttl", b"", "no headings"),
        ("a.csv", b"", "name the columns"),
        ("a.csv", b"name\nFerries\n", "name the columns"),
        ("a.csv", b"label,colour\nFerries,red\n", "Unknown columns: colour"),
        ("a.csv", b"label,note\nFerries\n", "Line 2: it has not as many columns"),
        ("a.csv", b"label,note\n,x\n", "Line 2: it has no label"),
        ("a.csv", b"label,latitude,longitude\nSill,99,0\n", "Line 2: 99.0, 0.0 lies nowhere"),
        ("a.csv", b"label,latitude,longitude\nSill,1,\n", "Line 2: latitude and longitude"),
        ("a.csv", b"label\nFerries\nferries\n", "stands there twice"),
        ("a.csv", b"label\n\xff\n", "UTF-8"),
        ("a.rdf", BOMB, "cannot be read as SKOS"),
    ],
)
def test_what_is_wrong_is_told_and_nothing_is_taken(name, content, told):
    with pytest.raises(Refused) as refused:
        read(name, content)
    assert told in str(refused.value)


def test_a_file_reaches_for_nothing_outside():
    """SECURITY: an entity of another file is left empty, or the whole refused."""
    try:
        labels = [one.label for one in read("a.rdf", OUTSIDE)]
    except Refused:
        labels = []
    assert "root:" not in "".join(labels)
