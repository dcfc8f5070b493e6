"""Copies of a part: as loud as speech should be, proven to hold the same samples, and named for what they are."""

import io
import wave
from datetime import date

import av
import numpy as np
import pyebur128
import pytest
import soundfile
from django.urls import reverse

from intake import readiness, workflow
from intake.audit.actions import Action
from intake.audit.models import Outcome
from intake.audit.services import story_of
from intake.files import storage
from intake.interviews.models import State
from intake.interviews.services import parts_of
from intake.jobs.models import Job, Kind
from intake.outputs import copies, listening
from intake.outputs.listening import gain_for
from intake.outputs.models import Output, OutputKind
from intake.outputs.naming import copy_name
from intake.qc import services as qc
from intake.qc.services import latest_report
from tests.factories import (
    a_part_stored,
    a_signed_release,
    a_started_interview,
    a_wav,
    an_interview,
    interviewer_of,
    narrator_of,
    run_jobs,
)
from tests.pages import signed_in, text_of

pytestmark = pytest.mark.django_db


def silent(share: float) -> None:
    """Nobody watches."""


def quiet_speech_like(seconds: float = 12, peak: float = 0.02, rate: int = 48_000) -> bytes:
    """Noise that swells and falls as syllables do, far too quiet."""
    moments = np.arange(int(seconds * rate)) / rate
    swell = np.abs(np.sin(2 * np.pi * 2.5 * moments))
    noise = np.random.default_rng(3).uniform(-1, 1, len(moments))
    file = io.BytesIO()
    soundfile.write(file, peak * swell * noise, rate, format="WAV", subtype="PCM_24")
    return file.getvalue()


def encoded(codec: str, container: str) -> bytes:
    """Ten seconds of a tone as a telephone writes them."""
    file = io.BytesIO()
    moments = np.arange(480_000) / 48_000
    tone = (0.1 * np.sin(2 * np.pi * 440 * moments)).astype(np.float32)
    with av.open(file, "w", format=container) as out:
        stream = out.add_stream(codec, rate=48_000, layout="mono", bit_rate=96_000)
        frame = av.AudioFrame.from_ndarray(tone[None, :], format="fltp", layout="mono")
        frame.sample_rate = 48_000
        out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return file.getvalue()


def made(kind: OutputKind) -> Output:
    return Output.objects.select_related("file").get(kind=kind)


def sound_of(output: Output) -> tuple[np.ndarray, int]:
    with storage.local_path(output.file.key) as path:
        return soundfile.read(path, always_2d=True)


# For listening


def loudness_of(sound: np.ndarray, rate: int) -> float:
    """Source: libebur128."""
    state = pyebur128.R128State(sound.shape[1], rate, pyebur128.MeasurementMode.MODE_I)
    state.add_frames(np.ascontiguousarray(sound).ravel(), len(sound))
    return pyebur128.get_loudness_global(state)


def test_a_quiet_recording_is_heard_as_loud_as_speech_should_be(volunteer):
    """-16 to -20 LUFS (AES TD1004.1.15-10), no peak over -1 dBTP (EBU R 128)."""
    a_part_stored(a_started_interview(volunteer), quiet_speech_like())
    run_jobs()
    sound, rate = sound_of(made(OutputKind.LISTENING_COPY))
    assert np.abs(sound).max() < 10 ** (-1 / 20)
    assert loudness_of(sound, rate) == pytest.approx(listening.TARGET_LUFS, abs=1)


@pytest.mark.parametrize(
    ("lufs", "peak", "gain"),
    [
        (-30.0, -20.0, -18 + 0.45 + 30),  # as loud as wanted
        (-30.0, -6.0, 5.0),  # a peak stands in the way
        (-12.0, -0.5, -5.6),  # made softer
        (-80.0, -70.0, 30.0),  # noise is not brought up without end
        (None, None, 0.0),
    ],
)
def test_one_gain_for_the_whole_recording(lufs, peak, gain):
    assert gain_for(lufs, peak) == pytest.approx(gain, abs=0.06)


def test_it_says_in_itself_and_by_its_name_that_it_is_a_copy(volunteer):
    part = a_part_stored(a_started_interview(volunteer), name="TOLL0007.WAV")
    run_jobs()
    with storage.local_path(made(OutputKind.LISTENING_COPY).file.key) as path, av.open(str(path)) as copy:
        assert copy.metadata["title"] == "Listening copy of TOLL0007.WAV"
        assert "not the original" in copy.metadata["comment"]
    answer = signed_in(volunteer).get(reverse("portal:part-listen", args=[part.pk]))
    assert 'filename="2026-03-14_Marit-Oskarsen_part-1_listening-copy.mp3"' in answer["Content-Disposition"]


def test_where_measuring_is_given_up_there_is_a_copy_all_the_same(volunteer, monkeypatch):
    a_part_stored(a_started_interview(volunteer))
    monkeypatch.setattr("intake.qc.services.audio_qc.report", lambda *args, **kwargs: 1 / 0)
    run_jobs()
    assert Job.objects.get(kind=Kind.MEASURE_PART).state == "failed"
    assert made(OutputKind.LISTENING_COPY)


# For work


@pytest.mark.parametrize(("codec", "container"), [("aac", "mp4"), ("libopus", "ogg"), ("wmav2", "asf")])
def test_a_telephones_recording_gets_a_working_copy_and_keeps_its_original(volunteer, codec, container):
    content = encoded(codec, container)
    part = a_part_stored(a_started_interview(volunteer), content, name=f"Voice 001.{container}")
    run_jobs()
    sound, rate = sound_of(made(OutputKind.WORKING_COPY))
    assert (rate, sound.shape[1]) == (48_000, 1)
    assert len(sound) / rate == pytest.approx(10, abs=0.2)
    assert 20 * np.log10(np.sqrt((sound[48_000:-48_000] ** 2).mean())) == pytest.approx(-23, abs=0.5)
    with storage.local_path(part.file.key) as path:
        assert storage.read(path) == content


def test_a_wav_needs_no_working_copy(volunteer):
    a_part_stored(a_started_interview(volunteer))
    run_jobs()
    assert not Output.objects.filter(kind=OutputKind.WORKING_COPY).exists()


# Described


@pytest.fixture
def accepted(volunteer, archivist):
    interview = an_interview(State.ACCEPTED, owner=volunteer, reviewer=archivist)
    run_jobs()
    return interview


def test_an_accepted_part_gets_a_described_copy_with_the_same_samples(accepted):
    part = parts_of(accepted)[0]
    copy = made(OutputKind.DESCRIBED_COPY)
    assert copy.file.sha256 != part.file.sha256
    with storage.local_path(copy.file.key) as described, storage.local_path(part.file.key) as original:
        with wave.open(str(described)) as one, wave.open(str(original)) as other:
            assert one.getparams() == other.getparams()
            assert one.readframes(one.getnframes()) == other.readframes(other.getnframes())
        written = storage.read(described)
    assert accepted.accessions.get().number.encode() in written
    assert b"Interview with Marit Oskarsen, 2026-03-14, part 1" in written
    event = story_of(accepted).filter(action=Action.COPY_MADE, details__kind="described-copy").get()
    assert event.details["samples_sha256"] == latest_report(part.file).samples_sha256


def test_a_copy_with_other_samples_is_never_kept(volunteer, archivist, monkeypatch):
    interview = an_interview(State.ACCEPTED, owner=volunteer, reviewer=archivist)
    monkeypatch.setattr("intake.qc.services.audio_qc.samples_digest", lambda path: "0" * 64)
    with pytest.raises(qc.NotTheSameSound):
        copies.make_described_copies(interview.accessions.get().pk, silent)
    assert not Output.objects.filter(kind=OutputKind.DESCRIBED_COPY).exists()


def test_a_withheld_name_is_neither_in_the_file_nor_in_its_name(volunteer, archivist):
    interview = a_started_interview(volunteer)
    a_part_stored(interview)
    run_jobs(Kind.MEASURE_PART)
    a_signed_release(narrator_of(interview), name_withheld=True, access="closed", closed_until=date(2040, 1, 1))
    a_signed_release(interviewer_of(interview))
    workflow.submit(interview.pk, actor=volunteer)
    workflow.take_up(interview.pk, actor=archivist)
    workflow.accept(interview.pk, actor=archivist)
    run_jobs()
    copy = made(OutputKind.DESCRIBED_COPY)
    assert copy.file.name == "2026-03-14_narrator-name-withheld_part-1.WAV"
    with storage.local_path(copy.file.key) as path:
        assert b"Oskarsen" not in storage.read(path)
        assert b"Closed until" in storage.read(path)


def test_a_kind_that_takes_no_texts_is_told_in_the_record(volunteer, archivist):
    interview = an_interview(State.ACCEPTED, owner=volunteer, reviewer=archivist, content=encoded("aac", "mp4"))
    run_jobs()
    event = story_of(interview).filter(action=Action.COPY_MADE, outcome=Outcome.FAILURE).get()
    assert event.details["reason"] == "Texts are written into WAV, FLAC and MP3 files only."


def test_accepted_anew_it_names_the_new_accession(accepted, archivist, coordinator):
    workflow.propose_undo(accepted.pk, reason="The wrong collection.", actor=archivist)
    workflow.confirm_undo(accepted.pk, actor=coordinator)
    browser, part = signed_in(archivist), parts_of(accepted)[0]
    assert browser.get(reverse("desk:part-described-copy", args=[part.pk])).status_code == 404
    workflow.accept(accepted.pk, actor=archivist)
    run_jobs()
    answer = browser.get(reverse("desk:part-described-copy", args=[part.pk]))
    assert accepted.accessions.last().number.encode() in b"".join(answer.streaming_content)


def test_the_desk_offers_each_copy_under_its_name(accepted, archivist):
    browser, part = signed_in(archivist), parts_of(accepted)[0]
    assert "Download the described copy" in text_of(browser.get(reverse("desk:interview-detail", args=[accepted.pk])))
    answer = browser.get(reverse("desk:part-described-copy", args=[part.pk]))
    assert 'attachment; filename="2026-03-14_Marit-Oskarsen_part-1.WAV"' in answer["Content-Disposition"]
    assert browser.get(reverse("desk:part-working-copy", args=[part.pk])).status_code == 404


def test_a_part_taken_out_has_a_name_too(accepted):
    part = parts_of(accepted)[0]
    part.position = None
    assert copy_name(part, ".WAV") == f"2026-03-14_Marit-Oskarsen_taken-out-{part.pk}.WAV"


# The same sound


def as_flac(wav: bytes) -> bytes:
    sound, rate = soundfile.read(io.BytesIO(wav), dtype="int16")
    file = io.BytesIO()
    soundfile.write(file, sound, rate, format="FLAC", subtype="PCM_16")
    return file.getvalue()


def test_the_same_sound_in_another_file_is_recognised(volunteer, archivist):
    interview = a_started_interview(volunteer)
    a_part_stored(interview, a_wav(pitch_hz=333.0))
    a_part_stored(interview, as_flac(a_wav(pitch_hz=333.0)), name="TOLL0001.flac")
    run_jobs()
    page = signed_in(volunteer).get(reverse("portal:interview-detail", args=[interview.pk]))
    assert "The same sound, in another file, as part 1." in text_of(page)
    assert readiness.worth_knowing(interview) == ["Part 2 is the same recording as part 1."]


def test_the_same_sound_in_another_interview_is_recognised_by_staff(volunteer, other_volunteer, archivist):
    one, other = a_started_interview(volunteer), a_started_interview(other_volunteer)
    a_part_stored(one, a_wav(pitch_hz=335.0))
    a_part_stored(other, as_flac(a_wav(pitch_hz=335.0)), name="TOLL0001.flac")
    run_jobs()
    told = text_of(signed_in(archivist).get(reverse("desk:interview-detail", args=[other.pk])))
    assert "The same sound, in another file, is part 1 of another interview:" in told
    mine = text_of(signed_in(other_volunteer).get(reverse("portal:interview-detail", args=[other.pk])))
    assert "The same sound" not in mine
