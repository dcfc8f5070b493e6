"""The sign-in library's forms, in our words."""

from typing import Any, ClassVar

from allauth.account import forms as account
from allauth.mfa.base import forms as mfa
from allauth.mfa.totp import forms as totp

from intake.web.forms import PlainWords, sentences

ADDRESS = "E-mail address"
PASSWORD = "Write your password."  # noqa: S105  a sentence
CODE = "Type the code that your app shows, or one of your recovery codes."


class AccountForm(PlainWords):
    """The same word for an address as on every other page; a label is enough, without a hint inside the field."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            field.widget.attrs.pop("placeholder", None)
            if name in {"login", "email"}:
                field.label = ADDRESS
                field.error_messages["invalid"] = sentences(field, ADDRESS)["invalid"]


class LoginForm(AccountForm, account.LoginForm):
    asks: ClassVar = {"login": "Write your e-mail address.", "password": PASSWORD}


class ResetPasswordForm(AccountForm, account.ResetPasswordForm):
    asks: ClassVar = {"email": "Write your e-mail address."}


class ResetPasswordKeyForm(AccountForm, account.ResetPasswordKeyForm):
    asks: ClassVar = {"password1": "Choose a new password.", "password2": "Write the new password once more."}


class ChangePasswordForm(AccountForm, account.ChangePasswordForm):
    asks: ClassVar = {
        "oldpassword": "Write the password you have now.",
        "password1": "Choose a new password.",
        "password2": "Write the new password once more.",
    }


class ReauthenticateForm(AccountForm, account.ReauthenticateForm):
    asks: ClassVar = {"password": PASSWORD}


class AuthenticateForm(AccountForm, mfa.AuthenticateForm):
    asks: ClassVar = {"code": CODE}


class MFAReauthenticateForm(AccountForm, mfa.ReauthenticateForm):
    asks: ClassVar = {"code": CODE}


class ActivateTOTPForm(AccountForm, totp.ActivateTOTPForm):
    asks: ClassVar = {"code": "Type the code that your app shows."}
