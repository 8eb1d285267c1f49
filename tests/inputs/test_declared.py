"""The models are the only declaration: words, units, bounds and schema all follow from them."""

import re
import tomllib

import pytest
import tomlkit
from jsonschema import Draft202012Validator

from renovation.inputs import (
    ScenarioError,
    declared,
    demo_names,
    demo_scenario,
    json_schema,
    models,
    parameter_table,
    read_scenario,
    scenario_folder,
    unit_words,
    write_scenario,
)
from renovation.inputs.loans import Loan, LoanOffer
from renovation.inputs.scenario import Household, LoanTest, Scenario, Stand
from renovation.inputs.season import SeasonRecord
from renovation.inputs.shapes import fields
from renovation.inputs.tally import Tally
from renovation.inputs.techniques import Technique, Tool
from renovation.words import Words, languages

WHOLES = (Scenario, SeasonRecord, Tally)
MODELS = dict.fromkeys(model for whole in WHOLES for model in models(whole))
FIELDS = [(model, field) for model in MODELS for field in fields(model)]


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize(("model", "field"), FIELDS, ids=lambda part: getattr(part, "__name__", part))
def test_every_field_has_a_name_and_a_meaning(language, model, field):
    words, said = Words(language), declared(model, field)
    label, help_text = words(said.label_key), words(said.help_key)
    assert 0 < len(label) <= 40
    assert help_text.endswith(".")
    assert all(len(sentence.split()) <= 26 for sentence in re.split(r"[.:;] ", help_text))


def test_the_catalogue_names_no_field_that_is_gone():
    known = {declared(model, field).label_key for model, field in FIELDS}
    named = {key for key in sorted(Words("en").keys()) if key.startswith("field.") and key.endswith(".label")}
    assert {key for key in named - known if not key.startswith("field.File.")} == set()


@pytest.mark.parametrize("language", languages())
def test_every_unit_has_words(language):
    words = Words(language)
    units = {declared(model, field).unit for model, field in FIELDS} - {""}
    assert {unit for unit in units if f"unit_name.{unit}" not in words} == set()
    assert not [unit for unit in units if "money" in unit_words(words, unit, "GHS")]


def test_numbers_are_bounded_on_both_sides():
    open_ended = [
        (row.key, row.kind)
        for row in parameter_table()
        if row.kind.removeprefix("figure: ") in ("integer", "float")
        and (row.declared.lower is None or row.declared.upper is None)
    ]
    assert open_ended == []


def test_bounds_are_read_through_figures_and_lists():
    assert (declared(Technique, "take").lower, declared(Technique, "take").upper) == (0, 1)
    assert (declared(Technique, "attempts").upper, declared(Technique, "attempts").whole) == (12, True)
    assert (declared(Tool, "lasts_years").lower, declared(Household, "family_days").lower) == (0.25, 0)
    assert declared(Loan, "fee_share").upper_open
    assert declared(Stand, "hectares").lower_open
    assert declared(LoanTest, "cover").source == "published"
    with pytest.raises(KeyError):
        declared(Stand, "no_such")


@pytest.mark.parametrize(
    ("model", "field", "key"),
    [(Stand, "trees", "stands__0__trees"), (Household, "savings_rate", "household__savings_rate")],
)
def test_declared_bounds_are_the_bounds_that_hold(model, field, key):
    """What the screen takes for the bounds is what the model accepts, and one step further is refused."""
    scenario, said = demo_scenario("few_hands").changed(plan=(), comparison={}), declared(model, field)
    one = 1 if said.whole else 1e-6
    for edge, beyond in ((said.lower, said.lower - one), (said.upper, said.upper + one)):
        scenario.changed(**{key: edge})
        with pytest.raises(ScenarioError):
            scenario.changed(**{key: beyond})


def test_the_table_lists_each_parameter_once():
    keys = [row.key for row in parameter_table()]
    assert len(keys) == len(set(keys))
    assert {"stands[].pods.pods_per_kg", "techniques.*.operations.*.days", "loans[].payouts[].share"} <= set(keys)


SCHEMA = json_schema(Words("en"))


def test_the_schema_is_a_valid_schema():
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["title"]
    assert SCHEMA["properties"]["stands"]["items"]["properties"]["trees"]["x-unit"] == "trees"


@pytest.mark.parametrize("name", demo_names())
def test_the_schema_takes_every_demo_farm_as_written_by_hand_and_by_us(name):
    validator = Draft202012Validator(SCHEMA)
    by_hand = tomllib.loads((scenario_folder() / f"{name}.toml").read_text("utf-8"))
    by_us = tomllib.loads(write_scenario(demo_scenario(name)))
    assert [error.message for table in (by_hand, by_us) for error in validator.iter_errors(table)] == []


@pytest.mark.parametrize(
    ("key", "value"),
    [("trees", 0), ("trees", "100"), ("trees", 1.5), ("crop_per_tree", 21), ("naem", "x"), ("hectares", 0)],
)
def test_the_schema_and_the_reader_refuse_the_same(key, value):
    table = tomllib.loads(write_scenario(demo_scenario("few_hands")))
    table["stands"][0][key] = value
    assert list(Draft202012Validator(SCHEMA).iter_errors(table))
    with pytest.raises(ScenarioError):
        read_scenario(tomlkit.dumps(table), "x.toml")


def test_a_loan_and_an_offer_share_one_base_of_conditions():
    """What both state is declared and worded once; only what each is called, and an offer's rate, have own words."""
    both = set(fields(Loan)) & set(fields(LoanOffer))
    assert len(both) == 9
    apart = {field for field in both if declared(Loan, field).model != declared(LoanOffer, field).model}
    assert apart == {"name", "rate_per_year"}
    assert all(fields(Loan)[field].metadata == fields(LoanOffer)[field].metadata for field in both)
    assert list(fields(Loan))[:3] == ["name", "amount", "payouts"]  # the order in which a file is written
    assert list(fields(LoanOffer))[:3] == ["name", "limit", "payouts"]
