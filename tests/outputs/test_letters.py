"""Letters on paper: they begin with the library's text, go to one person, and say no more than was written."""

import re
import shutil
import subprocess
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from intake import workflow
from intake.audit.actions import Action
from intake.audit.models import Event
from intake.errors import Refused
from intake.interviews.models import State
from intake.jobs.models import Kind
from intake.mail.models import Message
from intake.outputs import letters
from intake.outputs.models import Letter, LetterKind, OutputKind
from intake.outputs.paper import Issue, WrittenLetter, letter_pdf
from intake.outputs.services import existing
from intake.people.models import Person
from tests.factories import a_user, an_accession, an_interview, interviewer_of, narrator_of, run_jobs
from tests.needs import needs
from tests.outputs.conftest import LIBRARY
from tests.outputs.test_paper_pages import text_in

ON_PAPER = WrittenLetter(
    kind="Thank-you letter",
    number="2026-0042",
    library=LIBRARY,
    to="Zoë Łukasiewicz-Ångström",
    dated="24 Nov 2026",
    written_at=datetime(2026, 11, 24, 15, 5, tzinfo=UTC),
    language="en",
    text="Dear Zoë,\n\nthank you.\nWe keep it <b>well</b>.\n\nAda Ríos",
)


def thank(accession, actor, **changed: object) -> Letter:
    narrator = narrator_of(accession.interview).person
    said = {"person": narrator, "language": "en", "text": "Dear Marit,\n\nthank you.", "by_email": True}
    return letters.write_letter(accession.interview_id, kind=LetterKind.THANKS, actor=actor, **{**said, **changed})


def test_a_letter_says_its_words_literally_on_the_librarys_paper(text_of):
    text = text_of(letter_pdf(ON_PAPER))
    for fact in ("Alder Ferry Public Library", "24 Nov 2026", "Zoë Łukasiewicz-Ångström", "We keep it <b>well</b>."):
        assert fact in text
    assert "Thank-you letter 2026-0042" in text
    assert "Page 1 of 1" in text
    assert letter_pdf(ON_PAPER) == letter_pdf(ON_PAPER)


def test_a_letter_in_spanish_says_so_in_the_file_and_at_its_foot(text_of):
    pdf = letter_pdf(replace(ON_PAPER, language="es", dated="24 de noviembre de 2026", text="Querida Zoë:\n\nGracias."))
    assert "Página 1 de 1" in text_of(pdf)
    assert b"/Lang (es)" in pdf


def test_what_cannot_be_printed_is_said_in_words(text_of):
    text = text_of(letter_pdf(replace(ON_PAPER, text="Dear مريم, thank you.")))
    assert "Some letters of this text cannot be printed" in text
    assert "□" not in text


@pytest.mark.parametrize(("language", "said"), [("en", "Version 2 of this paper"), ("es", "Versión 2 de este papel")])
def test_a_later_version_says_so_and_why_and_the_file_is_sound(tmp_path, text_of, language, said):
    again = Issue(2, datetime(2026, 12, 1, 9, 0, tzinfo=UTC), "A name was wrong.")
    pdf = letter_pdf(replace(ON_PAPER, issue=again, language=language))
    assert said in text_of(pdf)
    assert "A name was wrong." in text_of(pdf)
    needs("qpdf", shutil.which("qpdf"))
    path = tmp_path / "letter.pdf"
    path.write_bytes(pdf)
    assert subprocess.run(["qpdf", "--check", path], capture_output=True, check=False).returncode == 0


@pytest.mark.django_db
class TestWriting:
    def test_each_kind_begins_with_a_text_in_which_nothing_is_left_open(self, archivist):
        interview = an_accession(reviewer=archivist).interview
        person = narrator_of(interview).person
        for kind in LetterKind:
            for language in letters.LANGUAGES:
                text = letters.begun(kind, person, interview, language=language, sender=archivist, message="Please.")
                assert not re.search(r"[{}]", text)
                assert person.name in text

    def test_a_name_that_looks_like_a_placeholder_stays_a_name(self, archivist):
        interview = an_accession(reviewer=archivist).interview
        person = narrator_of(interview).person
        person.name = "{accession}"
        text = letters.begun("thanks", person, interview, language="en", sender=archivist)
        assert "Dear {accession}," in text

    def test_the_coordinators_text_is_the_one_that_letters_begin_with(self, coordinator):
        letters.put_text_into_force(kind="thanks", language="es", text="Gracias, {name}.\n", actor=coordinator)
        found = letters.standing_text("thanks", "es-MX")
        assert (found.text, found.is_ours) == ("Gracias, {name}.", True)
        assert not letters.standing_text("thanks", "en").is_ours
        assert letters.standing_text("thanks", "uk").language == "en"

    @pytest.mark.parametrize(
        ("text", "why"),
        [("Hello {sinner}", "{sinner}"), ("  ", "Write what the letter says"), ("x" * 20_001, "20,000")],
    )
    def test_a_text_that_would_not_do_is_refused(self, coordinator, text, why):
        with pytest.raises(Refused, match=re.escape(why)):
            letters.put_text_into_force(kind="thanks", language="en", text=text, actor=coordinator)

    def test_only_the_coordinator_changes_the_texts(self, archivist):
        with pytest.raises(Refused, match="coordinator"):
            letters.put_text_into_force(kind="thanks", language="en", text="Hello", actor=archivist)

    def test_a_narrator_is_thanked_on_paper_and_by_e_mail(self, archivist):
        accession = an_accession(reviewer=archivist)
        letter = thank(accession, archivist)
        run_jobs(Kind.MAKE_LETTER)
        paper = existing(OutputKind.LETTER, letter.pk)
        assert "Dear Marit, thank you." in text_in(paper)
        message = Message.objects.get(attachments=paper.file)
        assert (message.to, message.subject) == ("marit@example.org", "A letter to you, from Your library")
        assert "thank you" not in message.text  # the letter is in the PDF alone

    def test_a_letter_is_in_the_story_of_its_interview_without_its_words(self, archivist):
        letter = thank(an_accession(reviewer=archivist), archivist)
        event = Event.objects.get(action=Action.LETTER_WRITTEN)
        assert event.subject_id == str(letter.pk)
        assert "thank you" not in str(event.details)

    def test_without_an_address_it_is_printed(self, archivist):
        accession = an_accession(reviewer=archivist)
        Person.objects.update(email="")
        with pytest.raises(Refused, match="no e-mail address here"):
            thank(accession, archivist)
        letter = thank(accession, archivist, by_email=False)
        run_jobs(Kind.MAKE_LETTER)
        assert existing(OutputKind.LETTER, letter.pk)

    def test_nobody_else_is_written_to(self, archivist):
        accession, stranger = an_accession(reviewer=archivist), an_interview().given_by
        with pytest.raises(Refused, match="takes part in the interview or gave it"):
            thank(accession, archivist, person=stranger)

    def test_a_volunteer_writes_no_letters_of_the_librarys(self, archivist):
        with pytest.raises(Refused, match="staff"):
            thank(an_accession(reviewer=archivist), a_user())

    def test_a_kind_belongs_to_its_stage(self, archivist):
        interview = an_interview(State.RETURNED, reviewer=archivist)
        assert letters.kind_for(interview) == LetterKind.RETURN
        with pytest.raises(Refused, match="moved on meanwhile"):
            letters.write_letter(
                interview.pk,
                kind=LetterKind.THANKS,
                person=interview.given_by,
                language="en",
                text="x",
                by_email=False,
                actor=archivist,
            )

    @pytest.mark.parametrize(
        ("state", "kind", "said"),
        [
            (State.RETURNED, "Return letter", "Please name the second voice."),
            (State.DECLINED, "Decline letter", "It is not about the crossing."),
        ],
    )
    def test_a_decision_is_on_paper_too_for_whoever_gave_the_interview(self, archivist, state, kind, said):
        interview = an_interview(state, reviewer=archivist)
        run_jobs(Kind.MAKE_LETTER)
        letter = interview.letters.get()
        assert (letter.get_kind_display(), letter.person) == (kind, interview.given_by)
        text = text_in(existing(OutputKind.LETTER, letter.pk))
        assert said in text
        assert archivist.name in text
        assert not letter.by_email  # the e-mail of the decision says the same

    def test_an_interviewer_may_be_thanked_too(self, archivist):
        accession = an_accession(reviewer=archivist)
        person = interviewer_of(accession.interview).person
        assert thank(accession, archivist, person=person).person == person


@pytest.mark.django_db
def test_an_undone_acceptance_has_no_thank_you_letter(archivist, coordinator):
    accession = an_accession(reviewer=archivist)
    workflow.propose_undo(accession.interview_id, reason="A mistake.", actor=archivist)
    workflow.confirm_undo(accession.interview_id, actor=coordinator)
    accession.interview.refresh_from_db()
    assert letters.kind_for(accession.interview) is None
