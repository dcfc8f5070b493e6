"""Which rows somebody may know of: one table of rules, asked by every page. No rule means nobody."""

from collections.abc import Callable
from typing import TypeVar

from django.contrib.auth.models import AnonymousUser
from django.db.models import Model, Q, QuerySet

from intake.accounts.models import User
from intake.interviews.models import Attachment, Interview, Part, Participant
from intake.mail.models import Message
from intake.releases.models import Agreement, PrintedForm, Release, Scan, SignedForm

M = TypeVar("M", bound=Model)

_RULES: dict[type[Model], Callable[[User], Q]] = {
    Interview: lambda user: Q(owner=user),
    Part: lambda user: Q(interview__owner=user),
    Attachment: lambda user: Q(interview__owner=user),
    Participant: lambda user: Q(interview__owner=user),
    PrintedForm: lambda user: Q(participant__interview__owner=user),
    SignedForm: lambda user: Q(form__participant__interview__owner=user),
    Scan: lambda user: Q(signed_form__form__participant__interview__owner=user),
    Agreement: lambda user: Q(participant__person__user=user),
    Release: lambda user: Q(participant__person__user=user),
    Message: lambda user: Q(pk__in=()),  # staff alone
}


def visible(model: type[M], user: User | AnonymousUser) -> QuerySet[M]:
    """The rows of `model` that this user may know of.

    Staff all, volunteers what belongs to their own interviews, others none.
    """
    rows = model._default_manager.all()
    rule = _RULES.get(model)
    if rule is None or not isinstance(user, User) or not user.is_active:
        return rows.none()
    return rows if user.is_archivist else rows.filter(rule(user))
