"""A signer's choices as form fields: on the screen, and as typed in from a form signed on paper."""

from typing import Any, ClassVar

from django import forms

from intake.releases.models import Access, Licence
from intake.web.forms import Form
from intake.web.widgets import DateInput

NO_LICENCE = "none"


class Conditional:
    """Neither optional nor always asked for: what is chosen above decides."""

    is_conditional = True


class ConditionalDate(Conditional, forms.DateField):
    pass


class ConditionalChoice(Conditional, forms.ChoiceField):
    pass


class ChoicesForm(Form):
    """Nothing is chosen beforehand; a closure has its latest day, and nothing else has one."""

    asks: ClassVar = {"access": "Choose who may hear the recording."}

    access = forms.ChoiceField(label="Who may hear the recording?", choices=Access.choices, widget=forms.RadioSelect)
    closed_until = ConditionalDate(
        label="Closed until, at the latest", required=False, widget=DateInput(), help_text="Only with “Closed”."
    )
    closed_event = forms.CharField(
        label="Or earlier, when this happens",
        required=False,
        max_length=200,
        help_text="Only with “Closed”, and only if there is such an event, in a few words: the sale of the house.",
        widget=forms.TextInput({"autocomplete": "off"}),
    )

    # Filled in where the release lets the signer hand out a licence (`ask_for_licence`).
    licence = ConditionalChoice(
        label="May others use it without asking the library?",
        choices=[(NO_LICENCE, "No public licence: whoever wants to use it asks the library"), *Licence.choices],
        widget=forms.RadioSelect,
        required=False,
        help_text="Only with “Open”. A Creative Commons licence can never be taken back: whoever has a copy may use it "
        "for ever. If you are not sure, choose no public licence.",
    )

    def ask_for_licence(self, *, is_offered: bool) -> None:
        if not is_offered:
            del self.fields["licence"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("access") == Access.CLOSED and not data.get("closed_until") and "closed_until" not in self.errors:
            self.add_error("closed_until", "Say until which day the recording stays closed.")
        if data.get("access") and data["access"] != Access.CLOSED:
            data["closed_until"], data["closed_event"] = None, ""
        self._clean_licence(data)
        return data

    def _clean_licence(self, data: dict[str, Any]) -> None:
        chosen = data.get("licence", "")
        data["licence"] = "" if chosen == NO_LICENCE else chosen
        if "licence" not in self.fields or "access" not in data:
            return
        if data["access"] == Access.OPEN and not chosen:
            self.add_error("licence", "Choose whether others may use it without asking.")
        if data["access"] != Access.OPEN and data["licence"]:
            self.add_error("licence", "A public licence is for recordings that anybody may hear.")
