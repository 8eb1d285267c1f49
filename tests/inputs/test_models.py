"""Models: frozen all through, hashable, with a digest; changed copies; cross-checks without a file."""

import copy
import hashlib
import json
import os
import pickle
import subprocess
import sys

import pytest
from factories import figure
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from renovation.inputs import (
    Figure,
    FrozenDict,
    Operation,
    Pods,
    Scenario,
    ScenarioError,
    Season,
    Technique,
    default_technique,
    demo_scenario,
    month_count,
    twelve,
    year_month,
)
from renovation.inputs.quantities import without_reasons


def test_a_scenario_is_frozen_all_through():
    scenario = demo_scenario()
    with pytest.raises(ValidationError):
        scenario.about = None
    with pytest.raises(ValidationError):
        scenario.techniques["side_graft"].shade.value = 0.9
    for table in (scenario.techniques, scenario.market.premium, scenario.supplies.items):
        assert isinstance(table, FrozenDict)
        for change in (
            lambda t: t.__setitem__("x", 1),
            lambda t: t.update(x=1),
            lambda t: t.pop("x", None),
            lambda t: t.setdefault("x", 1),
            lambda t: t.clear(),
            lambda t: t.__ior__({"x": 1}),
        ):
            with pytest.raises(TypeError):
                change(table)


def test_equal_scenarios_have_equal_hashes_and_copies_are_whole():
    scenario = demo_scenario()
    again = Scenario.model_validate(scenario.model_dump())
    assert again == scenario
    assert hash(again) == hash(scenario)
    assert hash(again.techniques["side_graft"].shade) == hash(scenario.techniques["side_graft"].shade)
    for other in (pickle.loads(pickle.dumps(scenario)), copy.deepcopy(scenario)):
        assert other == scenario
        assert hash(other) == hash(scenario)
        assert other.digest == scenario.digest
    figure = scenario.techniques["side_graft"].take
    assert pickle.loads(pickle.dumps(figure)) == figure


def test_defaults_of_tables_are_frozen_too():
    figure = {"value": 1.0, "low": 1.0, "high": 1.0, "unit": "person-days/tree", "source": "own"}
    bare = Operation.model_validate({"anchor": "start", "days": figure})
    assert isinstance(bare.materials, FrozenDict)
    assert hash(bare) == hash(Operation.model_validate({"anchor": "start", "days": figure}))


def test_the_digest_speaks_of_numbers_and_not_of_their_reasons():
    scenario = demo_scenario()
    told = scenario.changed(techniques__side_graft__take__because="another reason")
    assert told != scenario
    assert told.digest == scenario.digest
    assert told.changed(techniques__side_graft__take__citation="another source").digest != scenario.digest


def test_a_farm_that_states_none_of_the_later_fields_keeps_its_digest():
    """The digest of a farm without the fields, worked out here, is that of the farm; a stated field changes it."""
    scenario = demo_scenario()
    table = without_reasons(scenario.model_dump(mode="json"))
    assert not table.pop("under_way")
    assert not table.pop("tools_owned")
    assert not table.pop("guessed")
    assert not table.pop("materials")
    assert table["about"].pop("country") is None
    for technique in table["techniques"].values():
        assert technique.pop("take_by_month") is None
        assert technique.pop("works_on") == "trees"
        later = ("permanent_shade", "tree_loss_per_year", "pods_lost", "payments", "planting_materials", "own_figures")
        assert not any(technique.pop(key) for key in later)
    for one in table["stands"]:
        assert one.pop("empty_places") == one.pop("tree_loss_per_year") == one.pop("pods_lost") == 0
        assert not one.pop("part_of")
    assert table["risk"]["stress"].pop("lost_trees") == 0
    assert table["risk"]["stress"].pop("lost_trees_year")
    assert table["loan_test"].pop("lower_prices") == [0.1, 0.2, 0.33]
    assert table["loans"]
    for loan in table["loans"]:
        assert loan.pop("running") is False
        assert loan.pop("owed") is None
        assert (loan.pop("works"), loan.pop("late_rate_per_year")) == ([], 0)
    for loan in (*table["loans"], table["planning"]["loan"]):
        assert all(payout.pop("live_trees") is None for payout in loan["payouts"])
    text = json.dumps(table, sort_keys=True, ensure_ascii=False)
    assert scenario.digest == hashlib.sha256(text.encode()).hexdigest()[:12]
    stated = scenario.changed(techniques__side_graft__take_by_month=figure((1.0,) * 12, "factor by calendar month"))
    assert stated.digest != scenario.digest
    assert scenario.changed(about__country="GH").digest != scenario.digest


def test_a_take_times_its_month_is_refused_where_a_start_of_the_way_brings_it_about():
    """Started in March only, tries fall every three months: July may have any factor, June none above 4/3."""
    data = default_technique("side_graft").model_dump() | {"start_months": (3,)}
    assert (data["attempts"]["value"], data["gap_months"]["value"], data["take"]["value"]) == (5, 3, (0.25, 0.75))

    def with_factor(month, factor):
        twelve = tuple(factor if m == month else 1.0 for m in range(1, 13))
        return Technique.model_validate({**data, "take_by_month": figure(twelve, "factor by calendar month")})

    assert with_factor(7, 5.0).highest_factor == (1.0, 3)
    assert with_factor(6, 4 / 3).highest_factor == (4 / 3, 6)
    with pytest.raises(ValidationError) as caught:
        with_factor(9, 1.4)
    assert [error["type"] for error in caught.value.errors()] == ["take_in_month_above_one"]
    assert caught.value.errors()[0]["ctx"]["months"] == (9,)


def test_the_digest_is_the_same_in_another_process():
    """Python's string hash differs from process to process; the digest must not."""
    code = "from renovation.inputs import demo_scenario; print(demo_scenario().digest)"
    digests = set()
    for seed in ("1", "2"):
        env = {**os.environ, "PYTHONHASHSEED": seed}
        run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=env, check=True)
        digests.add(run.stdout.strip())
    assert digests == {demo_scenario().digest}


def numbers(value, path=()):
    """Every path to a number in nested tables and tuples."""
    if isinstance(value, dict):
        for key, entry in value.items():
            yield from numbers(entry, (*path, key))
    elif isinstance(value, tuple):
        for position, entry in enumerate(value):
            yield from numbers(entry, (*path, str(position)))
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield path, value


NUMBERS = list(numbers(demo_scenario("first_grafters").model_dump()))


@settings(max_examples=60)
@given(st.sampled_from(NUMBERS))
def test_the_digest_changes_with_any_number(entry):
    path, value = entry
    scenario = demo_scenario("first_grafters")
    moved = value + 1 if isinstance(value, int) else value * 1.000001 + 1e-9
    try:
        changed = scenario.changed(**{"__".join(path): moved})
    except ScenarioError:
        return  # a number that may not move alone, such as one share of a season
    assert changed.digest != scenario.digest


def test_changed_reaches_entries_of_lists_and_leaves_the_original_alone():
    scenario = demo_scenario("first_grafters")
    before = scenario.digest
    days = twelve(scenario.household.family_days)
    changed = scenario.changed(household__family_days=days).changed(household__family_days__3=11.0)
    assert changed.household.family_days[3] == 11.0
    assert scenario.digest == before
    with pytest.raises(KeyError):
        scenario.changed(stands__9__trees=3)
    with pytest.raises(KeyError):
        scenario.changed(houshold__savings=3.0)


def test_changed_refuses_with_sentences():
    with pytest.raises(ScenarioError) as caught:
        demo_scenario("first_grafters").changed(household__saving=3.0, stands__0__trees=0)
    assert {problem.code for problem in caught.value.problems} >= {"unknown_key", "out_of_bounds"}
    assert "This scenario: " in str(caught.value)


def test_a_scenario_without_a_technique_is_refused():
    with pytest.raises(ScenarioError) as caught:
        demo_scenario("few_hands").changed(techniques={}, plan=(), stands__0__techniques=None)
    assert "This scenario: techniques names no technique. Consider at least one." in str(caught.value)


def test_cross_checks_refuse_a_scenario_built_without_a_file():
    data = demo_scenario("first_grafters").model_dump()
    data["stands"][1]["name"] = data["stands"][0]["name"]
    data["household"]["wage_per_day"] = "12"
    with pytest.raises(ValidationError) as caught:
        Scenario(**data)
    found = {error["type"] for error in caught.value.errors()}
    assert {"duplicate_stand", "float_type"} <= found


def test_cross_checks_read_models_as_well_as_tables():
    scenario = demo_scenario("first_grafters")
    parts = {name: getattr(scenario, name) for name in Scenario.model_fields}
    assert Scenario(**parts) == scenario
    with pytest.raises(ValidationError) as caught:
        Scenario(**{**parts, "stands": scenario.stands * 2})
    assert {error["type"] for error in caught.value.errors()} == {"duplicate_stand"}


@settings(max_examples=60)
@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(
                st.sampled_from(
                    ["name", "trees", "stand", "start", "payouts", "month", "techniques", "window", "season"]
                ),
                inner,
                max_size=4,
            )
        ),
        max_leaves=12,
    ),
    st.sampled_from(sorted(Scenario.model_fields)),
)
def test_cross_checks_never_crash_on_odd_data(odd, section):
    data = {**demo_scenario("first_grafters").model_dump(), section: odd}
    try:
        Scenario.model_validate(data)
    except ValidationError as error:
        assert error.error_count() > 0  # noqa: PT017


def test_the_compared_pair_follows_its_rule():
    scenario = demo_scenario("first_grafters").changed(plan=(), stands__2__techniques=None)
    ways = scenario.techniques

    def pair(*keys, **comparison):
        chosen = {key: ways[key].model_dump() for key in keys}
        stated = {f"comparison__{field}": key for field, key in comparison.items()}
        return scenario.changed(techniques=chosen, **stated).compared_pair

    assert pair("side_graft", "rooted_cutting", "bud_graft") == ("side_graft", "rooted_cutting")
    assert pair("bud_graft", "hard_pruning", "air_layer") == ("bud_graft", "air_layer")
    assert pair("hard_pruning", "bud_graft") == ("bud_graft", "hard_pruning")
    assert pair("rooted_cutting", "air_layer") == ("air_layer", "rooted_cutting")
    assert pair("rooted_cutting") == ("rooted_cutting", None)
    assert pair("bud_graft") == ("bud_graft", None)
    assert pair("side_graft", "bud_graft", headline="bud_graft") == ("bud_graft", "side_graft")
    assert pair("side_graft", "air_layer", "bud_graft", against="bud_graft") == ("side_graft", "bud_graft")


def test_a_published_figure_must_cite():
    with pytest.raises(ValidationError) as caught:
        Figure[float](value=1.0, low=0.5, high=2.0, unit="share", source="published", citation=" ")
    assert caught.value.errors()[0]["type"] == "no_citation"


def test_all_mistakes_of_a_technique_are_told_at_once():
    data = default_technique("side_graft").model_dump()
    data["new_crown"]["value"] = ((12, 0.0), (6, 1.0))
    data["tools"] = ("saw", "saw")
    data["attempt_factor"] = {**data["take"], "value": (1.0, 3.0), "unit": "factor by attempt"}
    with pytest.raises(ValidationError) as caught:
        Technique.model_validate(data)
    assert {error["type"] for error in caught.value.errors()} == {
        "ages_not_rising",
        "listed_twice",
        "take_above_one",
    }


def test_kilograms_from_pods_by_hand():
    """20 pods at 25 a kilogram, a fifth lost: 20 / 25 · 0.8 = 0.64 kg (method §2)."""
    assert Pods(pods_per_tree=20.0, pods_per_kg=25.0, lost_share=0.2).kg_per_tree == pytest.approx(0.64, rel=1e-15)


@given(st.lists(st.floats(0, 1), min_size=12, max_size=12))
def test_a_season_is_refused_exactly_when_it_does_not_sum_to_one(shares):
    try:
        Season(shares=tuple(shares))
    except ValidationError:
        assert abs(sum(shares) - 1) > 1e-6
    else:
        assert abs(sum(shares) - 1) <= 1e-6


@given(st.integers(0, 12 * 9999 + 11), st.integers(0, 400))
def test_months_count_evenly(count, more):
    later = min(count + more, 12 * 9999 + 11)
    assert month_count(year_month(count)) == count
    assert month_count(year_month(later)) - month_count(year_month(count)) == later - count


def test_cross_checks_pass_over_what_a_field_has_refused():
    """A name too long is told as such; that the plan names a stand which nobody could read is not told on top."""
    farm = demo_scenario("first_grafters")
    with pytest.raises(ScenarioError) as caught:
        farm.changed(stands__0__name="x" * 81)
    assert {problem.code for problem in caught.value.problems} == {"text_too_long"}
    with pytest.raises(ScenarioError) as caught:
        farm.changed(appraisal__horizon_years=-20)
    assert {problem.code for problem in caught.value.problems} == {"out_of_bounds"}


def test_the_digest_is_worked_out_once_and_dropped_by_a_copy(monkeypatch):
    farm = demo_scenario("first_grafters").model_copy()
    worked_out = []
    monkeypatch.setattr("renovation.inputs.scenario.without_reasons", lambda table: worked_out.append(1) or table)
    assert farm.digest == farm.digest
    assert len(worked_out) == 1
    other = farm.model_copy(update={"appraisal": farm.appraisal.model_copy(update={"horizon_years": 11})})
    assert other.digest != farm.digest
    assert farm.model_copy(deep=True).digest == farm.digest
    assert len(worked_out) == 3


def test_a_digest_once_asked_for_is_no_part_of_the_content():
    farm = demo_scenario("first_grafters")
    fresh = farm.model_copy()
    asked = farm.digest
    assert farm == fresh
    assert hash(farm) == hash(fresh)
    assert "digest" not in farm.model_dump()
    assert pickle.loads(pickle.dumps(farm)).digest == asked
    assert "digest" not in repr(farm)
    assert farm.changed(market__price_per_kg=9.75).digest != asked


def test_a_changed_copy_shares_what_was_not_changed():
    farm = demo_scenario()
    dearer = farm.changed(household__wage_per_day=9.5)
    assert all(dearer.techniques[key] is way for key, way in farm.techniques.items())
    assert dearer.supplies is farm.supplies
    assert dearer == Scenario.model_validate({**farm.model_dump(), "household": dearer.household.model_dump()})
