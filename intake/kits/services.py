"""Lend a kit, take it back, and the loan's code that signs its borrower in once."""

from datetime import date, datetime, time, timedelta

from django.db import IntegrityError, transaction
from django.utils import timezone

from intake.accounts.models import Role, User
from intake.accounts.services import has_second_step
from intake.audit.actions import Action
from intake.audit.services import record
from intake.codes import digest_of, normal_code, readable_code
from intake.errors import DoneAlready, Refused
from intake.kits.models import Card, Kit, Loan
from intake.people import services as people
from intake.people.models import Person

DEAD_CODE = "This code is not known, has been used, or is too old. Look at it again, or ask the library for a new one."
LONGEST_LOAN = timedelta(days=2 * 366)
# The borrower may come home late from the last interview.
CODE_OUTLIVES_LOAN = timedelta(days=7)


def add_kit(*, number: str, contents: str, actor: User) -> Kit:
    """Put a new numbered bag on the shelf."""
    try:
        with transaction.atomic():
            kit = Kit.objects.create(number=number, contents=contents)
            record(actor=actor, action=Action.KIT_ADDED, subject=kit)
    except IntegrityError as error:
        raise Refused(f"There is a kit {number} already.") from error
    return kit


def lend(kit_id: int, *, name: str, email: str, due_on: date, actor: User) -> tuple[Loan, str]:
    """Lend a kit that is on the shelf to a borrower.

    Returns the loan and its code, which is not kept and is shown only now.
    """
    if due_on < timezone.localdate():
        raise Refused("The day the kit is due back has passed already.")
    if due_on > timezone.localdate() + LONGEST_LOAN:
        raise Refused("A kit is lent for two years at most.")
    code = readable_code()
    try:
        with transaction.atomic():
            borrower = _borrower(name, email, actor)
            loan = Loan.objects.create(
                kit_id=kit_id,
                borrower=borrower,
                lent_by=actor,
                due_on=due_on,
                code_sha256=digest_of(code),
                code_expires_at=_code_expiry(due_on),
            )
            record(actor=actor, action=Action.KIT_LENT, subject=loan.kit, names={"borrower": name}, loan=loan.pk)
    except IntegrityError as error:
        raise Refused("This kit is out already. Take it back first.") from error
    return loan, code


@transaction.atomic
def issue_code(loan_id: int, *, actor: User) -> str:
    """A new code for an open loan, in place of a lost or spent one."""
    loan = Loan.objects.select_for_update().get(pk=loan_id)
    if loan.returned_at:
        raise Refused("This kit has come back, so its loan needs no code any more.")
    code = readable_code()
    loan.code_sha256, loan.code_expires_at, loan.code_used_at = digest_of(code), _code_expiry(loan.due_on), None
    loan.save(update_fields=["code_sha256", "code_expires_at", "code_used_at"])
    record(actor=actor, action=Action.KIT_CODE_ISSUED, subject=loan.kit, loan=loan.pk)
    return code


@transaction.atomic
def take_back(loan_id: int, *, condition: str, card: Card, told_of_card: str, actor: User) -> Loan:
    """Close a loan; the code dies with it.

    `told_of_card` is what the site said of the loan's recordings at that moment. It never holds a kit back.
    """
    loan = Loan.objects.select_for_update().get(pk=loan_id)
    if loan.returned_at:
        raise DoneAlready("This kit has come back already.")
    loan.returned_at, loan.condition_back = timezone.now(), condition
    loan.card, loan.told_of_card = card, told_of_card
    loan.save(update_fields=["returned_at", "condition_back", "card", "told_of_card"])
    record(
        actor=actor,
        action=Action.KIT_TAKEN_BACK,
        subject=loan.kit,
        loan=loan.pk,
        card=loan.card,
        told_of_card=told_of_card,
    )
    return loan


def open_code(typed: str) -> Loan:
    """The loan behind a code that still works. Raises Refused."""
    loan = Loan.objects.select_related("borrower__user").filter(code_sha256=digest_of(normal_code(typed))).first()
    if loan is None or loan.code_used_at or loan.returned_at or loan.code_expires_at < timezone.now():
        raise Refused(DEAD_CODE)
    return loan


@transaction.atomic
def redeem_code(typed: str, *, name: str = "", password: str = "") -> User:
    """Spend the code and give the borrower's account, opened now if there was none.

    One conditional UPDATE spends it once.
    """
    loan = open_code(typed)
    spendable = Loan.objects.filter(pk=loan.pk, code_sha256=loan.code_sha256, code_used_at=None, returned_at=None)
    if not spendable.update(code_used_at=timezone.now()):
        raise Refused(DEAD_CODE)
    user = loan.borrower.user or people.open_account(loan.borrower, name=name, password=password, role=Role.VOLUNTEER)
    if not user.is_active:
        raise Refused("This account is closed. Ask the library.")
    # SECURITY: whoever lends a kit sees its code, and would become any member of staff by lending them one.
    if user.is_archivist:
        raise Refused("Staff sign in with their password.")
    # SECURITY: nor does a code on a slip of paper stand in for a second factor.
    if has_second_step(user):
        raise Refused("Your account has a second step, so sign in with your password.")
    record(actor=user, action=Action.KIT_CODE_USED, subject=loan.kit, loan=loan.pk)
    return user


def open_loans_of(user: User) -> list[Loan]:
    """The kits that somebody with an account has not brought back."""
    return list(Loan.objects.filter(borrower__user=user, returned_at=None).select_related("kit").order_by("due_on"))


def _borrower(name: str, email: str, actor: User) -> Person:
    """Someone with an account, or who borrowed before, at that address; else somebody new."""
    email = email.lower()
    account = User.objects.filter(email=email).first()
    if account:
        return people.person_of(account)
    known = Person.objects.filter(email=email, loans__isnull=False).first()
    return known or people.note_person(name=name, email=email, actor=actor)


def _code_expiry(due_on: date) -> datetime:
    return timezone.make_aware(datetime.combine(due_on, time.max)) + CODE_OUTLIVES_LOAN
