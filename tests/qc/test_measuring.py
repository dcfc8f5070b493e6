"""Measuring a part: facts and findings are kept once per version, also for a file that holds no sound."""

import io
import json
import struct

import av
import numpy as np
import pytest
import soundfile
from django.db import IntegrityError, transaction
from django.urls import reverse

import audio_qc
from intake.audit.actions import Action
from intake.audit.models import Outcome
from intake.audit.services import story_of
from intake.files import storage
from intake.interviews.models import Part
from intake.jobs.models import JobState, Kind
from intake.qc import services as qc
from intake.qc.models import QCReport
from intake.web.parts import part_rows
from tests.factories import a_clipped_wav, a_part_stored, a_started_interview, a_wav, run_jobs
from tests.pages import signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def interview(volunteer):
    return a_started_interview(volunteer)


def measure(part: Part) -> QCReport:
    return qc.measure_part(part.pk, lambda share: None)


def test_a_stored_part_is_measured_by_its_job(interview):
    part = a_part_stored(interview)
    (job,) = run_jobs(Kind.MEASURE_PART)
    report = qc.latest_report(part.file)
    assert job.state == JobState.DONE
    assert (report.audio_qc_version, report.unreadable) == (audio_qc.__version__, "")
    assert report.profile.startswith(audio_qc.SPOKEN_INTERVIEW.name)


def test_the_facts_are_those_that_another_library_reads(interview):
    """Against libsndfile, which wrote the clip and reads it here on its own."""
    part = a_part_stored(interview, a_wav(seconds=0.7))
    told = measure(part).measurement["format"]
    with storage.local_path(part.file.key) as path:
        known = soundfile.info(path)
    assert (told["sample_rate_hz"], told["channels"], told["frames"]) == (
        known.samplerate,
        known.channels,
        known.frames,
    )
    assert told["seconds"] == pytest.approx(known.duration)
    assert (told["bits_per_sample"], told["container"]) == (16, "WAV")


def test_a_clean_recording_has_no_problem(interview):
    assert measure(a_part_stored(interview)).problems == []


def test_a_clipped_recording_has_a_problem_with_its_place(interview):
    (problem,) = measure(a_part_stored(interview, a_clipped_wav())).problems
    assert "clip" in problem["code"]
    assert problem["spans"]
    assert problem["volunteer"]
    assert problem["archivist"]


def test_measuring_twice_keeps_one_report(interview):
    part = a_part_stored(interview)
    assert measure(part) == measure(part)
    assert QCReport.objects.count() == 1
    measured = [event.action for event in story_of(interview)].count(Action.PART_MEASURED)
    assert measured == 1


def test_the_same_file_measured_by_a_newer_version_gets_a_report_of_its_own(interview, monkeypatch):
    part = a_part_stored(interview)
    first = measure(part)
    monkeypatch.setitem(qc.VERSION, "audio_qc_version", "99.0")
    second = measure(part)
    assert first != second
    assert qc.latest_report(part.file) == second


def test_progress_is_told_while_measuring(interview):
    shares = []
    qc.measure_part(a_part_stored(interview).pk, shares.append)
    assert shares
    assert shares == sorted(shares)
    assert 0 <= shares[0] <= shares[-1] <= 1


@pytest.mark.parametrize("content", [b"this is no recording at all", b"RIFF\x00\x00\x00\x00WAVE", b"\x00" * 100])
def test_a_file_without_readable_sound_gets_a_report_that_says_why(interview, content):
    part = a_part_stored(interview, content)
    (job,) = run_jobs(Kind.MEASURE_PART)
    report = qc.latest_report(part.file)
    (problem,) = report.problems
    assert job.state == JobState.DONE
    assert report.measurement is None
    assert report.unreadable
    assert problem["code"] == "unreadable"
    assert problem["volunteer"].startswith("We could not read sound in this file.")
    assert story_of(interview).last().outcome == Outcome.FAILURE


def test_a_report_holds_nothing_that_json_cannot(interview):
    """RFC 8259 has no NaN and no infinity, and what is not measurable is None with a reason."""
    report = measure(a_part_stored(interview, a_wav(level=0.0)))
    json.dumps([report.measurement, report.findings], allow_nan=False)


def test_a_file_that_was_not_measured_has_no_report(interview):
    assert qc.latest_report(a_part_stored(interview).file) is None
    assert qc.latest_report(None) is None


def test_the_database_keeps_one_report_per_version_and_profile(interview):
    report = measure(a_part_stored(interview))
    values = QCReport.objects.filter(pk=report.pk).values().get()
    with pytest.raises(IntegrityError), transaction.atomic():
        QCReport.objects.create(**{**values, "id": None})


def test_the_database_lets_no_report_measure_nothing_without_saying_why(interview):
    part = a_part_stored(interview)
    with pytest.raises(IntegrityError, match="report_measures_or_says_why_not"), transaction.atomic():
        QCReport.objects.create(file=part.file, audio_qc_version="1", profile="p", standing="good", verdict="")


def test_what_is_drawn_is_kept_apart_and_lists_do_not_fetch_it(interview):
    report = measure(a_part_stored(interview))
    assert sorted(report.series) == ["level_histogram", "loudness_curve", "spectrum", "waveform"]
    assert "waveform" not in report.measurement
    assert "curve" not in report.measurement["loudness"]
    assert QCReport.objects.get(pk=report.pk).get_deferred_fields() == {"series"}


def test_bytes_after_the_sound_are_noted_and_hold_nothing_back(interview):
    report = measure(a_part_stored(interview, a_wav() + bytes(600)))
    assert [one["code"] for one in report.findings if one["measure"] == "structure"] == ["trailing-bytes"]
    assert not report.is_doubtful


def test_a_recording_cut_short_is_doubtful(interview):
    report = measure(a_part_stored(interview, a_wav()[:-1000]))
    assert report.is_doubtful
    assert "salvaged copy" in next(one for one in report.problems if one["code"] == "truncated")["archivist"]


def test_what_a_telephone_records_is_measured(interview):
    """An M4A, as PyAV's encoder makes it."""
    file, rate_hz = io.BytesIO(), 48_000
    moments = np.arange(3 * rate_hz) / rate_hz
    with av.open(file, "w", format="ipod") as container:
        stream = container.add_stream("aac", rate=rate_hz, layout="mono")
        tone = (0.1 * np.sin(2 * np.pi * 440 * moments)).astype(np.float32)[np.newaxis]
        frame = av.AudioFrame.from_ndarray(tone, format="fltp", layout="mono")
        frame.sample_rate = rate_hz
        container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    report = measure(a_part_stored(interview, file.getvalue(), name="VOICE.M4A"))
    assert report.unreadable == ""
    assert report.measurement["levels"]["channels"][0]["rms_dbfs"] == pytest.approx(-23.0, abs=0.5)
    assert "format-compressed" in {one["code"] for one in report.findings}
    assert report.format_in_words == "M4A, 48 kHz, mono"


def test_a_row_that_is_drawn_brings_its_waveform_and_one_that_is_not_does_without(
    interview, volunteer, django_assert_num_queries
):
    measure(a_part_stored(interview))
    (drawn,) = part_rows(interview, listen="portal:part-listen", user=volunteer, drawn=True)
    (listed,) = part_rows(interview, listen="portal:part-listen", user=volunteer, drawn=False)
    with django_assert_num_queries(0):
        assert drawn.waveform["peaks"]
    assert listed.report.get_deferred_fields() == {"series"}


def marked(content: bytes, *frames: int) -> bytes:
    """A WAV with a cue point at each frame, the first labelled (Microsoft's RIFF: `cue ` and `LIST/adtl`)."""
    points = b"".join(struct.pack("<II4sIII", n, 0, b"data", 0, 0, frame) for n, frame in enumerate(frames, 1))
    label = b"labl" + struct.pack("<II", 10, 1) + b"ferry\0"
    chunks = b"cue " + struct.pack("<II", 4 + len(points), len(frames)) + points
    chunks += b"LIST" + struct.pack("<I", 4 + len(label)) + b"adtl" + label
    place = content.index(b"data")
    content = content[:place] + chunks + content[place:]
    return content[:4] + struct.pack("<I", len(content) - 8) + content[8:]


def test_the_recorders_marks_become_marks_on_the_part(volunteer):
    part = a_part_stored(a_started_interview(volunteer), marked(a_wav(seconds=2.0), 8_000, 24_000))
    run_jobs(Kind.MEASURE_PART)
    assert [(mark.at_seconds, str(mark)) for mark in part.marks.all()] == [(0.5, "ferry"), (1.5, "mark")]


def test_measured_anew_a_part_gets_no_mark_twice(volunteer, monkeypatch):
    part = a_part_stored(a_started_interview(volunteer), marked(a_wav(seconds=2.0), 8_000))
    run_jobs(Kind.MEASURE_PART)
    monkeypatch.setitem(qc.VERSION, "audio_qc_version", "a later one")
    measure(part)
    assert part.file.qc_reports.count() == 2
    assert part.marks.count() == 1


def test_the_page_of_a_recording_shows_its_marks(volunteer):
    part = a_part_stored(a_started_interview(volunteer), marked(a_wav(seconds=2.0), 8_000))
    run_jobs()
    page = signed_in(volunteer).get(reverse("portal:part-detail", args=[part.pk]))
    assert "Marks set on the recorder 0:00 ferry" in text_of(page)
