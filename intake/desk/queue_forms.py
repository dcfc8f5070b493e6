"""What is asked of the queue, and what is done to several of its interviews together."""

from typing import Any, ClassVar
from urllib.parse import urlencode

from django import forms

from intake.access.querysets import visible
from intake.accounts.models import User
from intake.accounts.services import staff
from intake.interviews.models import Collection, Interview, State
from intake.outputs.exporting import FORMATS
from intake.queue.lists import FIRST_ORDER, ORDERS, RESTRICTIONS, Asked
from intake.queue.models import Standing
from intake.web.forms import Form

NOBODY = "nobody"
ACTS = (TAKE_UP, HAND_OVER, PUT_BACK, EXPORT) = ("take-up", "hand-over", "put-back", "export")
PUBLIC, HOUSE = "public", "house"
LONGEST_NUMBER = 19  # digits
# Days; how long is too long is the library's own matter (common practice, no source).
AGES = (("", "Any time"), ("7", "More than a week"), ("30", "More than a month"), ("90", "More than three months"))
LONGEST_FILTERS = 1000


class QueueForm(Form):
    """The queue's filters. They live in the address, so that a view can be kept as a bookmark."""

    words = forms.CharField(
        label="Words",
        required=False,
        max_length=200,
        widget=forms.TextInput({"type": "search", "placeholder": "Name, place or number"}),
    )
    state = forms.ChoiceField(label="Stage", required=False, choices=[("", "What is to do"), *State.choices])
    collection = forms.ModelChoiceField(Collection.objects.all(), required=False, empty_label="Any collection")
    standing = forms.ChoiceField(label="Sound", required=False, choices=[("", "Any"), *Standing.choices])
    restriction = forms.ChoiceField(
        required=False, choices=[("", "Any"), *((name, one.label) for name, one in RESTRICTIONS.items())]
    )
    waiting = forms.ChoiceField(label="Waiting", required=False, choices=AGES)
    reviewer = forms.ChoiceField(required=False)
    order = forms.ChoiceField(
        label="Order", required=False, choices=[(name, order.label) for name, order in ORDERS.items()]
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        colleagues = [(str(user.pk), user.name) for user in staff().order_by("name")]
        self.fields["reviewer"].choices = [("", "Anybody"), (NOBODY, "Nobody yet"), *colleagues]  # type: ignore[attr-defined]

    def asked(self) -> Asked:
        """What is asked for, without the answers that are none."""
        self.is_valid()
        given = self.cleaned_data
        reviewer = given.get("reviewer", "")
        return Asked(
            state=given.get("state", ""),
            collection=given.get("collection"),
            standing=given.get("standing", ""),
            restriction=given.get("restriction", ""),
            waiting_days=int(given["waiting"]) if given.get("waiting") else None,
            reviewer_id=int(reviewer) if reviewer.isdecimal() else None,
            has_reviewer=False if reviewer == NOBODY else None,
            words=given.get("words", ""),
        )

    @property
    def order_name(self) -> str:
        return self.cleaned_data.get("order") or FIRST_ORDER

    def querystring(self) -> str:
        """The filters that say something, as they stand in an address."""
        self.is_valid()
        return urlencode({name: self[name].value() for name in self.cleaned_data if self[name].value()})


class SaveViewForm(Form):
    asks: ClassVar = {"name": "Give the view a name."}
    name = forms.CharField(label="Keep this view as", max_length=60)
    filters = forms.CharField(widget=forms.HiddenInput, max_length=LONGEST_FILTERS)


class TogetherForm(Form):
    """What is done to all interviews that are ticked; `act` is the button that was pressed."""

    asks: ClassVar = {"chosen": "Tick the interviews first."}
    chosen = forms.ModelMultipleChoiceField(Interview.objects.none())
    act = forms.ChoiceField(choices=[(act, act) for act in ACTS])
    to = forms.ModelChoiceField(User.objects.none(), required=False, label="To", empty_label="Choose a colleague")
    note = forms.CharField(label="Note", required=False, max_length=500)
    filters = forms.CharField(required=False, widget=forms.HiddenInput, max_length=LONGEST_FILTERS)

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["chosen"].queryset = visible(Interview, user)  # type: ignore[attr-defined]
        self.fields["to"].queryset = staff().exclude(pk=user.pk).order_by("name")  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        if self.cleaned_data.get("act") == HAND_OVER and not self.cleaned_data.get("to"):
            self.add_error("to", "Choose the colleague to whom you hand them over.")
        return cleaned


class ExportForm(Form):
    """What is exported: all accepted interviews, those of a collection, or a selection made in the queue."""

    chosen = forms.CharField(required=False, max_length=2000, widget=forms.HiddenInput)
    collection = forms.ModelChoiceField(Collection.objects.all(), required=False, empty_label="All collections")
    format = forms.ChoiceField(choices=[(name, one.label) for name, one in FORMATS.items()])
    audience = forms.ChoiceField(
        label="For",
        choices=[
            (PUBLIC, "a public catalogue: only what anybody may know of today"),
            (HOUSE, "the library's own staff: closed interviews too, marked as such"),
        ],
    )

    def clean_chosen(self) -> list[int] | None:
        """The interviews' numbers; None where none were selected."""
        told = [one for one in self.cleaned_data["chosen"].split(",") if one]
        if not all(one.isascii() and one.isdecimal() and len(one) < LONGEST_NUMBER for one in told):
            raise forms.ValidationError("These are no interviews. Select them in the queue.")
        return [int(one) for one in told] or None


class HandOverForm(Form):
    asks: ClassVar = {"to": "Choose the colleague to whom you hand it over."}
    to = forms.ModelChoiceField(User.objects.none(), label="To", empty_label="Choose a colleague")
    note = forms.CharField(
        label="Note to them", required=False, max_length=500, help_text="It stands in the interview's story."
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["to"].queryset = staff().exclude(pk=user.pk).order_by("name")  # type: ignore[attr-defined]
