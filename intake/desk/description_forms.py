"""Forms of the description: the record's text, headings, people, and words at their times."""

from typing import Any, ClassVar

from django import forms

from intake.catalogue import dates
from intake.catalogue.languages import name_of, tag_of
from intake.catalogue.list_files import ENDINGS
from intake.catalogue.models import AccessPoint, Contributor, Description, Heading
from intake.catalogue.rights import LABELS, STATEMENTS
from intake.catalogue.services import Said
from intake.catalogue.webvtt import Spoken
from intake.errors import Refused
from intake.interviews.models import Part
from intake.web.forms import Form, Merging
from intake.web.timecodes import TimecodeField

MOST_IN_A_LIST = 20
LONGEST_WORDS = 5000


class ListField(forms.CharField):
    """Several things in one line, parted by commas; each is read by `read_one`, which says no with Refused."""

    def __init__(self, *, separator: str = ",", **kwargs: Any) -> None:
        super().__init__(max_length=2000, **kwargs)
        self.separator = separator

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value) or ""
        super().run_validators(text)
        typed = [one.strip() for one in text.split(self.separator)]
        try:
            found = list(dict.fromkeys(self.read_one(one) for one in typed if one))
        except Refused as refused:
            raise forms.ValidationError(list(refused.reasons)) from refused
        if len(found) > MOST_IN_A_LIST:
            raise forms.ValidationError(f"There is room for {MOST_IN_A_LIST} of them; these are {len(found)}.")
        return found

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, list | tuple):
            return f"{self.separator} ".join(self.show_one(one) for one in value)
        return value

    def validate(self, value: Any) -> None:
        if self.required and not value:
            raise forms.ValidationError(self.error_messages["required"], code="required")

    def run_validators(self, value: Any) -> None:
        """They were asked about the text, before it was parted."""

    def read_one(self, typed: str) -> str:
        return typed

    def show_one(self, value: str) -> str:
        return value


class LanguagesField(ListField):
    def read_one(self, typed: str) -> str:
        return tag_of(typed)

    def show_one(self, value: str) -> str:
        """The name, but where it would be read as several, or would lose the region."""
        name = name_of(value)
        return value if "-" in value or self.separator in name else name


class PeriodsField(ListField):
    def read_one(self, typed: str) -> str:
        return dates.checked(typed)


class RecordForm(Merging, Form):
    merged_fields = ("title", "summary", "languages", "periods", "rights")
    asks: ClassVar = {"languages": "Say which language is spoken."}
    title = forms.CharField(
        required=False, max_length=500, help_text="Leave it empty, and it is made of the narrators' names and the day."
    )
    summary = forms.CharField(
        required=False,
        max_length=20_000,
        widget=forms.Textarea({"rows": 8}),
        help_text="Begun with the volunteer's own words. Everybody may read it: name nobody whom that may harm.",
    )
    languages = LanguagesField(
        label="Languages spoken",
        help_text="By name or code of ISO 639-3, the one most spoken first, with commas between.",
    )
    periods = PeriodsField(
        label="Times that are spoken of",
        required=False,
        help_text=f"As EDTF, with commas between, such as {dates.EXAMPLES}.",
    )
    rights = forms.ChoiceField(
        required=False, help_text="How things stand; a licence is offered where all narrators gave it."
    )

    def __init__(self, *args: Any, kept: Description, licence: str, **kwargs: Any) -> None:
        saved = {name: getattr(kept, name) for name in self.merged_fields}
        super().__init__(*args, saved=saved, initial=saved, **kwargs)
        choices = {**STATEMENTS, **({licence: LABELS[licence]} if licence else {})}
        kept_too = {kept.rights: LABELS[kept.rights]} if kept.rights in LABELS else {}
        self.fields["rights"].choices = [("", "Not chosen yet"), *{**choices, **kept_too}.items()]  # type: ignore[attr-defined]
        self.fields["languages"].widget.attrs["data-suggests"] = "languages"
        for name in ("summary", "rights"):
            self.fields[name].is_conditional = True  # type: ignore[attr-defined]  # asked for before it is catalogued

    def said(self) -> Said:
        return Said(**self.typed())

    def said_before(self) -> Said:
        return Said(**self.began())


class HeadingChoiceForm(Form):
    """A heading by its name, or one that was chosen among several; `new` writes it into the library's own list."""

    asks: ClassVar = {"typed": "Write a subject or a place."}
    typed = forms.CharField(
        label="Subject or place",
        max_length=300,
        widget=forms.TextInput({"autocomplete": "off", "data-suggests": "headings"}),
    )
    use = forms.ChoiceField(label="What has it to do with the interview?", choices=AccessPoint.Use.choices)
    chosen = forms.ModelChoiceField(Heading.objects.filter(is_current=True), required=False, widget=forms.HiddenInput)
    new = forms.ChoiceField(choices=Heading.Kind.choices, required=False, widget=forms.HiddenInput)


class OwnHeadingForm(Form):
    asks: ClassVar = {"label": "Write the heading."}
    kind = forms.ChoiceField(label="What is it?", choices=Heading.Kind.choices)
    label = forms.CharField(label="Heading", max_length=300, help_text="In the one form that all records use.")
    variants = ListField(
        label="Other forms of the name", separator=";", required=False, help_text="With semicolons between."
    )
    note = forms.CharField(required=False, max_length=2000, label="When to use it", widget=forms.Textarea({"rows": 2}))
    latitude = forms.FloatField(
        required=False, min_value=-90, max_value=90, help_text="Of a place, in degrees north, such as 55.6761."
    )
    longitude = forms.FloatField(
        required=False, min_value=-180, max_value=180, help_text="In degrees east; west is minus."
    )
    is_current = forms.BooleanField(
        label="Offer it", required=False, initial=True, help_text="Records that use it keep it all the same."
    )

    def clean(self) -> dict[str, Any] | None:
        super().clean()
        given = self.cleaned_data
        told = [given.get("latitude"), given.get("longitude")]
        if told.count(None) == 1:
            self.add_error("longitude", "Latitude and longitude belong together: both or neither.")
        if told.count(None) == 0 and given.get("kind") != Heading.Kind.PLACE:
            self.add_error("latitude", "Only a place lies somewhere.")
        return given


class ListFileForm(Form):
    asks: ClassVar = {"name": "Give the list a name.", "code": "Write its code.", "file": "Choose the file."}
    name = forms.CharField(
        label="Name of the list", max_length=200, help_text="One that is known is brought up to date."
    )
    code = forms.SlugField(
        label="Its code in MARC", max_length=40, help_text="As the Library of Congress lists it, or one of your own."
    )
    kind = forms.ChoiceField(label="It has", choices=[("subject", "subjects"), ("place", "places")])
    file = forms.FileField(
        widget=forms.FileInput({"accept": ",".join(f".{ending}" for ending in ENDINGS)}),
        help_text="SKOS as .ttl, .rdf, .xml or .nt; or .csv with the columns label, variants, uri, broader, note, "
        "latitude, longitude.",
    )


class PersonNameForm(Form):
    asks: ClassVar = {"catalogue_name": "Write the name in catalogue order."}
    catalogue_name = forms.CharField(
        label="Name in catalogue order",
        max_length=200,
        help_text="Most often the family name, a comma, the other names: Oskarsen, Marit. As the person wishes it.",
    )
    variant_names = ListField(
        label="Other names", separator=";", required=False, help_text="Of the same person, with semicolons between."
    )
    life_dates = forms.CharField(
        label="Years of life",
        required=False,
        max_length=60,
        help_text="As EDTF, such as 1943/.. or 1890/1951. Only what may be public: many people do not wish it.",
    )
    uri = forms.URLField(
        label="Address of a record elsewhere",
        required=False,
        max_length=500,
        assume_scheme="https",
        help_text="If there is one.",
    )


class ContributorForm(Form):
    """Somebody who is known, or somebody new by name."""

    asks: ClassVar = {"role": "Say what they did."}
    role = forms.ChoiceField(label="What have they to do with it?", choices=Contributor.Role.choices)
    person = forms.IntegerField(required=False, widget=forms.HiddenInput)
    name = forms.CharField(required=False, max_length=200, label="Name, as it is spoken")
    catalogue_name = forms.CharField(
        required=False, max_length=200, label="Name in catalogue order", help_text="Such as: Oskarsen, Marit."
    )

    def clean(self) -> dict[str, Any] | None:
        super().clean()
        if not self.cleaned_data.get("person"):
            for name in ("name", "catalogue_name"):
                if not self.cleaned_data.get(name):
                    self.add_error(name, "Write the name in both forms.")
        return self.cleaned_data


class CueForm(Form):
    """Words at a time of a part. `began` is what the words were when the form was made."""

    asks: ClassVar = {"words": "Write some words."}
    part = forms.ModelChoiceField(Part.objects.none(), empty_label=None)
    from_seconds = TimecodeField(label="From", help_text="Such as 2:33.5, as the player shows it.")
    to_seconds = TimecodeField(label="To", required=False)
    voice = forms.CharField(label="Who speaks", required=False, max_length=200)
    words = forms.CharField(max_length=LONGEST_WORDS, widget=forms.Textarea({"rows": 3}))
    began = forms.CharField(required=False, max_length=LONGEST_WORDS, widget=forms.HiddenInput, strip=False)

    def __init__(self, *args: Any, parts: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["part"].queryset = parts  # type: ignore[attr-defined]
        self.fields["part"].label_from_instance = lambda part: f"Part {part.position}"  # type: ignore[attr-defined]

    def said(self) -> Spoken:
        given = self.cleaned_data
        ends = given["to_seconds"]
        return Spoken(_ms(given["from_seconds"]), None if ends is None else _ms(ends), given["voice"], given["words"])


class TextFileForm(Form):
    asks: ClassVar = {"file": "Choose the file."}
    part = forms.ModelChoiceField(Part.objects.none(), required=False, empty_label="all parts, one after the other")
    file = forms.FileField(label="WebVTT file", widget=forms.FileInput({"accept": ".vtt,text/vtt"}))

    def __init__(self, *args: Any, parts: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["part"].queryset = parts  # type: ignore[attr-defined]
        self.fields["part"].label_from_instance = lambda part: f"part {part.position} alone"  # type: ignore[attr-defined]
        self.fields["part"].label = "It is of"


class RespellForm(Form):
    wrong = forms.CharField(max_length=300, strip=False)
    right = forms.CharField(max_length=300)


def _ms(seconds: float) -> int:
    return round(seconds * 1000)
