"""Wordings: what stands in for placeholders, who may put one into force, and in which language somebody signs."""

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from intake.errors import Refused
from intake.interviews import participants
from intake.library.placeholders import faults_of
from intake.releases import services as releases
from intake.releases.models import Basis, Release, Wording
from intake.releases.starters import release_text
from intake.releases.wordings import PLACEHOLDERS, digest_of_text, example_of, filled, put_into_force, wording_for
from tests.factories import (
    a_signing_session,
    a_started_interview,
    a_typed_signature,
    choices,
    describe_the_library,
    narrator_of,
)
from tests.pages import links_of, signed_in, text_of

pytestmark = pytest.mark.django_db
KIND = {"moment": "release", "role": "narrator", "language": "en", "basis": "licence", "title": "Our release"}


@pytest.fixture
def narrator(volunteer):
    return narrator_of(a_started_interview(volunteer))


def put(text: str, coordinator, **changed) -> Wording:
    return put_into_force(**{**KIND, **changed}, text=text, actor=coordinator)


def test_every_placeholder_is_filled_in(narrator, coordinator):
    describe_the_library(coordinator)
    wording = put(" / ".join(f"{{{name}}}" for name in PLACEHOLDERS), coordinator)
    assert filled(wording, narrator) == (
        "Alder Ferry Public Library / Local History Room / Marit Oskarsen / Marit Oskarsen / Tobias Wrenfield / "
        "14 Mar 2026 / The kitchen of the old toll house / Both Banks: the crossing years"
    )


def test_a_date_is_written_as_the_language_writes_it(narrator, coordinator):
    wording = put("El {recorded_on}.", coordinator, language="es")
    assert filled(wording, narrator) == "El 14 de marzo de 2026."


def test_a_name_that_looks_like_a_placeholder_stays_a_name(volunteer, coordinator):
    narrator = narrator_of(a_started_interview(volunteer))
    narrator.person.name = "{library} {signer}"
    assert filled(put("I, {signer}.", coordinator), narrator) == "I, {library} {signer}."


@pytest.mark.parametrize("text", ["I, {sinner}, agree.", "{0x}", "{library} {libary}"])
def test_what_nothing_stands_in_for_is_refused_with_what_there_is(text, coordinator):
    with pytest.raises(Refused, match=r"There are: \{library\}"):
        put(text, coordinator)


def test_braces_around_other_things_are_left_alone(narrator, coordinator):
    assert filled(put("{signer.__class__} { signer } {}", coordinator), narrator) == "{signer.__class__} { signer } {}"


def test_a_release_says_what_it_gives_and_an_agreement_gives_nothing(coordinator):
    with pytest.raises(Refused, match="Say what the release gives"):
        put("Text", coordinator, basis="")
    assert put("Text", coordinator, moment="agreement").basis == ""


def test_the_database_wants_a_basis_for_a_release():
    with pytest.raises(IntegrityError, match="release_wording_says_what_it_gives"), transaction.atomic():
        Wording.objects.filter(moment="release").update(basis="")


def test_only_the_coordinator_puts_a_wording_into_force(archivist):
    with pytest.raises(Refused, match="Only the coordinator"):
        put("Text", archivist)


def test_a_preview_shows_it_with_an_invented_interview_and_changes_nothing(coordinator):
    start = wording_for("release", "narrator", "en")
    typed = {**KIND, "text": "I, {signer}, spoke on {recorded_on}.", "preview": "1"}
    answer = signed_in(coordinator).post(reverse("desk:wording-new-version", args=[start.pk]), typed)
    assert "I, Marit Oskarsen, spoke on 14 Mar 2026." in text_of(answer)
    assert "I, {signer}, spoke on" in answer.content.decode()
    assert wording_for("release", "narrator", "en") == start
    assert example_of("{nobody}") == "{nobody}"


def test_an_unknown_placeholder_is_told_at_the_field(coordinator):
    start = wording_for("release", "narrator", "en")
    answer = signed_in(coordinator).post(
        reverse("desk:wording-new-version", args=[start.pk]), {**KIND, "text": "I, {sinner}"}
    )
    assert "Nothing stands in for {sinner}." in text_of(answer)


# What was read is what is signed


def test_a_text_that_changed_since_it_was_read_is_not_signed(narrator, volunteer):
    session, wording = a_signing_session(narrator), wording_for("release", "narrator", "en")
    read = digest_of_text(filled(wording, narrator))
    person = narrator.person
    participants.correct_participant(narrator.pk, name="Marit Oskarsen-Holm", email=person.email, actor=volunteer)
    with pytest.raises(Refused, match="the text has changed with it"):
        releases.sign(
            session.pk, wording_id=wording.pk, text_sha256=read, choices=choices(), signature=a_typed_signature()
        )
    assert not Release.objects.exists()


def test_the_signer_chooses_the_language_to_read_and_sign_in(narrator, volunteer):
    browser = signed_in(volunteer)
    browser.post(reverse("portal:release-hand-over", args=[narrator.pk]))
    browser.post(reverse("narrator:consent"), {"agree": "on"})
    page = browser.get(reverse("narrator:sign"), {"language": "es"})
    assert "Yo, Marit Oskarsen, he contado mis recuerdos" in text_of(page)
    assert 'lang="es"' in page.content.decode()
    signing = {"signing": browser.session["signing"], "access": "open", "licence": "CC-BY-NC-4.0"}
    browser.post(
        reverse("narrator:sign"),
        {
            **signing,
            "wording": page.context["wording"].pk,
            "text_sha256": page.context["text_sha256"],
            "method": "typed",
            "typed_name": "Marit Oskarsen",
            "i_sign": "on",
        },
    )
    release = Release.objects.get()
    assert (release.wording.language, release.licence) == ("es", "CC-BY-NC-4.0")
    assert release.wording_text.startswith("Yo, Marit Oskarsen,")


# Public licences


def sign(narrator, wording, **chosen) -> Release:
    return releases.sign(
        a_signing_session(narrator).pk,
        wording_id=wording.pk,
        text_sha256=digest_of_text(filled(wording, narrator)),
        choices=choices(**chosen),
        signature=a_typed_signature(),
    )


@pytest.mark.parametrize("basis", ["transfer", "deposit"])
def test_who_gives_the_copyright_away_or_keeps_every_use_hands_no_licence_out(narrator, coordinator, basis):
    wording = put("I agree.", coordinator, basis=basis)
    with pytest.raises(Refused, match="hands no licence out"):
        sign(narrator, wording, licence="CC-BY-4.0")
    assert sign(narrator, wording).licence == ""


def test_a_public_licence_is_for_what_anybody_may_hear(narrator):
    wording = wording_for("release", "narrator", "en")
    with pytest.raises(Refused, match="for recordings that anybody may hear"):
        sign(narrator, wording, access="on-site", licence="CC-BY-4.0")
    release = sign(narrator, wording, licence="CC-BY-4.0")
    with pytest.raises(IntegrityError, match="release_under_a_licence_is_open"), transaction.atomic():
        Release.objects.filter(pk=release.pk).update(access="on-site")


@pytest.mark.parametrize("role", ["narrator", "interviewer", "guardian", "interpreter"])
@pytest.mark.parametrize("language", ["en", "es"])
def test_there_is_a_text_to_begin_with_for_all_that_a_release_can_give(role, language):
    texts = {basis: release_text(role, language, basis) for basis in Basis.values}
    assert len(set(texts.values())) == len(Basis)
    assert all(faults_of(text, PLACEHOLDERS) == [] for text in texts.values())
    paragraphs = [set(text.split("\n\n")) for text in texts.values()]
    assert {len(paragraph - set.intersection(*paragraphs)) for paragraph in paragraphs} == {1}
    assert texts["licence"] == Wording.objects.get(moment="release", role=role, language=language).text
    assert release_text(role, "uk", "transfer") == ""


def test_the_coordinator_begins_with_a_transfer_or_a_deposit(coordinator):
    browser, start = signed_in(coordinator), Wording.objects.get(moment="release", role="narrator", language="es")
    page = reverse("desk:wording-new-version", args=[start.pk])
    assert f"{page}?begin=deposit" in links_of(browser.get(page))
    begun = browser.get(page, {"begin": "deposit"}).content.decode()
    assert "Dejo la grabación en depósito en la biblioteca." in begun
    assert '<option value="deposit" selected' in begun
    assert "Autorizo a la biblioteca" in browser.get(page, {"begin": "nothing"}).content.decode()
