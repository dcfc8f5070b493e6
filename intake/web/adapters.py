"""How the sign-in library behaves here: no signing up, and our own library's name in what it sends and shows."""

from allauth.account.adapter import DefaultAccountAdapter
from allauth.mfa.adapter import DefaultMFAAdapter
from django.http import HttpRequest

from intake.library import services as library


class AccountAdapter(DefaultAccountAdapter):
    """Accounts are made by invitation or kit code alone."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def get_from_email(self) -> str:
        return library.sender()


class MFAAdapter(DefaultMFAAdapter):
    def get_totp_issuer(self) -> str:
        """What the app on the phone calls this account."""
        return library.current().name
