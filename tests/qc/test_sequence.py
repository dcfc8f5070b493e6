"""How parts follow each other: the recorder's order, its settings, and joins, on recordings cut by ourselves."""

import io
import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile
from django.urls import reverse

from intake.errors import Refused
from intake.files.models import Upload
from intake.interviews import services as interviews
from intake.interviews.services import parts_of
from intake.jobs.models import Kind
from intake.qc.sequence import joins, other_settings, recorders_order
from tests.factories import a_part_stored, a_started_interview, run_jobs
from tests.pages import actions_of, signed_in, text_of

pytestmark = pytest.mark.django_db
RATE = 16_000
SPEECH = Path(__file__).parents[3] / "shared/reference/speech"


def swelling(seconds: float) -> np.ndarray:
    """A voice-like sound whose waveform is nowhere the same."""
    moments = np.arange(int(seconds * RATE)) / RATE
    pitch = 120 + 30 * np.sin(2 * np.pi * 0.7 * moments)
    phase = 2 * np.pi * np.cumsum(pitch) / RATE
    voice = sum(np.sin(n * phase) / n for n in range(1, 8)) * 0.1
    return voice + np.random.default_rng(9).normal(0, 0.001, len(moments))


SOUND = swelling(6)


def a_wav(sound: np.ndarray, *, began: str = "", rate: int = RATE, reference: int = 0) -> bytes:
    """A recorder's WAV; `began` is its `bext` time such as "2026-03-14 10:00:00" (EBU Tech 3285)."""
    file = io.BytesIO()
    soundfile.write(file, sound, rate, format="WAV", subtype="PCM_16")
    content = file.getvalue()
    if began:
        day, time = began.encode().split()
        bext = struct.pack("<256s32s32s10s8sQH254x", b"", b"recorder", b"", day, time, reference, 1)
        place = content.index(b"data")
        content = content[:place] + struct.pack("<4sI", b"bext", len(bext)) + bext + content[place:]
        content = content[:4] + struct.pack("<I", len(content) - 8) + content[8:]
    return content


@pytest.fixture
def interview(volunteer):
    return a_started_interview(volunteer)


def stored(interview, *recordings: tuple[str, bytes]):
    for name, content in recordings:
        a_part_stored(interview, content, name=name)
    run_jobs(Kind.MEASURE_PART)
    return parts_of(interview)


def names_in(parts, order):
    by_id = {part.pk: part.upload.name for part in parts}
    return order and [by_id[pk] for pk in order]


def as_split(part) -> None:
    """As if the recorder had begun another file because this one was full."""
    Upload.objects.filter(pk=part.upload_id).update(length=2_147_000_000)


# Order


def test_the_recorders_clock_tells_the_order(interview):
    late, early = a_wav(SOUND, began="2026-03-14 11:00:00"), a_wav(SOUND[::-1], began="2026-03-14 10:00:00")
    parts = stored(interview, ("A0001.WAV", late), ("A0002.WAV", early))
    assert names_in(parts, recorders_order(parts)) == ["A0002.WAV", "A0001.WAV"]


def test_without_a_clock_the_numbering_tells_it(interview):
    parts = stored(interview, *((f"TOLL{n}.WAV", a_wav(SOUND[n:])) for n in (10, 9, 11)))
    assert names_in(parts, recorders_order(parts)) == ["TOLL9.WAV", "TOLL10.WAV", "TOLL11.WAV"]


def test_a_file_that_holds_no_sound_has_its_number_too(interview):
    parts = stored(interview, ("TOLL2.WAV", a_wav(SOUND)), ("TOLL1.WAV", b"RIFF" + bytes(4000)))
    assert names_in(parts, recorders_order(parts)) == ["TOLL1.WAV", "TOLL2.WAV"]


def test_nothing_is_offered_while_something_is_to_be_measured(interview):
    stored(interview, ("TOLL2.WAV", a_wav(SOUND)))
    a_part_stored(interview, a_wav(SOUND[5:]), name="TOLL1.WAV")
    assert recorders_order(parts_of(interview)) is None


def test_names_of_different_kinds_tell_no_order(interview):
    parts = stored(interview, ("kitchen.WAV", a_wav(SOUND)), ("TOLL1.WAV", a_wav(SOUND[5:])))
    assert recorders_order(parts) is None


def test_parts_in_the_recorders_order_are_left_alone(interview):
    parts = stored(interview, ("TOLL1.WAV", a_wav(SOUND)), ("TOLL2.WAV", a_wav(SOUND[5:])))
    assert recorders_order(parts) is None


def test_the_page_offers_the_recorders_order_and_a_press_puts_it(interview, volunteer):
    stored(interview, ("TOLL2.WAV", a_wav(SOUND)), ("TOLL1.WAV", a_wav(SOUND[5:])))
    browser = signed_in(volunteer)
    address = reverse("portal:parts-order", args=[interview.pk])
    assert address in actions_of(browser.get(reverse("portal:interview-detail", args=[interview.pk])))
    answer = browser.post(address, follow=True)
    assert address not in actions_of(answer)
    assert [part.upload.name for part in parts_of(interview)] == ["TOLL1.WAV", "TOLL2.WAV"]
    assert "2 recordings, 0:11 in all." in text_of(answer)


def test_an_order_of_other_parts_is_refused(interview, volunteer):
    parts = stored(interview, ("TOLL2.WAV", a_wav(SOUND)), ("TOLL1.WAV", a_wav(SOUND[5:])))
    with pytest.raises(Refused, match="changed meanwhile"):
        interviews.order_parts(interview.pk, order=[parts[0].pk], actor=volunteer)


# Settings


def test_a_part_with_other_settings_is_told(interview):
    parts = stored(
        interview,
        ("TOLL1.WAV", a_wav(SOUND)),
        ("TOLL2.WAV", a_wav(SOUND[5:])),
        ("TOLL3.WAV", a_wav(SOUND, rate=8_000)),
    )
    assert other_settings(parts) == {
        parts[2].pk: "Recorded as WAV, 8 kHz, 16 bit, mono, the others as WAV, 16 kHz, 16 bit, mono: "
        "the recorder's settings were changed."
    }


# Joins


def joined(parts) -> list[tuple[str, bool]]:
    return [(join.sentence, join.is_odd) for join in joins(parts).values()]


def test_a_split_recording_goes_on(interview):
    one = a_wav(SOUND[: 3 * RATE], began="2026-03-14 10:00:00")
    two = a_wav(SOUND[3 * RATE :], began="2026-03-14 10:00:03")
    assert joined(stored(interview, ("T1.WAV", one), ("T2.WAV", two))) == [("It goes on where part 1 ends.", False)]


def test_the_time_reference_tells_it_more_exactly_than_the_clock(interview):
    """EBU Tech 3285: the samples since midnight."""
    midnight = 10 * 3600 * RATE
    one = a_wav(SOUND[: 3 * RATE], began="2026-03-14 09:59:00", reference=midnight)
    two = a_wav(SOUND[3 * RATE :], began="2026-03-14 09:59:00", reference=midnight + 3 * RATE)
    assert joined(stored(interview, ("T1.WAV", one), ("T2.WAV", two))) == [("It goes on where part 1 ends.", False)]


def test_missing_sound_between_two_parts_is_told(interview):
    one = a_wav(SOUND[: 3 * RATE], began="2026-03-14 10:00:00")
    two = a_wav(SOUND[3 * RATE + 4321 :], began="2026-03-14 10:00:03")
    sentence, is_odd = joined(stored(interview, ("T1.WAV", one), ("T2.WAV", two)))[0]
    assert sentence == "The sound jumps between part 1 and part 2: something may be missing."
    assert is_odd


def test_a_break_is_told_with_its_length(interview):
    one = a_wav(SOUND[: 3 * RATE], began="2026-03-14 10:00:00")
    two = a_wav(SOUND[3 * RATE :], began="2026-03-14 11:02:33")
    assert joined(stored(interview, ("T1.WAV", one), ("T2.WAV", two))) == [
        ("By the recorder's clock 1 h 2 min 30 s pass between part 1 and part 2.", False)
    ]


def test_a_part_that_begins_too_early_is_told(interview):
    one = a_wav(SOUND, began="2026-03-14 10:00:00")
    two = a_wav(SOUND[5:], began="2026-03-14 10:00:01")
    told = joined(stored(interview, ("T1.WAV", one), ("T2.WAV", two)))
    assert told == [("By the recorder's clock part 2 begins before part 1 has ended: look at their order.", True)]


def test_without_a_clock_only_a_full_file_is_asked_about(interview):
    parts = stored(interview, ("T1.WAV", a_wav(SOUND[: 3 * RATE])), ("T2.WAV", a_wav(SOUND[3 * RATE :])))
    assert joined(parts) == []
    as_split(parts[0])
    assert joined(parts_of(interview)) == [("It seems to go on where part 1 ends.", False)]


def test_the_join_stands_on_both_pages(interview, volunteer, archivist):
    one = a_wav(SOUND[: 3 * RATE], began="2026-03-14 10:00:00")
    two = a_wav(SOUND[3 * RATE + 4321 :], began="2026-03-14 10:00:03")
    stored(interview, ("T1.WAV", one), ("T2.WAV", two))
    for user, name in ((volunteer, "portal"), (archivist, "desk")):
        page = signed_in(user).get(reverse(f"{name}:interview-detail", args=[interview.pk]))
        assert "The sound jumps between part 1 and part 2" in text_of(page)


@pytest.mark.skipif(not SPEECH.is_dir(), reason="the reference recordings are not on this machine")
def test_real_speech_cut_in_two_goes_on_and_with_a_gap_does_not(interview):
    """Source: a recording of the reference folder, cut in the middle of a word."""
    sound, rate = soundfile.read(SPEECH / "reader_austen_16k.wav")
    assert rate == RATE
    loud = int(np.argmax(np.abs(sound[2 * RATE : 4 * RATE]))) + 2 * RATE + RATE // 400  # not at the pulse itself
    one = ("T1.WAV", a_wav(sound[:loud]))
    parts = stored(interview, one, ("T2.WAV", a_wav(sound[loud:])))
    as_split(parts[0])
    assert joined(parts_of(interview)) == [("It seems to go on where part 1 ends.", False)]
    interviews.remove_part(parts[1].pk, actor=interview.owner)
    stored(interview, ("T3.WAV", a_wav(sound[loud + RATE // 3 :])))
    assert joined(parts_of(interview))[0][1]
