"""Languages by name and code, held against ISO 639 as pycountry has it."""

import pycountry
import pytest

from intake.catalogue.languages import suggested, tag_of
from intake.errors import Refused


def test_every_language_of_iso_639_3_is_known_by_its_code_and_its_name():
    for language in pycountry.languages:
        shortest = getattr(language, "alpha_2", language.alpha_3)
        assert tag_of(language.alpha_3) == shortest
        assert tag_of(language.name) == shortest


@pytest.mark.parametrize(
    ("typed", "tag"),
    [("english", "en"), ("Norwegian Bokmal", "nb"), ("GER", "de"), ("pt-BR", "pt-BR"), ("Ga", "gaa"), ("cy", "cy")],
)
def test_people_write_it_as_they_know_it(typed, tag):
    assert tag_of(typed) == tag


@pytest.mark.parametrize("typed", ["", "xx", "Elvish!", "en-", "en-;drop", "x" * 500, "\0"])
def test_what_is_none_is_refused(typed):
    with pytest.raises(Refused):
        tag_of(typed)


def test_a_name_half_remembered_gets_an_answer():
    with pytest.raises(Refused, match="Perhaps Old Norse"):
        tag_of("Norse")
    assert ("nb", "Norwegian Bokmål") in suggested("nor")
    assert suggested(" ") == []
