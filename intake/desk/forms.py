"""One form per action of the desk. Forms check shape; services check rules."""

from django import forms

from intake.accounts.models import Role
from intake.interviews.models import Collection, State
from intake.web.widgets import DateInput


class SendBackForm(forms.Form):
    message = forms.CharField(
        label="Message to the volunteer",
        max_length=5000,
        widget=forms.Textarea({"rows": 5}),
        help_text="What to do next, in plain words. It is sent by e-mail and shown on the interview.",
    )


class DeclineForm(forms.Form):
    reason = forms.CharField(
        label="Reason",
        max_length=5000,
        widget=forms.Textarea({"rows": 5}),
        help_text="The volunteer reads it. What was handed in is kept until the retention rule says otherwise.",
    )


class TurnDownForm(forms.Form):
    reason = forms.CharField(
        label="Why can it not be confirmed?",
        max_length=2000,
        widget=forms.Textarea({"rows": 4}),
        help_text="The volunteer reads it, by e-mail and on the interview: what is wrong, and what to do next.",
    )


class AnswerForm(forms.Form):
    code = forms.CharField(max_length=60, widget=forms.HiddenInput)
    channel = forms.CharField(max_length=10, required=False, widget=forms.HiddenInput)
    answer = forms.CharField(label="Accept because", max_length=2000, widget=forms.Textarea({"rows": 2}))


class InviteForm(forms.Form):
    name = forms.CharField(max_length=200, widget=forms.TextInput({"autocomplete": "off"}))
    email = forms.EmailField(max_length=254, label="E-mail address", widget=forms.EmailInput({"autocomplete": "off"}))
    role = forms.ChoiceField(choices=Role.choices, initial=Role.VOLUNTEER)


class KitForm(forms.Form):
    number = forms.CharField(label="Number on the bag", max_length=20)
    contents = forms.CharField(label="Contents, one thing a line", widget=forms.Textarea({"rows": 8}))


class LendForm(forms.Form):
    name = forms.CharField(label="Borrower", max_length=200, widget=forms.TextInput({"autocomplete": "off"}))
    email = forms.EmailField(
        max_length=254, label="Borrower's e-mail address", widget=forms.EmailInput({"autocomplete": "off"})
    )
    due_on = forms.DateField(label="Due back on", widget=DateInput())


class TakeBackForm(forms.Form):
    condition = forms.CharField(
        label="Condition",
        max_length=2000,
        widget=forms.Textarea({"rows": 3}),
        help_text="What is missing, broken or used up.",
    )


class QueueForm(forms.Form):
    """The queue's filters; they live in the address, so that a view can be kept as a bookmark."""

    state = forms.ChoiceField(label="Stage", required=False, choices=[("", "Any stage"), *State.choices])
    collection = forms.ModelChoiceField(Collection.objects.all(), required=False, empty_label="Any collection")


class CollectionForm(forms.Form):
    name = forms.CharField(label="Name of the collection", max_length=200)
