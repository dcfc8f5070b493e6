"""Outline and transcript on their page: by forms, by the page's script, from files and to files."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from intake.catalogue import timed
from intake.catalogue.models import Cue
from intake.catalogue.webvtt import Spoken, read
from intake.interviews.models import State
from intake.interviews.services import parts_of
from tests.factories import a_wav, an_interview, run_jobs
from tests.pages import signed_in, text_of

pytestmark = pytest.mark.django_db
VTT = b"WEBVTT\n\n00:00.500 --> 00:01.000\n<v Marit>Kesler came.\n"


@pytest.fixture
def browser(archivist):
    return signed_in(archivist)


@pytest.fixture
def interview(archivist):
    made = an_interview(State.ACCEPTED, reviewer=archivist, content=a_wav(seconds=4.0))
    type(made).objects.filter(pk=made.pk).update(names_and_spellings="Kessler\nAlder Ferry")
    run_jobs("measure-part", "make-listening-copy")
    return made


def page(interview, kind: str = "transcript") -> str:
    return f"/desk/interviews/{interview.pk}/text/{kind}/"


def writing(interview, kind: str = "transcript") -> str:
    return f"/desk/parts/{parts_of(interview)[0].pk}/words/{kind}/"


def words(interview, **changes) -> dict[str, str]:
    part = str(parts_of(interview)[0].pk)
    return {
        "part": part,
        "from_seconds": "0:01.250",
        "to_seconds": "",
        "voice": "Marit",
        "words": "The ferry.",
        **changes,
    }


def by_script(archivist) -> dict[str, dict[str, str]]:
    return {"headers": {"X-Account": str(archivist.pk)}}


def test_words_are_written_and_changed_by_forms_alone(browser, interview):
    answer = browser.post(writing(interview), words(interview), follow=True)
    assert "The ferry." in text_of(answer)
    cue = Cue.objects.get()
    assert (cue.starts_ms, cue.ends_ms, cue.voice) == (1250, None, "Marit")
    form = browser.get(f"/desk/cues/{cue.pk}/").context["form"]
    assert form["from_seconds"].value() == "0:01.250"
    browser.post(
        f"/desk/cues/{cue.pk}/", words(interview, words="The cable ferry.", began="The ferry.", to_seconds="2")
    )
    cue.refresh_from_db()
    assert (cue.words, cue.ends_ms) == ("The cable ferry.", 2000)
    browser.post(f"/desk/cues/{cue.pk}/take-away/")
    assert not Cue.objects.exists()


def test_words_stay_with_their_part(browser, archivist):
    """A time is of one part; what belongs to another is written there."""
    two = an_interview(State.ACCEPTED, reviewer=archivist, parts=2, content=a_wav(seconds=4.0))
    first, second = parts_of(two)
    cue = timed.write_cue(first.pk, kind="transcript", said=Spoken(0, 900, "", "Here."), actor=archivist)
    answer = browser.post(f"/desk/cues/{cue.pk}/", words(two, part=str(second.pk)))
    assert answer.status_code == 200
    assert answer.context["form"].errors["part"]
    cue.refresh_from_db()
    assert (cue.part, cue.words) == (first, "Here.")


def test_the_page_s_script_gets_back_what_the_page_would_show(browser, interview, archivist):
    answer = browser.post(writing(interview), words(interview), **by_script(archivist))
    assert b'data-start="1250"' in answer.content
    cue = Cue.objects.get()
    answer = browser.post(f"/desk/cues/{cue.pk}/", words(interview, words=""), **by_script(archivist))
    assert (answer.status_code, answer.content) == (422, b"Write some words.\n")
    answer = browser.post(f"/desk/cues/{cue.pk}/", words(interview, from_seconds="9:00"), **by_script(archivist))
    assert answer.status_code == 422
    answer = browser.post(f"/desk/cues/{cue.pk}/take-away/", **by_script(archivist))
    assert answer.status_code == 204
    answer = browser.post(writing(interview), words(interview), headers={"X-Account": "999"})
    assert answer.status_code == 412


def test_a_transcript_is_read_from_a_file_and_taken_as_one(browser, interview, archivist):
    answer = browser.post(page(interview), {"file": SimpleUploadedFile("a.vtt", VTT)}, follow=True)
    assert "Read: 1 cue with their times." in text_of(answer)
    file = browser.get(f"/desk/interviews/{interview.pk}/text/files/transcript-01.vtt")
    assert file["Content-Type"] == "text/vtt; charset=utf-8"
    assert read(file.content) == [Spoken(500, 1000, "Marit", "Kesler came.")]
    assert browser.get(f"/desk/interviews/{interview.pk}/text/files/outline-01.vtt").status_code == 404


def test_a_wrong_file_is_refused_with_its_lines(browser, interview):
    answer = browser.post(
        page(interview), {"file": SimpleUploadedFile("a.vtt", b"WEBVTT\n\n00:02.000 --> 00:01.000\nx\n")}
    )
    assert "Line 3: it ends before it begins" in text_of(answer)
    assert not Cue.objects.exists()


def test_names_that_were_noted_are_suggested_and_taken(browser, interview, archivist):
    browser.post(page(interview), {"file": SimpleUploadedFile("a.vtt", VTT)})
    told = text_of(browser.get(page(interview)))
    assert "“Kesler” is perhaps Kessler in 1 cue" in told
    browser.post(f"{page(interview)}spelling/", {"wrong": "Kesler", "right": "Kessler"})
    assert Cue.objects.get().words == "Kessler came."
    assert "is perhaps" not in text_of(browser.get(page(interview)))


def test_what_was_checked_says_by_whom(browser, interview, archivist):
    part = parts_of(interview)[0]
    timed.write_cue(part.pk, kind="outline", said=Spoken(0, None, "", "Childhood"), actor=archivist)
    told = text_of(browser.post(f"{page(interview, 'outline')}checked/", follow=True))
    assert f"Checked against the sound by {archivist.name}" in told


def test_words_of_no_kind_are_nowhere(browser, interview):
    assert browser.get(page(interview, "poem")).status_code == 404
    assert browser.get(writing(interview, "poem")).status_code == 404


def test_the_text_of_a_taken_down_interview_is_not_handed_out(browser, archivist):
    gone = an_interview(State.TAKEN_DOWN, reviewer=archivist)
    assert browser.get(f"/desk/interviews/{gone.pk}/text/files/transcript-01.vtt").status_code == 403
