"""Outline and transcript: written beside the sound, read from a file, kept when two write at once."""

import pytest

from intake.audit.actions import Action
from intake.audit.models import Event
from intake.catalogue import timed
from intake.catalogue.models import Cue, TimedText
from intake.catalogue.timed import text_of
from intake.catalogue.webvtt import Spoken
from intake.errors import DoneAlready, Refused
from intake.interviews.models import State
from intake.interviews.services import parts_of
from intake.outputs.describing import accepted, described
from intake.outputs.texts import files_told, files_whole
from intake.releases.passages import close_passage
from tests.factories import a_wav, an_interview, describe_whole, narrator_of, run_jobs

pytestmark = pytest.mark.django_db
TRANSCRIPT, OUTLINE = TimedText.Kind.TRANSCRIPT, TimedText.Kind.OUTLINE
SECONDS = 4.0


@pytest.fixture
def interview(archivist):
    made = an_interview(State.ACCEPTED, reviewer=archivist, parts=2, content=a_wav(seconds=SECONDS))
    run_jobs("measure-part")
    return made


def file_of(*cues: tuple[float, float, str]) -> bytes:
    blocks = [f"00:{begins:06.3f} --> 00:{ends:06.3f}\n{words}" for begins, ends, words in cues]
    return "\n\n".join(["WEBVTT", *blocks]).encode()


def words_of(interview, kind=TRANSCRIPT) -> list[tuple[int, int, str]]:
    text = text_of(interview, kind)
    return [(cue.part.position, cue.starts_ms, cue.words) for cue in text.cues.all()] if text else []


def test_words_are_written_changed_and_taken_away(interview, archivist):
    part = parts_of(interview)[0]
    cue = timed.write_cue(part.pk, kind=TRANSCRIPT, said=Spoken(500, 900, "Marit", "The fery."), actor=archivist)
    timed.change_cue(cue.pk, said=Spoken(500, 950, "Marit", "The ferry."), began="The fery.", actor=archivist)
    assert words_of(interview) == [(1, 500, "The ferry.")]
    timed.remove_cue(cue.pk, actor=archivist)
    assert words_of(interview) == []
    told = Event.objects.filter(action__in=[Action.CUE_CHANGED, Action.CUE_REMOVED]).order_by("pk")
    assert [event.names.names["before"] for event in told] == ["The fery.", "The ferry."]
    with pytest.raises(DoneAlready):
        timed.remove_cue(cue.pk, actor=archivist)


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (Spoken(0, None, "", "  "), "Write some words"),
        (Spoken(900, 900, "", "x"), "ends before it begins"),
        (Spoken(60_000, None, "", "x"), "has ended before"),
    ],
)
def test_words_lie_in_the_recording(interview, archivist, said, told):
    with pytest.raises(Refused, match=told):
        timed.write_cue(parts_of(interview)[0].pk, kind=TRANSCRIPT, said=said, actor=archivist)
    assert not Cue.objects.exists()


def test_what_somebody_else_wrote_meanwhile_is_not_lost(interview, archivist):
    part = parts_of(interview)[0]
    cue = timed.write_cue(part.pk, kind=TRANSCRIPT, said=Spoken(0, 100, "", "First."), actor=archivist)
    timed.change_cue(cue.pk, said=Spoken(0, 100, "", "Theirs."), began="First.", actor=archivist)
    with pytest.raises(Refused, match="They are now: “Theirs"):
        timed.change_cue(cue.pk, said=Spoken(0, 100, "", "Mine."), began="First.", actor=archivist)
    assert words_of(interview) == [(1, 0, "Theirs.")]


def test_only_staff_write(interview):
    with pytest.raises(Refused, match="Only the library's staff"):
        timed.write_cue(parts_of(interview)[0].pk, kind=TRANSCRIPT, said=Spoken(0, 9, "", "x"), actor=interview.owner)


# Files


def test_a_file_takes_the_place_of_a_parts_words(interview, archivist):
    first, second = parts_of(interview)
    for part in (first, second):
        timed.write_cue(part.pk, kind=TRANSCRIPT, said=Spoken(0, 100, "", "Old."), actor=archivist)
    content = file_of((0.5, 1, "One"), (1, 2, "Two"))
    read = {"kind": TRANSCRIPT, "part": second, "name": "b.vtt", "content": content, "actor": archivist}
    assert timed.read_file(interview.pk, **read) == 2
    assert timed.read_file(interview.pk, **read) == 2  # twice is as once
    assert words_of(interview) == [(1, 0, "Old."), (2, 500, "One"), (2, 1000, "Two")]
    assert Event.objects.filter(action=Action.TEXT_READ).latest("pk").details == {
        "kind": "transcript", "cues": 2, "replaced": 2,
    }  # fmt: skip


def test_a_file_whose_times_run_through_is_parted_where_the_parts_end(interview, archivist):
    content = file_of((1, 2, "In the first"), (3.5, 4.5, "Over the end"), (4.5, 7.9, "In the second"))
    timed.read_file(interview.pk, kind=OUTLINE, part=None, name="a.vtt", content=content, actor=archivist)
    first, second = (parts_of(interview)[place].pk for place in (0, 1))
    assert list(Cue.objects.order_by("part", "starts_ms").values_list("part", "starts_ms", "ends_ms", "words")) == [
        (first, 1000, 2000, "In the first"),
        (first, 3500, 4000, "Over the end"),
        (second, 500, 3900, "In the second"),
    ]


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (file_of((20, 21, "Another recording")), "goes on after the recording has ended"),
        (b"not webvtt", "no WebVTT"),
        (file_of((2, 1, "x")), "Line 3"),
    ],
)
def test_a_wrong_file_changes_nothing(interview, archivist, content, told):
    timed.write_cue(parts_of(interview)[0].pk, kind=TRANSCRIPT, said=Spoken(0, 100, "", "Old."), actor=archivist)
    for part in (None, parts_of(interview)[0]):
        with pytest.raises(Refused, match=told):
            timed.read_file(interview.pk, kind=TRANSCRIPT, part=part, name="x", content=content, actor=archivist)
    assert words_of(interview) == [(1, 0, "Old.")]


# Checked against the sound


def test_whoever_changes_checked_words_unsays_that_they_are_checked(interview, archivist):
    part = parts_of(interview)[0]
    with pytest.raises(Refused, match="no words"):
        timed.check(interview.pk, kind=TRANSCRIPT, actor=archivist)
    cue = timed.write_cue(part.pk, kind=TRANSCRIPT, said=Spoken(0, 100, "", "Kesler came."), actor=archivist)
    timed.check(interview.pk, kind=TRANSCRIPT, actor=archivist)
    with pytest.raises(DoneAlready):
        timed.check(interview.pk, kind=TRANSCRIPT, actor=archivist)
    assert text_of(interview, TRANSCRIPT).checked_by == archivist
    timed.change_cue(cue.pk, said=Spoken(0, 100, "", "Kesler came"), actor=archivist)
    assert text_of(interview, TRANSCRIPT).checked_by is None


def test_a_name_is_written_right_wherever_it_stands(interview, archivist):
    part = parts_of(interview)[0]
    for place, words in enumerate(["Kesler came.", "The Keslers stayed.", "Kesler and Kesler.", "I did."]):
        said = Spoken(place * 100, place * 100 + 90, "Kesler" if words == "I did." else "", words)
        timed.write_cue(part.pk, kind=TRANSCRIPT, said=said, actor=archivist)
    assert timed.respell(interview.pk, kind=TRANSCRIPT, wrong="Kesler", right=r"Kess\1ler", actor=archivist) == 3
    assert [words for *_, words in words_of(interview)] == [
        r"Kess\1ler came.", "The Keslers stayed.", r"Kess\1ler and Kess\1ler.", "I did.",
    ]  # fmt: skip
    assert Cue.objects.get(words="I did.").voice == r"Kess\1ler"
    with pytest.raises(DoneAlready):
        timed.respell(interview.pk, kind=TRANSCRIPT, wrong="Kesler", right="Kessler", actor=archivist)


# What leaves


def test_closed_passages_and_withheld_names_do_not_leave(archivist):
    hidden = an_interview(
        State.ACCEPTED, reviewer=archivist, content=a_wav(seconds=SECONDS), chosen={"name_withheld": True}
    )
    run_jobs("measure-part")
    part = parts_of(hidden)[0]
    name = narrator_of(hidden).person.name
    for one in (
        Spoken(0, 900, name, f"I am {name}."),
        Spoken(1000, 1900, "", "He beat her."),
        Spoken(1900, 2500, "", "Later."),
    ):
        timed.write_cue(part.pk, kind=TRANSCRIPT, said=one, actor=archivist)
    close_passage(part.pk, from_seconds=1.2, to_seconds=1.5, length_seconds=None, reason="x", actor=archivist)
    (told,) = files_told(hidden)
    assert told.name == "transcript-01.vtt"
    text = told.content.decode()
    assert "Later." in text
    assert "He beat her" not in text
    assert "Oskarsen" not in text
    assert "I am [name withheld]." in text
    assert "Closed passages are left out." in text
    (whole,) = files_whole(hidden)
    assert "He beat her" in whole.content.decode()


@pytest.mark.parametrize("following", [True, False])
def test_words_without_an_end_last_until_the_next_before_a_closed_passage(interview, archivist, following):
    part = parts_of(interview)[0]
    said = [Spoken(900, None, "", "He beat her."), *([Spoken(1600, None, "", "Later.")] if following else [])]
    for one in said:
        timed.write_cue(part.pk, kind=TRANSCRIPT, said=one, actor=archivist)
    close_passage(part.pk, from_seconds=1.2, to_seconds=1.5, length_seconds=None, reason="x", actor=archivist)
    (told,) = files_told(interview)
    assert "He beat her" not in told.content.decode()
    assert ("Later." in told.content.decode()) == following


def test_a_topic_of_a_closed_passage_is_not_in_the_record(interview, archivist):
    describe_whole(interview, archivist)
    part = parts_of(interview)[0]
    for starts, words in ((0, "Childhood"), (1300, "What the neighbour did"), (2000, "The ferry")):
        timed.write_cue(part.pk, kind=OUTLINE, said=Spoken(starts, None, "", words), actor=archivist)
    close_passage(part.pk, from_seconds=1.2, to_seconds=1.5, length_seconds=None, reason="x", actor=archivist)
    (said,) = described(accepted().filter(interview=interview))
    assert [(topic.at, topic.words) for topic in said.outline] == [
        ("Part 1, 0:00:00", "Childhood"), ("Part 1, 0:00:02", "The ferry"),
    ]  # fmt: skip
