"""Descriptions for other systems: what is chosen comes out, and nothing that may not be told there."""

import csv
import io
import zipfile
from datetime import timedelta

import pymarc
import pytest
from django.urls import reverse
from django.utils import timezone
from lxml import etree

from intake import workflow
from intake.access.services import terms_at_hand, terms_of
from intake.audit.actions import Action
from intake.audit.models import Event
from intake.catalogue import timed
from intake.catalogue.webvtt import Spoken
from intake.interviews.models import Interview, State
from intake.outputs.describing import accepted, described
from intake.outputs.exporting import FORMATS
from intake.releases.models import Access
from tests.factories import a_user, an_interview, run_jobs
from tests.pages import signed_in, text_of
from tests.records.schemas import schema

pytestmark = pytest.mark.django_db
FILE = "/desk/exports/"


@pytest.fixture
def browser(archivist):
    return signed_in(archivist)


@pytest.fixture
def interviews(archivist) -> dict[str, object]:
    """One of each kind that a public catalogue may or may not know of."""
    owner, until = a_user(), timezone.localdate() + timedelta(days=400)
    kinds = {
        "open": {},
        "on site": {"access": Access.ON_SITE},
        "closed": {"access": Access.CLOSED, "closed_until": until},
        "withheld": {"name_withheld": True},
        "contested": {},
        "licensed": {"licence": "CC-BY-4.0"},
    }
    made = {
        kind: an_interview(State.ACCEPTED, owner=owner, reviewer=archivist, chosen=chosen)
        for kind, chosen in kinds.items()
    }
    workflow.ask_withdrawal(made["contested"].pk, wished_by="Marit", reason="It hurts.", actor=owner)
    an_interview(State.SUBMITTED)
    return made


def numbers(interviews, *kinds: str) -> set[str]:
    return {interviews[kind].accessions.get().number for kind in kinds}


def unpacked(content: bytes) -> bytes:
    """Names and contents of all files."""
    archive = zipfile.ZipFile(io.BytesIO(content))
    return b"".join(name.encode() + archive.read(name) for name in archive.namelist())


def lines(answer) -> list[dict]:
    return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))


def test_a_public_catalogue_hears_of_what_anybody_may_know_of(browser, interviews):
    told = lines(browser.post(FILE, {"format": "csv", "audience": "public"}))
    assert {line["identifier"] for line in told} == numbers(interviews, "open", "on site", "withheld", "licensed")


def test_staff_have_the_closed_ones_too_marked_as_such(browser, interviews):
    told = {line["identifier"]: line for line in lines(browser.post(FILE, {"format": "csv", "audience": "house"}))}
    assert set(told) == numbers(interviews, *interviews)
    (closed,) = numbers(interviews, "closed")
    assert told[closed]["closed_until"]
    assert told[closed]["access"].startswith("Closed until")


def test_withheld_names_are_left_out_for_staff_too(browser, interviews):
    (number,) = numbers(interviews, "withheld")
    said = Spoken(100, 300, "Marit Oskarsen", "I am Marit Oskarsen, and the Oskarsens have no boat.")
    part = interviews["withheld"].parts.get()
    timed.write_cue(part.pk, kind="transcript", said=said, actor=interviews["withheld"].reviewer)
    for name in FORMATS:
        answer = browser.post(FILE, {"format": name, "audience": "house", "chosen": str(interviews["withheld"].pk)})
        content = answer.content
        if FORMATS[name].ending == "zip":
            content = unpacked(content)
        assert b"Oskarsen" not in content, name
        assert number.encode() in content, name


def test_a_licence_stands_in_the_record_where_all_narrators_chose_it(interviews):
    told = {said.identifier: said.rights for said in described(accepted())}
    (licensed,) = numbers(interviews, "licensed")
    assert told[licensed] == ("https://creativecommons.org/licenses/by/4.0/",)
    assert {uris for number, uris in told.items() if number != licensed} == {()}


def test_every_format_of_all_is_valid_and_reads_back(browser, interviews):
    """Sources: the schemas of MARC 21 slim, MODS 3.8 and oai_dc; pymarc."""

    def content(name: str) -> bytes:
        answer = browser.post(FILE, {"format": name, "audience": "house"})
        assert answer["Content-Type"] == FORMATS[name].media_type
        assert answer["Content-Disposition"] == f'attachment; filename="oral-history-6.{FORMATS[name].ending}"'
        return answer.content

    assert len(list(pymarc.MARCReader(content("marc"), to_unicode=True))) == 6
    schema("marcxml/MARC21slim.xsd").assertValid(etree.fromstring(content("marcxml")))
    schema("mods/mods-3-8.xsd").assertValid(etree.fromstring(content("mods")))
    with zipfile.ZipFile(io.BytesIO(content("dublin-core"))) as archive:
        assert len(archive.namelist()) == 6
        for name in archive.namelist():
            schema("oai/oai_dc.xsd").assertValid(etree.fromstring(archive.read(name)))


def test_a_selection_comes_from_the_queue(browser, interviews):
    chosen = [interviews["open"].pk, interviews["on site"].pk]
    led = browser.post("/desk/queue/together/", {"act": "export", "chosen": chosen})
    assert led["Location"] == f"/desk/exports/?chosen={chosen[0]},{chosen[1]}"
    assert "Only the interviews that you selected" in text_of(browser.get(led["Location"]))
    told = lines(browser.post(FILE, {"format": "csv", "audience": "public", "chosen": f"{chosen[0]},{chosen[1]}"}))
    assert {line["identifier"] for line in told} == numbers(interviews, "open", "on site")


def test_a_collection_is_exported_alone(browser, interviews):
    collection = interviews["open"].collection_id
    told = lines(browser.post(FILE, {"format": "csv", "audience": "house", "collection": collection}))
    assert len(told) == 6


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        ({"chosen": ""}, "Choose an answer for “Format”."),
        ({"format": "csv"}, "Choose an answer for “For”."),
        ({"format": "x", "audience": "public"}, "Choose one of the answers offered for “Format”."),
        ({"format": "csv", "audience": "public", "chosen": "x"}, "These are no interviews."),
        ({"format": "csv", "audience": "public", "chosen": "9" * 30}, "These are no interviews."),
        ({"format": "csv", "audience": "public", "chosen": "999"}, "there is nothing to export"),
        ({"format": "csv", "audience": "public", "collection": "999"}, "Choose one of the answers offered"),
    ],
    ids=str,
)
def test_what_is_missing_is_said(browser, data, sentence):
    assert sentence in text_of(browser.post(FILE, data))


def test_what_is_at_hand_gives_the_same_answer_as_asking_anew(interviews, archivist):
    """Every situation of an accepted interview."""
    an_interview(State.TAKEN_DOWN)
    for accession in accepted():
        interview, today = accession.interview, timezone.localdate()
        assert terms_at_hand(interview, on=today) == terms_of(Interview.objects.get(pk=interview.pk), on=today)


def test_describing_many_asks_no_more_questions_than_describing_one(archivist, django_assert_num_queries):
    an_interview(State.ACCEPTED, reviewer=archivist)
    run_jobs("measure-part")
    with django_assert_num_queries(12):
        list(described(accepted()))
    for _ in range(3):
        an_interview(State.ACCEPTED, reviewer=archivist)
    with django_assert_num_queries(12):
        list(described(accepted()))


def test_who_exported_what_for_whom_is_recorded(browser, interviews, archivist):
    browser.post(FILE, {"format": "mods", "audience": "public", "chosen": str(interviews["open"].pk)})
    event = Event.objects.get(action=Action.DESCRIPTIONS_EXPORTED)
    told = {"format": "mods", "is_public": True, "accessions": [*numbers(interviews, "open")]}
    assert (event.actor, event.details) == (archivist, told)


def test_the_page_leads_to_each_format(browser):
    shown = text_of(browser.get(reverse("desk:exports")))
    assert all(kind.label in shown for kind in FORMATS.values())
