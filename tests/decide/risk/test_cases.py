"""Stress tests, bars and the map, each against the scenario changed by hand and worked out anew."""

import numpy as np
import pytest
from factories import figure, scenario, some_plain, technique_data
from farm_files import MOST, stated
from scipy.optimize import brentq

from renovation.decide import compare
from renovation.decide.risk import (
    calibrate,
    npv_at,
    sensitivity,
    strategies_of,
    stress_tests,
    values_where_equal,
    win_map,
    worst_years,
)
from renovation.decide.risk.stress import CASES, TOGETHER, main_crop_months
from renovation.farm import by_year, farm_flows, household_cash
from renovation.inputs import demo_names, demo_scenario, season_from_window
from renovation.money import net_present_value

FARMS = some_plain(demo_names(), MOST)


def npv_of(farm, treatments):
    """NPV of treatments, worked out anew."""
    flow = by_year(farm_flows(farm, treatments).economic_change)
    return float(net_present_value(flow, farm.appraisal.discount_rate))


def row_of(result, strategy, case):
    return next(row for row in result.rows[strategy] if row.case == case)


# Stress


@pytest.mark.parametrize("name", FARMS)
def test_dear_work_and_the_slump_are_the_scenario_changed_by_hand(name):
    farm = stated(name)
    result = stress_tests(farm)
    years = tuple(worst_years()[1].tolist())
    assert calibrate(1960, 2023).persistence < 1  # the record that the slump is taken from is the fitted one
    dear = farm.changed(household__wage_per_day=farm.household.wage_per_day * 1.5)
    slump = farm.changed(risk__price_path="typed", risk__price_by_year=(*years, 1.0))
    for strategy in strategies_of(farm):
        for case, changed in (("dear_work", dear), ("price_slump", slump)):
            row = row_of(result, strategy.key, case)
            assert row.npv == pytest.approx(npv_of(changed, strategy.treatments), rel=1e-9)
            cash = household_cash(changed, farm_flows(changed, strategy.treatments), strategy.loans).with_plan
            assert row.deepest == pytest.approx(cash.deepest, rel=1e-9)
            assert row.gap_years == cash.gap_years
            assert row.npv_change == pytest.approx(row.npv - npv_of(farm, strategy.treatments), abs=1e-6)


def test_beginners_hold_the_take_of_grafts_down_for_three_seasons_and_leave_replanting_alone():
    farm = demo_scenario("few_hands")
    result = stress_tests(farm)
    graft = strategies_of(farm)[1]
    table = farm.techniques[graft.key].take.value
    held = (*(min(0.25, table[min(y, len(table) - 1)]) for y in range(3)), table[-1])
    changed = farm.changed(**{f"techniques__{graft.key}__take__{end}": held for end in ("value", "low", "high")})
    assert row_of(result, graft.key, "beginners").npv == pytest.approx(npv_of(changed, graft.treatments), rel=1e-9)
    assert row_of(stress_tests(demo_scenario()), "rooted_cutting", "beginners").npv_change == 0


def test_a_lost_main_crop_takes_the_sales_of_its_months_and_spares_the_picking():
    farm = demo_scenario()
    (plan, *_) = strategies_of(farm)
    flows = farm_flows(farm, plan.treatments)
    # Ecuador's main harvest is March to June (ICCO); project year 3 of a January start is months 24 to 35
    lost = np.isin(np.arange(300), [26, 27, 28, 29])
    change = 0.0
    for side, sign in ((flows.with_plan, -1), (flows.without, 1)):
        kg = side.old_kg + side.new_kg
        money = side.sales - kg * 0.05 * 12.0
        change += sign * money[lost].sum() / 1.1**3
    row = row_of(stress_tests(farm), "plan", "lost_main_crop")
    assert row.npv_change == pytest.approx(change, rel=1e-9)


def test_main_crop_months():
    assert main_crop_months(season_from_window("Ghana")) == (9, 10, 11, 12, 1, 2, 3)
    flat = season_from_window("Ghana").model_copy(update={"window": None})
    assert set(main_crop_months(flat)) <= {9, 10, 11, 12, 1, 2, 3}
    assert len(main_crop_months(flat)) == 6


def test_a_hand_short_puts_trees_off_by_a_year_with_the_take_they_would_have_had():
    farm = demo_scenario()
    (way,) = strategies_of(farm.changed(plan=()), ["side_graft"])
    flows = farm_flows(farm, way.treatments)
    start = farm.month_of(way.treatments[0].start)
    assert flows.with_plan.hired_days[start] > 0
    days = 200 * float(flows.treated[0].tree.operation_days[0, start])
    short = min(20.0, float(flows.with_plan.hired_days[start]))
    done = int(np.floor(200 * max(0.0, 1 - short / days) + 1e-9))
    row = row_of(stress_tests(farm, [way]), "side_graft", "hand_short")
    assert row.trees_put_off == 200 - done > 0
    plenty = farm.changed(household__family_days=500.0)
    unhurt = row_of(stress_tests(plenty, [way]), "side_graft", "hand_short")
    assert (unhurt.trees_put_off, unhurt.npv_change) == (0, 0.0)


@pytest.mark.parametrize("name", FARMS)
def test_the_hardest_case_stands_first_and_all_together_last(name):
    result = stress_tests(stated(name))
    for key, rows in result.rows.items():
        alone = [row.npv for row in rows[:-1]]
        assert alone == sorted(alone)
        assert {row.case for row in rows} == {*CASES, TOGETHER} - {"lost_trees"}
        assert rows[-1].case == TOGETHER
        assert result.expected[key].npv_change == 0
    assert len(result.table()) == len(result.rows) * 7


def test_a_lost_crop_beyond_the_horizon_is_said_not_to_be_possible():
    result = stress_tests(demo_scenario().changed(risk__stress__lost_crop_year=30))
    assert result.not_possible == ("lost_main_crop",)
    assert {row.case for row in result.rows["plan"]} == {*CASES, TOGETHER} - {"lost_main_crop", "lost_trees"}


def test_a_fifth_of_the_trees_lost_is_a_fifth_of_crop_and_upkeep_of_every_crown():
    """Lost at the very beginning: the farm with four fifths of each crop and upkeep, stated by hand."""
    farm = demo_scenario().changed(risk__stress__lost_trees=0.2, risk__stress__lost_trees_year=1)
    less = {}
    for place, stand in enumerate(farm.stands):
        at = f"stands__{place}__"
        less |= {f"{at}crop_per_tree": 0.8 * stand.kg_per_tree, f"{at}pods": None}
        less |= {f"{at}{field}": 0.8 * getattr(stand, field) for field in ("upkeep_days", "upkeep_inputs")}
    techniques = farm.model_dump()["techniques"]
    for way in techniques.values():
        for field in ("mature_crop", "upkeep_days", "upkeep_inputs"):
            for end in ("value", "low", "high"):
                whole = way[field][end]
                way[field][end] = 0.8 * whole if field == "mature_crop" else tuple(0.8 * x for x in whole)
    by_hand = farm.changed(**less, techniques=techniques)
    for strategy in strategies_of(farm):
        row = row_of(stress_tests(farm, [strategy]), strategy.key, "lost_trees")
        assert row.npv == pytest.approx(npv_of(by_hand, strategy.treatments), rel=1e-9)
        assert row.npv != pytest.approx(npv_of(farm, strategy.treatments))


def test_later_losses_of_trees_cost_less_and_beyond_the_horizon_they_are_not_possible():
    farm = demo_scenario().changed(risk__stress__lost_trees=0.2)
    worth = [
        row_of(stress_tests(farm.changed(risk__stress__lost_trees_year=year)), "plan", "lost_trees").npv_change
        for year in (5, 10, 20)
    ]
    assert worth == sorted(worth)
    assert worth[0] < worth[-1] < 0
    assert stress_tests(farm.changed(risk__stress__lost_trees_year=40)).not_possible == ("lost_trees",)


# Bars


def test_a_number_of_tries_that_makes_a_take_above_one_has_no_bar_end():
    """One try in January takes 0.8; a second would fall in April, whose factor of 1.5 makes it 1.2."""
    way = technique_data(
        start_months=(1,),
        attempts=figure(1, "attempts", 1, 2),
        gap_months=figure(3, "months"),
        take=figure((0.8,), "share by project year"),
        take_by_month=figure((*(1.0,) * 3, 1.5, *(1.0,) * 8), "factor by calendar month"),
    )
    bars = {bar.driver: bar for bar in sensitivity(compare(scenario({"way_a": way})), "way_a").bars}
    assert bars["attempts"].npv_low is not None
    assert bars["attempts"].npv_high is None
    assert bars["attempts"].width == 0


def bars_of(name):
    """A demo farm, its comparison, the bars of the way that stands first, and what that way starts.

    Without its trees under way, of which the tries made are facts that a file cannot move.
    """
    farm = stated(name).changed(under_way=())
    comparison = compare(farm)
    found = sensitivity(comparison)
    return farm, comparison, found, [comparison.outcomes[found.technique].treatment]


def fields_of(way):
    """Where the figure of a driver stands in a scenario."""
    graft = f"techniques__{way}__operations__graft"
    return {
        "wage_per_day": "household__wage_per_day",
        "discount_rate": "appraisal__discount_rate",
        "harvest_days_per_kg": "market__harvest_days_per_kg",
        "shade": f"techniques__{way}__shade__value",
        "days.graft": f"{graft}__days__value",
        "unit_cost.scion": "supplies__items__scion__unit_cost__value",
        "lost.graft.scion": f"{graft}__materials__scion__loss_before_use__value",
        "quantity.graft.scion": f"{graft}__materials__scion__quantity__value",
        "gap_months": f"techniques__{way}__gap_months__value",
        "upkeep_days": f"techniques__{way}__upkeep_days__value",
    }


@pytest.mark.parametrize("name", FARMS)
def test_bars_are_the_scenario_changed_by_hand(name):
    farm, _, found, treatments = bars_of(name)
    bars = {bar.driver: bar for bar in found.bars}
    assert [bar.width for bar in found.bars] == sorted((bar.width for bar in found.bars), reverse=True)
    for driver, path in fields_of(found.technique).items():
        bar = bars[driver]
        for end, npv in ((bar.low, bar.npv_low), (bar.high, bar.npv_high)):
            value = int(end) if driver == "gap_months" else end
            assert npv == pytest.approx(npv_of(farm.changed(**{path: value}), treatments), rel=1e-9, abs=1e-6)


@pytest.mark.parametrize("name", FARMS)
def test_at_its_switching_value_a_figure_leaves_nothing(name):
    farm, comparison, found, treatments = bars_of(name)
    key, size = found.technique, abs(found.npv)
    fields = fields_of(key)
    tried = 0
    for driver in ("wage_per_day", "discount_rate", "harvest_days_per_kg", "days.graft", "lost.graft.scion"):
        path = fields[driver]
        for value in next(bar for bar in found.bars if bar.driver == driver).switching:
            low, high = f"{path.rpartition('__')[0]}__low", f"{path.rpartition('__')[0]}__high"
            wide = {low: 0.0, high: max(value, 0.9)} if path.endswith("value") else {}
            if driver == "discount_rate" and value > 1:
                continue
            assert abs(npv_of(farm.changed(**{**wide, path: value}), treatments)) < 1e-7 * size
            tried += 1
    assert tried >= 3
    decline = next(bar for bar in found.bars if bar.driver == "decline_per_year")
    stand = [stand.name for stand in farm.stands].index(comparison.stand)
    for value in decline.switching:
        assert abs(npv_of(farm.changed(**{f"stands__{stand}__decline_per_year": value}), treatments)) < 1e-6 * size
    upkeep = next(bar for bar in found.bars if bar.driver == "upkeep_days")
    for factor in upkeep.switching:
        table = tuple(factor * days for days in farm.techniques[key].upkeep_days.value)
        changed = farm.changed(**{f"techniques__{key}__upkeep_days__{end}": table for end in ("value", "low", "high")})
        assert abs(npv_of(changed, treatments)) < 1e-7 * size


@pytest.mark.parametrize("name", FARMS)
def test_critical_figures_move_the_npv_by_more_than_their_own_share(name):
    """Critical: a change of 1 % moves the result by 1 % or more (EC Guide to Cost-Benefit Analysis)."""
    farm, comparison, found, treatments = bars_of(name)
    price = next(bar for bar in found.bars if bar.driver == "price_per_kg")
    line = comparison.outcomes[found.technique].break_even.lines["price_per_kg"]
    assert price.elasticity == pytest.approx(line.slope * line.value / line.npv, rel=1e-6)
    wage = next(bar for bar in found.bars if bar.driver == "wage_per_day")
    more = npv_of(farm.changed(household__wage_per_day=farm.household.wage_per_day * 1.01), treatments)
    assert wage.elasticity == pytest.approx((more / found.npv - 1) * 100, rel=1e-6)
    assert {bar.driver for bar in found.critical} == {
        bar.driver for bar in found.bars if bar.elasticity is not None and abs(bar.elasticity) >= 1
    }


# The map


def changed_by(farm, key, point):
    """The farm with the drivers of a point set by hand."""
    technique = farm.techniques[key]
    changes = {}
    for driver, value in point.items():
        if driver == "price_per_kg":
            changes |= {"market__price_per_kg": value, "market__wet_beans": None}
        elif driver == "wage_per_day":
            changes["household__wage_per_day"] = value
        elif driver == "discount_rate":
            changes["appraisal__discount_rate"] = value
        elif driver == "mature_crop":
            for end in ("value", "low", "high"):
                changes[f"techniques__{key}__mature_crop__{end}"] = value
        elif driver == "take":
            for end in ("value", "low", "high"):
                changes[f"techniques__{key}__take__{end}"] = (value,)
        else:
            shift = value - technique.new_crown.value[0][0]
            curve = tuple((age + shift, share) for age, share in technique.new_crown.value)
            changes[f"techniques__{key}__new_crown__value"] = curve
    return farm.changed(**changes)


PAIRS = [
    ("price_per_kg", "take"),
    ("mature_crop", "wage_per_day"),
    ("discount_rate", "months_to_bearing"),
    ("take", "months_to_bearing"),
    ("discount_rate", "mature_crop"),
]


@pytest.mark.parametrize("pair", PAIRS)
@pytest.mark.parametrize("name", FARMS)
def test_every_point_of_the_map_is_the_comparison_of_the_farm_changed_by_hand(name, pair):
    farm = stated(name)
    comparison = compare(farm)
    found = win_map(comparison, *pair, points=7)
    for i, j in ((0, 6), (3, 2), (6, 5)):
        point = {pair[0]: float(found.x.places[i]), pair[1]: float(found.y.places[j])}
        changed = changed_by(comparison.scenario, found.headline, point)
        worth = []
        for position, key in enumerate(found.techniques):
            npv = npv_of(changed, [comparison.outcomes[key].treatment])
            if "take" in point and key == found.headline and point["take"] in (0, 1):
                continue  # tools stay as they were bought, which they would not if all or none took
            worth.append(npv)
            assert found.npv[position, i, j] == pytest.approx(npv, rel=1e-9, abs=1e-6)
        if len(worth) == len(found.techniques):
            assert found.best[i, j] == (int(np.argmax(worth)) if max(worth) > 0 else -1)


@pytest.mark.parametrize("name", FARMS)
def test_the_farms_own_point_is_the_comparison_itself(name):
    comparison = compare(stated(name))
    found = win_map(comparison, "price_per_kg", "take", points=5)
    for key, outcome in comparison.outcomes.items():
        at = {"price_per_kg": [found.x.own], "take": [found.y.own]}
        assert npv_at(comparison, key, at)[0] == pytest.approx(outcome.measures.npv, rel=1e-9)


@pytest.mark.parametrize("name", FARMS)
def test_break_even_values_of_map_switching_routine_and_bisection_agree(name):
    farm = stated(name)
    comparison = compare(farm)
    key = comparison.headline
    outcome = comparison.outcomes[key]
    own = {"price_per_kg": farm.market.dry_price_per_kg, "wage_per_day": farm.household.wage_per_day, "mature_crop": 1}
    routine = {
        "price_per_kg": [outcome.break_even.price_per_kg],
        "wage_per_day": [outcome.break_even.wage_per_day],
        "mature_crop": [outcome.break_even.mature_crop],
        "take": list(outcome.break_even.take),
        "discount_rate": [root for root in outcome.measures.irr.roots if 0 <= root <= 2],
    }
    compared = 0
    for driver, values in routine.items():
        size = own.get(driver, 1.0)
        limits = (0.0, 50.0 * size) if driver in own else (0.0, 2.0 if driver == "discount_rate" else 1.0)
        values = [value for value in values if value is not None and limits[0] < value <= limits[1]]
        by_map = values_where_equal(comparison, driver, key, limits=limits)
        assert by_map == pytest.approx(values, abs=1e-6 * max(size, 1))
        for value in values:

            def npv(x, driver=driver):
                return npv_of(changed_by(farm, key, {driver: x}), [outcome.treatment])

            near = (
                max(value * 0.9, 1e-6),
                min(value * 1.1 + 1e-3, 1.0 if driver in ("take", "discount_rate") else 1e12),
            )
            if driver == "mature_crop" and near[1] > 20:
                continue
            assert brentq(npv, *near, xtol=1e-13) == pytest.approx(value, abs=1e-6 * max(size, 1))
            compared += 1
    assert compared >= 3


@pytest.mark.parametrize("name", FARMS)
def test_ties_of_map_and_switching_routine_agree(name):
    comparison = compare(stated(name))
    first, second, ties = comparison.headline, comparison.against, comparison.ties
    for driver, value, limits in (
        ("price_per_kg", ties.price_per_kg, (0.0, 1e6)),
        ("wage_per_day", ties.wage_per_day, (0.0, 1e6)),
    ):
        found = values_where_equal(comparison, driver, first, second, limits=limits)
        assert found == (() if value is None or value > 1e6 else (pytest.approx(value, abs=1e-6 * max(1.0, value)),))
    rates = values_where_equal(comparison, "discount_rate", first, second, limits=(0.0, 5.0))
    assert rates == pytest.approx([rate for rate in ties.discount_rates if rate <= 5], abs=1e-6)
    takes = values_where_equal(comparison, "take", first, second, limits=(0.0, 1.0))
    assert takes == pytest.approx(list(ties.take_of_first), abs=1e-6)


@pytest.mark.parametrize("pair", [*PAIRS, ("price_per_kg", "wage_per_day"), ("months_to_bearing", "take")])
@pytest.mark.parametrize("name", FARMS)
def test_on_a_tie_line_two_ways_are_worth_the_same_and_none_is_worth_more(name, pair):
    comparison = compare(stated(name))
    found = win_map(comparison, *pair, points=9)
    for line in found.lines:
        at = {pair[0]: line.points[:, 0], pair[1]: line.points[:, 1]}
        worth = {key: npv_at(comparison, key, at) for key in found.techniques}
        size = 1 + max(np.abs(npv).max() for npv in worth.values())
        other = worth[line.second] if line.second else 0.0
        assert np.abs(worth[line.first] - other).max() < 1e-7 * size
        assert (worth[line.first] >= np.maximum(np.max(list(worth.values()), axis=0), 0) - 1e-5 * size).all()
    ways = [*found.techniques, None]
    # a line passes between any two neighbouring points with unlike winners, unless a third way wins in between
    pairs = {frozenset((line.first, line.second)) for line in found.lines}
    beside = np.stack([found.best[:-1].ravel(), found.best[1:].ravel()], axis=1)
    unlike = [frozenset((ways[i], ways[j])) for i, j in beside if i != j]
    assert not unlike or pairs & set(unlike)
    assert sum(found.shares.values()) == pytest.approx(1)
    assert len(found.table()) == 81


def test_what_a_map_cannot_show_is_refused():
    comparison = compare(demo_scenario())
    with pytest.raises(ValueError, match="twice"):
        win_map(comparison, "take", "take")
    with pytest.raises(KeyError):
        win_map(comparison, "rain", "take")
    with pytest.raises(ValueError, match="may be 0 to 1"):
        win_map(comparison, "price_per_kg", "take", y_range=(0.2, 1.4))
    with pytest.raises(ValueError, match="makes no new crown"):
        win_map(comparison, "price_per_kg", "mature_crop", headline="hard_pruning")
    with pytest.raises(ValueError, match="nothing to take"):
        win_map(comparison, "price_per_kg", "take", headline="hard_pruning")
