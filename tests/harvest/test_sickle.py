"""A harvest of ten thousand records by a client of others (sickle), over HTTP."""

import pytest
from sickle import Sickle
from sickle.oaiexceptions import BadArgument, NoRecordsMatch

from tests.harvest.many import many_open_interviews

MANY = 10_000


@pytest.fixture
def harvester(committed_db, live_server) -> Sickle:
    return Sickle(f"{live_server.url}/oai/")


def test_ten_thousand_records_are_harvested_each_once(harvester):
    many_open_interviews(MANY)
    records = list(harvester.ListRecords(metadataPrefix="oai_dc"))
    assert len({record.header.identifier for record in records}) == len(records) == MANY
    assert len({record.metadata["identifier"][0] for record in records}) == MANY
    assert {record.metadata["creator"][0] for record in records} == {"Oskarsen, Marit"}
    (one,) = [harvester.GetRecord(identifier=records[-1].header.identifier, metadataPrefix="marc21")]
    assert "Oskarsen" in one.raw
    assert harvester.Identify().deletedRecord == "persistent"
    assert {one.metadataPrefix for one in harvester.ListMetadataFormats()} == {"oai_dc", "marc21", "mods"}
    (only,) = harvester.ListSets()
    chosen = harvester.ListIdentifiers(metadataPrefix="oai_dc", set=only.setSpec)
    assert next(chosen).identifier
    with pytest.raises(NoRecordsMatch):
        harvester.ListRecords(metadataPrefix="oai_dc", **{"from": "2099-01-01"})
    with pytest.raises(BadArgument):
        harvester.ListRecords(metadataPrefix="oai_dc", **{"from": "never"})
