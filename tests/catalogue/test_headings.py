"""Lists of headings: the library's own, and those of others brought up to date from files."""

import pytest

from intake.audit.actions import Action
from intake.audit.models import Event
from intake.catalogue import headings, services
from intake.catalogue.models import AuthorityList, Heading
from intake.errors import Refused
from intake.interviews.models import State
from intake.jobs.models import Kind
from intake.queue.models import Touched
from tests.factories import a_user, an_interview, run_jobs

pytestmark = pytest.mark.django_db
PREFIX = "@prefix s: <http://www.w3.org/2004/02/skos/core#> . @prefix e: <https://example.org/> .\n"
FIRST = PREFIX + (
    'e:a s:prefLabel "Ferries"@en ; s:altLabel "Ferry boats"@en . e:b s:prefLabel "Cable ferries"@en ; s:broader e:a .'
    'e:c s:prefLabel "Tolls"@en .'
)
SECOND = PREFIX + (
    'e:a s:prefLabel "Ferry services"@en . e:b s:prefLabel "Cable ferries"@en ; s:broader e:a .'
    'e:d s:prefLabel "Ice"@en .'
)


def take_in(content: str, actor, *, file_name: str = "list.ttl", name: str = "Two banks", kind: str = "subject"):
    """The reading, once it is done."""
    reading = headings.take_in_list(
        name, "banks", kind=kind, file_name=file_name, content=content.encode(), actor=actor
    )
    run_jobs(Kind.READ_LIST)
    reading.refresh_from_db()
    return reading


def labels(**asked) -> set[str]:
    return set(Heading.objects.filter(is_current=True, **asked).values_list("label", flat=True))


def test_a_list_is_read_and_brought_up_to_date(archivist):
    first = take_in(FIRST, archivist)
    assert (first.new, first.changed, first.retired, first.refusal) == (3, 0, 0, "")
    assert Heading.objects.get(label="Cable ferries").broader.label == "Ferries"
    second = take_in(SECOND, archivist, name="two BANKS")
    assert (second.new, second.changed, second.retired) == (1, 1, 1)
    assert labels() == {"Ferry services", "Cable ferries", "Ice"}
    assert Heading.objects.get(uri="https://example.org/a").label == "Ferry services"
    assert not Heading.objects.get(label="Tolls").is_current
    again = take_in(SECOND, archivist)
    assert (again.new, again.changed, again.retired) == (0, 0, 0)
    assert AuthorityList.objects.count() == 1


def test_a_wrong_file_changes_nothing_and_says_why(archivist):
    take_in(FIRST, archivist)
    wrong = take_in("this is not turtle", archivist)
    assert "cannot be read as SKOS" in wrong.refusal
    assert len(labels()) == 3
    with pytest.raises(Refused, match="ends in"):
        headings.take_in_list("x", "x", kind="subject", file_name="x.pdf", content=b"", actor=archivist)


def test_only_staff_change_lists(archivist):
    with pytest.raises(Refused, match="Only the library's staff"):
        take_in(FIRST, a_user())


def test_a_heading_in_use_that_changes_moves_what_is_derived_from_its_records(archivist):
    take_in(FIRST, archivist)
    interview = an_interview(State.ACCEPTED, reviewer=archivist)
    ferries = Heading.objects.get(label="Ferries")
    services.give_heading(interview.pk, heading=ferries, use="about", actor=archivist)
    Touched.objects.all().delete()
    take_in(SECOND, archivist)
    assert set(Touched.objects.values_list("interview", flat=True)) == {interview.pk}
    assert Event.objects.filter(action=Action.HEADING_CHANGED, subject_id=str(ferries.pk)).count() == 1


def test_the_library_s_own_list_is_written_and_read_from_csv(archivist):
    own = headings.add_own("  Cable   ferries ", kind="subject", actor=archivist)
    assert own.label == "Cable ferries"
    with pytest.raises(Refused, match="stands in the list already"):
        headings.add_own("cable FERRIES", kind="subject", actor=archivist)
    reading = take_in("label\nIce\n", archivist, file_name="own.csv", name=headings.OWN_NAME)
    assert (reading.new, reading.retired) == (1, 0)
    assert labels(authority__is_own=True) == {"Cable ferries", "Ice"}


def test_what_is_in_use_stays_what_it_is(archivist):
    place = headings.add_own("Alder Ferry", kind="place", actor=archivist)
    interview = an_interview(State.ACCEPTED, reviewer=archivist)
    services.give_heading(interview.pk, heading=place, use="recorded-at", actor=archivist)
    with pytest.raises(Refused, match="in use as a place"):
        headings.write_heading(
            place, kind="subject", label="Alder Ferry", variants=[], note="", latitude=None, longitude=None,
            is_current=True, actor=archivist,
        )  # fmt: skip


def test_others_headings_are_not_written_here(archivist):
    take_in(FIRST, archivist)
    theirs = Heading.objects.get(label="Tolls")
    with pytest.raises(Refused, match="which others keep"):
        headings.write_heading(
            theirs, kind="subject", label="x", variants=[], note="", latitude=None, longitude=None, is_current=True,
            actor=archivist,
        )  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("ferr", ["Ferries", "Cable ferries"]),
        ("boat", ["Ferries"]),  # another form of its name
        ("FERRY BO", ["Ferries"]),
        ("erries", []),
        ("", []),
        ("%", []),
    ],
)
def test_headings_are_found_by_the_beginnings_of_words(archivist, typed, found):
    take_in(FIRST, archivist)
    assert [one.label for one in headings.offered(typed)] == found


def test_headings_are_suggested_by_what_the_text_says(archivist):
    take_in(FIRST, archivist)
    interview = an_interview(State.ACCEPTED, reviewer=archivist)
    text = "She kept the cable ferry, and took the toll."
    assert [one.label for one in headings.suggested(interview, text)] == ["Cable ferries", "Ferries", "Tolls"]
    services.give_heading(interview.pk, heading=Heading.objects.get(label="Tolls"), use="about", actor=archivist)
    assert [one.label for one in headings.suggested(interview, text)] == ["Cable ferries", "Ferries"]
    assert headings.suggested(interview, "Nothing of it; tollbooths, ferryman.") == []


def test_a_place_is_read_with_where_it_lies(archivist):
    take_in("label,latitude,longitude\nSill Island,55.5,-12.25\n", archivist, file_name="places.csv", kind="place")
    sill = Heading.objects.get()
    assert (sill.kind, sill.latitude, sill.longitude) == ("place", 55.5, -12.25)
