"""The demo farms in the words of each language: every name has its own, no number moves."""

import re
import tomllib

import pytest
from farm_files import FARMS as FILES

from renovation.decide import compare
from renovation.inputs import demo_names, demo_scenario
from renovation.inputs.demos import called, demo_text, names_in, renamed
from renovation.inputs.files import written
from renovation.words import Words, languages

OTHERS = [language for language in languages() if language != "en"]
INVENTED = {"en": "invented", "es": "inventad", "fr": "inventé", "pt": "inventad", "id": "rekaan"}
NAMES = demo_names()


def words_of(name, language):
    """What a language calls the things of a demo farm, by key."""
    return Words(language).names(f"demo.{name}")


def typed(tables):
    """Everything that people called something in a farm's file."""
    yield from (tables["about"]["name"], tables["about"]["note"])
    yield from (stand["name"] for stand in tables["stands"])
    yield from (loan["name"] for loan in tables["loans"])


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_english_has_every_name_of_a_farm_s_file_word_for_word(file):
    assert set(words_of(file.stem, "en").values()) == set(typed(tomllib.loads(file.read_text("utf-8"))))


@pytest.mark.parametrize(("name", "language"), [*zip(NAMES, OTHERS, strict=False), (NAMES[-1], OTHERS[0])])
def test_nothing_but_names_is_another_and_all_names_are(name, language):
    own, other = demo_scenario(name), demo_scenario(name, language)
    assert set(typed(written(other))) == set(words_of(name, language).values())
    assert set(typed(written(other))).isdisjoint(typed(written(own)))
    assert called(other, name, "en") == own
    assert own.digest != other.digest


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("name", NAMES)
def test_names_of_a_farm_are_told_apart_fit_and_are_called_invented(name, language):
    names, words = words_of(name, language), Words(language)
    assert len({said.casefold() for said in names.values()}) == len(names)
    assert INVENTED[language] in names["note"]
    assert all(len(said) <= 80 for key, said in names.items() if key != "note")
    for kind in ("good", "average", "poor", "bare"):
        if f"hill_block_{kind}" in names:
            assert names[f"hill_block_{kind}"] == f"{names['hill_block']}, {words(f'tally.class.{kind}')}"


@pytest.mark.parametrize("name", NAMES)
def test_no_name_means_two_things(name):
    """A farm in one language is called again in another by its names alone."""
    meant = {}
    for language in languages():
        for key, said in words_of(name, language).items():
            meant.setdefault(said, set()).add(key)
    assert {said: keys for said, keys in meant.items() if len(keys) > 1} == {}


def test_a_changed_demo_farm_keeps_its_changes_in_another_language():
    there = demo_scenario("few_hands", "fr").changed(
        household__floor=1234.0, stands__0__name="Chez nous", comparison__stand="Chez nous", plan=()
    )
    here = called(there, "few_hands", "pt")
    assert (here.household.floor, here.stands[0].name, here.stands[1].name) == (1234.0, "Chez nous", "Fundo da roça")
    assert called(here, "few_hands", "pt") is here
    assert "Le Fond" in names_in("few_hands", "pt")


def test_what_is_worked_out_is_the_same_in_every_language():
    own, told = (compare(demo_scenario(NAMES[0], language)).outcomes for language in ("en", "es"))
    assert {way: found.measures for way, found in own.items()} == {way: found.measures for way, found in told.items()}


def test_texts_under_another_name_are_found_at_any_depth_and_nothing_else():
    table = {"a": "x", "b": [{"c": "x"}, ("x", "xy", 3, True)], "x": None}
    assert renamed(table, {"x": "y"}) == {"a": "y", "b": [{"c": "y"}, ("y", "xy", 3, True)], "x": None}


def test_a_file_in_another_language_has_no_comment_in_english():
    assert "#" in demo_text(NAMES[0])
    assert {demo_text(NAMES[0], language) for language in OTHERS} == {""}
    assert not any(re.search(r"\bfields?\b", said) for said in words_of(NAMES[0], "es").values())
