"""Words in braces that stand for something of an interview or of the library, in texts that the coordinator writes."""

import re
from collections.abc import Iterable, Mapping
from datetime import date

from django.conf import settings
from django.utils import formats, translation

from intake.library import services as libraries

PLACEHOLDER = re.compile(r"\{(\w+)\}")
NOBODY = "-"


def fill(text: str, known: Mapping[str, str]) -> str:
    """The text with what is known put in for its placeholders; the library's own name and room are always known.

    SECURITY: names are put in as they are and never looked through again, so a name like "{room}" stays a name.
    """
    library = libraries.current()
    known = {"library": library.name, "room": library.room, **known}
    return PLACEHOLDER.sub(lambda found: known.get(found.group(1), found.group(0)), text)


def faults_of(text: str, there_are: Iterable[str]) -> list[str]:
    """What is wrong with the placeholders of a text: a sentence that names those that nothing stands in for."""
    names = list(there_are)
    unknown = sorted({name for name in PLACEHOLDER.findall(text) if name not in names})
    if not unknown:
        return []
    return [f"Nothing stands in for {_braced(unknown)}. There are: {_braced(names)}."]


def day_in(language: str, day: date) -> str:
    """A day as it is written in a language: the site's own English for English and for a language not known here."""
    known = dict(settings.LANGUAGES)
    found = next((tag for tag in (language, language.partition("-")[0]) if tag in known), "en")
    with translation.override(settings.LANGUAGE_CODE if found == "en" else found):
        return formats.date_format(day)


def _braced(names: Iterable[str]) -> str:
    return ", ".join(f"{{{name}}}" for name in names)
