"""Invented examples for the page of pieces (styleguide.html): every component in every state it can have."""

import math
from datetime import UTC, date, datetime
from typing import Any

from django import forms, template
from django.core.paginator import Paginator

from intake.mail.models import Message, MessageState
from intake.outputs.models import Output
from intake.outputs.services import ArrivalPaper
from intake.register.models import Arrival

register = template.Library()

STATES = [
    ("draft", "Draft"),
    ("submitted", "Handed in"),
    ("returned", "Sent back"),
    ("in_review", "In review"),
    ("accepted", "Accepted"),
    ("catalogued", "Catalogued"),
    ("declined", "Declined"),
    ("withdrawn", "Withdrawn"),
    ("taken_down", "Taken down"),
]
STANDINGS = ["good", "note", "look closer", "problem", "not measured"]
SECONDS = 3753.0


class ExampleForm(forms.Form):
    """One field of each kind that a page may use."""

    title = forms.CharField(
        label="Title", help_text="As the narrator would say it, for example “Forty years on the ferry”."
    )
    summary = forms.CharField(label="Summary", widget=forms.Textarea(attrs={"rows": 4}), required=False)
    recorded_on = forms.DateField(label="Day of the recording", widget=forms.DateInput(attrs={"type": "date"}))
    language = forms.ChoiceField(label="Language", choices=[("", "Please choose"), ("en", "English"), ("cy", "Welsh")])
    access = forms.ChoiceField(
        label="Who may hear it",
        help_text="You can choose again until you sign.",
        widget=forms.RadioSelect,
        choices=[("open", "Everybody"), ("closed", "Nobody until a date"), ("on_site", "Visitors of the library only")],
    )
    topics = forms.MultipleChoiceField(
        label="Topics",
        widget=forms.CheckboxSelectMultiple,
        required=False,
        choices=[("work", "Work"), ("river", "The river"), ("flood", "The flood")],
    )
    told = forms.BooleanField(
        label="The narrator knew that the recorder was on.", help_text="Consent comes before the button."
    )
    photo = forms.FileField(label="A photograph", required=False)
    token = forms.CharField(widget=forms.HiddenInput, required=False)


def journey(present: int) -> dict[str, Any]:
    labels = ["Draft", "Handed in", "In review", "Accepted", "Catalogued"]
    stages = [
        {"label": label, "status": "done" if number < present else "present" if number == present else "ahead"}
        for number, label in enumerate(labels, 1)
    ]
    beside = ["Part 2 is being measured.", "Ines Calloway has not signed yet."] if present == 3 else []
    return {"stages": stages, "present": present, "total": 5, "label": labels[present - 1].lower(), "beside": beside}


def findings() -> list[dict[str, Any]]:
    """One finding for each standing; the last could not be measured."""
    common = {
        "unit": "dBTP",
        "limit": "at most −1 dBTP",
        "source": "ITU-R BS.1770-5, Annex 2",
        "spans": [],
        "reason": "",
    }
    return [
        common
        | {
            "code": "loudness",
            "title": "Loudness",
            "standing": "good",
            "value": -19.437,
            "unit": "LUFS",
            "limit": "−24 to −16 LUFS",
            "volunteer": "The voices are well heard.",
            "archivist": "Integrated loudness within the target.",
        },
        common
        | {
            "code": "rumble",
            "title": "Rumble",
            "standing": "note",
            "value": -41.0,
            "unit": "dB",
            "limit": "below −40 dB",
            "volunteer": "A lorry may have passed.",
            "archivist": "Energy below 80 Hz, brief.",
        },
        common
        | {
            "code": "peaks",
            "title": "Peaks",
            "standing": "look closer",
            "value": -0.31,
            "volunteer": "Some laughter came very close to the top. Next time, set the level a little lower.",
            "archivist": "True peak above the target in one place.",
            "spans": [{"start_s": 754.25, "end_s": 761.0, "start_label": "12:34", "end_label": "12:41"}],
        },
        common
        | {
            "code": "clipping",
            "title": "Clipped moments",
            "standing": "problem",
            "value": 3.0,
            "unit": "passages",
            "limit": "none",
            "volunteer": "In three places the sound hit the ceiling and is torn there.",
            "archivist": "Runs of samples at full scale.",
            "spans": [
                {"start_s": 1205.5, "end_s": 1260.0, "start_label": "20:05", "end_label": "21:00"},
                {"start_s": 3753.0 - 133, "end_s": 3640.0, "start_label": "1:00:20", "end_label": ""},
            ],
        },
        common
        | {
            "code": "channels",
            "title": "Balance of the two sides",
            "standing": "not measured",
            "value": None,
            "reason": "The recording has one channel only.",
            "volunteer": "",
            "archivist": "",
        },
    ]


def strip() -> dict[str, Any]:
    """A strip without a sound file behind it, so the page also shows the sentence for a failed fetch."""
    loudness = [abs(math.sin(bin_ * 0.05)) * (0.45 + 0.4 * math.sin(bin_ * 0.31)) for bin_ in range(800)]
    channel = [round(sign * 127 * value) for value in loudness for sign in (-1, 1)]
    flags: list[dict[str, Any]] = [
        {
            "start_s": span["start_s"],
            "end_s": span["end_s"],
            "label": finding["title"],
            "standing": finding["standing"],
            "kind": "finding",
        }
        for finding in findings()
        for span in finding["spans"]
    ]
    flags.append({"start_s": 2400.0, "end_s": None, "label": "Off the record", "standing": "note", "kind": "mark"})
    return {
        "strip": {
            "audio_url": "/pieces/nothing-here.m4a",
            "seconds": SECONDS,
            "peaks_id": "example-peaks",
            "flags_id": "example-flags",
        },
        "peaks": {"frames_per_bin": 225180, "sample_rate_hz": 48000, "peaks": [channel]},
        "flags": flags,
    }


def upload() -> dict[str, Any]:
    return {
        "panel": {
            "id": "upload",
            "title": "Add recordings",
            "choose": "Choose the recordings",
            "help": "Choose the files as the recorder wrote them.",
            "accept": "audio/*",
            "in_hand": "Recordings in hand",
            "folder": "Or choose a whole folder",
            "done": "It has arrived.",
            "target": "#parts",
            "metadata": '{"purpose": "part", "interview": "7"}',
            "create_url": "/pieces/uploads/",
            "before_url": "/pieces/before-upload/",
            "contact": "Local History Room (history@alderferry.example.org)",
            "warning": "The library's disk has room for 1.2 GB of recordings just now.",
            "piece_bytes": 16 * 1024**2,
            "max_bytes": 8 * 1024**3,
            "known": "example-known",
            "refresh_url": "/pieces/",
        },
        "known": [
            {
                "upload_url": "/pieces/uploads/1/",
                "name": "FERRY001.WAV",
                "length": 1_500_000_000,
                "offset": 600_000_000,
                "digest_known": False,
            }
        ],
    }


def mails(at: datetime) -> list[Message]:
    """One message in each state; the last was dealt with."""
    told = {"pk": 7, "to": "walter@example.org", "subject": "Your interview has arrived", "last_error": "No such user."}
    return [*(Message(state=state) for state in MessageState), Message(**told, state="bounced", settled_at=at)]


def arrivals(at: datetime) -> list[ArrivalPaper]:
    """The latest is being made, the one before it was replaced."""
    latest, earlier = Arrival(pk=8, number="A-7K2M-9QXD", at=at), Arrival(pk=7, number="A-3WNC-HR54", at=at)
    return [ArrivalPaper(latest, None), ArrivalPaper(earlier, Output(subject_id="7"))]


def files() -> list[dict[str, Any]]:
    """Files handed in, as file_state.html shows them: on its way, stored, damaged."""
    row = {
        "thing": {"upload": {"length": 2_400_000}},
        "now": "",
        "percent": None,
        "is_pending": False,
        "is_safe": False,
    }
    return [
        {**row, "now": "On its way", "percent": 40, "is_pending": True},
        {**row, "is_safe": True},
        {**row, "now": "It arrived damaged. Take it out and send it again."},
    ]


def copies(at: datetime) -> list[dict[str, Any]]:
    """The copies of a file as copies.html shows them: one restored, and none left that is right."""
    file = {"pk": "8297212f-fb11-4fe1-99c2-bee33565abf0"}
    reading = {"at": at, "store": "replica", "get_why_display": "on schedule", "bytes_read": 9_173_000, "seconds": 0.09}
    right = {**reading, "get_found_display": "matches", "found_sha256": "9f86d081884c7d65" * 4}
    unreadable = {**reading, "get_found_display": "unreadable", "told": "OSError: [Errno 5] Input/output error"}
    incident = {"found_at": at, "told": "The replica copy is missing.", "get_state_display": "restored and read back"}
    return [
        {
            "file": file,
            "kept": "In two copies, both read back and found right on 25 Nov 2026.",
            "checks": [{**right, "by": {"name": "Ines Calloway"}}, unreadable],
            "earlier": 12,
            "incidents": [{**incident, "closed_at": at}],
        },
        {"file": file, "is_lost": True, "incidents": [{**incident, "hindrance": "The disk is full."}], "checks": []},
    ]


def typed_form() -> dict[str, Any]:
    return {
        "form": {
            "number": "F-7K2M-9QXD-4TBC",
            "signer": "Walter Osgood",
            "printed_at": datetime(2026, 11, 24, 9, 0, tzinfo=UTC),
            "wording": "Release by the narrator, version 1",
        },
        "get_access_display": "Open: anyone may hear it",
        "closed_until": None,
        "closed_event": "",
        "name_withheld": False,
        "signed_by": "Walter Osgood",
        "signed_on": date(2026, 11, 25),
    }


def refused_form() -> ExampleForm:
    return ExampleForm({"title": "", "recorded_on": "31 June", "access": "elsewhere"})


@register.simple_tag
def examples() -> dict[str, Any]:
    """Everything the page of pieces shows."""
    at = datetime(2026, 11, 25, 14, 5, tzinfo=UTC)
    step = {
        "sentence": "Hand in your recording of Walter Osgood.",
        "action_label": "Hand it in",
        "action_url": "/pieces/",
        "method": "get",
    }
    return {
        "states": STATES,
        "mails": mails(at),
        "troubled": mails(at)[-1:],
        "arrivals": arrivals(at),
        "standings": STANDINGS,
        "journeys": [journey(1), journey(3), journey(5)],
        "steps": [
            step,
            step
            | {"method": "post", "action_label": "Accept", "sentence": "Everything is there. Accept this interview?"},
            {"sentence": "Nothing for you to do just now.", "waits_for": "the archivist"},
        ],
        "form": ExampleForm(),
        "refused_form": refused_form(),
        "refusals": ["Part 2 has not finished arriving.", "The description has no summary yet."],
        "checklist": [
            {"done": True, "text": "The recording has arrived", "url": ""},
            {"done": False, "text": "Ines Calloway signs the release", "url": "/pieces/"},
        ],
        "findings": findings(),
        "events": [
            {"at": at, "sentence": "The interview was handed in.", "actor": "Nell Harrow"},
            {"at": at, "sentence": "Part 1 was measured.", "actor": ""},
        ],
        "page": Paginator(range(137), 50).page(2),
        "sound": strip(),
        "upload": upload(),
        "files": files(),
        "typed_form": typed_form(),
        "staff": {"is_archivist": True},
        "clearings": [
            {"may_be_cleared": True, "files": [{"name": "TOLL0007.WAV"}, {"name": "TOLL0008.WAV"}]},
            {"may_be_cleared": False, "reasons": ["Part 2 is still being compared."]},
        ],
        "copies": copies(at),
        "digest": ["9f86d081884c7d65", "9a2feaa0c55ad015", "a3bf4f1b2b0b822c", "d15d6c15b0f00a08"],
    }
