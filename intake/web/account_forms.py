"""The sign-in library's forms, in our words."""

from typing import Any, ClassVar

from allauth.account import forms as account
from allauth.mfa.base import forms as mfa
from allauth.mfa.totp import forms as totp
from django import forms

from intake.web.forms import PlainWords

PASSWORD = "Write your password."  # noqa: S105  a sentence
CODE = "Type the code that your app shows, or one of your recovery codes."


class OurLabels(forms.BaseForm):
    """The same word for an address as on every other page; a label is enough, without a hint inside the field."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            field.widget.attrs.pop("placeholder", None)
            if name in {"login", "email"}:
                field.label = "E-mail address"


class LoginForm(PlainWords, OurLabels, account.LoginForm):
    asks: ClassVar = {"login": "Write your e-mail address.", "password": PASSWORD}


class ResetPasswordForm(PlainWords, OurLabels, account.ResetPasswordForm):
    asks: ClassVar = {"email": "Write your e-mail address."}


class ResetPasswordKeyForm(PlainWords, OurLabels, account.ResetPasswordKeyForm):
    asks: ClassVar = {"password1": "Choose a new password.", "password2": "Write the new password once more."}


class ChangePasswordForm(PlainWords, OurLabels, account.ChangePasswordForm):
    asks: ClassVar = {
        "oldpassword": "Write the password you have now.",
        "password1": "Choose a new password.",
        "password2": "Write the new password once more.",
    }


class ReauthenticateForm(PlainWords, OurLabels, account.ReauthenticateForm):
    asks: ClassVar = {"password": PASSWORD}


class AuthenticateForm(PlainWords, OurLabels, mfa.AuthenticateForm):
    asks: ClassVar = {"code": CODE}


class MFAReauthenticateForm(PlainWords, OurLabels, mfa.ReauthenticateForm):
    asks: ClassVar = {"code": CODE}


class ActivateTOTPForm(PlainWords, OurLabels, totp.ActivateTOTPForm):
    asks: ClassVar = {"code": "Type the code that your app shows."}
