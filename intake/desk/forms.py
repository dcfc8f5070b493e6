"""One form per action of the desk. Forms check shape; services check rules."""

from typing import Any, ClassVar, cast

from django import forms
from django.db.models import QuerySet

from intake.accounts.models import Role, User
from intake.desk.queries import NEEDS_CARE
from intake.interviews.counter import Involved, Named
from intake.interviews.models import Mark
from intake.kits.models import Card
from intake.mail.models import MessageState
from intake.outputs.issuing import Holder
from intake.outputs.labels import MOST
from intake.outputs.letters import LONGEST
from intake.outputs.paper.labels import ON_A_SHEET
from intake.people.models import Person
from intake.review.listening import LONGEST_SECONDS
from intake.review.models import FindingAnswer, OpeningCheck
from intake.web.description import DescriptionForm
from intake.web.forms import Form
from intake.web.timecodes import StretchForm
from intake.web.widgets import DateInput


class SendBackForm(Form):
    asks: ClassVar = {"message": "Write to the volunteer what to do next."}
    message = forms.CharField(
        label="Message to the volunteer",
        max_length=5000,
        widget=forms.Textarea({"rows": 12}),
        help_text="Begun from what was found and not answered; change it as you like. It is sent by e-mail as it "
        "stands here, and shown on the interview.",
    )


class DeclineForm(Form):
    asks: ClassVar = {"reason": "Write to the volunteer why the interview is declined."}
    reason = forms.CharField(
        label="Reason",
        max_length=5000,
        widget=forms.Textarea({"rows": 5}),
        help_text="The volunteer reads it. What was handed in is kept until the retention rule says otherwise.",
    )


class ClosePassageForm(StretchForm):
    asks: ClassVar = {"reason": "Say why the passage is closed."}
    reason = forms.CharField(
        label="Why?",
        max_length=1000,
        help_text="For staff alone, such as: names a child, who is not to be found by it.",
        widget=forms.Textarea({"rows": 2}),
    )


class OpenPassageForm(Form):
    asks: ClassVar = {"reason": "Say why it is opened again."}
    reason = forms.CharField(label="Why?", max_length=1000, widget=forms.Textarea({"rows": 2}))


class EventForm(Form):
    on = forms.DateField(label="On which day did it happen?", widget=DateInput())
    how_known = forms.CharField(
        label="How does the library know?", max_length=1000, help_text="Such as: a letter from the family of that day."
    )


class TurnForm(Form):
    until = forms.DateField(
        label="Wait for an answer until", widget=DateInput(), help_text="After that day you go on, as the wording says."
    )


class DeclineWishForm(Form):
    reason = forms.CharField(label="Why is it not closed?", max_length=1000, widget=forms.Textarea({"rows": 3}))


class CarrierForm(Form):
    on = forms.DateField(label="Given on", widget=DateInput())
    carrier = forms.CharField(label="On what?", max_length=200, help_text="Such as: a memory stick, by post.")


class SendPaperForm(Form):
    asks: ClassVar = {"to": "Choose who gets it."}
    to = forms.MultipleChoiceField(label="Send it to", widget=forms.CheckboxSelectMultiple)

    def __init__(self, *args: Any, holders: list[Holder], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(holder.address, f"{holder.name}, {holder.address}") for holder in holders]
        cast("forms.MultipleChoiceField", self.fields["to"]).choices = choices


class ReissueForm(Form):
    asks: ClassVar = {"reason": "Say why it is issued again."}
    reason = forms.CharField(
        label="Why is it issued again?",
        max_length=500,
        help_text="It stands on the new version, for whoever holds it. Such as: a name is spelt rightly now.",
        widget=forms.Textarea({"rows": 2}),
    )
    text = forms.CharField(label="The letter", max_length=LONGEST, widget=forms.Textarea({"rows": 18}))

    def __init__(self, *args: Any, is_letter: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not is_letter:
            del self.fields["text"]


class LetterForm(Form):
    """A letter to one person; `address` is theirs, empty if they have none."""

    text = forms.CharField(
        label="The letter",
        max_length=LONGEST,
        widget=forms.Textarea({"rows": 22}),
        help_text="Part paragraphs by an empty line. Change what you like: nobody else gets this one.",
    )
    language = forms.CharField(widget=forms.HiddenInput)
    by_email = forms.BooleanField(label="Send it by e-mail, as a PDF", required=False)

    def __init__(self, *args: Any, address: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if address:
            self.fields["by_email"].help_text = f"To {address}. It can be printed in any case."
        else:
            del self.fields["by_email"]

    def clean(self) -> dict[str, Any]:
        return {"by_email": False, **(super().clean() or {})}


class LabelsForm(Form):
    papers = forms.IntegerField(label="Labels for folders of papers", min_value=0, max_value=MOST)
    copies = forms.IntegerField(label="Labels for copies to hand out", min_value=0, max_value=MOST)
    first = forms.IntegerField(
        label="First free label on the sheet",
        min_value=1,
        max_value=ON_A_SHEET,
        help_text=f"Counted row by row, 1 to {ON_A_SHEET}. A new sheet begins at 1.",
    )


class DecideWithdrawalForm(Form):
    asks: ClassVar = {"decision": "Choose one of the two.", "reason": "Say why. Whoever asked reads it."}
    decision = forms.ChoiceField(
        label="Decision",
        choices=[("agree", "Agree: take the interview down"), ("stand", "Let it stand")],
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label="Reason",
        max_length=5000,
        help_text="Whoever gave the interview reads it. Name nobody who may be harmed.",
        widget=forms.Textarea({"rows": 4}),
    )

    @property
    def grants(self) -> bool:
        return self.cleaned_data["decision"] == "agree"


def _name_field(label: str, help_text: str = "", *, required: bool = False) -> forms.CharField:
    return forms.CharField(
        label=label,
        max_length=200,
        required=required,
        help_text=help_text,
        widget=forms.TextInput({"autocomplete": "off"}),
    )


def _address_field(label: str, help_text: str = "") -> forms.EmailField:
    return forms.EmailField(
        label=label,
        max_length=254,
        required=False,
        help_text=help_text,
        widget=forms.EmailInput({"autocomplete": "off"}),
    )


class FindPersonForm(Form):
    q = forms.CharField(label="Name or e-mail address", max_length=200, widget=forms.TextInput({"autocomplete": "off"}))


class HandOverForm(Form):
    """Whose hands somebody's open interviews go into; none are chosen where there are no open interviews."""

    to = forms.ModelChoiceField(
        User.objects.none(), label="Who looks after them from now on", empty_label="Choose somebody"
    )
    reason = forms.CharField(label="Why?", max_length=2000, widget=forms.Textarea({"rows": 3}))
    has_left = forms.BooleanField(
        label="They have left: close the account", required=False, help_text="They cannot sign in any more."
    )

    def __init__(self, *args: Any, fit: QuerySet[User], has_open: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if has_open:
            cast("forms.ModelChoiceField", self.fields["to"]).queryset = fit
        else:
            del self.fields["to"]
            self.fields["has_left"].required = True


class MergeForm(Form):
    into = forms.IntegerField(min_value=1, widget=forms.HiddenInput)


class CounterForm(DescriptionForm):
    """What staff write down for somebody at the counter. A giver who is known already is not asked for again."""

    giver_name = _name_field("Given by", "Whoever brings the recording. They need no account.", required=True)
    giver_email = _address_field(
        "Giver's e-mail address", "For the receipt and for questions. Without one you tell them yourself."
    )
    giver_is = forms.ChoiceField(
        label="What have they to do with it?", choices=Involved.choices, widget=forms.RadioSelect
    )
    narrator_name = _name_field("Narrator", "Leave it empty if the giver is the narrator.")
    narrator_email = _address_field("Narrator's e-mail address")
    interviewer_name = _name_field(
        "Interviewer", "Leave it empty if the giver is the interviewer, or if nobody knows yet who asked."
    )
    interviewer_email = _address_field("Interviewer's e-mail address")
    field_order = (
        "giver_name",
        "giver_email",
        "giver_is",
        "narrator_name",
        "narrator_email",
        "interviewer_name",
        "interviewer_email",
    )

    def __init__(self, *args: Any, giver: Person | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.giver = giver
        if giver:
            del self.fields["giver_name"], self.fields["giver_email"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for role in (Involved.NARRATOR, Involved.INTERVIEWER):
            if data.get("giver_is") == role and data.get(f"{role}_name"):
                self.add_error(f"{role}_name", f"Leave this empty: you said that the giver is the {role}.")
        if data.get("giver_is") and data["giver_is"] != Involved.NARRATOR and not data.get("narrator_name"):
            self.add_error("narrator_name", "Name the person who tells.")
        return data

    def given_by(self) -> Named:
        if self.giver:
            return Named(self.giver.name, known=self.giver)
        return Named(self.cleaned_data["giver_name"], self.cleaned_data["giver_email"])

    def named(self, role: str) -> Named | None:
        """The narrator or the interviewer as written down; None where nobody was."""
        name = self.cleaned_data[f"{role}_name"]
        return Named(name, self.cleaned_data[f"{role}_email"]) if name else None


class ProposeUndoForm(Form):
    reason = forms.CharField(
        label="Why was the acceptance a mistake?",
        max_length=2000,
        widget=forms.Textarea({"rows": 4}),
        help_text="Once somebody else confirms it, whoever gave the interview reads this in a letter, "
        "and the register keeps it beside the number.",
    )


class KeepAcceptanceForm(Form):
    reason = forms.CharField(
        label="Why does the acceptance stand?", max_length=2000, widget=forms.Textarea({"rows": 3})
    )


class TurnDownForm(Form):
    reason = forms.CharField(
        label="Why can it not be confirmed?",
        max_length=2000,
        widget=forms.Textarea({"rows": 4}),
        help_text="The volunteer reads it, by e-mail and on the interview: what is wrong, and what to do next.",
    )


class AnswerForm(Form):
    asks: ClassVar = {"answer": "Write a few words: why it can be accepted, what to ask, or why it is silenced."}
    code = forms.CharField(max_length=60, widget=forms.HiddenInput)
    channel = forms.CharField(max_length=10, required=False, widget=forms.HiddenInput)
    kind = forms.ChoiceField(choices=FindingAnswer.Kind.choices)
    answer = forms.CharField(max_length=2000, widget=forms.Textarea({"rows": 2}))


class MarkForm(Form):
    """A note at a time of a part, in seconds."""

    kind = forms.ChoiceField(choices=Mark.Kind.choices)
    at_seconds = forms.FloatField(min_value=0, max_value=LONGEST_SECONDS)
    note = forms.CharField(required=False, max_length=2000)


class OpeningForm(Form):
    item = forms.CharField(max_length=40)
    verdict = forms.ChoiceField(choices=OpeningCheck.Verdict.choices)
    note = forms.CharField(required=False, max_length=300)


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
    card = forms.ChoiceField(
        label="The recorder's card",
        choices=Card.choices,
        initial=Card.NOT_LOOKED_AT,
        widget=forms.RadioSelect,
    )


class MessagesForm(Form):
    """The filters of the messages; they live in the address."""

    state = forms.ChoiceField(
        required=False,
        choices=[("", "Any state"), (NEEDS_CARE, "Needs somebody"), *MessageState.choices],
    )
    words = forms.CharField(
        label="Address or subject", required=False, max_length=200, widget=forms.TextInput({"type": "search"})
    )


class BounceForm(Form):
    told = forms.CharField(
        label="What the returned mail said",
        max_length=2000,
        widget=forms.Textarea({"rows": 4}),
        help_text="The sentence with the reason is enough, for example: 550 5.1.1 No such user here.",
    )


class AddressForm(Form):
    to = forms.EmailField(
        max_length=254, label="The right e-mail address", widget=forms.EmailInput({"autocomplete": "off"})
    )


class CollectionForm(Form):
    asks: ClassVar = {"name": "Write the name of the collection."}
    name = forms.CharField(label="Name of the collection", max_length=200)
