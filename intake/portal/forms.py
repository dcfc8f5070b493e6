"""One form per action of the volunteer. Forms check shape; services check rules."""

from typing import Any, ClassVar, cast

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.forms.models import model_to_dict

from intake.interviews.attachments import LONGEST_NOTE
from intake.interviews.models import Attachment, Interview, Part, Participant
from intake.releases.models import Moment
from intake.releases.paper_forms import Typed
from intake.releases.services import Choices
from intake.web.choices import ChoicesForm
from intake.web.description import DescriptionForm
from intake.web.forms import Form, Merging
from intake.web.timecodes import TimecodeField
from intake.web.widgets import DateInput


class EditForm(Merging, DescriptionForm):
    merged_fields = DescriptionForm.Meta.fields

    def __init__(self, *args: Any, instance: Interview, **kwargs: Any) -> None:
        super().__init__(*args, instance=instance, saved=model_to_dict(instance), **kwargs)


class StartForm(DescriptionForm):
    narrator_name = forms.CharField(
        label="Narrator",
        max_length=200,
        help_text="The person you interviewed, as they want to be named.",
        widget=forms.TextInput({"autocomplete": "off"}),
    )
    narrator_email = forms.EmailField(
        max_length=254,
        label="Narrator's e-mail address",
        required=False,
        help_text="For their copy of the release and the receipt. Only you and the library see it.",
        widget=forms.EmailInput({"autocomplete": "off"}),
    )
    field_order = ("narrator_name", "narrator_email")


class PersonForm(Form):
    asks: ClassVar = {"name": "Write the person's name.", "role": "Choose what the person did: tell, or ask."}
    name = forms.CharField(max_length=200, widget=forms.TextInput({"autocomplete": "off"}))
    email = forms.EmailField(
        label="E-mail address", max_length=254, required=False, widget=forms.EmailInput({"autocomplete": "off"})
    )


class PersonEditForm(Merging, PersonForm):
    merged_fields = ("name", "email")


class ParticipantForm(PersonForm):
    role = forms.ChoiceField(choices=Participant.Role.choices)
    needs_guardian = forms.BooleanField(
        label="This narrator is under age, or cannot sign alone",
        required=False,
        help_text="What age counts, and who signs with or for somebody, is for the law of your place: ask the library.",
    )
    ward_id = forms.TypedChoiceField(
        label="For whom does the guardian sign?", required=False, coerce=int, empty_value=None
    )
    field_order = ("role", "name", "email")

    def __init__(self, *args: Any, interview: Interview, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        wards = interview.participants.filter(needs_guardian=True).select_related("person")
        choices = [("", "Nobody"), *((ward.pk, ward.person.name) for ward in wards)]
        cast("forms.TypedChoiceField", self.fields["ward_id"]).choices = choices
        if not wards:
            self.fields["ward_id"].help_text = "Note first, at a narrator, that they do not sign alone."


class AloneForm(Form):
    needs_guardian = forms.BooleanField(label="Somebody signs with or for them", required=False)


class LinkForm(Form):
    asks: ClassVar = {"moment": "Choose what the link is for."}
    moment = forms.ChoiceField(label="What is to be signed?", choices=Moment.choices, widget=forms.RadioSelect)


class SpokenForm(Form):
    """Where on the recording somebody agrees aloud."""

    part_id = forms.TypedChoiceField(label="In which part?", coerce=int)
    at_seconds = TimecodeField(label="Where?", help_text="Such as 0:12.")

    def __init__(self, *args: Any, parts: list[Part], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(part.pk, f"Part {part.position}: {part}") for part in parts]
        cast("forms.TypedChoiceField", self.fields["part_id"]).choices = choices


class AttachmentForm(Form):
    """What is said of an attachment, beside the file field while it is handed in."""

    kind = forms.ChoiceField(label="What it is", choices=Attachment.Kind.choices)
    caption = forms.CharField(
        max_length=LONGEST_NOTE,
        required=False,
        help_text="Who or what it shows, where and when; for notes or a transcript, who wrote it.",
    )
    rights_note = forms.CharField(
        label="Whose it is, and who is in it",
        max_length=LONGEST_NOTE,
        required=False,
        help_text="For example: lent by the narrator; her sister is in the picture and has agreed.",
    )

    @classmethod
    def in_panel(cls) -> "AttachmentForm":
        """For the upload panel, whose script sends each field along with the files chosen."""
        form = cls(auto_id="attach_%s")
        for field in form.fields.values():
            field.widget.attrs["data-upload-field"] = ""
        return form


class CaptionForm(Merging, AttachmentForm):
    merged_fields = ("kind", "caption", "rights_note")


class TakeOutForm(Form):
    reason = forms.CharField(
        label="Why is it taken out?",
        help_text="A few words are enough, such as: somebody in the picture did not agree.",
        max_length=LONGEST_NOTE,
    )


class SignedAgreementForm(Form):
    """What is written on an agreement signed on paper."""

    number = forms.ChoiceField(
        label="Form number", help_text="It stands at the top of the form, such as F-7K2M-9QXD-4TBC."
    )
    signed_by = forms.CharField(
        label="Name written on the form",
        max_length=200,
        help_text="Whose signature it is, letter for letter. A guardian who signs writes their own name.",
        widget=forms.TextInput({"autocomplete": "off"}),
    )
    signed_on = forms.DateField(label="Day written on the form", widget=DateInput())

    def __init__(self, *args: Any, numbers: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        cast("forms.ChoiceField", self.fields["number"]).choices = [(number, number) for number in numbers]

    def typed(self) -> Typed:
        data = self.cleaned_data
        return Typed(data["number"], None, data["signed_on"], data["signed_by"])


class SignedFormForm(ChoicesForm, SignedAgreementForm):
    """What is ticked and written on a release signed on paper."""

    name = forms.ChoiceField(
        label="May the signer's name be shown?",
        choices=[("shown", "Their name may be shown"), ("withheld", "Their name is withheld")],
        widget=forms.RadioSelect,
    )
    field_order = ("number", "access", "closed_until", "closed_event", "licence", "name", "signed_by", "signed_on")

    def typed(self) -> Typed:
        data = self.cleaned_data
        choices = Choices(
            data["access"],
            data["closed_until"],
            data["closed_event"],
            data["licence"],
            name_withheld=data["name"] == "withheld",
        )
        return Typed(data["number"], choices, data["signed_on"], data["signed_by"])


class AskWithdrawalForm(Form):
    asks: ClassVar = {"wished_by": "Say whose wish it is.", "reason": "Say in a few words why."}
    wished_by = forms.CharField(
        label="Whose wish is it?",
        max_length=200,
        help_text="The name of whoever signed and wishes it, or of somebody whom it harms.",
        widget=forms.TextInput({"autocomplete": "off"}),
    )
    reason = forms.CharField(
        label="Why is it to be withdrawn?",
        help_text="The library's staff read it, and nobody else.",
        widget=forms.Textarea({"rows": 4}),
        max_length=5000,
    )


class WithdrawForm(Form):
    asks: ClassVar = {"reason": "Say in a few words why it is withdrawn."}
    reason = forms.CharField(
        label="Why is it withdrawn?",
        help_text="A few words are enough, such as: the narrator wishes it.",
        widget=forms.Textarea({"rows": 3}),
        max_length=2000,
    )


class KitCodeForm(Form):
    asks: ClassVar = {"code": "Type the code that is printed on your loan slip."}
    code = forms.CharField(
        label="Code on your loan slip",
        max_length=20,
        help_text="Eight letters and figures, such as K7QM-3XWD.",
        widget=forms.TextInput(
            {"autocomplete": "one-time-code", "autocapitalize": "characters", "spellcheck": "false"}
        ),
    )


class WelcomeForm(Form):
    asks: ClassVar = {"name": "Write your name.", "password": "Choose a password."}
    name = forms.CharField(label="Your name", max_length=200, widget=forms.TextInput({"autocomplete": "name"}))
    password = forms.CharField(
        label="Choose a password",
        help_text="At least ten characters. Three or four words that do not belong together are good.",
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
        strip=False,
    )

    def clean_password(self) -> str:
        validate_password(self.cleaned_data["password"])
        return self.cleaned_data["password"]
