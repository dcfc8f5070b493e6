"""Forms whose refusals are sentences that name the field, and forms that notice what was saved meanwhile."""

import json
from typing import Any, ClassVar

from django import forms

from intake.errors import Conflict

UNKEPT = "null_characters_not_allowed"


class PlainWords(forms.BaseForm):
    """Every form of the house: a refusal says what to do, and names the field by its label.

    `asks` holds, by field name, the sentence for a field that was left empty, where the common one reads badly.
    """

    asks: ClassVar[dict[str, str]] = {}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            label = str(field.label or name.replace("_", " ").capitalize())
            field.error_messages = {**field.error_messages, **sentences(field, label)}
            if name in self.asks:
                field.error_messages["required"] = self.asks[name]

    def add_error(self, field: str | None, error: Any) -> None:
        """Some fields say themselves, in their own words, that a character cannot be kept."""
        for one in getattr(error, "error_list", []):
            if field in self.fields and one.code == UNKEPT:
                one.message = self.fields[field].error_messages[UNKEPT]
        super().add_error(field, error)

    def clean(self) -> dict[str, Any] | None:
        """One kind of line end, whichever the browser sends."""
        for name, value in self.cleaned_data.items():
            if isinstance(value, str):
                self.cleaned_data[name] = _one_kind_of_line_end(value)
        return super().clean()


def _one_kind_of_line_end(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


def sentences(field: forms.Field, label: str) -> dict[str, str]:
    """Our sentences for Django's codes. `%` in a label is doubled where Django fills something in."""
    safe = label.replace("%", "%%")
    told = {
        "required": _ask(field, label),
        "max_length": f"“{safe}” is too long: it has %(show_value)d characters, and there is room for %(limit_value)d.",
        UNKEPT: f"“{label}” holds a character that cannot be kept. Type it anew.",
        "invalid_choice": f"Choose one of the answers offered for “{safe}”.",
        "invalid_list": f"Choose among the answers offered for “{label}”.",
    }
    if isinstance(field, forms.DateField):
        told["invalid"] = f"“{label}” is not a day of the calendar. Write it as year, month, day, such as 2026-03-14."
    elif isinstance(field, forms.EmailField):
        told["invalid"] = f"“{safe}” is not an e-mail address. It looks like marit@example.org."
    elif isinstance(field, forms.IntegerField):
        told["invalid"] = f"“{label}” must be a whole number."
    return told


def _ask(field: forms.Field, label: str) -> str:
    if isinstance(field, forms.BooleanField):
        return f"Tick “{label}” to go on."
    if isinstance(field, forms.ChoiceField | forms.ModelChoiceField):
        return f"Choose an answer for “{label}”."
    return f"Fill in “{label}”."


class Form(PlainWords, forms.Form):
    pass


class ModelForm(PlainWords, forms.ModelForm):
    pass


class Merging(forms.BaseForm):
    """A form that carries the values it began with, so that nothing saved meanwhile is overwritten unseen.

    After a conflict each field that both changed keeps what was typed, and offers what was saved beside it.
    """

    merged_fields: ClassVar[tuple[str, ...]]

    def __init__(self, *args: Any, saved: dict[str, Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.saved = {name: self.as_text(name, saved[name]) for name in self.merged_fields}
        self.conflicts: list[dict[str, Any]] = []
        self.fields["began"] = forms.CharField(
            widget=forms.HiddenInput, required=False, initial=json.dumps(self.saved), strip=False
        )

    def as_text(self, name: str, value: Any) -> str:
        """A value as its field shows it."""
        shown = self.fields[name].prepare_value(value)
        return "" if shown is None else str(shown)

    def began(self) -> dict[str, Any]:
        """The values that the form began with; what is saved now, if it does not say or says nonsense."""
        began: dict[str, Any] = {}
        given = self._given()
        for name in self.merged_fields:
            try:
                began[name] = self.fields[name].to_python(given.get(name, self.saved[name]))
            except forms.ValidationError:
                began[name] = self.fields[name].to_python(self.saved[name])
        return began

    def typed(self) -> dict[str, Any]:
        """What was typed, and for a field with a conflict the saved version if that was chosen."""
        began = self.began()
        return {
            name: began[name] if self.data.get(f"keep_{name}") else self.cleaned_data[name]
            for name in self.merged_fields
        }

    def show(self, conflict: Conflict) -> None:
        """Have both versions shown; what is saved next is held against the version shown now."""
        self.add_error(None, str(conflict))
        now = {**self._given(), **{name: self.saved[name] for name in conflict.fields}}
        # A plain dictionary: no field of ours takes several values.
        self.data = {**dict(self.data.items()), "began": json.dumps(now)}
        self.conflicts = [
            {"name": name, "label": self[name].label, "saved": self._in_words(name)} for name in conflict.fields
        ]

    def _in_words(self, name: str) -> str:
        saved = self.saved[name]
        choices = {str(value): str(label) for value, label in getattr(self.fields[name], "choices", ())}
        return choices.get(saved, saved)

    def _given(self) -> dict[str, str]:
        try:
            given = json.loads(self.data.get("began", ""))
        except (ValueError, RecursionError):
            return {}
        return {name: str(value) for name, value in given.items()} if isinstance(given, dict) else {}
