"""How the sign-in library behaves here: no signing up, and our own library's name in what it sends and shows."""

import time
from typing import Any

from allauth.account import app_settings
from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.internal.flows.login import get_authentication_records
from allauth.mfa.adapter import DefaultMFAAdapter
from django.core.mail import EmailMultiAlternatives
from django.http import HttpRequest

from intake.library import services as library
from intake.mail.emails import email_to


class AccountAdapter(DefaultAccountAdapter):
    """Accounts are made by invitation or kit code alone."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def is_reauthentication_required(self, *, app: str, **kwargs: Any) -> bool:
        """The password is not asked for twice in a row: a sign-in of the last minutes is proof enough."""
        records = get_authentication_records(self.request, self.request.user)
        is_fresh = bool(records) and time.time() - records[-1]["at"] < app_settings.REAUTHENTICATION_TIMEOUT
        return not is_fresh and super().is_reauthentication_required(app=app, **kwargs)

    def render_mail(
        self,
        template_prefix: str,
        email: str | list[str],
        context: dict[str, Any],
        headers: dict[str, str] | None = None,
    ) -> EmailMultiAlternatives:
        """A new password's link looks like every other e-mail of ours. It is sent at once and kept nowhere."""
        plain = super().render_mail(template_prefix, email, context, headers)
        (to,) = plain.to
        return email_to(to=to, subject=plain.subject, text=plain.body + "\n")


class MFAAdapter(DefaultMFAAdapter):
    def get_totp_issuer(self) -> str:
        """What the app on the phone calls this account."""
        return library.current().name
