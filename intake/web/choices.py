"""A signer's choices as form fields: on the screen, and as typed in from a form signed on paper."""

from typing import Any, ClassVar

from django import forms

from intake.releases.models import Access
from intake.web.forms import Form
from intake.web.widgets import DateInput


class ChoicesForm(Form):
    """Nothing is chosen beforehand; a closure has its latest day, and nothing else has one."""

    asks: ClassVar = {"access": "Choose who may hear the recording."}

    access = forms.ChoiceField(label="Who may hear the recording?", choices=Access.choices, widget=forms.RadioSelect)
    closed_until = forms.DateField(
        label="Closed until, at the latest", required=False, widget=DateInput(), help_text="Only with “Closed”."
    )
    closed_event = forms.CharField(
        label="Or earlier, when this happens",
        required=False,
        max_length=200,
        help_text="Only with “Closed”, and only if there is such an event, in a few words: the sale of the house.",
        widget=forms.TextInput({"autocomplete": "off"}),
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("access") == Access.CLOSED and not data.get("closed_until") and "closed_until" not in self.errors:
            self.add_error("closed_until", "Say until which day the recording stays closed.")
        if data.get("access") and data["access"] != Access.CLOSED:
            data["closed_until"], data["closed_event"] = None, ""
        return data
