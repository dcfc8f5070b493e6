"""The agreement to take part, before the recording: signed, or given aloud; it is no release."""

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from intake.audit.actions import Action
from intake.errors import Refused
from intake.interviews.models import State
from intake.jobs.models import Kind
from intake.mail.models import Message
from intake.outputs.models import OutputKind
from intake.outputs.services import existing
from intake.releases import services as releases
from intake.releases.models import Agreement, Moment, Release
from intake.releases.services import missing_signatures, note_spoken_agreement
from tests.factories import (
    a_part_stored,
    a_signed_agreement,
    a_signing_session,
    a_started_interview,
    an_interview,
    narrator_of,
    run_jobs,
)
from tests.pages import links_of, signed_in, text_of
from tests.workflow.told import last_event

pytestmark = pytest.mark.django_db


@pytest.fixture
def narrator(volunteer):
    return narrator_of(a_started_interview(volunteer))


def test_it_is_signed_on_the_device_that_is_handed_over(narrator, volunteer):
    browser = signed_in(volunteer)
    browser.post(reverse("portal:agreement-hand-over", args=[narrator.pk]))
    assert "shows one agreement" in text_of(browser.get(reverse("narrator:consent")))
    browser.post(reverse("narrator:consent"), {"agree": "on"})
    page = browser.get(reverse("narrator:sign"))
    assert "Agreement to take part" in text_of(page)
    assert "Who may hear the recording?" not in text_of(page)
    signed = browser.post(
        reverse("narrator:sign"),
        {
            "signing": browser.session["signing"],
            "wording": page.context["wording"].pk,
            "text_sha256": page.context["text_sha256"],
            "method": "typed",
            "typed_name": "Marit Oskarsen",
            "i_sign": "on",
        },
    )
    assert signed["Location"] == reverse("narrator:done")
    agreement = Agreement.objects.get()
    assert (agreement.participant, agreement.signer_name) == (narrator, "Marit Oskarsen")
    assert last_event(narrator.interview)[0] == Action.AGREEMENT_SIGNED
    run_jobs(Kind.MAKE_AGREEMENT_COPY)
    assert b"".join(browser.get(reverse("narrator:copy")).streaming_content).startswith(b"%PDF-")


def test_it_is_no_release(narrator):
    a_signed_agreement(narrator)
    assert not Release.objects.exists()
    assert any("Marit Oskarsen" in told for told in missing_signatures(narrator.interview))


def test_its_signer_gets_a_copy_that_anybody_can_check(narrator):
    agreement = a_signed_agreement(narrator)
    run_jobs(Kind.MAKE_AGREEMENT_COPY)
    assert existing(OutputKind.AGREEMENT_COPY, agreement.pk)
    assert Message.objects.filter(key=f"agreement-copy-{agreement.pk}").exists()
    checked = text_of(signed_in(narrator.interview.owner).get(reverse("narrator:check-paper", args=[agreement.number])))
    assert f"Agreement to take part {agreement.number}" in checked
    assert "Oskarsen" not in checked


def test_a_session_for_one_paper_signs_no_other(narrator):
    session = a_signing_session(narrator)
    with pytest.raises(Refused, match="opened for another paper"):
        releases.agree(session.pk, wording_id=1, text_sha256="", signature=None)


def test_it_is_given_aloud_and_tied_to_its_time(narrator, volunteer):
    part = a_part_stored(narrator.interview)
    browser = signed_in(volunteer)
    interview = reverse("portal:interview-detail", args=[narrator.interview_id])
    page = reverse("portal:agreement-spoken", args=[narrator.pk])
    assert page in links_of(browser.get(interview))
    browser.post(page, {"part_id": part.pk, "at_seconds": "0:00.2"})
    agreement = Agreement.objects.get()
    assert (agreement.method, agreement.spoken_in, agreement.spoken_at_seconds) == ("spoken", part, 0.2)
    assert (agreement.wording, agreement.noted_by) == (None, volunteer)
    assert "Agreed aloud to take part, part 1 at 0:00.2." in text_of(browser.get(interview))


def test_a_part_of_another_interview_proves_nothing(narrator, volunteer):
    elsewhere = a_part_stored(a_started_interview(volunteer))
    with pytest.raises(Refused, match="Choose the part of this interview"):
        note_spoken_agreement(narrator.pk, part_id=elsewhere.pk, at_seconds=1.0, actor=volunteer)


def test_somebody_agrees_once_and_not_after_the_end(narrator, volunteer, archivist):
    a_signed_agreement(narrator)
    with pytest.raises(Refused, match="has agreed already"):
        releases.open_signing(narrator.pk, actor=volunteer, moment=Moment.AGREEMENT)
    accepted = an_interview(State.ACCEPTED, reviewer=archivist)
    with pytest.raises(Refused, match="nothing can be signed"):
        releases.open_signing(narrator_of(accepted).pk, actor=archivist, moment=Moment.AGREEMENT)


@pytest.mark.parametrize("wrong", [{"wording": None}, {"method": "spoken"}, {"spoken_at_seconds": 1.0}])
def test_the_database_lets_no_agreement_be_half_spoken(narrator, wrong):
    agreement = a_signed_agreement(narrator)
    with pytest.raises(IntegrityError, match="agreement_is_spoken_or_signed"), transaction.atomic():
        Agreement.objects.filter(pk=agreement.pk).update(**wrong)
