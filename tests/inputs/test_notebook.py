"""A farm of one's own: nothing inherited, each figure answered, guessed or a default; any order is one farm."""

import itertools
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from renovation.inputs import ScenarioError, default_supplies, default_techniques, read_scenario, write_scenario
from renovation.inputs.defaults import default_notebook, default_tree_classes
from renovation.inputs.guesses import at
from renovation.inputs.notebook import QUESTIONS, Unanswered, answered, new_farm, open_paths, question_of, read_entry
from renovation.inputs.seasons import window_names
from renovation.words import Words

NAMED = {question.name: question for question in QUESTIONS}
ANSWERS = {
    "place": [{"country": "Ghana"}],
    "fields": [{"trees": 200}, {"trees": 180}, {"trees": 140, "name": "Far field"}],
    "crop": [{"sacks": 2.0, "kg_per_sack": 64.0}],
    "hands": [{"people": 2, "days_each": 8.0}],
    "price": [{"price_per_kg": 30.0, "deductions_per_kg": 1.0}],
    "wage": [{"wage_per_day": 60.0}],
    "money": [{"savings": 900.0}],
    "needs": [{"living_costs": 700.0, "other_income": 500.0}],
    "loans": [{"owed": 400.0, "rate_per_year": 0.2, "months_left": 10}],
    "grafts": [{"made": 20, "taken": 5, "season": "2026-04"}],
}
"""An invented family's answers."""
SET_BY_THE_PROGRAM = {
    "about.name",  # what it is called until it is named
    "appraisal.start",  # today's month
    "appraisal.horizon_years",  # common practice
    "appraisal.currency",  # the US dollar until the country is told
    "market.season.shares",  # even over the year until the country is told
    "stands.0.name",
}
"""What neither a guess nor a default of the model is."""


def begun():
    return new_farm("2027-01", "My farm", "Field 1")


def told(farm, *names):
    for name in names:
        farm = answered(farm, NAMED[name], ANSWERS[name])
    return farm


def leaves(model, path=()):
    """Every number and text of a model that differs from the model's own default, by path."""
    for name, info in type(model).model_fields.items():
        value = getattr(model, name)
        if not info.is_required() and value == info.get_default(call_default_factory=True):
            continue
        yield from below(value, (*path, name))


def below(value, path):
    if isinstance(value, BaseModel):
        yield from leaves(value, path)
    elif isinstance(value, tuple) and value and isinstance(value[0], BaseModel):
        for place, entry in enumerate(value):
            yield from leaves(entry, (*path, str(place)))
    else:
        yield ".".join(path)


def test_every_field_is_guessed_or_a_default_with_its_class():
    farm = begun()
    found = {
        path
        for path in leaves(farm)
        if not path.startswith("guessed") and path.split(".")[0] not in {"techniques", "supplies"}
    }
    assert found - {"planning.learning.form"} - SET_BY_THE_PROGRAM - {"planning.learning"} == set(farm.guessed)
    assert farm.planning.learning == type(farm.planning.learning)()
    assert all(farm.techniques[key] == way for key, way in default_techniques().items() if key in farm.techniques)
    assert farm.supplies == default_supplies()
    assert not (farm.about.invented)
    assert not (farm.about.note)
    assert not (farm.plan)
    assert not (farm.loans)
    assert not (farm.under_way)
    assert not (farm.tools_owned)


def test_all_ten_answered_leave_only_what_no_question_asks():
    farm = told(begun(), *ANSWERS)
    assert {question_of(path) for path in farm.guessed} == {None}
    assert [stand.trees for stand in farm.stands] == [200, 180, 140]
    assert sum(stand.trees * stand.kg_per_tree for stand in farm.stands) == pytest.approx(128.0)
    assert farm.household.family_days == 16.0, "two people with eight days each"
    assert farm.appraisal.currency == "GHS"
    assert farm.market.season.window == "Ghana"
    assert farm.loans[0].running
    assert farm.loans[0].amount == 400.0
    assert read_scenario(write_scenario(farm), "mine.toml") == farm


@pytest.mark.parametrize(
    "order",
    [[*reversed(ANSWERS)], ["crop", "grafts", "fields", "needs", "place", "loans", "price", "hands", "money", "wage"]],
)
def test_answers_in_another_order_are_the_same_farm(order):
    one, other = told(begun(), *ANSWERS), told(begun(), *order)
    names = type(one).model_fields.keys() - {"stands", "guessed"}
    assert all(getattr(one, name) == getattr(other, name) for name in names)
    assert dict(one.guessed) == dict(other.guessed)
    for mine, its in zip(one.stands, other.stands, strict=True):
        assert (mine.name, mine.trees) == (its.name, its.trees)
        assert mine.kg_per_tree == pytest.approx(its.kg_per_tree)


def test_the_country_is_kept_for_its_numbers_and_one_without_a_harvest_window_is_told_by_its_letters():
    farm = told(begun(), "place")
    assert farm.about.country == "GH"
    assert {*default_notebook().countries} == {*default_notebook().currencies} == {*window_names()}
    elsewhere = answered(begun(), NAMED["place"], [{"home": "PE"}])
    assert (elsewhere.about.country, elsewhere.appraisal.currency) == ("PE", "USD")
    assert elsewhere.market == begun().market
    near = answered(farm, NAMED["place"], [{"country": "Ecuador", "home": "PE"}])
    assert (near.about.country, near.market.season.window) == ("PE", "Ecuador")


def test_a_country_is_told_by_its_letters_or_its_name_in_the_language():
    """Names as in CLDR."""
    home = next(entry for entry in NAMED["place"].entries if entry.name == "home")
    for text in ("PE", "pe", "Perú", "PERU"):
        assert read_entry(home, text, "USD", Words("es")) == "PE"
    with pytest.raises(ScenarioError) as caught:
        read_entry(home, "Perucho", "USD", Words("es"))
    assert caught.value.sentences(Words("en")) == [
        "There is no country Perucho. Write its two letters, such as PE, or its name."
    ]


def test_a_figure_typed_anywhere_is_no_guess_any_longer():
    farm = begun()
    assert "household.wage_per_day" not in farm.changed(household__wage_per_day=9.0).guessed
    same = farm.changed(household__wage_per_day=farm.household.wage_per_day)
    assert "household.wage_per_day" not in same.guessed, "what is told is known, even where it is what we guessed"
    household = {**farm.model_dump()["household"], "savings": 3.0}
    whole = farm.changed(household=household).guessed
    assert "household.savings" not in whole
    assert "household.living_costs" in whole
    split = tuple({**farm.model_dump()["stands"][0], "name": name, "part_of": "Field 1", "trees": 9} for name in "ab")
    walked = farm.changed(stands=split).guessed
    assert {path for path in walked if path.startswith("stands.1")} == {
        f"stands.1.{field}" for field in ("crop_per_tree", "decline_per_year", "upkeep_days", "upkeep_inputs")
    }
    assert "guessed" not in write_scenario(farm.changed(guessed={}))


def test_going_on_without_an_answer_changes_nothing_and_half_an_answer_is_refused():
    farm = begun()
    assert answered(farm, NAMED["hands"], [{"people": None}]) is farm
    with pytest.raises(Unanswered) as missing:
        answered(farm, NAMED["hands"], [{"people": 2}])
    assert missing.value.entry == "days_each"
    with pytest.raises(ScenarioError, match="only 20 were made"):
        answered(farm, NAMED["grafts"], [{"made": 20, "taken": 21}])
    assert set(open_paths(farm, NAMED["fields"])) == {"stands.0.trees"}


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ('"stands.0.tree" = { low = 1, high = 2 }', "no such number"),
        ('"household.savings" = { low = 1, high = 2 }', "200"),
        ('"savings" = { low = 1, high = 2 }', "savings"),
    ],
)
def test_a_guess_that_cannot_be_is_refused_in_a_sentence(lines, said):
    text = write_scenario(begun().changed(guessed={})) + f"\n[guessed]\n{lines}\n"
    with pytest.raises(ScenarioError, match=said):
        read_scenario(text, "mine.toml")


number = st.floats(0, 1e5, allow_nan=False)
maybe = st.none() | number
ROWS = {
    "place": st.fixed_dictionaries({"country": st.sampled_from(["Ghana", "Ecuador", "Indonesia"])}),
    "fields": st.fixed_dictionaries({"trees": st.integers(1, 5000), "empty_places": st.none() | st.integers(0, 90)}),
    "crop": st.fixed_dictionaries({"kg": st.floats(0, 20)})
    | st.fixed_dictionaries({"pods_per_tree": st.floats(0, 400), "lost_share": st.none() | st.floats(0, 1)}),
    "hands": st.fixed_dictionaries({"people": st.integers(1, 30), "days_each": st.floats(0, 31)}),
    "price": st.fixed_dictionaries({"price_per_kg": maybe, "deductions_per_kg": maybe}),
    "wage": st.fixed_dictionaries({"wage_per_day": maybe}),
    "money": st.fixed_dictionaries({"savings": maybe}),
    "needs": st.fixed_dictionaries({"living_costs": maybe, "other_income": maybe}),
    "loans": st.fixed_dictionaries(
        {"owed": st.integers(1, 10**6).map(float), "rate_per_year": st.floats(0, 1), "months_left": st.integers(1, 300)}
    ),
    "grafts": st.integers(0, 500).flatmap(
        lambda made: st.fixed_dictionaries({"made": st.just(made), "taken": st.integers(0, made)})
    ),
}


@settings(max_examples=25)
@given(st.permutations(list(ROWS)), st.data())
def test_any_answers_in_any_order_are_a_sound_farm(order, data):
    farm = begun()
    for name in order[: data.draw(st.integers(0, 10))]:
        rows = data.draw(st.lists(ROWS[name], min_size=1, max_size=3 if NAMED[name].many else 1))
        farm = answered(farm, NAMED[name], rows)
    assert read_scenario(write_scenario(farm), "mine.toml") == farm
    for path, guess in farm.guessed.items():
        assert guess.low <= at(farm, path) <= guess.high
    names = [stand.name for stand in farm.stands]
    assert all(one != other for one, other in itertools.combinations(names, 2))


def test_rows_walked_and_trees_sorted_are_added_to_the_fields_that_were_told():
    fields, crop = NAMED["fields"], NAMED["crop"]
    farm = answered(begun(), fields, [{"measure": "rows", "rows": 12, "trees_per_row": 10.0}])
    assert [(stand.name, stand.trees) for stand in farm.stands] == [("Field 1", 120)]
    assert "stands.0.trees" not in farm.guessed
    counts = {"good_trees": 20, "average_trees": 30, "poor_trees": 40, "bare_trees": 10}
    farm = answered(farm, fields, [{"measure": "tally", **counts}])
    assert [(stand.name, stand.trees) for stand in farm.stands] == [("Field 1", 120), ("Field 2", 100)]
    pods = {"good_pods": 30.0, "average_pods": 20.0, "poor_pods": 5.0}
    called = {"bare": "bare ones"}
    farm = answered(farm, fields, [{"measure": "tally", **counts, **pods, "called": called, "empty_places": 4}])
    names = ["Field 1", "Field 2", "Field 3, good", "Field 3, average", "Field 3, poor", "Field 3, bare ones"]
    assert [stand.name for stand in farm.stands] == names
    assert [stand.trees for stand in farm.stands][2:] == [20, 30, 40, 10]
    # on paper: 25 pods make a kilogram (Asare & David 2010/11), so that 30 pods are 1.2 kg
    assert [stand.kg_per_tree for stand in farm.stands][2:] == pytest.approx([1.2, 0.8, 0.2, 0.0])
    assert sum(stand.empty_places for stand in farm.stands) == 4
    assert {f"stands.{place}.decline_per_year" for place in range(6)} <= set(farm.guessed)
    assert {f"stands.{place}.crop_per_tree" for place in range(6)} & set(farm.guessed) == {
        "stands.0.crop_per_tree",
        "stands.1.crop_per_tree",
    }
    later = answered(farm, fields, [{"measure": "rows", "rows": 2, "trees_per_row": 5.0}])
    assert (later.stands[-1].name, later.stands[-1].kg_per_tree) == ("Field 4", 0.35)
    assert "stands.6.crop_per_tree" in later.guessed
    whole = answered(farm, crop, [{"kg": 90.0}])
    assert sum(stand.trees * stand.kg_per_tree for stand in whole.stands) == pytest.approx(90.0)
    good, average = whole.stands[2:4]
    assert good.kg_per_tree / average.kg_per_tree == pytest.approx(1.5), "class beside class as it was counted"
    assert read_scenario(write_scenario(whole), "mine.toml") == whole
    again = answered(farm, fields, [{"trees": 50}])
    assert [stand.trees for stand in again.stands] == [50], "numbers are all the fields there are"


def test_a_tally_without_trees_or_with_some_pods_is_asked_again():
    for row, entry in (
        ({"good_trees": 0}, "good_trees"),
        ({"good_trees": 3, "poor_trees": 2, "good_pods": 30.0}, "poor_pods"),
    ):
        with pytest.raises(Unanswered) as missing:
            answered(begun(), NAMED["fields"], [{"measure": "tally", **row}])
        assert missing.value.entry == entry


def test_the_classes_are_named_by_their_published_borders():
    said = {name: Words("en")(f"notebook.entry.{name}_trees") for name in ("good", "average", "poor")}
    good, average = default_tree_classes().good.value, default_tree_classes().average.value
    assert [int(n) for n in re.findall("[0-9]+", said["good"])] == [good]
    assert [int(n) for n in re.findall("[0-9]+", said["average"])] == [average, good - 1]
    assert [int(n) for n in re.findall("[0-9]+", said["poor"])] == [1, average - 1]
