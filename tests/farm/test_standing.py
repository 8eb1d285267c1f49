"""What stands already: the identity of method §11 on random farms, and cases for paper."""

import numpy as np
import pytest
from carried_on import YEAR, a_year_on
from factories import figure, operation, scenario, some_plain, stand, technique_data
from random_farms import with_plan

from renovation.farm import farm_flows, farm_left_alone, household_cash, labour_by_month
from renovation.inputs import Treatment

MONEY = ("sales", "other_income", "materials", "tools", "cash", "economic")
FLOWS = ("old_kg", "new_kg", "days", *MONEY)


@pytest.mark.parametrize("seed", some_plain(range(60), range(4)))
def test_what_was_under_way_goes_on_in_the_year_after_as_well(seed):
    farm = with_plan(seed)
    flows = farm_flows(farm, farm.plan)
    cash = household_cash(farm, flows)
    later = a_year_on(a_year_on(farm))
    rest = farm_flows(later, later.plan)
    dearer = (1 + farm.appraisal.inflation) ** 2
    np.testing.assert_allclose(rest.with_plan.days, flows.with_plan.days[2 * YEAR :], rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(rest.with_plan.cash, flows.with_plan.cash[2 * YEAR :] * dearer, rtol=1e-9, atol=1e-9)
    carried = household_cash(later, rest).with_plan.balance
    np.testing.assert_allclose(carried, cash.with_plan.balance[2 * YEAR :] * dearer, rtol=1e-9, atol=1e-7)


@pytest.mark.parametrize("seed", some_plain(range(300), range(24)))
def test_a_plan_written_down_after_a_year_goes_on_as_it_would_have(seed):
    farm = with_plan(seed)
    flows = farm_flows(farm, farm.plan)
    cash = household_cash(farm, flows)
    later = a_year_on(farm)
    rest = farm_flows(later, later.plan)
    dearer = 1 + farm.appraisal.inflation
    for name in FLOWS:
        expected = getattr(flows.with_plan, name)[YEAR:] * (dearer if name in MONEY else 1)
        np.testing.assert_allclose(getattr(rest.with_plan, name), expected, rtol=1e-9, atol=1e-9, err_msg=name)
    for parts, others in ((rest.work, flows.work), (rest.demand, flows.demand), (rest.bought, flows.bought)):
        for key, series in others.items():
            found = parts.get(key, np.zeros(series.size - YEAR))
            np.testing.assert_allclose(found, series[YEAR:], rtol=1e-9, atol=1e-9, err_msg=key)
    carried = household_cash(later, rest)
    np.testing.assert_allclose(carried.with_plan.balance, cash.with_plan.balance[YEAR:] * dearer, rtol=1e-9, atol=1e-7)
    # what stands is on both sides: a farm that plans nothing more has nothing to gain
    alone = farm_flows(later, [])
    assert not alone.economic_change.any()
    assert not alone.cash_change.any()
    both = household_cash(later, alone, loans=[])
    assert both.with_plan.debt_service.any()
    assert (both.with_plan.balance == both.without.balance).all()
    np.testing.assert_allclose(labour_by_month(later, rest).days, labour_by_month(farm, flows).days[YEAR:], atol=1e-9)


def grafted():
    """Two tries four months apart, half of them taking; 2 days a try and a knife of ten for two years."""
    return technique_data(
        attempts=figure(2, "attempts"),
        gap_months=figure(4, "months"),
        take=figure((0.5,), "share by project year"),
        operations={"graft": operation("attempt", 0, 2.0)},
        tools=("knife",),
    )


def begun(**changes):
    """Ten trees at 1 kg: eight grafted four months ago, of which three took; five wait for a try in month 0."""
    entry = {"stand": "Lower field", "technique": "way_a", "trees": 8, "start": "2026-09", "taken": (3,)}
    return scenario({"way_a": grafted()}, under_way=({**entry, **changes},))


def test_what_is_under_way_stands_on_both_sides_by_hand():
    farm = begun()
    flows = farm_flows(farm, [])
    # a month is a twelfth of a year: 2 free trees, 2.5 old crowns of those that wait, 3 + 2.5 new ones
    assert flows.without.old_kg[0] * 12 == pytest.approx(4.5)
    assert flows.without.new_kg[0] * 12 == pytest.approx(5.5)
    assert flows.without.days[:2].tolist() == [10.0, 0.0]
    assert flows.without.tools[:2].tolist() == [10.0, 0.0]
    assert flows.work["graft"][:2].tolist() == [10.0, 0.0]
    assert (flows.with_plan.cash == flows.without.cash).all()


def test_a_tool_that_is_there_is_not_bought_again():
    assert not farm_left_alone(begun().changed(tools_owned={"knife": 1.0})).tools.any()


def test_no_more_trees_are_treated_than_are_free():
    farm = begun()
    plan = [Treatment(stand="Lower field", technique="way_a", trees=3, start="2027-06")]
    with pytest.raises(ValueError, match="which has 2"):
        farm_flows(farm, plan)
    flows = farm_flows(farm, [plan[0].model_copy(update={"trees": 2})])
    assert flows.economic_change.any()


def test_trees_given_up_with_nothing_to_come_are_as_if_nothing_had_been():
    given_up = begun(trees=8, start="2026-01", taken=(0, 0), given_up=8)
    alone = farm_left_alone(scenario({"way_a": grafted()}, stands=(stand().model_dump(),)))
    np.testing.assert_allclose(farm_left_alone(given_up).cash, alone.cash, rtol=1e-12)
