"""The description of an interview, which volunteers and staff write. Forms check shape; services check rules."""

from typing import Any, ClassVar

from django import forms
from django.conf import settings

from intake.interviews.models import Collection, Interview
from intake.interviews.services import Description
from intake.web.forms import ModelForm
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
            "place": "For example: at home in the kitchen, and the town or village.",
            "summary": "Two or three sentences. You can write this later, but before you hand in.",
            "names_and_spellings": "People, places and words that a listener may not know how to spell, one a line.",
            "context_notes": "Who else was in the room, interruptions, anything a listener in fifty years should know.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        collections = list(Collection.objects.all()[:2])
        if len(collections) == 1:
            self.fields["collection"].initial = collections[0]

    def description(self) -> Description:
        return Description(**{name: self.cleaned_data[name] for name in self.Meta.fields})
