"""The forms a signer meets. Nothing is ticked beforehand."""

import base64
import binascii
import unicodedata
from typing import Any, ClassVar, cast

from django import forms
from django.utils import timezone

from intake.interviews.models import Part
from intake.outputs.paper.signature import drawn_signature
from intake.releases.models import ON_SCREEN, Method
from intake.web.choices import ChoicesForm
from intake.web.forms import Form
from intake.web.timecodes import StretchForm

NOTHING_DRAWN = "Draw your signature in the field, or choose to type your name."
UNREADABLE = "We could not read the drawing. Draw it again, or choose to type your name."
MAX_PNG_BYTES = 400_000
# A release with twenty scanned pages in it; nothing larger is a paper of ours.
MOST_PAPER_BYTES = 60_000_000
# Of 255; a stroke is darker than this, an empty field is not.
DARK_ENOUGH = 200
DATA_URL = "data:image/png;base64,"


ASKED = (
    "If this is how you sign, say so here. If not, type your own name. If this release is not for you, give the device "
    "back."
)


def same_name(typed: str, known: str) -> bool:
    """Whether two names are the same but for capitals, spaces, accents and punctuation."""
    return _letters(typed) == _letters(known)


def _letters(name: str) -> str:
    apart = unicodedata.normalize("NFKD", name.casefold())
    return "".join(sign for sign in apart if sign.isalnum())


class ConsentForm(Form):
    asks: ClassVar = {"agree": "Tick this if you agree to sign on this screen; if not, ask for the printed form."}
    agree = forms.BooleanField(label="I agree to sign on this screen, and to get my copy as a file.")


class AgreeForm(Form):
    """What is asked of everybody who signs on a screen."""

    asks: ClassVar = {
        "method": "Choose how you want to sign.",
        "i_sign": "Tick this once you have read the text: it is your signature's word.",
        "wording": "Open the text again and read it.",
        "text_sha256": "Open the text again and read it.",
    }
    # The signing that this page was opened for: another may have begun in the same browser since.
    signing = forms.IntegerField(widget=forms.HiddenInput)
    # The wording that was read, even if a newer one comes into force meanwhile, and the digest of the text as it stood.
    wording = forms.IntegerField(widget=forms.HiddenInput)
    text_sha256 = forms.CharField(max_length=64, widget=forms.HiddenInput)
    method = forms.ChoiceField(label="How do you want to sign?", choices=ON_SCREEN, widget=forms.RadioSelect)
    typed_name = forms.CharField(label="Your full name", max_length=200, required=False)
    signature_png = forms.CharField(
        label="Your signature", required=False, widget=forms.HiddenInput, max_length=MAX_PNG_BYTES * 4 // 3 + 100
    )
    is_my_name = forms.BooleanField(label="Yes, this is how I sign.", required=False)
    i_sign = forms.BooleanField(label="I have read the text above, and I sign it.")

    def __init__(self, *args: Any, signer: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.signer = signer

    @property
    def asks_for_the_name(self) -> bool:
        """Whether the name typed is not the one the library knows, so that the signer is asked about it once."""
        typed = self.data.get("typed_name", "")
        return self.data.get("method") == Method.TYPED and bool(typed.strip()) and not same_name(typed, self.signer)

    def clean(self) -> dict:
        data = super().clean() or {}
        if data.get("method") == Method.TYPED and not data.get("typed_name"):
            self.add_error("typed_name", "Type your full name, as your signature.")
        if self.asks_for_the_name and not data.get("is_my_name"):
            self.add_error("is_my_name", f"The library knows you as {self.signer}, and you typed another name. {ASKED}")
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


class SignForm(AgreeForm, ChoicesForm):
    """A release: the signer's choices, then the signature."""

    asks: ClassVar = {**AgreeForm.asks, **ChoicesForm.asks}
    name_withheld = forms.BooleanField(
        label="Withhold my name",
        required=False,
        help_text="The library then leaves your name out of what it shows. "
        "Your voice and what you tell may still let people know you.",
    )

    def clean_closed_until(self):
        day = self.cleaned_data["closed_until"]
        if day and day <= timezone.localdate():
            raise forms.ValidationError("Choose a day in the future.")
        return day


class WishForm(StretchForm):
    """A passage that the narrator wishes closed."""

    part_id = forms.TypedChoiceField(label="In which part?", coerce=int)
    field_order = ("part_id", "from_seconds", "to_seconds", "reason")
    reason = forms.CharField(
        label="Why, if you want to say so", required=False, max_length=1000, widget=forms.Textarea({"rows": 2})
    )

    def __init__(self, *args: Any, parts: list[Part], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(part.pk, f"Part {part.position}") for part in parts]
        cast("forms.TypedChoiceField", self.fields["part_id"]).choices = choices


class AnswerForm(Form):
    corrections = forms.CharField(
        label="Names and spellings to put right",
        required=False,
        max_length=5000,
        widget=forms.Textarea({"rows": 4}),
        help_text="As many as you like, one to a line. Leave it empty if all is right.",
    )


class CheckFileForm(Form):
    asks: ClassVar = {"paper": "Choose the PDF file."}
    paper = forms.FileField(
        label="The paper as a PDF file",
        help_text="It is looked at and not kept.",
        widget=forms.ClearableFileInput({"accept": "application/pdf,.pdf"}),
    )

    def clean_paper(self):
        paper = self.cleaned_data["paper"]
        if paper.size > MOST_PAPER_BYTES:
            raise forms.ValidationError("This file is too large to be one of our papers.")
        return paper


class CheckForm(Form):
    asks: ClassVar = {"number": "Type the number that is printed on the paper."}
    number = forms.CharField(
        label="Number on the paper",
        max_length=20,
        help_text="It begins with A, F, P, R or S, such as R-7K2M-9QXD-4TBC.",
    )

    def clean_number(self) -> str:
        """Only what a number is made of: it becomes part of an address."""
        number = "".join(sign for sign in self.cleaned_data["number"] if sign.isalnum() or sign == "-")
        if not number.strip("-"):
            raise forms.ValidationError("Type the number that is printed on the paper.")
        return number
