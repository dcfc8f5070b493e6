"""The sign-in library's forms, in our words."""

from typing import ClassVar

from allauth.account import forms as account
from allauth.mfa.base import forms as mfa
from allauth.mfa.totp import forms as totp

from intake.web.forms import PlainWords

PASSWORD = "Write your password."  # noqa: S105  a sentence
CODE = "Type the code that your app shows, or one of your recovery codes."


class LoginForm(PlainWords, account.LoginForm):
    asks: ClassVar = {"login": "Write your e-mail address.", "password": PASSWORD}


class ResetPasswordForm(PlainWords, account.ResetPasswordForm):
    asks: ClassVar = {"email": "Write your e-mail address."}


class ResetPasswordKeyForm(PlainWords, account.ResetPasswordKeyForm):
    asks: ClassVar = {"password1": "Choose a new password.", "password2": "Write the new password once more."}


class ChangePasswordForm(PlainWords, account.ChangePasswordForm):
    asks: ClassVar = {
        "oldpassword": "Write the password you have now.",
        "password1": "Choose a new password.",
        "password2": "Write the new password once more.",
    }


class ReauthenticateForm(PlainWords, account.ReauthenticateForm):
    asks: ClassVar = {"password": PASSWORD}


class AuthenticateForm(PlainWords, mfa.AuthenticateForm):
    asks: ClassVar = {"code": CODE}


class MFAReauthenticateForm(PlainWords, mfa.ReauthenticateForm):
    asks: ClassVar = {"code": CODE}


class ActivateTOTPForm(PlainWords, totp.ActivateTOTPForm):
    asks: ClassVar = {"code": "Type the code that your app shows."}
