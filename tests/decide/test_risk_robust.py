"""The plan that stands up, against the promise, against counted futures, and against the plan on expected figures."""

import numpy as np
import pytest
from risk_reference import lean_farm

from renovation.decide.plan.plan import make_plan
from renovation.decide.risk import draw_futures, judge, lay_out
from renovation.decide.risk.robust import EXPECTED, ROBUST, SHARE, _Search, robust_plan
from renovation.inputs import demo_names, demo_scenario
from renovation.inputs.planning import Planning

QUICK = Planning(years=2, time_limit_seconds=20.0)


def test_the_promise_costs_something_where_money_is_short_and_holds_on_fresh_futures():
    found = robust_plan(lean_farm(), QUICK)
    assert found.settled
    assert found.at_floor
    assert found.holds
    expected, robust = found.answers[EXPECTED], found.answers[ROBUST]
    assert found.kept[EXPECTED].value < SHARE  # the plan on expected figures breaks it
    assert found.kept[ROBUST].value >= found.kept[EXPECTED].value
    assert found.cost == pytest.approx(expected.expected_npv - robust.expected_npv)
    assert found.cost > 0
    assert sum(t.trees for t in found.robust.treatments) < found.expected.trees
    assert robust.deepest.p10.value >= expected.deepest.p10.value


def test_where_money_is_plenty_the_plan_is_the_expected_one():
    found = robust_plan(lean_farm(savings=1e6), QUICK)
    assert found.at_floor
    assert found.cost == 0
    assert found.rounds < 10
    trees = sum(t.trees for t in found.robust.treatments)
    assert trees == found.expected.trees


def test_the_promise_kept_is_the_share_of_futures_counted_one_by_one():
    farm = lean_farm()
    found = robust_plan(farm, QUICK, fresh=1024)
    futures = draw_futures(farm.risk, 12, 1024, farm.risk.seed + 2)
    lowest = judge(lay_out(farm, found.robust), futures).deepest
    counted = np.mean([low >= found.level - 1.0 for low in lowest])
    assert found.kept[ROBUST].value == pytest.approx(counted, abs=0.01)


def test_no_plan_lies_above_a_line_that_was_learned():
    """Each row holds for the mean of the worst tenth of any plan: tried on plans drawn at random."""
    farm = lean_farm()
    expected = make_plan(farm, QUICK)
    search = _Search(expected, draw_futures(farm.risk, 12, 512, 3), None)
    rng = np.random.default_rng(1)
    plans = [rng.multinomial(rng.integers(0, 300), np.ones(len(search.trees)) / len(search.trees)) for _ in range(8)]
    for plan in plans[:4]:
        search._learn(search._see(plan, 0.0), plan, 0.0)
    pieces = {tool.name: tool for tool in search.problem.tools}
    assert not pieces  # so that trees and the loan alone decide
    for line, limit in zip(search.lines, search.limits, strict=True):
        for plan in plans:
            bound = farm.household.floor + search.model.scale * (line[search.model.trees] @ plan - limit)
            assert search._see(plan, 0.0).level <= bound + 1e-6 * (1 + abs(bound))
    touching = search._see(plans[3], 0.0).level
    bound = farm.household.floor + search.model.scale * (
        search.lines[-1][search.model.trees] @ plans[3] - search.limits[-1]
    )
    assert touching == pytest.approx(bound, abs=1e-6 * (1 + abs(bound)))


@pytest.mark.long
@pytest.mark.parametrize("name", demo_names())
def test_the_promise_holds_on_fresh_futures_on_every_demo_farm(name):
    found = robust_plan(demo_scenario(name), Planning(years=3, time_limit_seconds=30.0))
    assert found.settled
    assert found.holds
    assert found.as_dict()["cost"] == found.cost
    print(name, found.level, found.at_floor, found.kept[ROBUST], found.kept[EXPECTED], found.cost)
