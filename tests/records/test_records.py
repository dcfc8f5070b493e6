"""Each kind of record against its published schema, read back by others' programs, and what it must not say."""

import csv
import io
from dataclasses import replace

import pymarc
import pytest
from lxml import etree

from intake.catalogue.languages import iso639_2b, iso639_3, name_of
from intake.outputs.records.dublin_core import dublin_core
from intake.outputs.records.marc import marc, marcxml
from intake.outputs.records.mods import mods
from intake.outputs.records.table import COLUMNS, table
from tests.records.facts import ALL, CLOSED, FULL, ON_SITE, PLAIN, SMALL_LANGUAGE, SPARSE, WITHHELD
from tests.records.schemas import schema

NAMES = {"m": "http://www.loc.gov/MARC21/slim", "mods": "http://www.loc.gov/mods/v3"}
RECORDS = pytest.mark.parametrize("said", ALL.values(), ids=ALL)


@RECORDS
def test_dublin_core_is_valid(said):
    """Source: the schema of oai_dc, Open Archives Initiative."""
    schema("oai/oai_dc.xsd").assertValid(etree.fromstring(dublin_core(said)))


@RECORDS
def test_marcxml_is_valid(said):
    """Source: the Library of Congress's schema MARC21slim."""
    schema("marcxml/MARC21slim.xsd").assertValid(etree.fromstring(marcxml([said])))


@RECORDS
def test_mods_is_valid(said):
    """Source: the Library of Congress's schema of MODS 3.8."""
    schema("mods/mods-3-8.xsd").assertValid(etree.fromstring(mods([said])))


def test_collections_of_many_are_valid():
    schema("marcxml/MARC21slim.xsd").assertValid(etree.fromstring(marcxml(ALL.values())))
    schema("mods/mods-3-8.xsd").assertValid(etree.fromstring(mods(ALL.values())))


# MARC, as pymarc reads it back


def read(said) -> pymarc.Record:
    (record,) = pymarc.MARCReader(marc(said), to_unicode=True)
    return record


@RECORDS
def test_marc_makes_the_round_trip(said):
    """Written, read by pymarc, written again: the same bytes; and the same fields as in MARCXML."""
    record = read(said)
    assert record.as_marc() == marc(said)
    (by_xml,) = pymarc.parse_xml_to_array(io.BytesIO(marcxml([said])))
    assert [str(field) for field in by_xml.fields] == [str(field) for field in record.fields]
    assert by_xml.leader[5:9] == record.leader[5:9] == "nim "


def test_a_file_of_many_is_read_one_by_one():
    whole = b"".join(marc(said) for said in ALL.values())
    assert len(list(pymarc.MARCReader(whole, to_unicode=True))) == len(ALL)


def test_what_the_fields_say():
    """Fields after the MARC 21 format, terms after RDA and the relators of the Library of Congress."""
    record = read(PLAIN)
    assert record.leader[6] == "i"
    assert (len(record["008"].data), record["008"].data[35:38], record["008"].data[7:11]) == (40, "eng", "2026")
    assert record["008"].data[30] == "t"  # interviews; from memory
    assert record["100"].get_subfields("a", "e", "4") == [
        "Marit Oskarsen,", "interviewee.", "http://id.loc.gov/vocabulary/relators/ive",
    ]  # fmt: skip
    roles = {field["a"]: field["4"][-3:] for field in record.get_fields("700")}
    assert roles == {"Zoë Aas,": "ive", "Tobias Wrenfield,": "ivr", "Ivo Lund,": "itr"}
    assert record["245"].indicators == ("1", "0")
    assert record["300"]["a"] == "2 audio files (1 hr., 12 min., 33 sec.)"
    assert (record["336"]["a"], record["336"]["b"]) == ("spoken word", "spw")
    assert [field["b"] for field in record.get_fields("347")] == ["WAVE", "FLAC"]
    assert record["520"]["a"] == "Forty years of the cable ferry. The winter of the ice & the “Lindworm” <a ferry>."
    assert record["540"]["u"] == PLAIN.rights[0]
    assert record["041"]["a"] == "eng"


def test_a_full_description_stands_in_its_fields():
    """Fields after the MARC 21 format; the forms of 034, 751 and of years in headings from memory."""
    record = read(FULL)
    narrator = record["100"]
    assert (narrator.indicators[0], narrator.get_subfields("a", "d", "0")) == (
        "1", ["Oskarsen, Marit,", "approximately 1943-,", "https://example.org/m"],
    )  # fmt: skip
    assert [(field["a"], field["e"]) for field in record.get_fields("700")] == [
        ("Wrenfield, Tobias,", "interviewer."), ("Aas, Petra,", "transcriber."), ("Old Halvard,", "speaker."),
    ]  # fmt: skip
    assert record["600"].get_subfields("a", "d", "2") == ["Lund, Jens,", "1890-1951,", "local"]
    assert [(one["a"], one["2"], one.get("0")) for one in record.get_fields("650")] == [
        ("Cable ferries.", "local", None), ("Winters.", "example", "https://example.org/subjects/winters"),
    ]  # fmt: skip
    assert [one["a"] for one in record.get_fields("651")] == ["Sill Island."]
    assert [one["a"] for one in record.get_fields("648")] == ["1950 to 1965.", "about the 1940s."]
    assert record["751"]["a"] == "Alder Ferry"
    assert [one.get_subfields("d", "f", "3") for one in record.get_fields("034")] == [
        ["-012.568300", "+055.676100", "Alder Ferry"], ["+000.250000", "-001.500000", "Sill Island"],
    ]  # fmt: skip
    assert [one.get_subfields("a") for one in record.get_fields("041")] == [["eng", "nob"], ["rmy"]]
    assert record["546"]["a"] == "In English and Norwegian Bokmål and Vlax Romani."
    assert record["505"]["a"] == "0:00:10 Childhood <on> the bank -- 0:12:03 The winter of the ice."
    assert record["540"].get_subfields("a", "u") == ["In copyright.", "http://rightsstatements.org/vocab/InC/1.0/"]


def test_mods_and_dublin_core_tell_the_same():
    told = etree.fromstring(mods([FULL]))
    assert told.xpath("//mods:subject/mods:topic/text()", namespaces=NAMES) == ["Cable ferries", "Winters"]
    assert told.xpath("//mods:cartographics/mods:coordinates/text()", namespaces=NAMES) == ["-1.5, 0.25"]
    assert told.xpath("//mods:temporal[@encoding='edtf']/text()", namespaces=NAMES) == ["1950/1965", "194X~"]
    assert told.xpath("//mods:alternativeName/mods:namePart/text()", namespaces=NAMES) == ["Marit Lund"]
    assert told.xpath("//mods:subject/mods:name/mods:namePart/text()", namespaces=NAMES) == ["Lund, Jens", "1890/1951"]
    core = etree.fromstring(dublin_core(FULL))
    subjects = core.xpath("//dc:subject/text()", namespaces={"dc": "http://purl.org/dc/elements/1.1/"})
    assert subjects == ["Lund, Jens", "Cable ferries", "Winters"]
    assert core.xpath("//dc:coverage/text()", namespaces={"dc": "http://purl.org/dc/elements/1.1/"}) == [
        "Alder Ferry", "Sill Island", "1950/1965", "194X~",
    ]  # fmt: skip


def test_a_closure_says_until_when_and_open_says_open():
    assert (read(PLAIN)["506"].indicators[0], read(ON_SITE)["506"].indicators[0]) == ("0", "1")
    closed = read(CLOSED)["506"]
    assert (closed.indicators[0], closed["g"]) == ("1", "20400101")


def test_a_language_without_a_code_in_part_2_is_told_by_part_3():
    field = read(SMALL_LANGUAGE)["041"]
    assert (field.indicators[1], field["a"], field["2"]) == ("7", "rmy", "iso639-3")
    assert read(SMALL_LANGUAGE)["008"].data[35:38] == "und"


def test_who_is_not_named_stands_nowhere():
    for written in (
        marc(WITHHELD),
        marcxml([WITHHELD]),
        mods([WITHHELD]),
        dublin_core(WITHHELD),
        table([WITHHELD]).encode(),
    ):
        assert b"Oskarsen" not in written
        assert b"withheld" in written
    record = read(WITHHELD)
    assert record.get("100") is None
    assert record["245"].indicators == ("0", "0")


def test_control_characters_do_not_end_a_field():
    odd = replace(PLAIN, summary="one\x1etwo\x1dthree\x1f4")
    assert read(odd)["520"]["a"] == "one two three 4"


# MODS and Dublin Core, as any reader of XML finds them


def test_mods_says_roles_by_relator_and_how_it_may_be_used():
    root = etree.fromstring(mods([PLAIN]))
    roles = root.xpath("//mods:name[mods:namePart='Tobias Wrenfield']//mods:roleTerm", namespaces=NAMES)
    assert [(role.text, role.get("valueURI")[-3:]) for role in roles] == [("interviewer", "ivr")]
    # The list of the Library of Congress; the schema takes any text here.
    assert root.findtext(".//mods:typeOfResource", namespaces=NAMES) == "sound recording-nonmusical"
    (use,) = root.xpath("//mods:accessCondition[@type='use and reproduction']", namespaces=NAMES)
    assert use.get("{http://www.w3.org/1999/xlink}href") == PLAIN.rights[0]


def test_dublin_core_names_the_narrators_as_creators():
    root = etree.fromstring(dublin_core(PLAIN))
    assert [one.text for one in root.iterfind("{http://purl.org/dc/elements/1.1/}creator")] == [
        "Marit Oskarsen", "Zoë Aas",
    ]  # fmt: skip


# The table


def test_the_table_has_a_line_for_each_and_reads_back():
    text = table(ALL.values())
    assert text.startswith("\ufeff")
    lines = list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"))))
    assert [line["identifier"] for line in lines] == [said.identifier for said in ALL.values()]
    assert tuple(lines[0]) == COLUMNS
    assert (lines[0]["narrators"], lines[0]["seconds"]) == ("Marit Oskarsen; Zoë Aas", "4353.200")


@pytest.mark.parametrize("summary", ["=1+1", "+x", "-x", "@x", "\tx"])
def test_no_cell_is_a_formula(summary):
    (line,) = csv.DictReader(io.StringIO(table([replace(SPARSE, summary=summary)]).removeprefix("\ufeff")))
    assert line["summary"] == f"'{summary}"


@pytest.mark.parametrize(
    ("tag", "part_2", "part_3", "name"),
    [
        ("en-GB", "eng", "eng", "English"),
        ("de", "ger", "deu", "German"),
        ("cy", "wel", "cym", "Welsh"),
        ("es", "spa", "spa", "Spanish"),
        ("rmy", "", "rmy", "Vlax Romani"),
        ("xx", "und", "und", "xx"),
    ],
)
def test_codes_of_languages(tag, part_2, part_3, name):
    """Source: ISO 639-2 and ISO 639-3, from memory."""
    assert (iso639_2b(tag), iso639_3(tag), name_of(tag)) == (part_2, part_3, name)
