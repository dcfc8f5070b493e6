"""One form per action of the volunteer. Forms check shape; services check rules."""

from django import forms
from django.contrib.auth.password_validation import validate_password

from intake.interviews.models import Participant
from intake.web.forms import DescriptionForm


class StartForm(DescriptionForm):
    narrator_name = forms.CharField(
        label="Narrator",
        max_length=200,
        help_text="The person you interviewed, as they want to be named.",
        widget=forms.TextInput({"autocomplete": "off"}),
    )
    narrator_email = forms.EmailField(
        max_length=254,
        label="Narrator's e-mail address",
        required=False,
        help_text="For their copy of the release and the receipt. Only you and the library see it.",
        widget=forms.EmailInput({"autocomplete": "off"}),
    )
    field_order = ("narrator_name", "narrator_email")


class PersonForm(forms.Form):
    name = forms.CharField(max_length=200, widget=forms.TextInput({"autocomplete": "off"}))
    email = forms.EmailField(
        label="E-mail address", max_length=254, required=False, widget=forms.EmailInput({"autocomplete": "off"})
    )


class ParticipantForm(PersonForm):
    role = forms.ChoiceField(choices=Participant.Role.choices)
    field_order = ("role", "name", "email")


class WithdrawForm(forms.Form):
    reason = forms.CharField(
        label="Why is it withdrawn?",
        help_text="A few words are enough, such as: the narrator wishes it.",
        widget=forms.Textarea({"rows": 3}),
        max_length=2000,
    )


class KitCodeForm(forms.Form):
    code = forms.CharField(
        label="Code on your loan slip",
        max_length=20,
        help_text="Eight letters and figures, such as K7QM-3XWD.",
        widget=forms.TextInput(
            {"autocomplete": "one-time-code", "autocapitalize": "characters", "spellcheck": "false"}
        ),
    )


class WelcomeForm(forms.Form):
    name = forms.CharField(label="Your name", max_length=200, widget=forms.TextInput({"autocomplete": "name"}))
    password = forms.CharField(
        label="Choose a password",
        help_text="At least ten characters. Three or four words that do not belong together are good.",
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
        strip=False,
    )

    def clean_password(self) -> str:
        validate_password(self.cleaned_data["password"])
        return self.cleaned_data["password"]
