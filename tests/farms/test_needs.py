"""Needs by month: the expected ones are the plan's own, their variance that of a Beta take, farm by farm."""

import numpy as np
import pandas as pd
import pytest

from renovation.farm import farm_flows
from renovation.farms.needs import Z90, banded, needs_of
from renovation.inputs import demo_scenario

FARM = demo_scenario()


def flows(farm=FARM):
    return farm_flows(farm, farm.plan)


@pytest.mark.long
@pytest.mark.parametrize("losses", [False, True])
def test_expected_needs_are_those_of_the_flows(losses):
    farm = FARM.changed(stands__0__tree_loss_per_year=0.05) if losses else FARM
    farm = flows(farm)
    needs = needs_of(farm, 8)
    expected = {}
    for item in farm.treated:
        for trees, operation in zip(item.tree.touched[:, 0], item.technique.operations.values(), strict=True):
            for supply, use in operation.materials.items():
                key = item.treatment.technique, supply
                expected[key] = expected.get(key, 0) + item.treatment.trees * trees * use.demand
    assert needs.supplies.keys() == expected.keys()
    for key, need in needs.supplies.items():
        np.testing.assert_allclose(need.expected, expected[key], atol=1e-9)
    for key, need in needs.work.items():
        np.testing.assert_allclose(need.expected, farm.work[key], atol=1e-9)


@pytest.mark.long
def test_the_variance_of_one_season_is_that_of_its_take():
    """Beta take: Var = spread·p(1 − p); trees that took in one season alone have n² times that."""
    farm = FARM.changed(plan=(FARM.plan[0].model_dump(),))
    one = flows(farm)
    technique = one.treated[0].technique
    key = next(key for key, operation in technique.operations.items() if operation.anchor == "established")
    operation, trees = technique.operations[key], farm.plan[0].trees
    take = one.treated[0].technique.take.value[0] * technique.factors_by_attempt[0]
    month = farm.month_of(farm.plan[0].start) + operation.month
    need = needs_of(one, 4096).work[key]
    alone = trees**2 * operation.days.value**2 * farm.risk.take_spread * take * (1 - take)
    assert need.expected[month] == pytest.approx(trees * operation.days.value * take)
    assert need.variance[month] == pytest.approx(alone, rel=0.02)


def test_days_and_money_stray_as_the_work_and_the_supplies_that_they_are_for():
    """In a month of one operation by one way, all that strays is it: days · Var, cost of its supplies · Var."""
    farm = FARM.changed(plan=(FARM.plan[0].model_dump(),))
    one = flows(farm)
    found, (item,) = needs_of(one, 64), one.treated
    used = np.array([part.sum() > 0 for part in np.moveaxis(item.tree.touched[:, 0], 1, 0)])
    days = {key: operation.days.value for key, operation in item.technique.operations.items()}
    alone = 0
    for month in np.flatnonzero(used):
        at_work = np.flatnonzero(item.tree.touched[:, 0, month] > 0)
        key = list(days)[at_work[0]]
        if at_work.size > 1 or not days[key]:
            continue
        need, operation = found.work[key].variance[month], item.technique.operations[key]
        cost = sum(use.demand * farm.supplies.items[name].unit_cost.value for name, use in operation.materials.items())
        assert found.more_days[:, month].var() == pytest.approx(need, abs=1e-12)
        assert found.more_cost[:, month].var() == pytest.approx(need * (cost / days[key]) ** 2, abs=1e-9)
        nobody = found.hired(np.full(used.size, 1e6), np.zeros(used.size))[:, month]
        assert nobody.var() == pytest.approx(need, abs=1e-6)
        assert found.hired(np.zeros(used.size), np.full(used.size, 1e6)).max() == 0
        alone += need > 0
    assert alone


@pytest.mark.long
def test_nothing_strays_where_no_take_does_and_names_draw_their_own_luck():
    sure = needs_of(flows(FARM.changed(risk__take_spread=0.0)), 8)
    assert max(need.variance.max() for need in sure.supplies.values()) < 1e-18
    assert np.abs(sure.more_days).max() < 1e-9
    one = needs_of(flows(), 16).supplies["side_graft", "scion"].variance
    again = needs_of(flows(), 16).supplies["side_graft", "scion"].variance
    other = needs_of(flows(FARM.changed(about__name="Other")), 16).supplies["side_graft", "scion"].variance
    np.testing.assert_array_equal(one, again)
    assert not np.array_equal(one, other)


@pytest.mark.long
def test_quantiles_of_many_farms_are_those_of_their_sum():
    """Thirty farms' sums in ten thousand futures, drawn here, against the normal ones."""
    rng = np.random.default_rng(2)
    spread, take, trees = 0.04, 0.6, rng.integers(20, 200, 30)
    size = 1 / spread - 1
    sums = rng.beta(size * take, size * (1 - take), (10_000, 30)) @ trees
    told = banded(
        pd.DataFrame({"amount": [take * trees.sum()], "variance": [spread * take * (1 - take) * (trees**2).sum()]})
    )
    assert np.quantile(sums, 0.1) == pytest.approx(told["p10"][0], rel=0.01)
    assert np.quantile(sums, 0.9) == pytest.approx(told["p90"][0], rel=0.01)
    assert pytest.approx(1.281552, abs=1e-6) == Z90
