"""Form widgets that all sites share."""

from django import forms


class DateInput(forms.DateInput):
    """The browser's own date picker; the value is written as it expects it."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")
