"""Kits, people, collections and background work at the desk."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from intake.interviews.models import Collection
from intake.jobs import services as jobs
from intake.jobs.models import Job, JobState, Kind
from intake.kits import services as kits
from intake.kits.models import Kit, Loan
from intake.mail.models import Message
from intake.people.models import Invitation
from tests.factories import a_collection, run_jobs
from tests.pages import actions_of, links_of, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def browser(archivist):
    return signed_in(archivist)


def page(name: str, *args: object) -> str:
    return reverse(f"desk:{name}", args=args)


def in_days(days: int) -> str:
    return (timezone.localdate() + timedelta(days=days)).isoformat()


@pytest.fixture
def kit(archivist) -> Kit:
    return kits.add_kit(number="7", contents="recorder\nheadphones", actor=archivist)


def lend(browser, kit, **changed):
    typed = {"name": "Lucinda Farrow", "email": "lucinda@example.org", "due_on": in_days(14), **changed}
    return browser.post(page("kit-lend", kit.pk), typed)


# Kits


def test_a_kit_is_added(browser):
    assert browser.post(page("kits"), {"number": "7", "contents": "recorder"})["Location"] == page("kits")
    assert "Kit 7" in text_of(browser.get(page("kits")))


def test_a_number_that_is_taken_is_told_at_the_form(browser, kit):
    answer = browser.post(page("kits"), {"number": "7", "contents": "recorder"})
    assert "There is a kit 7 already." in text_of(answer)
    assert Kit.objects.count() == 1


def test_a_kit_is_lent_and_its_code_shown_once(browser, kit):
    assert page("kit-lend", kit.pk) in links_of(browser.get(page("kits")))
    answer = lend(browser, kit)
    code = answer.context["code"]
    assert code in text_of(answer)
    assert kits.open_code(code).borrower.name == "Lucinda Farrow"
    told = browser.get(page("kits"))
    assert code not in text_of(told)
    assert "With Lucinda Farrow" in text_of(told)
    assert page("kit-lend", kit.pk) not in links_of(told)


def test_a_kit_that_is_out_is_not_lent_again(browser, kit):
    lend(browser, kit)
    assert "This kit is out already." in text_of(lend(browser, kit))
    assert Loan.objects.count() == 1


@pytest.mark.parametrize(("field", "wrong"), [("name", ""), ("email", "nobody"), ("due_on", ""), ("due_on", "soon")])
def test_a_loan_needs_a_borrower_and_a_day(browser, kit, field, wrong):
    answer = lend(browser, kit, **{field: wrong})
    assert field in answer.context["form"].errors
    assert not Loan.objects.exists()


def test_a_day_that_has_passed_is_refused_at_the_form(browser, kit):
    assert "has passed already" in text_of(lend(browser, kit, due_on=in_days(-1)))


def test_a_new_code_is_issued(browser, kit):
    old = lend(browser, kit).context["code"]
    loan = Loan.objects.get()
    assert page("loan-code", loan.pk) in actions_of(browser.get(page("kits")))
    new = browser.post(page("loan-code", loan.pk)).context["code"]
    assert new != old
    assert kits.open_code(new) == loan


def test_a_kit_is_taken_back(browser, kit):
    lend(browser, kit)
    loan = Loan.objects.get()
    answer = browser.post(
        page("loan-take-back", loan.pk), {"condition": "missing: cover", "card": "cleared"}, follow=True
    )
    assert "Kit 7 is back." in text_of(answer)
    assert "On the shelf" in text_of(answer)
    late = browser.post(page("loan-code", loan.pk), follow=True)
    assert "its loan needs no code any more" in text_of(late)


# People


def invite(browser, **changed):
    typed = {"name": "Lucinda Farrow", "email": "lucinda@example.org", "role": "volunteer", **changed}
    return browser.post(page("people"), typed, follow=True)


def test_a_volunteer_is_invited(browser):
    told = text_of(invite(browser))
    assert "An invitation is on its way to lucinda@example.org." in told
    assert "Lucinda Farrow, lucinda@example.org: invited" in told
    assert "http://testserver/welcome/" in Message.objects.get().text


def test_the_page_shows_no_secret(browser):
    told = invite(browser)
    secret = Message.objects.get().text.split("/welcome/")[1].split("/")[0]
    assert secret not in told.content.decode()
    assert Invitation.objects.get().token_sha256 not in told.content.decode()


def test_an_archivist_does_not_invite_staff(browser, coordinator):
    assert "Only the coordinator invites staff." in text_of(invite(browser, role="archivist"))
    assert not Invitation.objects.exists()
    assert "An invitation is on its way" in text_of(invite(signed_in(coordinator), role="archivist"))


def test_a_role_that_nobody_knows_is_refused(browser):
    assert "role" in invite(browser, role="root").context["form"].errors


def test_accounts_are_listed_with_their_roles(browser, volunteer):
    told = text_of(browser.get(page("people")))
    assert "Tobias Wrenfield" in told
    assert "Archivist" in told


# Collections


def test_a_collection_is_opened(browser):
    browser.post(page("collections"), {"name": "The market"})
    assert "The market" in text_of(browser.get(page("collections")))


def test_a_collection_that_is_there_is_told_at_the_form(browser):
    known = a_collection()
    assert "There is a collection" in text_of(browser.post(page("collections"), {"name": known.name}))
    assert Collection.objects.count() == 1


# Background work


def failing(subject, progress):
    raise KeyError("channel")


@pytest.fixture
def failed(monkeypatch) -> Job:
    with monkeypatch.context() as once:
        once.setitem(jobs._handlers, Kind.SEND_MESSAGE, failing)
        jobs.enqueue(Kind.SEND_MESSAGE, 7)
        (job,) = run_jobs()
    return job


def test_work_that_failed_is_shown_with_its_fault_and_can_be_tried_again(browser, failed):
    told = browser.get(page("jobs"))
    assert "KeyError: 'channel'" in text_of(told)
    assert page("job-retry", failed.pk) in actions_of(told)
    assert browser.post(page("job-retry", failed.pk))["Location"] == page("jobs")
    assert Job.objects.get(state=JobState.WAITING).subject_id == "7"


def test_work_that_failed_and_went_well_later_is_not_shown_any_more(browser, failed, monkeypatch):
    monkeypatch.setitem(jobs._handlers, Kind.SEND_MESSAGE, lambda subject, progress: None)
    browser.post(page("job-retry", failed.pk))
    run_jobs()
    assert "Nothing waits and nothing failed." in text_of(browser.get(page("jobs")))


def test_only_what_failed_is_tried_again(browser):
    waiting = jobs.enqueue(Kind.SEND_MESSAGE, 7)
    assert page("job-retry", waiting.pk) not in actions_of(browser.get(page("jobs")))
    assert browser.post(page("job-retry", waiting.pk)).status_code == 404


def test_work_that_was_done_is_not_listed(browser, monkeypatch):
    monkeypatch.setitem(jobs._handlers, Kind.SEND_MESSAGE, lambda subject, progress: None)
    jobs.enqueue(Kind.SEND_MESSAGE, 7)
    run_jobs()
    assert "Nothing waits and nothing failed." in text_of(browser.get(page("jobs")))
