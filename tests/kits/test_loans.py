"""Kits and their loans: one borrower at a time, and a code that signs the borrower in once."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from intake.accounts.models import Role, User
from intake.audit.actions import Action
from intake.audit.models import Event
from intake.codes import ALPHABET, digest_of, normal_code, readable_code
from intake.errors import Refused
from intake.kits import services as kits
from intake.kits.models import Card, Kit, Loan
from tests.factories import PASSWORD, at_time, later


@pytest.fixture
def kit(archivist) -> Kit:
    return kits.add_kit(number="7", contents="recorder\nheadphones", actor=archivist)


@pytest.fixture
def lent(kit, archivist) -> tuple[Loan, str]:
    return lend(kit, archivist)


def lend(kit, actor, email="Lucinda@example.org", due_in_days=14):
    due_on = timezone.localdate() + timedelta(days=due_in_days)
    return kits.lend(kit.pk, name="Lucinda Farrow", email=email, due_on=due_on, actor=actor)


def redeem(code) -> User:
    return kits.redeem_code(code, name="Lucinda Farrow", password=PASSWORD)


def test_two_kits_cannot_have_one_number(kit, archivist):
    with pytest.raises(Refused, match="There is a kit 7 already"):
        kits.add_kit(number="7", contents="", actor=archivist)


def test_a_lent_kit_is_with_its_borrower(lent, archivist):
    loan, _ = lent
    assert (loan.borrower.name, loan.borrower.email) == ("Lucinda Farrow", "lucinda@example.org")
    assert (loan.lent_by, loan.returned_at) == (archivist, None)


def test_a_kit_that_is_out_is_not_lent_again(lent, kit, archivist):
    with pytest.raises(Refused, match="out already"):
        lend(kit, archivist, email="somebody@example.org")
    assert Loan.objects.count() == 1


def test_the_database_allows_one_open_loan_per_kit(lent):
    loan, _ = lent
    twin = {"kit": loan.kit, "borrower": loan.borrower, "lent_by": loan.lent_by, "due_on": loan.due_on}
    with pytest.raises(IntegrityError), transaction.atomic():
        Loan.objects.create(**twin, code_sha256="0" * 64, code_expires_at=loan.code_expires_at)


def test_a_kit_that_came_back_is_lent_again(lent, kit, archivist):
    kits.take_back(lent[0].pk, condition="complete", card=Card.CLEARED, told_of_card="", actor=archivist)
    assert lend(kit, archivist)


def test_a_kit_comes_back_once(lent, archivist):
    loan = kits.take_back(
        lent[0].pk, condition="wind cover missing", card=Card.CLEARED, told_of_card="", actor=archivist
    )
    assert (loan.condition_back, bool(loan.returned_at)) == ("wind cover missing", True)
    with pytest.raises(Refused, match="come back already"):
        kits.take_back(loan.pk, condition="", card=Card.CLEARED, told_of_card="", actor=archivist)


def test_a_kit_is_not_lent_until_yesterday(kit, archivist):
    with pytest.raises(Refused, match="passed already"):
        lend(kit, archivist, due_in_days=-1)
    assert lend(kit, archivist, due_in_days=0)


def test_a_borrower_who_is_known_is_the_same_person(lent, kit, archivist):
    kits.take_back(lent[0].pk, condition="", card=Card.CLEARED, told_of_card="", actor=archivist)
    again, _ = lend(kit, archivist, email="LUCINDA@example.org")
    assert again.borrower == lent[0].borrower


# The code


def test_the_code_opens_an_account_for_a_new_borrower(lent):
    user = redeem(lent[1])
    assert (user.email, user.role) == ("lucinda@example.org", Role.VOLUNTEER)
    assert user.person == lent[0].borrower


def test_the_code_signs_in_a_borrower_who_has_an_account(kit, archivist, volunteer):
    kits.people.person_of(volunteer)
    _, code = lend(kit, archivist, email=volunteer.email)
    assert kits.redeem_code(code) == volunteer


def test_the_code_works_once(lent):
    redeem(lent[1])
    with pytest.raises(Refused, match="not known, has been used, or is too old"):
        redeem(lent[1])


def test_the_code_is_not_kept(lent):
    loan, code = lent
    assert code not in str(Loan.objects.values().get())
    assert loan.code_sha256 == digest_of(code)


def test_the_code_may_be_typed_in_small_letters_and_without_its_hyphen(lent):
    assert redeem(f" {lent[1].replace('-', '').lower()} ")


def test_another_code_opens_nothing(lent):
    with pytest.raises(Refused):
        kits.open_code("2222-2222")


@pytest.mark.parametrize("nothing", ["", "-", "   ", "é"])
def test_nothing_typed_opens_nothing(lent, nothing):
    with pytest.raises(Refused):
        kits.open_code(nothing)


def test_the_code_outlives_the_day_due_by_a_week(lent):
    with at_time(later(days=20)):
        assert kits.open_code(lent[1])
    with at_time(later(days=23)), pytest.raises(Refused, match="too old"):
        redeem(lent[1])


def test_the_code_dies_when_the_kit_comes_back(lent, archivist):
    kits.take_back(lent[0].pk, condition="", card=Card.CLEARED, told_of_card="", actor=archivist)
    with pytest.raises(Refused):
        redeem(lent[1])


def test_a_new_code_takes_the_place_of_the_old_one(lent, archivist):
    new = kits.issue_code(lent[0].pk, actor=archivist)
    with pytest.raises(Refused):
        redeem(lent[1])
    assert redeem(new)


def test_a_spent_code_can_be_replaced(lent, archivist):
    user = redeem(lent[1])
    assert kits.redeem_code(kits.issue_code(lent[0].pk, actor=archivist)) == user


def test_a_loan_that_is_over_gets_no_new_code(lent, archivist):
    kits.take_back(lent[0].pk, condition="", card=Card.CLEARED, told_of_card="", actor=archivist)
    with pytest.raises(Refused, match="needs no code"):
        kits.issue_code(lent[0].pk, actor=archivist)


def test_a_closed_account_is_not_opened_by_a_code(kit, archivist, volunteer):
    kits.people.person_of(volunteer)
    volunteer.is_active = False
    volunteer.save()
    loan, code = lend(kit, archivist, email=volunteer.email)
    with pytest.raises(Refused, match="account is closed"):
        kits.redeem_code(code)
    loan.refresh_from_db()
    assert loan.code_used_at is None


def test_nobody_becomes_staff_by_lending_them_a_kit(kit, archivist, coordinator):
    """The lender sees the code, so it must not open an account with more rights than a volunteer's."""
    kits.people.person_of(coordinator)
    _, code = lend(kit, archivist, email=coordinator.email)
    with pytest.raises(Refused, match="Staff sign in with their password"):
        kits.redeem_code(code)


def test_lending_and_taking_back_are_recorded(lent, archivist):
    redeem(lent[1])
    kits.issue_code(lent[0].pk, actor=archivist)
    kits.take_back(lent[0].pk, condition="", card=Card.CLEARED, told_of_card="", actor=archivist)
    told = list(Event.objects.order_by("id").values_list("action", flat=True))
    assert told == [
        Action.KIT_ADDED,
        Action.KIT_LENT,
        Action.ACCOUNT_OPENED,
        Action.KIT_CODE_USED,
        Action.KIT_CODE_ISSUED,
        Action.KIT_TAKEN_BACK,
    ]
    assert "Lucinda" not in str(list(Event.objects.values_list("details", flat=True)))


def test_codes_are_made_of_letters_that_are_not_mistaken_for_each_other():
    assert not set("01OILUV") & set(ALPHABET)
    codes = {readable_code() for _ in range(200)}
    assert len(codes) == 200
    assert all(set(code) <= {*ALPHABET, "-"} for code in codes)


def test_a_code_has_38_bits():
    """NIST SP 800-63B, section 5.1.2 asks at least 20 bits of a look-up secret whose guesses are limited."""
    assert 2**38 < len(ALPHABET) ** 8 < 2**39


@pytest.mark.parametrize("typed", ["K7QM-3XWD", "k7qm3xwd", "K7QM 3XWD", " k7-qm-3x-wd ", "K7QM–3XWD"])
def test_a_code_is_understood_however_it_is_typed(typed):
    assert normal_code(typed) == "K7QM-3XWD"
