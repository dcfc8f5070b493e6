"""The forms a signer meets. Nothing is ticked beforehand."""

import base64
import binascii
from typing import ClassVar, cast

from django import forms
from django.utils import timezone

from intake.outputs.paper.signature import drawn_signature
from intake.releases.models import Access, Method
from intake.web.forms import Form
from intake.web.widgets import DateInput

NOTHING_DRAWN = "Draw your signature in the field, or choose to type your name."
UNREADABLE = "We could not read the drawing. Draw it again, or choose to type your name."
MAX_PNG_BYTES = 400_000
# Of 255; a stroke is darker than this, an empty field is not.
DARK_ENOUGH = 200
DATA_URL = "data:image/png;base64,"


class ConsentForm(Form):
    asks: ClassVar = {"agree": "Tick this if you agree to sign on this screen; if not, ask for the printed form."}
    agree = forms.BooleanField(label="I agree to sign on this screen, and to get my copy as a file.")


class SignForm(Form):
    asks: ClassVar = {
        "access": "Choose who may hear the recording.",
        "method": "Choose how you want to sign.",
        "i_sign": "Tick this once you have read the release: it is your signature's word.",
        "wording": "Open the release again and read it.",
    }
    # The wording that was read, even if a newer one comes into force meanwhile.
    wording = forms.IntegerField(widget=forms.HiddenInput)
    access = forms.ChoiceField(label="Who may hear the recording?", choices=Access.choices, widget=forms.RadioSelect)
    closed_until = forms.DateField(
        label="Closed until", required=False, widget=DateInput(), help_text="Only if you choose “Closed until a date”."
    )
    name_withheld = forms.BooleanField(
        label="Withhold my name",
        required=False,
        help_text="The library then leaves your name out of what it shows. "
        "Your voice and what you tell may still let people know you.",
    )
    method = forms.ChoiceField(label="How do you want to sign?", choices=Method.choices, widget=forms.RadioSelect)
    typed_name = forms.CharField(label="Your full name", max_length=200, required=False)
    signature_png = forms.CharField(
        label="Your signature", required=False, widget=forms.HiddenInput, max_length=MAX_PNG_BYTES * 4 // 3 + 100
    )
    i_sign = forms.BooleanField(label="I have read the release above, and I sign it.")

    def clean_closed_until(self):
        day = self.cleaned_data["closed_until"]
        if day and day <= timezone.localdate():
            raise forms.ValidationError("Choose a day in the future.")
        return day

    def clean(self) -> dict:
        data = super().clean() or {}
        if data.get("access") == Access.CLOSED and not data.get("closed_until") and "closed_until" not in self.errors:
            self.add_error("closed_until", "Say until which day the recording stays closed.")
        if data.get("access") and data["access"] != Access.CLOSED:
            data["closed_until"] = None
        if data.get("method") == Method.TYPED and not data.get("typed_name"):
            self.add_error("typed_name", "Type your full name, as your signature.")
        data["png"] = self._drawing(data) if data.get("method") == Method.DRAWN else None
        return data

    def _drawing(self, data: dict) -> bytes | None:
        """The drawn signature as PNG bytes, checked to be a picture with a stroke in it."""
        if not data.get("signature_png"):
            self.add_error("signature_png", NOTHING_DRAWN)
            return None
        try:
            png = base64.b64decode(data.get("signature_png", "").removeprefix(DATA_URL), validate=True)
            image = drawn_signature(png)
        except (binascii.Error, ValueError):
            self.add_error("signature_png", UNREADABLE)
            return None
        darkest, _ = cast("tuple[int, int]", image.convert("L").getextrema())
        if darkest > DARK_ENOUGH:
            self.add_error("signature_png", NOTHING_DRAWN)
            return None
        return png


class CheckForm(Form):
    asks: ClassVar = {"number": "Type the number that is printed on the paper."}
    number = forms.CharField(
        label="Number on the paper", max_length=20, help_text="It begins with R or S, such as R-7K2M-9QXD-4TBC."
    )

    def clean_number(self) -> str:
        """Only what a number is made of: it becomes part of an address."""
        number = "".join(sign for sign in self.cleaned_data["number"] if sign.isalnum() or sign == "-")
        if not number.strip("-"):
            raise forms.ValidationError("Type the number that is printed on the paper.")
        return number
