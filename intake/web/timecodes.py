"""A place in a recording, as people type it: 1:02:33.5, 2:33, or plain seconds."""

import re
from typing import Any

from django import forms

from intake.web.forms import Form

TIMECODE = re.compile(r"(?:(?:(\d{1,3}):)?(\d{1,2}):)?(\d{1,6}(?:[.,]\d{1,3})?)")
MOST = 60


def exact_timecode(seconds: float) -> str:
    """1:02:33.5, or 2:33.5 under an hour: to the tenth."""
    tenths = round(seconds * 10)
    minutes, rest = divmod(tenths, 600)
    hours, minutes = divmod(minutes, 60)
    ending = f"{minutes:02d}:{rest / 10:04.1f}" if hours else f"{minutes}:{rest / 10:04.1f}"
    return f"{hours}:{ending}" if hours else ending


def full_timecode(ms: int) -> str:
    """2:33.512: to the millisecond, as it is typed and kept."""
    seconds, thousandths = divmod(ms, 1000)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    ending = f"{minutes:02d}:{seconds:02d}.{thousandths:03d}" if hours else f"{minutes}:{seconds:02d}.{thousandths:03d}"
    return f"{hours}:{ending}" if hours else ending


class TimecodeField(forms.CharField):
    """Seconds as a float, from a timecode."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=12, widget=forms.TextInput({"autocomplete": "off", "inputmode": "text"}), **kwargs)

    def clean(self, value: Any) -> Any:
        typed = super().clean(value).strip()
        if not typed:
            return None
        read = TIMECODE.fullmatch(typed)
        if read is None:
            raise forms.ValidationError("Type a time such as 2:33.5, or 1:02:33.5 after an hour.")
        hours, minutes, seconds = read.group(1), read.group(2), float(read.group(3).replace(",", "."))
        if minutes is not None and (seconds >= MOST or (hours is not None and int(minutes) >= MOST)):
            raise forms.ValidationError("Minutes and seconds go up to 59. Type a time such as 2:33.5.")
        return int(hours or 0) * 3600 + int(minutes or 0) * 60 + seconds


class StretchForm(Form):
    """A stretch of a part, from one time to a later one."""

    from_seconds = TimecodeField(label="From", help_text="Such as 2:33, as the player shows it.")
    to_seconds = TimecodeField(label="To", help_text="A little later than the last word, rather than within it.")

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if "from_seconds" in data and "to_seconds" in data and data["to_seconds"] <= data["from_seconds"]:
            self.add_error("to_seconds", "The passage ends after it begins.")
        return data
