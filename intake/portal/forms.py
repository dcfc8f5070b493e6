"""One form per action of the volunteer. Forms check shape; services check rules."""

from typing import Any, ClassVar

from django import forms
from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.forms.models import model_to_dict

from intake.interviews.models import Collection, Interview, Participant
from intake.interviews.services import Description
from intake.web.forms import Form, Merging, ModelForm
from intake.web.widgets import DateInput


class DescriptionForm(ModelForm):
    asks: ClassVar = {
        "collection": "Choose the collection that the interview belongs to.",
        "recorded_on": "Write the day of the interview.",
        "place": "Write where the interview was recorded.",
        "language": "Choose the language that was spoken.",
        "narrator_name": "Write the narrator's name.",
    }
    language = forms.ChoiceField(choices=lambda: sorted(settings.LANGUAGES, key=lambda pair: pair[1]), initial="en")

    class Meta:
        model = Interview
        fields = ("collection", "recorded_on", "place", "language", "summary", "names_and_spellings", "context_notes")
        widgets = {
            "recorded_on": DateInput(),
            "summary": forms.Textarea({"rows": 4}),
            "names_and_spellings": forms.Textarea({"rows": 4}),
            "context_notes": forms.Textarea({"rows": 4}),
        }
        labels = {
            "recorded_on": "Day of the interview",
            "place": "Where you recorded",
            "language": "Language spoken",
            "summary": "What it is about",
            "names_and_spellings": "Names and spellings",
            "context_notes": "Notes on the recording",
        }
        help_texts = {
            "place": "For example: at home in the kitchen, Alder Ferry.",
            "summary": "Two or three sentences. You can write this later, but before you hand in.",
            "names_and_spellings": "People, places and words that a listener may not know how to spell, one a line.",
            "context_notes": "Who else was in the room, interruptions, anything a listener in fifty years should know.",
        }

    def description(self) -> Description:
        return Description(**{name: self.cleaned_data[name] for name in self.Meta.fields})


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

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        collections = list(Collection.objects.all()[:2])
        if len(collections) == 1:
            self.fields["collection"].initial = collections[0]


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
    field_order = ("role", "name", "email")


class WithdrawForm(Form):
    asks: ClassVar = {"reason": "Say in a few words why the interview is withdrawn."}
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
