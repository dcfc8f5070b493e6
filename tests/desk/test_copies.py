"""The desk's page "Copies", the warning on every page, the copies of a part, and the card at the return check."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from intake.audit.models import Event
from intake.files import audits, incidents, listings
from intake.files.fixity import Reader
from intake.files.models import Audit, FixityCheck, Incident, UnexpectedObject, Why
from intake.interviews.models import State
from intake.interviews.services import parts_of
from intake.jobs.models import Job, Kind
from intake.kits import services as kits
from intake.kits.models import Loan
from tests.factories import a_bad_reading, a_part_stored, a_started_interview, an_interview, run_jobs
from tests.files.damage import flip, spoil
from tests.pages import actions_of, links_of, signed_in, text_of

pytestmark = pytest.mark.django_db
COPIES = "/desk/copies/"


@pytest.fixture
def browser(archivist):
    return signed_in(archivist)


@pytest.fixture
def interview(folders, volunteer):
    return an_interview(State.SUBMITTED, owner=volunteer)


@pytest.fixture
def part(interview):
    return parts_of(interview)[0]


def test_an_empty_library_has_no_copies(browser):
    assert "Nothing is stored yet." in text_of(browser.get(COPIES))


def test_the_page_tells_how_it_stands_with_units(browser, interview, settings):
    told = text_of(browser.get(COPIES))
    assert "Copies 2, 25.7 kB in all" in told
    assert "every copy within 90 days" in told
    assert "about 286 bytes of at most 50.0 GB, between 1:00 and 6:00" in told
    assert "Enough: 286 bytes a night are needed, and 50.0 GB a night are possible" in told
    settings.FIXITY_NIGHT_BYTES = 100
    told = text_of(browser.get(COPIES))
    assert "Not enough: 286 bytes a night are needed, and 100 bytes a night are possible" in told
    assert "every copy within 257 nights only" in told


def test_without_incidents_no_page_warns(browser, interview):
    assert "not right" not in text_of(browser.get("/desk/"))


def test_an_open_incident_stands_on_every_page_of_staff_and_on_no_other(browser, volunteer, part, folders):
    for place in folders.values():
        spoil(place, part.file, flip(60))
    incidents.examine(part.file, Reader(Why.ASKED))
    for address in ("/desk/", "/desk/kits/", reverse("portal:home")):
        answer = browser.get(address)
        assert "2 stored copies are not right" in text_of(answer)
        assert COPIES in links_of(answer)
    assert "not right" not in text_of(signed_in(volunteer).get(reverse("portal:home")))
    told = text_of(browser.get(COPIES))
    assert "Now: no good copy to restore it from" in told
    assert f"manage.py give_back_copy {part.file_id} FILE" in told


def test_a_store_that_is_gone_says_what_to_do(browser, part, folders, tmp_path):
    folders["replica"].root.rename(tmp_path / "unmounted")
    incidents.note_stores()
    assert "The replica store is not there. See what it is" in text_of(browser.get("/desk/"))
    told = text_of(browser.get(COPIES))
    assert "manage.py rebuild_store replica" in told


def test_nights_and_what_was_asked_for_are_listed(browser, archivist, interview, part):
    night = timezone.localdate()
    Audit.objects.create(
        about=f"night:{night}", why=Why.SCHEDULE, copies_read=3, bytes_read=4000, finished_at=timezone.now()
    )
    audits.ask(about=f"interviews.part:{part.pk}", actor=archivist)
    told = text_of(browser.get(COPIES))
    assert "3 copies, 4.0 kB" in told
    assert f"A part: {part.upload.name} , asked for by {archivist.name}" in told
    assert "Being read" in told


def test_something_unexpected_may_be_set_aside_after_a_month(browser, interview, folders):
    folders["primary"].write("holiday.jpg", b"who knows")
    then = timezone.now() - timedelta(days=40)
    found = UnexpectedObject.objects.create(
        store="primary", key="holiday.jpg", bytes=9, modified_at=then, first_seen_at=timezone.now(), last_seen_at=then
    )
    address = reverse("desk:unexpected-set-aside", args=[found.pk])
    page = browser.get(COPIES)
    assert "holiday.jpg primary 9 bytes" in text_of(page)
    assert address not in actions_of(page)
    assert "less than a month ago" in text_of(browser.post(address, follow=True))
    UnexpectedObject.objects.update(first_seen_at=then)
    assert address in actions_of(browser.get(COPIES))
    assert "was set aside" in text_of(browser.post(address, follow=True))
    assert listings.unexpected() == []


# On the interview


def test_each_reading_of_each_copy_stands_with_the_part(browser, interview, part):
    told = text_of(browser.get(reverse("desk:interview-detail", args=[interview.pk])))
    assert "Copies and fixity In two copies, both read back and found right on" in told
    assert "primary on arrival matches" in told
    assert "replica on arrival matches" in told
    assert part.file.sha256[:8] in told


def test_staff_have_the_copies_of_a_part_read_again(browser, archivist, interview, part):
    address = reverse("desk:part-check-copies", args=[part.pk])
    page = reverse("desk:interview-detail", args=[interview.pk])
    assert address in actions_of(browser.get(page))
    assert "The copies are being read." in text_of(browser.post(address, follow=True))
    browser.post(address)
    assert Job.objects.filter(kind=Kind.CHECK_COPIES).count() == 1
    run_jobs(Kind.CHECK_COPIES)
    asked = FixityCheck.objects.filter(why=Why.ASKED, file=part.file)
    assert {(check.store, check.by) for check in asked} == {("primary", archivist), ("replica", archivist)}
    assert f"primary asked for by {archivist.name} matches" in text_of(browser.get(page))


def test_staff_have_all_copies_of_an_interview_read_again(browser, interview, part, folders):
    spoil(folders["primary"], part.file, flip(60))
    browser.post(reverse("desk:interview-check-copies", args=[interview.pk]))
    run_jobs(Kind.CHECK_COPIES)
    told = text_of(browser.get(reverse("desk:interview-detail", args=[interview.pk])))
    assert "The primary copy differs" in told
    assert "Now: restored and read back" in told
    assert Incident.objects.get().closed_at is not None


def test_a_lost_file_says_what_to_do_on_its_part(browser, interview, part):
    for store in ("primary", "replica"):
        a_bad_reading(part.file, store)
    told = text_of(browser.get(reverse("desk:interview-detail", args=[interview.pk])))
    assert "No copy of this file is right. Nothing was overwritten." in told
    assert "Do not clear the card. Part 1 has no good copy left in the library" in told


def test_the_volunteer_reads_one_plain_sentence(volunteer, interview, part):
    run_jobs()
    told = text_of(signed_in(volunteer).get(reverse("portal:part-detail", args=[part.pk])))
    assert f"In two copies, both read back and found right on {timezone.localdate():%-d %b %Y}." in told
    assert "on arrival" not in told


# The return check


@pytest.fixture
def loan(archivist, volunteer):
    kit = kits.add_kit(number="7", contents="recorder", actor=archivist)
    due_on = timezone.localdate() + timedelta(days=14)
    return kits.lend(kit.pk, name=volunteer.name, email=volunteer.email, due_on=due_on, actor=archivist)[0]


def take_back(browser, loan, **typed: str):
    return browser.post(
        reverse("desk:loan-take-back", args=[loan.pk]), {"condition": "Whole.", "card": "cleared", **typed}, follow=True
    )


def test_the_return_check_says_that_the_card_may_be_cleared_and_keeps_it(browser, loan, volunteer):
    a_part_stored(a_started_interview(volunteer))
    run_jobs()
    page = reverse("desk:loan-take-back", args=[loan.pk])
    assert "The card may be cleared of this recording" in text_of(browser.get(page))
    take_back(browser, loan)
    loan = Loan.objects.get()
    assert (loan.card, loan.told_of_card) == ("cleared", "1 file, kept twice: the card may be cleared.")
    event = Event.objects.get(action="kit-taken-back")
    assert (event.details["card"], event.details["told_of_card"]) == (loan.card, loan.told_of_card)


def test_the_return_check_says_what_is_not_safe_and_takes_the_kit_back_all_the_same(browser, loan, volunteer):
    a_part_stored(a_started_interview(volunteer))
    page = reverse("desk:loan-take-back", args=[loan.pk])
    assert "Do not clear the card. Interview of 14 Mar 2026: part 1 has not been looked at yet" in text_of(
        browser.get(page)
    )
    assert "is back" in text_of(take_back(browser, loan, card="not-looked-at"))
    assert "has not been looked at yet" in Loan.objects.get().told_of_card


def test_how_the_card_came_back_has_to_be_said(browser, loan):
    assert "card" in text_of(take_back(browser, loan, card="eaten"))
    assert Loan.objects.get().returned_at is None
