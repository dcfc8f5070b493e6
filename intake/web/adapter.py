"""How sign-in behaves here: accounts are made by invitation or kit code, never by signing up."""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from django.core.mail import EmailMultiAlternatives
from django.http import HttpRequest

from intake.mail.letters import letter


class AccountAdapter(DefaultAccountAdapter):
    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

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
        return letter(to=to, subject=plain.subject, text=plain.body + "\n")
