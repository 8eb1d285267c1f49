"""The reasonings behind default figures are said in every language, and say the same numbers."""

import re
import tomllib
from collections import Counter

import pytest
from words.foreign import DEFAULTS

from renovation.words import Words, languages
from renovation.words.reasons import said_again

OTHERS = [language for language in languages() if language != "en"]
DIGITS = re.compile(r"\d+(?:[.,\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}]\d+)*")


def shipped(node):
    if isinstance(node, dict):
        for key, below in node.items():
            if key == "because" and below:
                yield below
            else:
                yield from shipped(below)
    elif isinstance(node, list):
        for below in node:
            yield from shipped(below)


def every_reason():
    files = [file for file in DEFAULTS.rglob("*.toml") if file.parent.name != "reasons"]
    return {text for file in files for text in shipped(tomllib.loads(file.read_text("utf-8")))}


def digits(text):
    """Each number's digits, however it is grouped and whatever parts it."""
    return Counter(re.sub(r"\D", "", number) for number in DIGITS.findall(text))


@pytest.mark.parametrize("language", OTHERS)
def test_each_reason_that_ships_is_said_in_every_language_and_no_other(language):
    assert set(said_again(language)) == every_reason()
    other = {text for text, said in said_again(language).items() if digits(said) != digits(text)}
    assert other == set()


def test_several_in_a_row_are_said_one_by_one_and_what_was_typed_stays():
    first, second, *_ = sorted(every_reason())
    words, known = Words("es"), said_again("es")
    assert words.reason(f"{second} {first}") == f"{known[second]} {known[first]}"
    assert words.reason(f"{first} My neighbour says so.") == f"{first} My neighbour says so."
    assert Words("en").reason(first) == first
