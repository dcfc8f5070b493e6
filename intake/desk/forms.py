"""One form per action of the desk. Forms check shape; services check rules."""

from typing import ClassVar

from django import forms

from intake.accounts.models import Role
from intake.interviews.models import Collection, State
from intake.web.forms import Form
from intake.web.widgets import DateInput


class SendBackForm(Form):
    asks: ClassVar = {"message": "Write to the volunteer what to do next."}
    message = forms.CharField(
        label="Message to the volunteer",
        max_length=5000,
        widget=forms.Textarea({"rows": 5}),
        help_text="What to do next, in plain words. It is sent by e-mail and shown on the interview.",
    )


class DeclineForm(Form):
    asks: ClassVar = {"reason": "Write to the volunteer why the interview is declined."}
    reason = forms.CharField(
        label="Reason",
        max_length=5000,
        widget=forms.Textarea({"rows": 5}),
        help_text="The volunteer reads it. What was handed in is kept until the retention rule says otherwise.",
    )


class AnswerForm(Form):
    asks: ClassVar = {"answer": "Write why the interview can be accepted all the same."}
    code = forms.CharField(max_length=60, widget=forms.HiddenInput)
    channel = forms.CharField(max_length=10, required=False, widget=forms.HiddenInput)
    answer = forms.CharField(label="Accept because", max_length=2000, widget=forms.Textarea({"rows": 2}))


class InviteForm(Form):
    asks: ClassVar = {"name": "Write the name of the person you invite.", "email": "Write where the invitation goes."}
    name = forms.CharField(max_length=200, widget=forms.TextInput({"autocomplete": "off"}))
    email = forms.EmailField(max_length=254, label="E-mail address", widget=forms.EmailInput({"autocomplete": "off"}))
    role = forms.ChoiceField(choices=Role.choices, initial=Role.VOLUNTEER)


class KitForm(Form):
    asks: ClassVar = {
        "number": "Write the number on the bag.",
        "contents": "List what is in the bag, one thing a line.",
    }
    number = forms.CharField(label="Number on the bag", max_length=20)
    contents = forms.CharField(label="Contents, one thing a line", widget=forms.Textarea({"rows": 8}))


class LendForm(Form):
    asks: ClassVar = {
        "name": "Write the borrower's name.",
        "email": "Write the borrower's e-mail address.",
        "due_on": "Say on which day the kit is due back.",
    }
    name = forms.CharField(label="Borrower", max_length=200, widget=forms.TextInput({"autocomplete": "off"}))
    email = forms.EmailField(
        max_length=254, label="Borrower's e-mail address", widget=forms.EmailInput({"autocomplete": "off"})
    )
    due_on = forms.DateField(label="Due back on", widget=DateInput())


class TakeBackForm(Form):
    asks: ClassVar = {"condition": "Write in which condition the kit came back."}
    condition = forms.CharField(
        label="Condition",
        max_length=2000,
        widget=forms.Textarea({"rows": 3}),
        help_text="What is missing, broken or used up.",
    )


class QueueForm(Form):
    """The queue's filters; they live in the address, so that a view can be kept as a bookmark."""

    state = forms.ChoiceField(label="Stage", required=False, choices=[("", "Any stage"), *State.choices])
    collection = forms.ModelChoiceField(Collection.objects.all(), required=False, empty_label="Any collection")


class CollectionForm(Form):
    asks: ClassVar = {"name": "Write the name of the collection."}
    name = forms.CharField(label="Name of the collection", max_length=200)
