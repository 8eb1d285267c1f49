"""A plan for each farm: the planner's own, the farms with most to gain first, told beforehand what it costs."""

import numpy as np
import pandas as pd
import pytest
from tiny_farms import tiny_farm

from renovation.decide.plan import learned_plan, replay
from renovation.farms.batch import Batch
from renovation.farms.engine import halves
from renovation.farms.plan import alone, cost_told, longest_first, months_of, plan_each, size_of, spread_sizes


def batch_of(trees):
    """Farms of the two stands of a tiny farm, each with so many trees."""
    template, planning = tiny_farm(3)
    template = template.model_copy(update={"planning": planning})
    names = [f"Farm {place}" for place in range(len(trees))]
    stands = [stand.name for stand in template.stands]
    rows = [(name, stand, count) for name, count in zip(names, trees, strict=True) for stand in stands]
    table = pd.DataFrame(rows, columns=["farm", "stand", "stands.trees"])
    return Batch(template, pd.DataFrame(index=pd.Index(names, name="farm")), table)


def test_a_plan_of_the_table_is_the_plan_of_the_farm_alone():
    batch = batch_of([2, 3])
    found = plan_each(batch, seconds=20)
    needs = months_of([found["needs"]])
    used = {}
    for row in found["farms"].to_dict("records"):
        plan = learned_plan(batch.scenario(row["farm"]), time_limit_seconds=20).plan
        assert row["npv"] == plan.npv
        assert row["trees"] == plan.trees
        starts = found["starts"][found["starts"]["farm"] == row["farm"]]
        assert [start.trees for start in plan.starts] == starts["trees"].tolist()
        for supply, units in replay(plan).flows.demand.items():
            used[supply] = used.get(supply, 0.0) + units[: 12 * plan.problem.planning.years_of(3)].sum()
    assert found["farms"]["trees"].sum() > 0
    for kind in ("hired", "money"):
        some = needs[needs["kind"] == kind]
        assert (some["p10"] <= some["amount"]).all()
        assert (some["p90"] >= some["amount"]).all()
    assert (some["p90"] > some["amount"]).any()
    told = needs[needs["kind"] == "supply"].groupby("what")["amount"].sum()
    assert told.to_dict() == pytest.approx({supply: units for supply, units in used.items() if units > 0})


def test_each_farm_stands_alone_in_the_order_that_is_asked_for():
    batch = batch_of([1, 2, 3, 4])
    found = alone(halves(batch), ["Farm 3", "Farm 1", "nobody"])
    assert [str(one.farms.index[0]) for one in found] == ["Farm 3", "Farm 1"]
    assert [one.scenario("Farm 3").stands[0].trees for one in found[:1]] == [4]


def test_the_largest_come_first_and_those_that_are_timed_span_all_sizes():
    batches = alone([batch_of([3, 1, 4, 2])], ["Farm 0", "Farm 1", "Farm 2", "Farm 3"])
    sizes = [size_of(one) for one in longest_first(batches)]
    assert sizes == sorted(sizes, reverse=True)
    some = [size_of(one) for one in spread_sizes(batches, 3)]
    assert (some[0], some[-1], len(some)) == (min(sizes), max(sizes), 3)


def test_the_cost_is_told_by_a_line_through_those_that_were_timed():
    sizes = np.array([1.0, 2.0, 4.0, 8.0])
    every = np.arange(1.0, 9.0)
    assert cost_told(sizes, 0.5 + 3 * sizes, every, 2) == pytest.approx((0.5 * 8 + 3 * every.sum()) / 2)
    assert cost_told([2.0, 2.0], [1.0, 3.0], [2.0] * 5, 1) == pytest.approx(10.0)
