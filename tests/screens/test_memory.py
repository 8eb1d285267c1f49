"""What pages remember is never the answer to another farm, and nothing equal is held twice."""

import dataclasses
import zlib
from collections.abc import Mapping

import numpy as np
import pytest

from renovation.decide import compare, switching
from renovation.decide.plan import build
from renovation.farm import farm_flows, trees
from renovation.inputs import Scenario, ScenarioError, demo_names, demo_scenario
from renovation.screens.memory import cash, plan, results

UNREAD = ("plan", "loans", "comparison", "loan_test", "risk")
"""Sections that the planner does not read, but for the expected price of the last."""


def leaves(node, path=()):
    """Every place of a farm that holds one value, as a path."""
    entries = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, tuple) else None
    if entries is None:
        yield path, node
        return
    for key, below in entries:
        yield from leaves(below, (*path, str(key)))


def others(value):
    """Other values of the same kind, the nearest first."""
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, int):
        return [value + 1, value - 1, 2 * value]
    if isinstance(value, float):
        return [value * 1.01, value * 0.99, value + 0.01, value + 1.0]
    if isinstance(value, str):
        return [f"{value} two", "2027-02", "2027-09", "paid", "added", "level", "price"]
    return [1, 0.5, 10.0, "2027-02", "other"]


def changed_everywhere(farm, wanted):
    """The farm with one place changed, for each place that may be changed alone."""
    for path, value in leaves(farm.model_dump()):
        if not wanted(path):
            continue
        for other in (other for other in others(value) if other != value):
            try:
                yield path, farm.changed(**{"__".join(path): other})
                break
            except (ScenarioError, KeyError):
                continue


def few(path):
    return path[0] in ("appraisal", "household", "loans", "plan") or path[:2] == ("stands", "0")


def of_trees(path):
    return path[0] in ("stands", "market", "appraisal") or (
        path[:2] == ("techniques", "side_graft") and one_in_eight(path)
    )


def one_in_eight(path):
    return zlib.crc32("/".join(path).encode()) % 8 == 0


def asked(value):
    """A question to the planner as plain data, without the farm that it was built from."""
    if isinstance(value, Scenario):
        return None
    if isinstance(value, np.ndarray):
        return value.tolist()
    if dataclasses.is_dataclass(value):
        return {entry.name: asked(getattr(value, entry.name)) for entry in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {key: asked(entry) for key, entry in value.items()}
    return [asked(entry) for entry in value] if isinstance(value, list | tuple) else value


def hold(farm, wanted):
    """Each change is another farm to what is remembered; returns the sections that were changed."""
    seen = set()
    before, question = {farm.digest}, plan.question(farm)
    for path, other in changed_everywhere(farm, wanted):
        seen.add(path[0])
        if path[-1] == "because":
            assert other.digest == farm.digest  # reasons move no number
            continue
        assert other.digest not in before, path
        before.add(other.digest)
        if plan.question(other) == question:
            assert path[0] in UNREAD, path
    return seen


def test_whatever_a_farm_states_is_part_of_the_key_of_what_is_remembered():
    farm = demo_scenario()
    assert hold(farm, few) >= {"appraisal", "household", "loans", "plan", "stands"}


@pytest.mark.long
@pytest.mark.parametrize("name", demo_names())
def test_one_in_eight_of_all_figures_are_part_of_the_key(name):
    assert hold(demo_scenario(name), one_in_eight) >= {"techniques", "supplies"}


def test_the_planner_asks_the_same_where_its_key_is_the_same():
    farm = demo_scenario()
    loan = farm.loans[0].model_dump()
    for changes in ({"loans": ()}, {"loans": ({**loan, "amount": 2 * loan["amount"]},)}, {"plan": (), "loans": ()}):
        other = farm.changed(**changes)
        assert plan.question(other) == plan.question(farm)
        assert asked(build(other)) == asked(build(farm))
    assert asked(build(farm.changed(household__living_costs=99.0))) != asked(build(farm))


def test_what_is_remembered_is_of_the_farm_that_asks():
    farm = demo_scenario()
    loan = {**farm.loans[0].model_dump(), "rate_per_year": 0.19}
    for other in (farm, farm.changed(loans=(loan,)), farm.changed(market__price_per_kg=1.5), farm):
        held = results.compared(other), cash.lending(other), cash.family(other).flows
        assert {one.scenario.digest for one in held} == {other.digest}  # each with the takes that are held
        assert results.compared(other).scenario.market == other.market
        assert cash.family(other).cash.loans == other.loans


def forgotten():
    for kept in (trees.tree_treated, trees.tree_left_alone, trees._setting, switching._by_take):
        kept.cache_clear()


@pytest.mark.long
def test_a_tree_that_is_remembered_is_the_tree_that_would_be_worked_out():
    farm = demo_scenario()
    ways = [farm.comparison.headline, farm.comparison.against]
    for path, other in changed_everywhere(farm, of_trees):
        known = [key for key in ways if key in other.techniques]
        remembered = compare(other, techniques=known).as_dict(), farm_flows(other, other.plan).cash_change
        forgotten()
        again = compare(other, techniques=known).as_dict(), farm_flows(other, other.plan).cash_change
        assert remembered[0] == again[0], path
        assert np.array_equal(remembered[1], again[1]), path
