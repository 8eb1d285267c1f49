"""Comparison and break-even values: by substitution, by identities on random farms, and by hand."""

import numpy as np
import numpy_financial as npf
import pytest
from factories import figure, operation, scenario, stand, technique_data, techniques, use
from farm_files import stated
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from renovation.decide import NoStart, compare, drivers, earliest_start, npv_per_tree, weigh
from renovation.decide.risk import sensitivity
from renovation.inputs import Figure, Scenario, demo_names, demo_scenario
from renovation.money import net_present_value


def npv_of(farm, way="way_a", trees=4, start=6):
    return weigh(farm, "Lower field", trees, way, start).measures.npv


def size(outcome):
    """What a rounding error is measured against: the sum of all money moved."""
    return float(np.abs(outcome.flows.economic_change).sum()) + 1


def with_take(farm: Scenario, take: float) -> Scenario:
    """The farm with one constant take."""
    data = farm.model_dump()
    data["techniques"]["way_a"]["take"].update(value=(take,), low=(take,), high=(take,))
    return Scenario.model_validate(data)


@settings(max_examples=60)
@given(techniques())
def test_at_its_break_even_values_a_technique_just_pays(data):
    farm = scenario({"way_a": data})
    outcome = weigh(farm, "Lower field", 4, "way_a", 6)
    values = outcome.break_even
    tolerance = 1e-7 * size(outcome)
    if values.price_per_kg is not None and values.price_per_kg < 1e6:
        assert abs(npv_of(farm.changed(market__price_per_kg=values.price_per_kg))) < tolerance
    if values.wage_per_day is not None and values.wage_per_day < 1e6:
        assert abs(npv_of(farm.changed(household__wage_per_day=values.wage_per_day))) < tolerance
    if values.mature_crop is not None and 0 < values.mature_crop < 20:
        crop = {"value": values.mature_crop, "low": 0.0, "high": 20.0}
        changed = farm.changed(
            techniques__way_a__mature_crop=Figure[float](unit="kg/tree/year", source="invented", **crop).model_dump()
        )
        assert abs(npv_of(changed)) < tolerance
    for take in values.take:
        assert abs(npv_of(with_take(farm, take))) < tolerance


@settings(max_examples=7)
@given(techniques())
def test_every_break_even_take_is_found(data):
    """Between two neighbouring break-even takes the NPV keeps its sign (40 takes tried one by one)."""
    data["attempt_factor"] = None
    farm = scenario({"way_a": data})
    outcome = weigh(farm, "Lower field", 4, "way_a", 6)
    grid = np.linspace(0.001, 0.999, 40)
    npv = np.array([npv_of(with_take(farm, float(t))) for t in grid])
    clear = np.abs(npv) > 1e-6 * size(outcome)
    assume(clear.all())
    for low, high, change in zip(grid, grid[1:], np.sign(npv[:-1]) != np.sign(npv[1:]), strict=False):
        inside = [root for root in outcome.break_even.take if low <= root <= high]
        assert len(inside) % 2 == change


@settings(max_examples=40)
@given(techniques(), st.floats(0, 10), st.floats(0, 10))
def test_npv_is_linear_in_price(data, low, high):
    farm = scenario({"way_a": data})
    at = [npv_of(farm.changed(market__price_per_kg=p)) for p in (low, (low + high) / 2, high)]
    assert at[1] == pytest.approx((at[0] + at[2]) / 2, abs=1e-6 * (1 + abs(at[0]) + abs(at[2])))


@settings(max_examples=30)
@given(techniques(), techniques())
def test_where_two_techniques_tie_their_npvs_are_equal(first, second):
    farm = scenario({"way_a": first, "way_b": second}, comparison={"headline": "way_a", "against": "way_b"})
    result = compare(farm, trees=4, not_before=6)
    ties = result.ties
    assert ties is not None
    tolerance = 1e-7 * sum(size(outcome) for outcome in result.outcomes.values())

    def gap(changed):
        both = compare(changed, trees=4, not_before=6).outcomes
        return both["way_a"].measures.npv - both["way_b"].measures.npv

    if ties.price_per_kg is not None and ties.price_per_kg < 1e6:
        assert abs(gap(farm.changed(market__price_per_kg=ties.price_per_kg))) < tolerance
    if ties.wage_per_day is not None and ties.wage_per_day < 1e6:
        assert abs(gap(farm.changed(household__wage_per_day=ties.wage_per_day))) < tolerance
    for rate in ties.discount_rates:
        if rate <= 1:
            assert abs(gap(farm.changed(appraisal__discount_rate=rate))) < tolerance
    for take in ties.take_of_first:
        assert abs(gap(with_take(farm, take))) < tolerance


@pytest.mark.parametrize("name", demo_names())
def test_npv_equals_numpy_financial_on_every_demo_farm(name):
    """numpy-financial's first value is at t = 0, ours a year on: a leading 0 makes them the same."""
    farm = stated(name)
    for outcome in compare(farm).outcomes.values():
        yearly = outcome.flows.economic_change.reshape(-1, 12).sum(axis=1)
        expected = npf.npv(farm.appraisal.discount_rate, [0.0, *yearly])
        assert outcome.measures.npv == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("name", demo_names())
def test_per_tree_times_trees_less_tools_is_the_whole(name):
    farm = stated(name)
    rate = farm.appraisal.discount_rate
    for outcome in compare(farm).outcomes.values():
        more = outcome.flows.with_plan.tools - outcome.flows.without.tools  # trees under way use some on both sides
        tools = float(net_present_value(more.reshape(-1, 12).sum(axis=1), rate))
        whole = outcome.per_tree.npv * outcome.treatment.trees - tools
        assert outcome.measures.npv == pytest.approx(whole, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize("name", demo_names())
def test_the_table_by_stand_agrees_with_the_comparison(name):
    farm = stated(name)
    table = npv_per_tree(farm)
    for field in (one for one in farm.stands if farm.free_trees(one.name)):
        for key, outcome in compare(farm, field.name).outcomes.items():
            assert table[field.name][key] == pytest.approx(outcome.per_tree.npv, rel=1e-9)


def test_a_graft_by_hand():
    """One tree bears 1 kg; grafted in month 0 for 10 it bears 2 kg at once; 4 money a kg, 10 years at 10 %.

    Change: 4 a year, less 10 in year 1. NPV = 4·6.1445671 − 10/1.1 = 15.4873; payback at 10/4 = 2.5 years on
    cumulative −6, −2, 2: after year 2, half of year 3. IRR solves 6 = 4·a(9 years): 66.0 %.
    """
    way = technique_data(mature_crop=figure(2.0, "kg/tree/year"), operations={"graft": operation("start", 0, 10 / 8)})
    outcome = weigh(scenario({"way_a": way}), "Lower field", 1, "way_a", 0)
    assert outcome.measures.npv == pytest.approx(4 * 6.1445671057 - 10 / 1.1, abs=1e-8)
    assert outcome.measures.payback_years == pytest.approx(2.5)
    assert outcome.measures.irr.value == pytest.approx(npf.irr([-6] + [4] * 9), abs=1e-9)
    assert outcome.break_even.price_per_kg == pytest.approx(10 / 1.1 / 6.1445671057)
    assert outcome.crop_by_year[0].tolist() == pytest.approx([0, 2])


def test_the_earliest_start_waits_for_calendar_and_nursery():
    """Month 0 is January 2027; work in May only, nursery 6 months ahead: May 2027 is too early, so May 2028."""
    way = technique_data(start_months=(5,), operations={"nursery": operation("start", -6, 1.0)})
    farm = scenario({"way_a": way})
    assert earliest_start(farm, farm.techniques["way_a"]) == 16


def test_a_horizon_without_a_start_is_said():
    way = technique_data(operations={"nursery": operation("start", -13, 1.0)})
    farm = scenario({"way_a": way}).changed(appraisal__horizon_years=1)
    with pytest.raises(NoStart):
        earliest_start(farm, farm.techniques["way_a"])
    assert compare(farm).not_possible == ("way_a",)
    assert compare(farm).best is None


def test_leaving_the_trees_can_be_best():
    way = technique_data(mature_crop=figure(0.5, "kg/tree/year"))
    assert compare(scenario({"way_a": way})).best is None


def test_a_way_that_changes_nothing_has_no_break_even_take():
    """Method §5: amounts below 1e-9 of the largest yearly figure are zero, so rounding makes no take."""
    way = technique_data(
        attempts=figure(3, "attempts"),
        take=figure((0.3, 0.7), "share by project year"),
        mature_crop=figure(0.0, "kg/tree/year"),
        old_crown={"anchor": "established", "curve": figure(((0.0, 1.0),), "months, share")},
    )
    tree = stand(crop_per_tree=0.2873, upkeep_days=0.0277, upkeep_inputs=0.0413).model_dump()
    outcome = compare(scenario({"way_a": way}, stands=(tree,))).outcomes["way_a"]
    assert outcome.measures.npv == 0
    assert outcome.break_even.take == ()


def test_a_stand_may_not_suit_a_technique():
    farm = scenario(
        {"way_a": technique_data(), "way_b": technique_data()}, stands=(stand(techniques=("way_b",)).model_dump(),)
    )
    assert list(compare(farm).outcomes) == ["way_b"]


def test_more_trees_than_the_stand_has_are_refused():
    with pytest.raises(ValueError, match="11 trees"):
        compare(scenario(), trees=11)


def test_results_are_plain_data_and_tables():
    result = compare(demo_scenario())
    data = result.as_dict()
    first = data["outcomes"][0]
    assert first["measures"]["npv"] == next(iter(result.outcomes.values())).measures.npv
    assert len(result.years_table()) == len(result.outcomes) * demo_scenario().appraisal.horizon_years
    assert len(result.measures_table()) == len(result.outcomes)
    crop = result.crop_table()
    assert crop.groupby("technique")["old_crown"].count().eq(demo_scenario().appraisal.months).all()


def test_an_odd_price_of_wet_beans_of_nothing_can_be_moved():
    wet = {"wet_beans": {"price_per_kg": 0.0, "dry_per_wet": 0.4}, "season": {"shares": (1 / 12,) * 12}}
    farm = scenario(market=wet)
    moved = drivers.price(farm).put(farm, 3.0)
    assert moved.market.dry_price_per_kg == pytest.approx(3.0)


def test_an_odd_share_lost_of_next_to_nothing_has_its_value_where_the_way_just_pays():
    bag = {**use(1.0), "loss_before_use": figure(1e-300, "share", 0.0, 0.5)}
    ways = {"way_a": technique_data(operations={"planting": operation(materials={"bag": bag})})}
    assert sensitivity(compare(scenario(ways)), "way_a").bars
