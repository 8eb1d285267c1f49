"""Each term of the trade is called by its one name in each language, where English calls it by its own.

`glossary.toml` holds the terms: in English, in each language the word to use and those that may stand for it, as the
beginnings of words, and keys whose sentences are of that term. The words are common practice of the trade.
"""

import re
import tomllib
from pathlib import Path

import pytest

from renovation.words import Words, languages

TERMS = tomllib.loads(Path(__file__).with_name("glossary.toml").read_text("utf-8"))


def holds(text, words):
    """Whether a word of a text begins as one of these do, its facts and capitals aside."""
    bare = re.sub(r"\{\w+\}", "", text)
    return any(re.search(rf"(?<!\w){re.escape(word)}", bare, re.IGNORECASE) for word in words)


@pytest.mark.parametrize("language", languages())
def test_each_term_has_its_own_word_in_the_sentences_that_are_of_it(language):
    words = Words(language)
    said = {(term, key): words.text(key) for term, entry in TERMS.items() for key in entry["keys"]}
    assert len(TERMS) >= 60
    assert {of: text for of, text in said.items() if not holds(text, TERMS[of[0]][language])} == {}


def test_another_word_for_a_term_would_be_caught():
    jeito = TERMS["way"]["pt"]
    assert holds("Cada jeito, {way}", jeito)
    assert not holds("Cada técnica, {jeito}", jeito)
    assert not holds("Cada sujeito", jeito)


def test_no_word_of_a_language_stands_for_two_terms_but_where_the_glossary_has_it_so():
    """One word, one thing: these share one, for the trade does."""
    shared = {"limit", "floor"}, {"pod", "pods of a tree"}, {"payback", "term"}
    for language in languages():
        of = {}
        for term, entry in TERMS.items():
            for word in entry[language]:
                of.setdefault(word.casefold(), set()).add(term)
        twice = [terms for terms in of.values() if len(terms) > 1]
        assert [terms for terms in twice if not any(terms <= pair for pair in shared)] == [], language
