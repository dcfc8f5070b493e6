"""An entry says what the interview's rows say, whatever is done to them."""

from datetime import timedelta

import pytest
from django.forms.models import model_to_dict
from django.utils import timezone

from intake import workflow
from intake.accounts.models import User
from intake.interviews import merging, participants
from intake.interviews.models import Interview, State
from intake.interviews.services import describe, remove_part
from intake.jobs.models import Kind
from intake.jobs.services import sweep
from intake.queue.models import QueueEntry, Reader, Touched
from intake.queue.services import bring_up_to_date, is_any_stale
from intake.releases import passages, restrictions, withdrawals
from intake.releases.models import Access
from tests.factories import (
    a_clipped_wav,
    a_description,
    a_part_stored,
    a_signed_release,
    a_started_interview,
    a_user,
    an_interview,
    answer_everything,
    narrator_of,
    run_jobs,
    sign_everybody,
)

pytestmark = pytest.mark.django_db


def entries() -> dict[int, dict]:
    bring_up_to_date()
    return {entry.pk: model_to_dict(entry) for entry in QueueEntry.objects.all()}


def derived_anew() -> dict[int, dict]:
    """What the entries would be if every interview had just been touched."""
    Touched.objects.bulk_create(
        [Touched(interview=pk, reader=Reader.QUEUE) for pk in Interview.objects.values_list("pk", flat=True)]
    )
    return entries()


def entry_of(interview: Interview) -> QueueEntry:
    bring_up_to_date()
    return QueueEntry.objects.get(pk=interview.pk)


def a_life(owner: User, archivist: User, coordinator: User):
    """Everything that changes what the queue shows, one after the other."""
    interview = a_started_interview(owner)
    yield "begun"
    spare = a_part_stored(interview, name="0003.wav")
    yield "a part stored"
    remove_part(spare.pk, actor=owner)
    yield "a part removed"
    part = a_part_stored(interview, a_clipped_wav(), name="TOLL0001.WAV")
    run_jobs(Kind.MEASURE_PART)
    yield "measured"
    describe(interview.pk, actor=owner, description=a_description(place="The boathouse"))
    yield "described"
    participants.correct_participant(narrator_of(interview).pk, name="Marit Aas", email="m@example.org", actor=owner)
    yield "a name put right"
    until = timezone.localdate() + timedelta(days=400)
    sign_everybody(interview, access=Access.CLOSED, closed_until=until, closed_event="her death", name_withheld=True)
    yield "signed"
    workflow.submit(interview.pk, actor=owner)
    yield "submitted"
    workflow.take_up(interview.pk, actor=archivist)
    yield "taken up"
    workflow.hand_over(interview.pk, to=coordinator, note="", actor=archivist)
    yield "handed over"
    workflow.put_back(interview.pk, actor=coordinator)
    yield "put back"
    workflow.take_up(interview.pk, actor=archivist)
    passages.close_passage(
        part.pk, from_seconds=0.1, to_seconds=0.2, length_seconds=None, reason="A child.", actor=archivist
    )
    yield "a passage closed"
    release = interview.participants.get(role="narrator").releases.get()
    withdrawals.withdraw_release(release.pk, reason="She thinks again.", actor=archivist)
    yield "a release withdrawn"
    closed = a_signed_release(
        narrator_of(interview), access=Access.CLOSED, closed_until=until, closed_event="her death"
    )
    answer_everything(interview, archivist)
    workflow.accept(interview.pk, actor=archivist)
    yield "accepted"
    restrictions.record_event(closed.pk, on=timezone.localdate(), how_known="A notice.", actor=archivist)
    yield "the event happened"
    workflow.ask_withdrawal(interview.pk, wished_by="Marit Aas", reason="It hurts.", actor=owner)
    yield "withdrawal asked"
    workflow.take_down(interview.pk, reason="She is right.", actor=coordinator)
    yield "taken down"


def test_an_entry_follows_whatever_is_done(archivist, coordinator):
    before: dict = {}
    for what in a_life(a_user(), archivist, coordinator):
        now = entries()
        assert now != before, f"{what}: nothing in the entry shows it"
        assert now == derived_anew(), f"{what}: not noted"
        before = now


def test_a_name_put_right_is_put_right_in_every_interview_of_that_person(archivist):
    owner = a_user()
    one, other = (
        a_started_interview(owner, narrator="Marit Oskarsen"),
        a_started_interview(owner, narrator="M. Oskarsen"),
    )
    twin, stays = narrator_of(other).person, narrator_of(one).person
    bring_up_to_date()
    merging.merge(twin.pk, into_id=stays.pk, actor=archivist)
    participants.correct_participant(narrator_of(one).pk, name="Marit Aas", email="m@example.org", actor=owner)
    assert entry_of(other).name == "marit aas"
    assert entries() == derived_anew()


def test_what_is_said_of_an_interview(archivist):
    owner = a_user()
    until = timezone.localdate() + timedelta(days=30)
    chosen = {"access": Access.CLOSED, "closed_until": until, "name_withheld": True}
    interview = an_interview(State.ACCEPTED, owner=owner, reviewer=archivist, chosen=chosen)
    entry = entry_of(interview)
    assert (entry.title, entry.given_by, entry.reviewer) == (interview.title, owner.name, archivist)
    assert entry.restrictions == [f"closed until {until:%-d %b %Y}", "a name withheld"]
    assert entry.accession_number == interview.accessions.get().number
    assert entry.seconds == pytest.approx(0.4, abs=0.001)


@pytest.mark.parametrize(
    ("contents", "standing"),
    [([], "not measured"), ([a_clipped_wav()], "problem"), ([None, a_clipped_wav()], "problem")],
)
def test_the_worst_part_tells_how_an_interview_stands(contents, standing):
    interview = a_started_interview()
    for place, content in enumerate(contents):
        a_part_stored(interview, content, name=f"{place}.WAV")
    run_jobs(Kind.MEASURE_PART)
    assert entry_of(interview).standing == standing


def test_a_part_that_is_not_measured_yet_is_not_good():
    interview = a_started_interview()
    a_part_stored(interview)
    assert (entry_of(interview).standing, entry_of(interview).seconds) == ("not measured", None)


def test_nothing_is_derived_twice(django_assert_num_queries):
    a_started_interview()
    assert is_any_stale()
    assert bring_up_to_date() > 0
    assert not is_any_stale()
    with django_assert_num_queries(3):  # the notes, between savepoints
        assert bring_up_to_date() == 0


def test_an_interview_that_was_touched_often_is_looked_at_once():
    for _ in range(2):
        a_part_stored(a_started_interview())
    assert Touched.objects.filter(reader=Reader.QUEUE).count() > 6
    assert (bring_up_to_date(1), QueueEntry.objects.count()) == (1, 1)
    assert (bring_up_to_date(1), bring_up_to_date(1)) == (1, 0)


def test_the_sweep_brings_up_to_date_what_nobody_reads():
    interview = a_started_interview()
    run_jobs(Kind.REFRESH_QUEUE)
    assert not QueueEntry.objects.exists()
    sweep()
    run_jobs(Kind.REFRESH_QUEUE)
    assert QueueEntry.objects.get().pk == interview.pk
