"""Plans beside trees under way: the best of all that can be counted out, as the farm model has them (method §11)."""

import numpy as np
import pytest
from carried_on import a_year_on
from counted import as_counted
from factories import some_plain
from random_farms import random_farm
from tiny_farms import tiny_farm, with_empty_places, with_trees_under_way

from renovation.decide.next_year import next_year
from renovation.decide.plan import build, make_plan, replay, yardsticks
from renovation.decide.plan.exact import account
from renovation.decide.plan.question import offered_loan
from renovation.farm import farm_flows, household_cash
from renovation.inputs import SeasonRecord, Treatment, UnderWay, year_month
from renovation.inputs.quantities import month_count


@pytest.mark.parametrize("seed", some_plain(range(100), (2, 3)))
def test_the_plan_of_a_tiny_farm_with_trees_under_way_is_the_best_of_all(seed):
    farm, planning = tiny_farm(seed)
    farm = with_trees_under_way(farm, seed)
    found = as_counted(farm, planning)
    again = replay(found)
    for tool, pieces in again.flows.bought.items():
        assert found.account.bought[tool].tolist() == pieces.tolist()


@pytest.mark.parametrize("seed", some_plain(range(60), (3, 5)))
def test_the_plan_of_a_tiny_farm_with_empty_places_is_the_best_of_all(seed):
    farm, planning = tiny_farm(seed)
    farm = with_empty_places(farm, seed)
    found = as_counted(farm, planning)
    for start in found.starts:
        assert start.trees <= (farm.free_trees if start.technique == "way_a" else farm.free_places)(start.stand)


@pytest.mark.parametrize("seed", range(4))
def test_a_plan_carried_on_and_not_changed_is_worth_the_same(seed):
    """What the first plan's starts of later years are worth, in the farm that was written down after a year."""
    farm, planning = random_farm(seed, stands=2, ways=3, years=4, horizon=16)
    first = month_count(farm.appraisal.start)
    starts = [(0, "side_graft", 5), (1, "side_graft", 17), (0, "rooted_cutting", 8), (1, "rooted_cutting", 32)]
    entries = [
        Treatment(stand=farm.stands[at].name, technique=key, trees=20, start=year_month(first + month))
        for at, key, month in starts
    ]
    assert planning.loan is not None
    loans = (offered_loan(planning.loan, planning.loan.limit),)
    planning = planning.model_copy(update={"loan": None})
    farm = farm.model_copy(update={"plan": tuple(entries), "planning": planning, "loans": loans})
    flows = farm_flows(farm, farm.plan)
    cash = household_cash(farm, flows)
    later = a_year_on(farm)
    problem = build(later)
    trees = np.zeros(len(problem.candidates), dtype=np.int64)
    names = [stand.name for stand in later.stands]
    for entry in later.plan:
        wanted = (names.index(entry.stand), entry.technique, later.month_of(entry.start))
        trees[[(c.stand, c.technique, c.start) == wanted for c in problem.candidates].index(True)] = entry.trees
    found = account(problem, trees)
    dearer = 1 + farm.appraisal.inflation
    np.testing.assert_allclose(found.balance, cash.with_plan.balance[12:] * dearer, rtol=1e-9, atol=1e-7)
    np.testing.assert_allclose(found.farm_cash, flows.with_plan.cash[12:] * dearer, rtol=1e-9, atol=1e-9)
    side = flows.with_plan
    rest = side.cash[12:] * dearer - problem.value_per_family_day * side.family_days[12:]
    assert found.aim == pytest.approx(float(problem.discount @ rest), rel=1e-9, abs=1e-9)


def test_the_plan_carried_on_stands_beside_the_new_one():
    """It is judged by the account that judges every plan: never worth more than what was proven best."""
    farm, planning = random_farm(5, stands=2, ways=2, years=3, horizon=16)
    entry = Treatment(stand=farm.stands[0].name, technique="side_graft", trees=20, start="2028-03")
    farm = farm.model_copy(update={"plan": (entry,), "planning": planning.model_copy(update={"loan": None})})
    assert "carried_on" not in [rule.rule for rule in yardsticks(make_plan(farm))]
    later = next_year(farm, SeasonRecord(season=farm.appraisal.start, money_in_hand=400.0)).farm
    begun = UnderWay(stand=farm.stands[1].name, technique="side_graft", trees=10, start="2027-03", taken=(5,))
    later = later.model_copy(update={"under_way": (begun,)})
    found = make_plan(later)
    nothing, *_, carried = yardsticks(found)
    assert (carried.rule, carried.trees) == ("carried_on", 20)
    flows = farm_flows(later, later.plan)
    np.testing.assert_allclose(carried.account.farm_cash, flows.with_plan.cash, rtol=1e-9, atol=1e-9)
    assert carried.aim != nothing.aim
    if carried.keeps_promises:
        assert carried.aim <= found.aim + found.problem.money_unit
