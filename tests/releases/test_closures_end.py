"""A closure ends by itself on its day, or on the day of its event; both leave an event, a day also a letter."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from intake.access.policy import Act, Audience
from intake.access.services import asked
from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.background import lift_closures_on_their_day
from intake.errors import Refused
from intake.interviews.models import State
from intake.jobs.models import Job, Kind
from intake.mail.models import Message
from intake.outputs.closures import lift_those_due
from intake.releases.models import Access, Lifting, Release
from intake.releases.restrictions import record_event
from tests.factories import an_interview, at_time, later, narrator_of, run_jobs
from tests.pages import signed_in, text_of
from tests.workflow.told import last_event

pytestmark = pytest.mark.django_db
EVENT = "the sale of the house"


def in_days(days: int) -> date:
    return timezone.localdate() + timedelta(days=days)


def a_closed_interview(*, event: str = "", **given):
    chosen = {"access": Access.CLOSED, "closed_until": in_days(30), "closed_event": event}
    return an_interview(State.ACCEPTED, chosen=chosen, **given)


def is_played_to_anybody(interview) -> bool:
    return asked(Act.HEAR, interview, Audience.PUBLIC).allowed


def test_on_its_day_it_is_open_before_any_job_has_run():
    interview = a_closed_interview()
    with at_time(later(days=29)):
        assert not is_played_to_anybody(interview)
    with at_time(later(days=31)):
        assert is_played_to_anybody(interview)
    assert not Lifting.objects.exists()


def test_the_end_is_noted_once_and_the_coordinators_are_told(coordinator):
    interview = a_closed_interview()
    run_jobs()
    with at_time(later(days=31)):
        lift_closures_on_their_day()
        run_jobs(Kind.LIFT_CLOSURES)
        lift_closures_on_their_day()
        assert not Job.objects.filter(kind=Kind.LIFT_CLOSURES, state="waiting").exists()
    assert last_event(interview)[0] == Action.CLOSURE_LIFTED
    (letter,) = Message.objects.filter(key__startswith="closures-lifted-", to=coordinator.email)
    assert interview.accessions.get().number in letter.text
    assert "Oskarsen" not in letter.text + letter.subject


def test_before_the_day_nothing_is_noted():
    a_closed_interview()
    assert lift_those_due(timezone.localdate()) == 0
    lift_closures_on_their_day()
    assert not Job.objects.filter(kind=Kind.LIFT_CLOSURES).exists()


def test_a_withdrawn_release_has_no_end_to_note(archivist):
    release = narrator_of(a_closed_interview()).releases.get()
    Release.objects.filter(pk=release.pk).update(withdrawn_at=timezone.now())
    assert lift_those_due(in_days(31)) == 0


def test_staff_record_that_the_event_has_happened(archivist):
    interview = a_closed_interview(event=EVENT)
    release = narrator_of(interview).releases.get()
    browser = signed_in(archivist)
    page = browser.get(f"/desk/interviews/{interview.pk}/")
    assert f"/desk/releases/{release.pk}/event/" in page.content.decode()
    answer = browser.post(
        f"/desk/releases/{release.pk}/event/", {"on": timezone.localdate().isoformat(), "how_known": "The deed."}
    )
    assert answer.status_code == 302
    assert is_played_to_anybody(interview)
    assert last_event(interview) == (
        Action.CLOSURE_LIFTED,
        archivist,
        {"on": timezone.localdate().isoformat(), "signer": release.signer_name, "because": "The deed."},
    )
    assert (
        "Closed until" not in text_of(browser.get(f"/desk/interviews/{interview.pk}/")).split("Restriction")[-1][:200]
    )


@pytest.mark.parametrize(
    ("on", "how_known", "told"),
    [(0, " ", "Say how the library knows"), (1, "A rumour.", "lies in the future")],
)
def test_an_event_is_recorded_only_with_its_source_and_once_it_has_happened(archivist, on, how_known, told):
    release = narrator_of(a_closed_interview(event=EVENT)).releases.get()
    with pytest.raises(Refused, match=told):
        record_event(release.pk, on=in_days(on), how_known=how_known, actor=archivist)


def test_only_staff_record_it_and_only_where_an_event_was_named_and_once(archivist, volunteer):
    without = narrator_of(a_closed_interview()).releases.get()
    with pytest.raises(Refused, match="not closed until an event"):
        record_event(without.pk, on=in_days(0), how_known="The deed.", actor=archivist)
    release = narrator_of(a_closed_interview(event=EVENT)).releases.get()
    with pytest.raises(Refused, match="Only the library's staff"):
        record_event(release.pk, on=in_days(0), how_known="The deed.", actor=volunteer)
    record_event(release.pk, on=in_days(0), how_known="The deed.", actor=archivist)
    with pytest.raises(Refused, match="not closed any more"):
        record_event(release.pk, on=in_days(0), how_known="The deed.", actor=archivist)


def test_the_database_wants_a_reason():
    release = narrator_of(a_closed_interview()).releases.get()
    with pytest.raises(IntegrityError, match="closure_is_lifted_for_a_reason"), transaction.atomic():
        Lifting.objects.create(release=release, on=in_days(0), because="")


def test_the_story_names_the_end(coordinator):
    interview = a_closed_interview()
    lift_those_due(in_days(30))
    assert [event.action for event in story_of(interview)].count(Action.CLOSURE_LIFTED) == 1
