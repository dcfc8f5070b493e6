"""OAI-PMH 2.0, held against its schema and against the protocol's text."""

from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client
from django.utils import timezone
from lxml import etree

from intake import workflow
from intake.catalogue import headings
from intake.catalogue import services as catalogue
from intake.harvest import views
from intake.interviews.models import Interview, State
from intake.outputs import closures
from intake.outputs.harvesting import bring_up_to_date
from intake.outputs.models import HarvestRecord
from intake.releases.models import Access
from intake.review import listening
from tests.factories import a_user, an_interview, at_time, describe_whole, name_person, narrator_of
from tests.records.schemas import schema

pytestmark = pytest.mark.django_db
OAI = {
    "oai": "http://www.openarchives.org/OAI/2.0/",
    "dc": "http://purl.org/dc/elements/1.1/",
    "marc": "http://www.loc.gov/MARC21/slim",
}
PAYLOADS = {"oai_dc": "oai/oai_dc.xsd", "marc21": "marcxml/MARC21slim.xsd", "mods": "mods/mods-3-8.xsd"}


def ask(method: str = "get", **arguments) -> etree._Element:
    answer = getattr(Client(), method)("/oai/", {name.rstrip("_"): value for name, value in arguments.items()})
    assert (answer.status_code, answer["Content-Type"]) == (200, "text/xml; charset=utf-8")
    return etree.fromstring(answer.content)


def errors(**arguments) -> list[str]:
    root = ask(**arguments)
    schema("oai/OAI-PMH.xsd", "oai/oai_dc.xsd").assertValid(root)
    return [one.get("code") for one in root.iterfind("oai:error", OAI)]


def headers(root: etree._Element) -> dict[str, str]:
    """Identifier and status of each."""
    return {
        one.findtext("oai:identifier", namespaces=OAI).rpartition("-")[2]: one.get("status", "here")
        for one in root.iter("{http://www.openarchives.org/OAI/2.0/}header")
    }


def name_of(interview: Interview) -> str:
    return f"oai:library.example.org:interview-{interview.pk}"


@pytest.fixture
def owner():
    return a_user()


@pytest.fixture
def interview(owner, archivist) -> Interview:
    made = an_interview(State.CATALOGUED, owner=owner, reviewer=archivist)
    bring_up_to_date()
    return made


# The six verbs


@pytest.mark.parametrize("method", ["get", "post"])
def test_identify_says_what_a_harvester_has_to_know(interview, method):
    root = ask(method, verb="Identify")
    schema("oai/OAI-PMH.xsd", "oai/oai-identifier.xsd").assertValid(root)
    told = root.find("oai:Identify", OAI)
    assert told.findtext("oai:deletedRecord", namespaces=OAI) == "persistent"
    assert told.findtext("oai:granularity", namespaces=OAI) == "YYYY-MM-DDThh:mm:ssZ"
    earliest = HarvestRecord.objects.earliest("datestamp").datestamp
    assert told.findtext("oai:earliestDatestamp", namespaces=OAI) == f"{earliest:%Y-%m-%dT%H:%M:%SZ}"


@pytest.mark.parametrize("prefix", PAYLOADS)
@pytest.mark.parametrize("verb", ["ListRecords", "GetRecord"])
def test_records_are_valid_in_every_format(interview, prefix, verb):
    """Sources: the schemas of OAI-PMH 2.0, oai_dc, MARC 21 slim and MODS 3.8."""
    one = {"identifier": name_of(interview)} if verb == "GetRecord" else {}
    root = ask(verb=verb, metadataPrefix=prefix, **one)
    schema("oai/OAI-PMH.xsd", PAYLOADS[prefix]).assertValid(root)
    assert headers(root) == {str(interview.pk): "here"}
    assert interview.accessions.get().number in etree.tostring(root, encoding="unicode")


def test_formats_and_sets_are_listed(interview):
    root = ask(verb="ListMetadataFormats")
    schema("oai/OAI-PMH.xsd", "oai/oai_dc.xsd").assertValid(root)
    assert {one.text for one in root.iter("{*}metadataPrefix")} == set(PAYLOADS)
    assert errors(verb="ListMetadataFormats", identifier=name_of(interview)) == []
    root = ask(verb="ListSets")
    schema("oai/OAI-PMH.xsd", "oai/oai_dc.xsd").assertValid(root)
    assert {one.text for one in root.iter("{*}setName")} == {"Both Banks: the crossing years"}


def test_identifiers_are_listed_without_metadata(interview):
    root = ask(verb="ListIdentifiers", metadataPrefix="oai_dc")
    schema("oai/OAI-PMH.xsd", "oai/oai_dc.xsd").assertValid(root)
    assert headers(root) == {str(interview.pk): "here"}
    assert root.find(".//oai:metadata", OAI) is None


# What is wrong is said by the protocol's codes (section 3.6 of its text)

WRONG = [
    ({}, "badVerb"),
    ({"verb": "Steal"}, "badVerb"),
    ({"verb": ["Identify", "Identify"]}, "badVerb"),
    ({"verb": "Identify", "x": "1"}, "badArgument"),
    ({"verb": "ListRecords"}, "badArgument"),
    ({"verb": "GetRecord", "metadataPrefix": "oai_dc"}, "badArgument"),
    ({"verb": "ListRecords", "metadataPrefix": ["oai_dc", "oai_dc"]}, "badArgument"),
    ({"verb": "ListRecords", "metadataPrefix": "oai_dc", "from": "yesterday"}, "badArgument"),
    ({"verb": "ListRecords", "metadataPrefix": "oai_dc", "from": "2026-02-30"}, "badArgument"),
    ({"verb": "ListRecords", "metadataPrefix": "oai_dc", "from": "2026-01-01T00:00:00"}, "badArgument"),
    ({"verb": "ListRecords", "metadataPrefix": "oai_dc", "from": "٢٠٢٦-01-01"}, "badArgument"),
    (
        {"verb": "ListRecords", "metadataPrefix": "oai_dc", "from": "2026-01-01", "until": "2026-01-02T00:00:00Z"},
        "badArgument",
    ),
    ({"verb": "ListRecords", "metadataPrefix": "oai_dc", "from": "2026-02-01", "until": "2026-01-01"}, "badArgument"),
    ({"verb": "ListRecords", "metadataPrefix": "oai_dc", "resumptionToken": "x"}, "badArgument"),
    ({"verb": "ListRecords", "resumptionToken": "x"}, "badResumptionToken"),
    ({"verb": "ListSets", "resumptionToken": "x"}, "badResumptionToken"),
    ({"verb": "ListRecords", "metadataPrefix": "pbcore"}, "cannotDisseminateFormat"),
    ({"verb": "GetRecord", "metadataPrefix": "oai_dc", "identifier": "oai:elsewhere:1"}, "idDoesNotExist"),
    ({"verb": "GetRecord", "metadataPrefix": "oai_dc", "identifier": "1"}, "idDoesNotExist"),
    ({"verb": "ListMetadataFormats", "identifier": "1"}, "idDoesNotExist"),
    ({"verb": "ListRecords", "metadataPrefix": "oai_dc", "set": "nothing"}, "noRecordsMatch"),
    ({"verb": "ListRecords", "metadataPrefix": "oai_dc", "set": "collection-999999"}, "noRecordsMatch"),
    ({"verb": "ListRecords", "metadataPrefix": "oai_dc", "from": "2099-01-01"}, "noRecordsMatch"),
    ({"verb": "ListRecords", "metadataPrefix": "oai_dc", "until": "1999-01-01"}, "noRecordsMatch"),
]


@pytest.mark.parametrize(("arguments", "code"), WRONG, ids=[f"{code} {place}" for place, (_, code) in enumerate(WRONG)])
def test_what_is_wrong_is_said_by_its_code(interview, arguments, code):
    assert errors(**arguments) == [code]


def test_wrong_arguments_are_not_repeated_and_right_ones_are(interview):
    assert ask(verb="Identify", x="1").find("oai:request", OAI).attrib == {}
    right = ask(verb="ListRecords", metadataPrefix="oai_dc", until="1999-01-01").find("oai:request", OAI)
    assert dict(right.attrib) == {"verb": "ListRecords", "metadataPrefix": "oai_dc", "until": "1999-01-01"}


# What may be known of, and since when


def shown(**arguments) -> dict[str, str]:
    bring_up_to_date()
    return headers(ask(verb="ListIdentifiers", metadataPrefix="oai_dc", **arguments))


def datestamp(interview: Interview) -> datetime:
    return HarvestRecord.objects.get(interview=interview).datestamp


def test_only_what_anybody_may_know_of_is_offered(owner, archivist):
    until = timezone.localdate() + timedelta(days=400)
    closed = {"access": Access.CLOSED, "closed_until": until}
    an_interview(State.CATALOGUED, owner=owner, reviewer=archivist, chosen=closed)
    an_interview(State.IN_REVIEW, owner=owner, reviewer=archivist, ready=True)
    on_site = an_interview(State.CATALOGUED, owner=owner, reviewer=archivist, chosen={"access": Access.ON_SITE})
    assert shown() == {str(on_site.pk): "here"}


def test_withheld_names_do_not_leave(owner, archivist):
    an_interview(State.CATALOGUED, owner=owner, reviewer=archivist, chosen={"name_withheld": True})
    bring_up_to_date()
    for prefix in PAYLOADS:
        answer = etree.tostring(ask(verb="ListRecords", metadataPrefix=prefix), encoding="unicode")
        assert "Oskarsen" not in answer
        assert "withheld" in answer


def test_what_is_not_catalogued_is_not_offered(owner, archivist):
    plain = an_interview(State.ACCEPTED, owner=owner, reviewer=archivist)
    bring_up_to_date()
    assert errors(verb="ListRecords", metadataPrefix="oai_dc") == ["noRecordsMatch"]
    describe_whole(plain, archivist)
    workflow.describe(plain.pk, actor=archivist)
    bring_up_to_date()
    assert headers(ask(verb="ListRecords", metadataPrefix="oai_dc")) == {str(plain.pk): "here"}
    workflow.describe_again(plain.pk, actor=archivist)
    assert headers(ask(verb="ListRecords", metadataPrefix="oai_dc")) == {str(plain.pk): "deleted"}


def test_what_is_changed_in_the_record_moves_its_datestamp(interview, archivist):
    heading = headings.add_own("Ferries", kind="subject", actor=archivist)

    def stamp() -> datetime:
        bring_up_to_date()
        return HarvestRecord.objects.get().datestamp

    def rename() -> None:
        whole = {"note": "", "latitude": None, "longitude": None, "is_current": True, "variants": []}
        headings.write_heading(heading, kind="subject", label="Ferry services", actor=archivist, **whole)

    person = narrator_of(interview).person
    changes = [
        lambda: catalogue.give_heading(interview.pk, heading=heading, use="about", actor=archivist),
        rename,
        lambda: name_person(person, "Oskarsen, M.", actor=archivist),
    ]
    for number, change in enumerate(changes, start=1):
        before = stamp()
        with at_time(timezone.now() + timedelta(hours=number)):
            change()
            assert stamp() > before, number
    told = etree.tostring(ask(verb="ListRecords", metadataPrefix="marc21"), encoding="unicode")
    assert "Ferry services." in told
    assert "Oskarsen, M.," in told


def test_what_is_withdrawn_is_told_as_deleted_for_ever(interview, owner, archivist):
    before = datestamp(interview)
    with at_time(timezone.now() + timedelta(minutes=5)):
        workflow.ask_withdrawal(interview.pk, wished_by="Marit", reason="It hurts.", actor=owner)
        assert shown() == {str(interview.pk): "deleted"}
        assert datestamp(interview) > before
        workflow.take_down(interview.pk, reason="She is right.", actor=archivist)
        assert shown() == {str(interview.pk): "deleted"}
    record = ask(verb="GetRecord", metadataPrefix="oai_dc", identifier=name_of(interview))
    assert record.find(".//oai:metadata", OAI) is None


def test_a_request_that_is_turned_down_brings_it_back_with_a_new_datestamp(interview, owner, archivist):
    workflow.ask_withdrawal(interview.pk, wished_by="Marit", reason="It hurts.", actor=owner)
    assert shown() == {str(interview.pk): "deleted"}
    with at_time(timezone.now() + timedelta(hours=1)):
        workflow.refuse_withdrawal(interview.pk, reason="She thought again.", actor=archivist)
        assert shown() == {str(interview.pk): "here"}
        assert datestamp(interview) > timezone.now() - timedelta(minutes=1)


def test_before_the_records_are_brought_up_to_date_nothing_leaks_either(interview, owner):
    workflow.ask_withdrawal(interview.pk, wished_by="Marit", reason="It hurts.", actor=owner)
    root = ask(verb="ListRecords", metadataPrefix="oai_dc")
    assert headers(root) == {str(interview.pk): "deleted"}
    assert root.find(".//oai:metadata", OAI) is None


def test_a_closure_that_ends_brings_a_record_on_its_day(owner, archivist):
    day = timezone.localdate() + timedelta(days=30)
    chosen = {"access": Access.CLOSED, "closed_until": day}
    interview = an_interview(State.CATALOGUED, owner=owner, reviewer=archivist, chosen=chosen)
    bring_up_to_date()
    assert errors(verb="ListIdentifiers", metadataPrefix="oai_dc") == ["noRecordsMatch"]
    with at_time(datetime(day.year, day.month, day.day, 12, tzinfo=UTC)):
        while closures.lift_those_due(timezone.localdate()):
            pass
        assert shown() == {str(interview.pk): "here"}
        assert datestamp(interview).date() == day


def test_nothing_that_changes_nothing_moves_the_datestamp(interview, archivist):
    before = datestamp(interview)
    with at_time(timezone.now() + timedelta(hours=1)):
        part = interview.parts.get()
        listening.set_mark(part.pk, kind="note", at_seconds=0.1, note="x", actor=archivist)
        bring_up_to_date()
    assert datestamp(interview) == before


def test_from_and_until_are_both_meant(interview):
    at = datestamp(interview)
    moment = f"{at:%Y-%m-%dT%H:%M:%SZ}"
    assert shown(from_=moment, until=moment) == {str(interview.pk): "here"}
    day = f"{at:%Y-%m-%d}"
    assert shown(from_=day, until=day) == {str(interview.pk): "here"}
    later = f"{at + timedelta(seconds=1):%Y-%m-%dT%H:%M:%SZ}"
    assert errors(verb="ListIdentifiers", metadataPrefix="oai_dc", **{"from": later}) == ["noRecordsMatch"]


def test_lists_are_cut_and_a_token_gives_the_same_again(owner, archivist, monkeypatch):
    monkeypatch.setattr(views, "AT_ONCE", 2)
    made = {str(an_interview(State.CATALOGUED, owner=owner, reviewer=archivist).pk) for _ in range(5)}
    bring_up_to_date()
    root, seen, cursors = ask(verb="ListRecords", metadataPrefix="oai_dc"), [], []
    while True:
        schema("oai/OAI-PMH.xsd", "oai/oai_dc.xsd").assertValid(root)
        seen += list(headers(root))
        token = root.find(".//oai:resumptionToken", OAI)
        assert token.get("completeListSize") == "5"
        cursors.append(token.get("cursor"))
        if not token.text:
            break
        again = [headers(ask(verb="ListRecords", resumptionToken=token.text)) for _ in range(2)]
        assert again[0] == again[1]
        assert errors(verb="ListIdentifiers", resumptionToken=token.text) == ["badResumptionToken"]
        root = ask(verb="ListRecords", resumptionToken=token.text)
    assert (set(seen), len(seen)) == (made, 5)
    assert cursors == ["0", "2", "4"]


def test_a_site_that_does_not_offer_it_has_no_such_door(settings):
    settings.OAI_PMH = False
    assert Client().get("/oai/", {"verb": "Identify"}).status_code == 404
