"""Describe an interview: who may, when, and what is refused."""

import pytest
from django.db import IntegrityError, transaction

from intake import workflow
from intake.audit.actions import Action
from intake.audit.models import Event
from intake.catalogue import headings, services
from intake.catalogue.complete import description_of, missing_before_cataloguing
from intake.catalogue.models import AccessPoint, Contributor, Description, Heading
from intake.catalogue.services import Said
from intake.errors import Conflict, DoneAlready, Refused
from intake.interviews import merging
from intake.interviews.models import State
from intake.outputs.describing import accepted, described
from intake.people import services as people
from tests.factories import IN_COPYRIGHT, a_user, an_interview, describe_whole, name_person, narrator_of

pytestmark = pytest.mark.django_db
CC_BY = "https://creativecommons.org/licenses/by/4.0/"


@pytest.fixture
def interview(archivist):
    return an_interview(State.ACCEPTED, reviewer=archivist)


def said(**changes) -> Said:
    plain = {"title": "", "summary": "The ferry.", "languages": ["en"], "periods": [], "rights": IN_COPYRIGHT}
    return Said(**{**plain, **changes})


def test_a_description_begins_with_what_the_volunteer_and_the_releases_say(interview, archivist):
    begun = description_of(interview)
    assert (begun.pk, begun.summary, begun.languages) == (interview.pk, interview.summary, [interview.language])
    assert not Description.objects.exists()
    licensed = an_interview(State.ACCEPTED, reviewer=archivist, chosen={"licence": "CC-BY-4.0"})
    assert description_of(licensed).rights == CC_BY


def test_what_is_said_is_kept_and_the_volunteers_words_stay(interview, archivist):
    before = interview.summary
    services.describe(interview.pk, said=said(title="Forty years", periods=["1950/1965"]), actor=archivist)
    kept = description_of(interview)
    assert (kept.title, kept.periods, kept.changed_by) == ("Forty years", ["1950/1965"], archivist)
    interview.refresh_from_db()
    assert interview.summary == before
    event = Event.objects.get(action=Action.RECORD_CHANGED)
    assert event.details == {"changed": ["periods", "rights", "summary", "title"]}
    services.describe(interview.pk, said=said(title="Forty years", periods=["1950/1965"]), actor=archivist)
    assert Event.objects.filter(action=Action.RECORD_CHANGED).count() == 1


def test_two_who_describe_at_once_lose_nothing(interview, archivist):
    began = said()
    services.describe(interview.pk, said=began, actor=archivist)
    services.describe(interview.pk, said=said(title="Mine"), began=began, actor=archivist)
    services.describe(interview.pk, said=said(summary="The other ferry."), began=began, actor=archivist)
    kept = description_of(interview)
    assert (kept.title, kept.summary) == ("Mine", "The other ferry.")
    with pytest.raises(Conflict):
        services.describe(interview.pk, said=said(title="Yours"), began=began, actor=archivist)


@pytest.mark.parametrize("state", [State.SUBMITTED, State.RETURNED, State.DECLINED, State.WITHDRAWN, State.TAKEN_DOWN])
def test_only_from_the_review_on_and_not_after_its_end(state, archivist):
    other = an_interview(state, reviewer=archivist)
    with pytest.raises(Refused, match="from its review on"):
        services.describe(other.pk, said=said(), actor=archivist)


def test_only_staff_describe(interview):
    for actor in (interview.owner, a_user("Lucinda Farrow")):
        with pytest.raises(Refused, match="Only the library's staff"):
            services.describe(interview.pk, said=said(), actor=actor)


def test_a_licence_is_the_narrators_to_give(interview, archivist):
    with pytest.raises(Refused, match="Only whoever holds the rights"):
        services.describe(interview.pk, said=said(rights=CC_BY), actor=archivist)
    licensed = an_interview(State.ACCEPTED, reviewer=archivist, chosen={"licence": "CC-BY-4.0"})
    services.describe(licensed.pk, said=said(rights=CC_BY), actor=archivist)
    assert description_of(licensed).rights == CC_BY


# Headings


def test_a_heading_is_given_once_for_a_use(interview, archivist):
    place = headings.add_own("Alder Ferry", kind="place", actor=archivist)
    services.give_heading(interview.pk, heading=place, use="about", actor=archivist)
    point = services.give_heading(interview.pk, heading=place, use="recorded-at", actor=archivist)
    with pytest.raises(DoneAlready):
        services.give_heading(interview.pk, heading=place, use="about", actor=archivist)
    services.remove_heading(point.pk, actor=archivist)
    with pytest.raises(DoneAlready):
        services.remove_heading(point.pk, actor=archivist)
    assert AccessPoint.objects.count() == 1
    assert Heading.objects.count() == 1


def test_nothing_is_recorded_at_a_subject(interview, archivist):
    subject = headings.add_own("Ice", kind="subject", actor=archivist)
    with pytest.raises(Refused, match="is a subject"):
        services.give_heading(interview.pk, heading=subject, use="recorded-at", actor=archivist)


# People


def test_somebody_new_is_named_and_taken_out(interview, archivist):
    made = services.name_somebody_new(
        interview.pk, name="Jens Lund", catalogue_name="Lund, Jens", role="spoken-of", actor=archivist
    )
    with pytest.raises(DoneAlready):
        services.name_contributor(interview.pk, person=made.person, role="spoken-of", actor=archivist)
    services.remove_contributor(made.pk, actor=archivist)
    assert not Contributor.objects.exists()
    assert people.find("Jens Lund") == [made.person]


def test_whose_name_is_withheld_is_named_in_no_other_role(archivist):
    hidden = an_interview(State.ACCEPTED, reviewer=archivist, chosen={"name_withheld": True})
    with pytest.raises(Refused, match="promised"):
        services.name_contributor(hidden.pk, person=narrator_of(hidden).person, role="spoken-of", actor=archivist)


def test_how_a_person_is_named(interview, archivist):
    person = narrator_of(interview).person
    name_person(person, "Oskarsen, Marit", actor=archivist, variants=("Marit Lund",), life_dates="1943~/..")
    person.refresh_from_db()
    assert (person.catalogue_name, person.variant_names, person.life_dates) == (
        "Oskarsen, Marit",
        ["Marit Lund"],
        "1943~/..",
    )
    assert person.name == "Marit Oskarsen"
    with pytest.raises(Refused, match="EDTF"):
        name_person(person, "Oskarsen, Marit", actor=archivist, life_dates="born in 43")
    with pytest.raises(Refused, match="Only the library's staff"):
        name_person(person, "x", actor=interview.owner)


def test_records_of_one_person_made_one_keep_its_names(interview, archivist):
    """The other name is a name by which the person is found."""
    stays = narrator_of(interview).person
    twin = people.note_person(name="Marit Lund", email="", actor=archivist)
    name_person(twin, "Lund, Marit", actor=archivist, variants=("Marit of the ferry",), uri="https://example.org/m")
    merging.merge(twin.pk, into_id=stays.pk, actor=archivist)
    stays.refresh_from_db()
    assert stays.catalogue_name == "Lund, Marit"
    assert stays.variant_names == ["Marit of the ferry", "Marit Lund"]
    assert stays.uri == "https://example.org/m"


# What is catalogued stays complete


def test_what_is_missing_is_said_one_by_one(interview, archivist):
    services.describe(interview.pk, said=said(summary="", languages=[], rights=""), actor=archivist)
    assert missing_before_cataloguing(interview) == [
        "Write the summary.",
        "Say which language is spoken.",
        "Choose what the record says of the rights.",
        "Write the name of Marit Oskarsen as the catalogue has it.",
        f"Write the name of {interview.owner.name} as the catalogue has it.",
    ]
    describe_whole(interview, archivist)
    services.describe(interview.pk, said=said(), actor=archivist)
    assert missing_before_cataloguing(interview) == []


def test_a_change_that_would_leave_a_catalogued_record_incomplete_is_refused(archivist):
    catalogued = an_interview(State.CATALOGUED, reviewer=archivist)
    with pytest.raises(Refused, match="Write the summary"):
        services.describe(catalogued.pk, said=said(summary=" "), actor=archivist)
    new = people.note_person(name="Jens Lund", email="", actor=archivist)
    with pytest.raises(Refused, match="Write the name of Jens Lund"):
        services.name_contributor(catalogued.pk, person=new, role="transcriber", actor=archivist)
    assert not Contributor.objects.exists()
    services.describe(catalogued.pk, said=said(title="A better title"), actor=archivist)
    assert description_of(catalogued).title == "A better title"


def test_of_two_things_that_are_wrong_already_one_may_be_put_right_at_a_time(archivist):
    """A name may be promised withheld after the record was written: neither fault may lock the other in."""
    catalogued = an_interview(State.CATALOGUED, reviewer=archivist)
    Description.objects.filter(interview=catalogued).update(summary="", rights="")
    services.describe(catalogued.pk, said=said(summary="", rights=IN_COPYRIGHT), actor=archivist)
    assert missing_before_cataloguing(catalogued) == ["Write the summary."]


def test_a_name_that_was_promised_withheld_is_looked_for_in_the_text(archivist):
    hidden = an_interview(State.ACCEPTED, reviewer=archivist, chosen={"name_withheld": True})
    describe_whole(hidden, archivist)
    with_name = said(title="Marit Oskarsen's ferry", summary="Of old OSKARSEN and her boat.")
    services.describe(hidden.pk, said=with_name, actor=archivist)
    family = headings.add_own("Oskarsen family", kind="subject", actor=archivist)
    services.give_heading(hidden.pk, heading=family, use="about", actor=archivist)
    assert missing_before_cataloguing(hidden) == [
        "The title tells a name that was promised withheld. Write it without.",
        "The summary tells a name that was promised withheld. Write it without.",
        "The list of subjects and places tells a name that was promised withheld. Write it without.",
    ]
    (told,) = described(accepted().filter(interview=hidden))
    assert "oskarsen" not in repr(told).lower()
    assert told.title == "[name withheld]'s ferry"
    with pytest.raises(Refused, match="promised withheld"):
        workflow.describe(hidden.pk, actor=archivist)


@pytest.mark.parametrize(
    ("kind", "where"),
    [
        ("place", {"latitude": 91, "longitude": 0}),
        ("place", {"latitude": 1}),
        ("subject", {"latitude": 1, "longitude": 1}),
    ],
)
def test_the_database_says_where_a_heading_may_lie(archivist, kind, where):
    headings.add_own("Alder Ferry", kind=kind, actor=archivist)
    with pytest.raises(IntegrityError, match="heading_lies_on_the_earth"), transaction.atomic():
        Heading.objects.update(**where)
