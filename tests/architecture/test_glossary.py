"""docs/glossary.md has one sentence for every model, in the order of the alphabet."""

import re

import pytest
from django.apps import apps

from tests.architecture.source import ROOT

LINES = re.findall(r"^- (?:`(\w+)`|\*\*([\w ]+)\*\*): (.+)$", (ROOT / "docs/glossary.md").read_text(), re.MULTILINE)
MODELS = [model.__name__ for model in apps.get_models() if model.__module__.startswith("intake.")]


@pytest.mark.parametrize("name", MODELS)
def test_every_model_has_its_sentence(name):
    assert name in [code for code, _, _ in LINES]


def test_no_word_is_called_a_model_that_is_none():
    assert {code for code, _, _ in LINES if code} == set(MODELS)


def test_the_words_stand_in_order():
    words = [(code or word).lower() for code, word, _ in LINES]
    assert words == sorted(words)


@pytest.mark.parametrize("sentence", [sentence for _, _, sentence in LINES])
def test_each_line_is_one_sentence(sentence):
    plain = re.sub(r"\[(.+?)\]\(.+?\)", r"\1", sentence)
    assert plain.endswith(".")
    assert ". " not in plain
