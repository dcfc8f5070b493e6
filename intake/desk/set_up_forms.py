"""The forms of the set-up. Forms check shape; services check rules."""

from typing import Any

from django import forms
from django.conf import settings

from intake.interviews.models import Participant
from intake.library.models import Library, MailSecurity
from intake.library.placeholders import faults_of
from intake.outputs import letters
from intake.releases.models import Basis, Moment
from intake.releases.wordings import PLACEHOLDERS
from intake.web.forms import Form

MOST_BUNDLE_BYTES = 100_000


class LibraryForm(Form):
    name = forms.CharField(label="Name of the library", max_length=120)
    room = forms.CharField(label="Room or department", max_length=120, help_text="Who asks for and keeps recordings.")
    place = forms.CharField(label="Place", max_length=120, help_text="The town, as it stands on papers.")
    contact = forms.CharField(
        label="Address and telephone",
        max_length=600,
        required=False,
        widget=forms.Textarea({"rows": 4}),
        help_text="Printed on papers line by line, as you write it here.",
    )
    email = forms.EmailField(
        label="E-mail address", max_length=254, help_text="At the foot of every page and paper: where people may ask."
    )


class LogoForm(Form):
    logo = forms.FileField(
        label="Picture",
        widget=forms.FileInput({"accept": "image/png,image/jpeg"}),
        help_text="PNG or JPEG, at most 4 MB. It is shown small, on a white ground.",
    )


class NumbersForm(Form):
    pattern = forms.CharField(
        label="Pattern",
        max_length=60,
        help_text="{year} becomes the year of acceptance, {sequence:04d} the running number with at least four digits.",
        widget=forms.TextInput({"autocomplete": "off", "spellcheck": "false"}),
    )
    copy_names = forms.CharField(
        label="Names of copies",
        max_length=80,
        help_text="Filled in are {date}, {narrator}, {part}, {accession}, {collection} and {place}. A name that is "
        "withheld never stands in it, and letters that some computer would not take are written plainly.",
        widget=forms.TextInput({"autocomplete": "off", "spellcheck": "false"}),
    )


class MailForm(Form):
    """The password is never shown again: left empty, the one that was given stays."""

    server = forms.CharField(label="Mail server", max_length=253, help_text="For example mail.library.example.org")
    port = forms.IntegerField(min_value=1, max_value=65535)
    security = forms.ChoiceField(label="Protection", choices=MailSecurity.choices)
    user = forms.CharField(
        label="User name", max_length=254, required=False, widget=forms.TextInput({"autocomplete": "off"})
    )
    password = forms.CharField(
        max_length=300,
        required=False,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
        help_text="Kept encrypted and never shown again. Leave it empty to keep the one you gave before.",
    )
    sender = forms.EmailField(
        label="Sender's address",
        max_length=254,
        required=False,
        help_text="From which the server lets you send. Left empty, it is the library's own address.",
    )


class CertificateForm(Form):
    """The library's own certificate with its key, as the authority that issued it hands it out."""

    bundle = forms.FileField(label="Certificate and key (PKCS #12: .p12 or .pfx)")
    password = forms.CharField(
        label="Its password",
        max_length=300,
        required=False,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "off"}),
        help_text="Used to open the file, and not kept.",
    )

    def clean_bundle(self):
        bundle = self.cleaned_data["bundle"]
        if bundle.size > MOST_BUNDLE_BYTES:
            raise forms.ValidationError("This file is too large to be a certificate with its key.")
        return bundle


class WordingForm(Form):
    moment = forms.ChoiceField(label="What it is", choices=Moment.choices)
    role = forms.ChoiceField(label="Who signs it", choices=Participant.Role.choices)
    language = forms.ChoiceField(choices=lambda: sorted(settings.LANGUAGES, key=lambda pair: pair[1]))
    basis = forms.ChoiceField(
        label="What it gives the library",
        choices=[("", "Nothing: an agreement to take part"), *Basis.choices],
        required=False,
        help_text="With a licence, the signer may also choose a Creative Commons licence for everybody.",
    )
    title = forms.CharField(max_length=200)
    text = forms.CharField(
        max_length=20_000,
        widget=forms.Textarea({"rows": 20}),
        help_text="Part paragraphs by an empty line. These are filled in for each interview: "
        + "; ".join(f"{{{name}}}, {meaning}" for name, meaning in PLACEHOLDERS.items())
        + ".",
    )

    def clean_text(self) -> str:
        text = self.cleaned_data["text"]
        if faults := faults_of(text, PLACEHOLDERS):
            raise forms.ValidationError(faults)
        return text

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("moment") == Moment.RELEASE and not data.get("basis"):
            self.add_error("basis", "Say what the release gives the library.")
        return data


class LetterTextForm(Form):
    text = forms.CharField(
        max_length=letters.LONGEST,
        widget=forms.Textarea({"rows": 20}),
        help_text="Part paragraphs by an empty line. These are filled in for each letter: "
        + "; ".join(f"{{{name}}}, {meaning}" for name, meaning in letters.PLACEHOLDERS.items())
        + ".",
    )


def library_values(library: Library) -> dict[str, str]:
    return {name: getattr(library, name) for name in LibraryForm.base_fields}


def mail_values(library: Library) -> dict[str, object]:
    return {
        "server": library.mail_server,
        "port": library.mail_port,
        "security": library.mail_security,
        "user": library.mail_user,
        "sender": library.mail_from,
    }
