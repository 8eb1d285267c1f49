"""What finds English in the other languages finds it, and takes nothing else for English."""

import pytest
from words.foreign import SLOT, WORD, english_in, entries, read_aloud, typed, untranslated

from renovation.inputs import demo_scenario
from renovation.words import languages

OTHERS = [language for language in languages() if language != "en"]


@pytest.mark.long
@pytest.mark.parametrize("language", OTHERS)
def test_no_sentence_of_a_language_is_taken_for_english_and_none_of_english_for_its_own(language):
    taken = {key for key, forms in entries(language).items() if any(english_in(said(t), language) for t in forms)}
    assert taken == set()
    sentences = [text for forms in entries("en").values() for text in forms if len(WORD.findall(said(text))) > 3]
    missed = {text for text in sentences if not english_in(said(text), language)}
    assert len(sentences) > 2000
    assert {text for text in missed if "renovation " not in text} == set()


@pytest.mark.parametrize("language", OTHERS)
def test_no_sentence_stands_untranslated_in_a_catalogue(language):
    assert untranslated(language) == {}


def test_english_is_found_among_names_code_and_what_is_read_aloud():
    farm = demo_scenario()
    html = f'<style>of the</style><img alt="Two years"><p>{farm.about.name}: use --json, mature_crop = 0.9.</p>'
    assert english_in(read_aloud(html), "es", typed(farm)) == ["two years"]
    assert english_in("uso: the arguments are required: FICHA", "es") == ["the arguments are required"]
    assert english_in("Columnas: month, tree y pods", "es") == ["month tree"]


def said(text: str) -> str:
    """A sentence whose facts say nothing."""
    return SLOT.sub(" · ", text)
