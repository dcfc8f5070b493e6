"""The page that describes an interview, and the pages of headings and names."""

import pycountry
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from intake.catalogue import headings, services
from intake.catalogue.complete import description_of
from intake.catalogue.models import AccessPoint, Contributor, Heading
from intake.desk.description_forms import RecordForm
from intake.interviews.models import State
from intake.people import services as people
from tests.factories import IN_COPYRIGHT, an_interview, narrator_of, run_jobs
from tests.pages import signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def browser(archivist):
    return signed_in(archivist)


@pytest.fixture
def interview(archivist):
    return an_interview(State.ACCEPTED, reviewer=archivist)


def page(interview) -> str:
    return f"/desk/interviews/{interview.pk}/description/"


def filled(**changes) -> dict[str, str]:
    return {"summary": "The ferry.", "languages": "English", "rights": IN_COPYRIGHT, **changes}


def test_the_page_begins_with_what_is_known_and_says_what_is_missing(browser, interview):
    told = text_of(browser.get(page(interview)))
    assert interview.summary in told
    assert "Choose what the record says of the rights." in told
    assert "It can be catalogued once nothing is missing." in told


def test_an_interview_is_described_and_catalogued(browser, interview, archivist):
    answer = browser.post(
        page(interview),
        filled(title="Forty years", languages="English, Welsh", periods="1950/1965, 194X~"),
        follow=True,
    )
    assert "The record says so now." in text_of(answer)
    assert "194X~ is about the 1940s" in text_of(answer)
    kept = description_of(interview)
    assert (kept.title, kept.languages, kept.periods) == ("Forty years", ["en", "cy"], ["1950/1965", "194X~"])
    for participant in interview.participants.all():
        address = f"{page(interview)}people/{participant.person_id}/"
        browser.post(address, {"catalogue_name": f"Of, {participant.person}", "variant_names": "A; B"})
    assert "Catalogue the interview" in text_of(browser.get(page(interview)))
    told = text_of(browser.post(f"{page(interview)}catalogue/", follow=True))
    assert "Catalogued. Whoever may know of it finds it now." in told
    interview.refresh_from_db()
    assert interview.state == State.CATALOGUED
    assert narrator_of(interview).person.variant_names == ["A", "B"]
    told = text_of(browser.post(page(interview), filled(summary="")))
    assert "Write the summary." in told


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"languages": "Elvish"}, "“Elvish” is no language of ISO 639-3."),
        ({"languages": ""}, "Say which language is spoken."),
        ({"periods": "about 1943"}, "Perhaps 1943~?"),
        ({"rights": "https://creativecommons.org/licenses/by/4.0/"}, "Choose one of the answers offered"),
        ({"title": "x" * 501}, "is too long"),
    ],
)
def test_what_cannot_be_is_told_beside_its_field(browser, interview, typed, told):
    answer = browser.post(page(interview), filled(**typed))
    assert told in text_of(answer)
    assert not hasattr(interview, "catalogue_description")


def test_every_language_is_shown_so_that_it_is_read_again(interview):
    field = RecordForm.base_fields["languages"]
    tags = [getattr(one, "alpha_2", one.alpha_3) for one in pycountry.languages]
    for tag in [*tags, "pt-br", "zh-hans"]:
        assert field.clean(field.prepare_value([tag])) == [tag]


@pytest.mark.parametrize(
    ("variants", "told"),
    [("a\0b", "cannot be kept"), ("x" * 2001, "too long"), (";".join(map(str, range(21))), "room for 20")],
)
def test_names_that_cannot_be_kept_are_told(browser, interview, variants, told):
    person = narrator_of(interview).person
    answer = browser.post(f"{page(interview)}people/{person.pk}/", {"catalogue_name": "x", "variant_names": variants})
    assert told in text_of(answer)


def test_two_who_describe_at_once_see_both_versions(browser, interview, archivist):
    began = browser.get(page(interview)).context["form"]["began"].value()
    services.describe(
        interview.pk,
        said=services.Said("Theirs", interview.summary, ["en"], [], ""),
        actor=archivist,
    )
    answer = browser.post(page(interview), {**filled(title="Mine", rights=""), "began": began})
    assert answer.status_code == 409
    assert "Title: two versions" in text_of(answer)
    assert description_of(interview).title == "Theirs"


def test_a_heading_is_given_by_its_name(browser, interview, archivist):
    headings.add_own("Cable ferries", kind="subject", actor=archivist)
    address = f"{page(interview)}headings/"
    answer = browser.post(address, {"typed": "cable FERRIES", "use": "about"}, follow=True)
    assert "Cable ferries" in text_of(answer)
    answer = browser.post(address, {"typed": "cable FERRIES", "use": "about"})
    assert "stands in the record already" in text_of(answer)
    browser.post(f"/desk/access-points/{AccessPoint.objects.get().pk}/take-out/")
    assert not AccessPoint.objects.exists()


def test_a_name_that_no_list_has_is_offered_to_be_written(browser, interview, archivist):
    headings.add_own("Cable ferries", kind="subject", actor=archivist)
    address = f"{page(interview)}headings/"
    told = text_of(browser.post(address, {"typed": "ferr", "use": "about"}))
    assert "Which is meant?" in told
    assert "Cable ferries" in told
    browser.post(address, {"typed": "Ferry money", "use": "about", "new": "subject"})
    assert AccessPoint.objects.get().heading.label == "Ferry money"


def test_headings_of_the_same_name_are_told_apart(browser, interview, archivist):
    headings.add_own("Alder Ferry", kind="place", actor=archivist)
    headings.add_own("Alder Ferry", kind="subject", actor=archivist)
    answer = browser.post(f"{page(interview)}headings/", {"typed": "Alder Ferry", "use": "about"})
    assert len(answer.context["found"]) == 2
    place = Heading.objects.get(kind="place")
    browser.post(f"{page(interview)}headings/", {"typed": "Alder Ferry", "use": "recorded-at", "chosen": str(place.pk)})
    assert AccessPoint.objects.get().use == "recorded-at"


def test_somebody_known_and_somebody_new_are_named(browser, interview, archivist):
    address = f"{page(interview)}people/"
    known = people.note_person(name="Jens Lund", email="", actor=archivist)
    assert "Jens Lund" in text_of(browser.get(address, {"q": "jens"}))
    browser.post(address, {"role": "transcriber", "person": str(known.pk)})
    told = text_of(browser.post(address, {"role": "spoken-of", "name": "Old Halvard"}))
    assert "Write the name in both forms." in told
    browser.post(address, {"role": "spoken-of", "name": "Old Halvard", "catalogue_name": "Halvard"})
    assert set(Contributor.objects.values_list("person__name", "role")) == {
        ("Jens Lund", "transcriber"), ("Old Halvard", "spoken-of"),
    }  # fmt: skip
    one = Contributor.objects.get(role="transcriber")
    browser.post(f"/desk/contributors/{one.pk}/take-out/")
    assert Contributor.objects.count() == 1


def test_names_are_suggested_while_somebody_types(browser, archivist):
    headings.add_own("Cable ferries", kind="subject", actor=archivist)
    assert browser.get("/desk/suggestions/headings/?typed=ca").json() == {
        "found": [{"name": "Cable ferries", "told": headings.OWN_NAME}]
    }
    assert {"name": "Welsh", "told": "cy"} in browser.get("/desk/suggestions/languages/?typed=wel").json()["found"]
    assert browser.get("/desk/suggestions/people/?typed=a").status_code == 404


# Lists


def test_a_list_is_read_from_a_file_on_the_page(browser):
    file = SimpleUploadedFile("places.csv", b"label,latitude,longitude\nSill Island,55.5,-12.25\n")
    answer = browser.post(
        "/desk/headings/", {"name": "Places", "code": "banks", "kind": "place", "file": file}, follow=True
    )
    assert "The file is kept and being read." in text_of(answer)
    assert "A file is being read." in text_of(answer)
    run_jobs("read-list")
    told = text_of(browser.get("/desk/headings/"))
    assert "1 new, 0 changed, 0 no longer offered." in told
    place = Heading.objects.get()
    assert "55.5, -12.25" in text_of(browser.get(f"/desk/headings/lists/{place.authority_id}/?typed=sill"))
    assert "No heading is found here." in text_of(browser.get(f"/desk/headings/lists/{place.authority_id}/?typed=x"))


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [("a.pdf", b"%PDF", "A list is a file that ends in"), ("a.csv", b"", "The submitted file is empty.")],
)
def test_a_file_that_is_no_list_is_refused_at_once(browser, name, content, told):
    file = SimpleUploadedFile(name, content)
    answer = browser.post("/desk/headings/", {"name": "x", "code": "x", "kind": "place", "file": file})
    assert told in text_of(answer)


def test_a_file_that_cannot_be_read_says_why_on_the_page(browser):
    file = SimpleUploadedFile("a.ttl", b"this is not turtle")
    browser.post("/desk/headings/", {"name": "x", "code": "x", "kind": "subject", "file": file})
    run_jobs("read-list")
    assert "cannot be read as SKOS" in text_of(browser.get("/desk/headings/"))


def test_the_librarys_own_headings_are_written_and_changed(browser):
    whole = {
        "kind": "place",
        "label": "Sill Island",
        "variants": "Sill; Isle of Sill",
        "latitude": "55.5",
        "longitude": "-12.25",
    }
    browser.post("/desk/headings/new/", {**whole, "is_current": "on"})
    place = Heading.objects.get()
    assert (place.variants, place.latitude, place.is_current) == (["Sill", "Isle of Sill"], 55.5, True)
    assert "Sill; Isle of Sill" in browser.get(f"/desk/headings/{place.pk}/").content.decode()
    browser.post(f"/desk/headings/{place.pk}/", {**whole, "label": "Sill"})
    place.refresh_from_db()
    assert (place.label, place.is_current) == ("Sill", False)
    told = text_of(browser.post("/desk/headings/new/", {**whole, "longitude": ""}))
    assert "both or neither" in told
    told = text_of(browser.post("/desk/headings/new/", {**whole, "kind": "subject"}))
    assert "Only a place lies somewhere." in told
