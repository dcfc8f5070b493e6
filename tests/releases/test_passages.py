"""Closed passages: closed while listening, silent in every copy that leaves, and whole in the original."""

import io

import numpy as np
import pytest
import soundfile
from django.db import IntegrityError, transaction
from django.urls import reverse

from intake import workflow
from intake.audit.actions import Action
from intake.errors import Refused
from intake.files import serving
from intake.interviews.models import State
from intake.interviews.services import parts_of
from intake.jobs.models import Job, Kind
from intake.outputs import access_copies, listening
from intake.outputs.access_copies import access_copy_of
from intake.outputs.models import Output, OutputKind
from intake.releases.models import ClosedPassage
from intake.releases.passages import close_passage, closed_passages, joined, open_passage, silences
from tests.factories import a_wav, an_interview, narrator_of, run_jobs
from tests.pages import signed_in, text_of
from tests.workflow.told import last_event

pytestmark = pytest.mark.django_db
# Decoders of MP3 ring around an edge for less than this (common practice, no source).
RINGING_SECONDS = 0.06


@pytest.fixture
def accepted(archivist):
    return an_interview(State.ACCEPTED, reviewer=archivist, content=a_wav(seconds=6, pitch_hz=500))


@pytest.fixture
def part(accepted):
    return parts_of(accepted)[0]


def close(part, archivist, begins: float = 2.0, ends: float = 4.0, reason: str = "Names a child."):
    return close_passage(
        part.pk, from_seconds=begins, to_seconds=ends, length_seconds=6.0, reason=reason, actor=archivist
    )


def heard(output: Output) -> tuple[np.ndarray, int]:
    """Decoded by libsndfile (mpg123), which shares no code with the encoder."""
    with serving.open_copy(output.file) as copy:
        samples, rate = soundfile.read(io.BytesIO(copy.read()))
    return samples, rate


def level_dbfs(samples: np.ndarray) -> float:
    return 20 * np.log10(np.sqrt(np.mean(samples**2)) + 1e-12)


def between(sound: tuple[np.ndarray, int], begins: float, ends: float) -> np.ndarray:
    samples, rate = sound
    return samples[int(begins * rate) : int(ends * rate)]


def test_a_closed_passage_is_silent_in_the_copy_that_leaves_and_nothing_else_is(part, archivist):
    close(part, archivist)
    run_jobs(Kind.MAKE_ACCESS_COPIES)
    sound = heard(access_copy_of(part))
    assert level_dbfs(between(sound, 2 + RINGING_SECONDS, 4 - RINGING_SECONDS)) < -100
    assert level_dbfs(between(sound, 2, 4)) < -50
    for begins, ends in ((0.2, 2 - RINGING_SECONDS), (4 + RINGING_SECONDS, 5.8)):
        assert level_dbfs(between(sound, begins, ends)) > -30


def test_the_original_and_the_listening_copy_of_the_house_stay_whole(part, archivist):
    before = part.file.sha256
    run_jobs(Kind.MAKE_LISTENING_COPY)
    close(part, archivist)
    run_jobs()
    part.file.refresh_from_db()
    assert part.file.sha256 == before
    house = Output.objects.get(kind=OutputKind.LISTENING_COPY, subject_id=str(part.pk))
    assert level_dbfs(between(heard(house), 2.1, 3.9)) > -30


def test_a_passage_closed_later_makes_another_copy_and_the_one_before_is_not_given_out(part, archivist):
    run_jobs()
    whole = access_copy_of(part)
    passage = close(part, archivist)
    assert access_copy_of(part) is None
    browser = signed_in(archivist)
    answer = browser.get(reverse("desk:part-access-copy", args=[part.pk]), follow=True)
    assert "The access copy is being made" in text_of(answer)
    run_jobs(Kind.MAKE_ACCESS_COPIES)
    closed = access_copy_of(part)
    assert closed.file.sha256 != whole.file.sha256
    open_passage(passage.pk, reason="The child has grown up and agrees.", actor=archivist)
    assert access_copy_of(part) == whole


def test_a_passage_closed_while_the_copy_is_being_made_is_silent_too(part, archivist, monkeypatch):
    made = listening.make_listening_copy
    closings = iter([lambda: close(part, archivist), lambda: None])

    def and_meanwhile(*args, **kwargs):
        next(closings)()
        return made(*args, **kwargs)

    monkeypatch.setattr(access_copies.listening, "make_listening_copy", and_meanwhile)
    access_copies.make_access_copies(part.interview_id, lambda share: None)
    assert level_dbfs(between(heard(access_copy_of(part)), 2.1, 3.9)) < -100


def test_a_withheld_name_is_not_in_the_copy(archivist):
    accepted = an_interview(State.ACCEPTED, reviewer=archivist, chosen={"name_withheld": True})
    run_jobs()
    (part,) = parts_of(accepted)
    name = narrator_of(accepted).person.name.split()[-1].encode()
    copy = access_copy_of(part)
    with serving.open_copy(copy.file) as file:
        assert name not in file.read()
    assert name.decode() not in copy.file.name


def test_nothing_leaves_before_it_is_accepted(archivist):
    interview = an_interview(State.IN_REVIEW, reviewer=archivist, content=a_wav(seconds=6))
    (part,) = parts_of(interview)
    close(part, archivist)
    run_jobs(Kind.MAKE_ACCESS_COPIES)
    assert access_copy_of(part) is None
    answer = signed_in(archivist).get(reverse("desk:part-access-copy", args=[part.pk]))
    assert (answer.status_code, "No copy of it may leave now." in text_of(answer)) == (403, True)


def test_a_passage_is_closed_on_the_page_where_one_listens(part, archivist):
    browser, page = signed_in(archivist), reverse("desk:part-passages", args=[part.pk])
    assert "None: this part is heard whole." in text_of(browser.get(page))
    browser.post(page, {"from_seconds": "0:02", "to_seconds": "3.5", "reason": "Names a child."})
    passage = ClosedPassage.objects.get()
    assert (passage.from_seconds, passage.to_seconds, passage.closed_by) == (2.0, 3.5, archivist)
    assert last_event(part.interview)[0] == Action.PASSAGE_CLOSED
    assert "0:02.0–0:03.5" in text_of(browser.get(page))
    browser.post(reverse("desk:passage-open", args=[passage.pk]), {"reason": "She agrees."})
    assert closed_passages(part) == []
    assert "She agrees." in text_of(browser.get(page))


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"from_seconds": "4", "to_seconds": "2", "reason": "x"}, "The passage ends after it begins."),
        ({"from_seconds": "1:75", "to_seconds": "2:00", "reason": "x"}, "Minutes and seconds go up to 59"),
        ({"from_seconds": "soon", "to_seconds": "2:00", "reason": "x"}, "Type a time such as 2:33.5"),
        ({"from_seconds": "1", "to_seconds": "2", "reason": " "}, "Say why the passage is closed."),
        ({"from_seconds": "7", "to_seconds": "8", "reason": "x"}, "The recording has ended before"),
    ],
)
def test_what_is_no_passage_is_said_so(part, archivist, typed, told):
    answer = signed_in(archivist).post(reverse("desk:part-passages", args=[part.pk]), typed)
    assert told in text_of(answer)
    assert not ClosedPassage.objects.exists()


def test_volunteers_close_and_open_nothing(part, volunteer, archivist):
    with pytest.raises(Refused, match="Only the library's staff close"):
        close(part, volunteer)
    passage = close(part, archivist)
    with pytest.raises(Refused, match="Only the library's staff open"):
        open_passage(passage.pk, reason="x", actor=volunteer)
    open_passage(passage.pk, reason="x", actor=archivist)
    with pytest.raises(Refused, match="opened already"):
        open_passage(passage.pk, reason="x", actor=archivist)


def test_passages_that_meet_are_one_silence(part, archivist):
    for begins, ends in ((1, 2), (1.5, 3), (3, 3.5), (5, 5.5)):
        close(part, archivist, begins, ends)
    assert silences(part) == ((1, 3.5), (5, 5.5))
    assert joined([]) == ()


@pytest.mark.parametrize(
    ("wrong", "name"),
    [
        ({"to_seconds": 1.0}, "passage_begins_before_it_ends"),
        ({"from_seconds": -1.0}, "passage_begins_before_it_ends"),
        ({"reason": ""}, "passage_is_closed_for_a_reason"),
        ({"opened_because": "x"}, "passage_is_opened_for_a_reason"),
    ],
)
def test_the_database_lets_no_passage_be_wrong(part, archivist, wrong, name):
    passage = close(part, archivist)
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        ClosedPassage.objects.filter(pk=passage.pk).update(**wrong)


def test_a_request_to_withdraw_stops_the_copy_too(part, archivist):
    run_jobs()
    workflow.ask_withdrawal(part.interview_id, wished_by="Marit", reason="It hurts.", actor=archivist)
    assert signed_in(archivist).get(reverse("desk:part-access-copy", args=[part.pk])).status_code == 403
    assert not Job.objects.filter(state="failed").exists()
