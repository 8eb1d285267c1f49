"""Many farms at once are the same farms one by one: every number, every root, every blank (method §13)."""

import numpy as np
import pytest
from farms.many import invented

from renovation.decide import compare
from renovation.farms.arrays import compare_many
from renovation.inputs import demo_scenario

CLOSE = 1e-9
FARMS = ("first_grafters", "few_hands", "cooperative_nursery", "old_stand_with_gaps")


def one_by_one(batch, names=None):
    """What `compare` says of each way of each stand, keyed by farm, stand and technique."""
    found = {}
    for name in batch.farms.index if names is None else names:
        farm = batch.scenario(name)
        for stand in farm.stands:
            if not farm.free_trees(stand.name):
                continue
            on_trees = compare(farm, stand.name)
            for comparison in (on_trees, on_trees.on_empty_places):
                for key, outcome in comparison.outcomes.items() if comparison else ():
                    found[name, stand.name, key] = comparison, outcome
    return found


def told(comparison, outcome):
    """The numbers of one way as the table names them; None for blank."""
    measures = {}
    for name, one in (("", outcome.measures), ("per_tree_", outcome.per_tree)):
        table = one.as_dict()
        irr = table.pop("irr")
        measures |= {f"{name}{key}": value for key, value in table.items()}
        measures |= {f"{name}irr": irr["value"], f"{name}irr_roots": irr["roots"], f"{name}irr_verdict": irr["verdict"]}
    worth = outcome.break_even
    return {
        **measures,
        "trees": comparison.trees,
        "start": outcome.treatment.start,
        "works_on": comparison.works_on,
        "return_per_day": outcome.return_per_day,
        "return_per_family_day": outcome.return_per_family_day,
        "break_even_price_per_kg": worth.price_per_kg,
        "break_even_wage_per_day": worth.wage_per_day,
        "break_even_mature_crop": worth.mature_crop,
        "most_money_out": outcome.most_money_out[0],
        "headline": comparison.headline == outcome.technique,
        "best": comparison.best == outcome.technique,
    }


def assert_same(row, expected, scale):
    for name, value in expected.items():
        found = row[name]
        if name.endswith("irr_roots"):
            assert len(found) == len(value), (row.farm, row.stand, row.technique, name, found, value)
            assert found == pytest.approx(value, rel=CLOSE, abs=CLOSE), (row.farm, row.stand, row.technique, name)
        elif value is None:
            assert np.isnan(found), (row.farm, row.stand, row.technique, name, found)
        elif isinstance(value, str | bool):
            assert found == value, (row.farm, row.stand, row.technique, name, found)
        else:
            room = CLOSE * scale if name in ("npv", "most_money_out", "equivalent_annual_value") else 0.0
            where = row.farm, row.stand, row.technique, name
            assert found == pytest.approx(value, rel=CLOSE, abs=room or 1e-12), where


def assert_all_the_same(batch):
    table, expected = compare_many(batch), one_by_one(batch)
    assert set(zip(table.farm, table.stand, table.technique, strict=True)) == set(expected)
    assert len(table) == len(expected)
    for _, row in table.iterrows():
        comparison, outcome = expected[row.farm, row.stand, row.technique]
        scale = float(np.abs(outcome.cumulative_cash).max()) + float(np.abs(outcome.flows.with_plan.economic).max())
        assert_same(row, told(comparison, outcome), scale)
        month = outcome.cumulative_cash[row.most_money_out_month]
        assert min(0.0, month) == pytest.approx(outcome.most_money_out[0], abs=CLOSE * scale)


@pytest.mark.parametrize("name", FARMS[:1])
def test_three_farms_of_everything_one_by_one_and_in_the_batch(name):
    assert_all_the_same(invented(3, 5, demo_scenario(name)))


@pytest.mark.long
@pytest.mark.parametrize("name", FARMS)
def test_random_farms_one_by_one_and_in_the_batch(name):
    assert_all_the_same(invented(75, 11, demo_scenario(name)))
