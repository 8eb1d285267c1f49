"""One name for one thing, everywhere: no other wording of it stands in the word files."""

import re

import pytest
from naming import OTHER_NAMES, SHORT, SPENDS_MORE, other_names

from renovation.show.voice import Voice, inside
from renovation.words import Words, languages

WORDS = Words("en")
TEXTS = {key: WORDS.text(key) for key in sorted(WORDS.keys())}
OF_SHORT = re.compile(
    r"cash\.short\.|cash\.cell\.short|command\.cash\.help|risk\.(answer\.)?short\.|risk\.figure\.below_floor"
    r"|screen\.cash\.short_means|workbook\.about\.balance"
)


def saying(pattern):
    """Keys whose words, capitals aside, hold the pattern."""
    return {key for key, text in TEXTS.items() if re.search(pattern, text, re.IGNORECASE)}


def test_money_runs_short_is_said_of_a_balance_below_the_floor_alone():
    assert {key for key in saying(SHORT) if not OF_SHORT.match(key)} == set()
    assert len(saying(SHORT)) > 10


def test_nothing_that_has_a_name_is_called_by_another():
    said = {key: found for key, text in TEXTS.items() if (found := other_names(text))}
    assert said == {}
    assert len(saying(SPENDS_MORE)) > 15
    assert len(saying("farm as it is")) > 60


@pytest.mark.parametrize(
    ("of", "text"),
    zip(
        OTHER_NAMES,
        (
            "Years that do not pay.",
            "The farm left\nalone.",
            "By replanting from rooted cuttings",
            "The plan on expected",
        ),
        strict=True,
    ),
)
def test_another_name_would_be_caught(of, text):
    assert list(other_names(text)) == [of]


@pytest.mark.parametrize("language", languages())
def test_every_way_has_a_name_and_what_is_done_and_no_two_have_the_same(language):
    words = Words(language)
    ways = [key.removeprefix("technique.") for key in words.keys() if key.startswith("technique.")]  # noqa: SIM118
    voice = Voice(words, "USD")
    assert len(ways) == 9
    for said in (voice.way, voice.way_named, voice.way_inside):
        assert len({said(key) for key in ways}) == len(ways)
    assert all(inside(voice.way(key)) == voice.way_named(key) for key in ways)
    assert all(voice.way_inside(key)[0].islower() for key in ways)


LONG = 20
"""Words that a sentence read aloud may have; a fact counts as one."""


def sentences():
    """Every whole sentence of the word files, its facts one word each."""
    for text in TEXTS.values():
        if text.rstrip().endswith((".", "?", "!")):
            yield from re.split(r"(?<=[.?!])\s+", re.sub(r"\{\w+\}", "X", text))


def test_sentences_are_short():
    """Nine words a sentence on average; of 2,328 sentences five were longer than twenty words on 2026-11-29."""
    lengths = [len(sentence.split()) for sentence in sentences()]
    assert len(lengths) > 2000
    assert sum(lengths) / len(lengths) < 9.5
    assert sum(length > LONG for length in lengths) / len(lengths) < 0.01
