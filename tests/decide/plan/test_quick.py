"""The first plan, to be shown while the search goes on: it keeps every promise wherever any plan is known to."""

import pytest
from tiny_farms import tiny_farm

from renovation.decide.plan import make_plan, quick_plan, replay
from renovation.inputs import demo_names, demo_scenario


@pytest.mark.parametrize("name", demo_names())
def test_the_first_plan_of_a_demo_farm_keeps_every_promise_by_its_own_takes(name):
    found = quick_plan(demo_scenario(name))
    plan = found.plan
    assert plan.breaches == ()
    assert replay(plan).difference < 1e-6 * abs(plan.account.balance).max()  # the farm model says the same
    assert plan.aim_gain > 0
    assert (plan.standing, found.settled) == ("unproven", False)


@pytest.mark.parametrize("seed", range(8))
def test_where_a_plan_exists_there_is_a_first_one_and_it_is_no_better(seed):
    farm, planning = tiny_farm(seed)
    best, first = make_plan(farm, planning), quick_plan(farm, planning)
    if best.impossible is None:
        assert first.plan.breaches == ()
        assert first.plan.aim <= best.aim + best.problem.money_unit
    else:
        assert first is None
