"""The records in a package against their schemas, and what they must not say."""

import json
from pathlib import Path
from xml.etree import ElementTree

import pytest
from lxml import etree

from intake.audit.actions import Action
from intake.outputs.packages.history import CODES, NOT_TOLD
from intake.outputs.records.premis import NAMESPACE, TERMS
from tests.records.schemas import schema

pytestmark = pytest.mark.django_db
PREMIS = {"p": NAMESPACE}


def test_the_events_are_premis(package):
    """Source: the Library of Congress's schema of PREMIS 3.0."""
    schema("premis/premis-v3-0.xsd").assertValid(etree.parse(package / "metadata/premis.xml"))


def test_the_description_is_dublin_core(package):
    """Source: the schema of oai_dc, from the Open Archives Initiative."""
    schema("oai/oai_dc.xsd").assertValid(etree.parse(package / "metadata/dublin-core.xml"))


def premis_of(package: Path) -> ElementTree.Element:
    return ElementTree.parse(package / "metadata/premis.xml").getroot()


def test_every_event_has_an_outcome_and_leads_to_an_agent_and_an_object(package):
    root = premis_of(package)
    agents = {found.text for found in root.iterfind("p:agent/p:agentIdentifier/p:agentIdentifierValue", PREMIS)}
    objects = {found.text for found in root.iterfind("p:object/p:objectIdentifier/p:objectIdentifierValue", PREMIS)}
    events = root.findall("p:event", PREMIS)
    assert len(events) > 20
    for event in events:
        assert event.findtext("p:eventOutcomeInformation/p:eventOutcome", namespaces=PREMIS) in {"done", "failed"}
        linked = event.findall("p:linkingObjectIdentifier/p:linkingObjectIdentifierValue", PREMIS)
        assert {found.text for found in linked} <= objects
        assert linked
        agent = event.findtext("p:linkingAgentIdentifier/p:linkingAgentIdentifierValue", namespaces=PREMIS)
        assert agent in agents


def test_the_steps_that_a_package_must_tell_of_are_told(package):
    """The steps of standards for ingest: digest, copy, transfer, measuring, policy, accession, the package itself."""
    told = {found.text for found in premis_of(package).iterfind("p:event/p:eventType", PREMIS)}
    assert told >= {TERMS[code] for code in ("mes", "rep", "tra", "mee", "poa", "acc", "ing", "ipc", "mig", "cre")}


def test_every_file_of_the_payload_is_an_object_with_both_digests(package):
    root = premis_of(package)
    listed = dict(line.split("  ")[::-1] for line in (package / "manifest-sha512.txt").read_text().splitlines())
    told = {}
    for found in root.iterfind("p:object", PREMIS):
        path = found.findtext("p:storage/p:contentLocation/p:contentLocationValue", namespaces=PREMIS)
        if path:
            told[path] = found.findtext("p:objectCharacteristics/p:fixity/p:messageDigest", namespaces=PREMIS)
    assert told == listed


def test_a_copy_says_which_original_it_was_made_from(package):
    root = premis_of(package)
    derived = [
        found for found in root.iterfind("p:object/p:relationship", PREMIS) if "derivation" in "".join(found.itertext())
    ]
    # A listening copy and a picture of each part, of the one taken out too; described and access copies of the two.
    assert len(derived) == 3 + 3 + 2 + 2


def test_a_withheld_name_stands_in_no_description_and_no_event(full, package):
    described = (package / "metadata/dublin-core.xml").read_text()
    assert "Oskarsen" not in described.replace("Oskarsen, with a k", "")
    assert "narrator, name withheld" in described
    assert "Tobias Wrenfield" in described
    assert "Oskarsen" not in (package / "metadata/premis.xml").read_text()
    assert "Open: anyone may hear it" in described  # the closure has ended


def test_every_action_is_told_or_meant_not_to_be_in_the_story_of_an_interview():
    """Those that are neither belong to accounts, kits, the set-up or whole stores."""
    elsewhere = {
        name
        for name in Action.__members__
        if name.startswith(
            (
                "VOLUNTEER",
                "ACCOUNT",
                "KIT",
                "COLLECTION",
                "PERSON",
                "LIST",
                "HEADING_CHANGED",
                "LIBRARY",
                "DESCRIPTIONS",
                "WORDING",
                "LETTER_TEXT",
                "SECOND",
                "STORE",
                "CERT",
            )
        )
    } | {"COPIES_AUDITED"}
    assert set(Action) == set(map(Action, CODES)) | NOT_TOLD | {Action[name] for name in elsewhere}
    assert set(CODES.values()) | {"mes", "rep"} == set(TERMS)


def test_the_figures_of_each_recording_stand_beside_it(package):
    told = json.loads((package / "metadata/quality-01.json").read_bytes())
    assert told["file"] == "TOLL0001.WAV"
    assert told["measurement"]["format"]["sample_rate_hz"] == 16_000
    assert told["findings"]
