"""The trade terms that a language uses most stand in its words, and the published sources that use them are named."""

import re
import tomllib
import unicodedata
from pathlib import Path

import pytest

from renovation.words import Words

LISTS = {path.stem: tomllib.loads(path.read_text("utf-8")) for path in Path(__file__).with_name("terms").glob("*.toml")}
KNOWN = "glossary"
"""The source of terms that were taken from the list the words were first written by."""


def plain(text):
    """Small letters without accents: an excerpt may have lost them."""
    bare = unicodedata.normalize("NFKD", text.lower().replace("œ", "oe"))
    return "".join(letter for letter in bare if not unicodedata.combining(letter))


def holds(seen, term):
    """Whether an excerpt has the words of a term, in whatever number or ending."""
    words = re.findall(r"\w+", plain(seen))
    return all(any(word.startswith(of[:5]) for word in words) for of in re.findall(r"\w+", plain(term)))


@pytest.mark.parametrize("language", LISTS)
def test_every_listed_term_stands_in_the_words(language):
    words = Words(language)
    said = "\n".join(words.text(key) for key in words.keys()).lower()  # noqa: SIM118
    terms = [of[0] for of in LISTS[language]["term"].values()]
    assert len(terms) == len(set(terms)) == 60
    assert [term for term in terms if not re.search(rf"\b{re.escape(term.lower())}", said)] == []


@pytest.mark.parametrize("language", LISTS)
def test_thirty_terms_were_seen_in_a_published_source(language):
    sources = LISTS[language]["source"]
    cited = {english: of for english, of in LISTS[language]["term"].items() if len(of) > 1}
    seen = {english: of for english, of in cited.items() if of[1] != KNOWN}
    assert {of[1] for of in cited.values()} == set(sources)
    assert len(seen) >= 30
    assert [english for english, (term, _, text) in seen.items() if not holds(text, term)] == []


def test_an_excerpt_without_the_term_is_caught():
    assert holds("Los manoeuvres, à la journée", "manœuvre")
    assert holds("injertos laterales", "injerto lateral")
    assert not holds("un injerto de parche", "injerto lateral")
    assert not holds("reparte el cacao", "parte")
