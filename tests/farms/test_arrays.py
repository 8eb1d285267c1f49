"""Many farms at once are the same farms one by one: every number, every root, every blank (method §13)."""

import numpy as np
import pandas as pd
import pytest
from farms.many import invented, with_loans
from pandas.testing import assert_frame_equal

from renovation.decide import compare
from renovation.decide.held import as_held
from renovation.farm import farm_flows, household_cash
from renovation.farms import Batch
from renovation.farms.arrays import compare_many
from renovation.farms.months import cash_many
from renovation.inputs import FrozenDict, demo_scenario
from renovation.money.loan_cover import missed

CLOSE = 1e-9
FARMS = ("first_grafters", "few_hands", "cooperative_nursery", "old_stand_with_gaps")


def one_by_one(batch, most):
    """What `compare` says of each way of each stand, keyed by farm, stand and technique; of so many stands a farm."""
    found = {}
    for number, name in enumerate(batch.farms.index):
        farm = batch.scenario(name)
        stands = [stand for stand in farm.stands if farm.free_trees(stand.name)]
        turned = number % max(1, len(stands))
        for stand in (stands[turned:] + stands[:turned])[:most]:
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
        "break_even_take": worth.take,
        "most_money_out": outcome.most_money_out[0],
        "headline": comparison.headline == outcome.technique,
        "best": comparison.best == outcome.technique,
    }


def assert_same(row, expected, scale):
    for name, value in expected.items():
        found = row[name]
        if name.endswith("irr_roots") or name == "break_even_take":
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


def household(side):
    """The numbers of one household's months as the table names them; NaN for none."""
    service = side.debt_service
    late = np.flatnonzero(missed(service, side.balance))
    below, gaps = side.months_below_floor, side.gap_years
    return {
        "deepest_balance": side.deepest,
        "deepest_month": side.deepest_month,
        "final_balance": side.final_balance,
        "reserve_needed": side.reserve_needed,
        "gap_years": len(gaps),
        "first_gap_year": gaps[0] if gaps else None,
        "months_below_floor": len(below),
        "first_month_below_floor": below[0] if below else None,
        "debt_service": service.sum(),
        "instalments": (service > 0).sum(),
        "missed_instalments": late.size,
        "first_missed_month": late[0] if late.size else None,
    }


def assert_household(row, expected, scale, prefix=""):
    for name, value in expected.items():
        found, where = row[f"{prefix}{name}"], (row.farm, prefix, name)
        if value is None:
            assert np.isnan(found), (*where, found)
        else:
            assert found == pytest.approx(value, rel=CLOSE, abs=CLOSE * scale), where


def assert_all_the_same(batch, most=9):
    table, expected = compare_many(batch, cash=True), one_by_one(batch, most)
    ways = list(zip(table.farm, table.stand, table.technique, strict=True))
    looked_at = {key[:2] for key in expected}
    assert sorted(expected) == sorted(way for way in ways if way[:2] in looked_at)
    for way, (_, row) in zip(ways, table.iterrows(), strict=True):
        if way not in expected:
            continue
        comparison, outcome = expected[way]
        scale = float(np.abs(outcome.cumulative_cash).max()) + float(np.abs(outcome.flows.with_plan.economic).max())
        assert_same(row, told(comparison, outcome), scale)
        month = outcome.cumulative_cash[row.most_money_out_month]
        assert min(0.0, month) == pytest.approx(outcome.most_money_out[0], abs=CLOSE * scale)
        cash = household_cash(comparison.scenario, outcome.flows)
        assert_household(row, household(cash.with_plan), float(np.abs(cash.with_plan.balance).max()))
    assert_cash_the_same(batch)


def assert_cash_the_same(batch):
    table = cash_many(batch)
    assert table.farm.tolist() == sorted(batch.farms.index)
    for _, row in table.iterrows():
        farm = as_held(batch.scenario(row.farm))
        cash = household_cash(farm, farm_flows(farm, []))
        for prefix, side in (("", cash.with_plan), ("without_", cash.without)):
            assert_household(row, household(side), float(np.abs(side.balance).max()), prefix)


def few_ways(scenario):
    """With three of its ways alone: a graft, a planting, and one for empty places where there is one."""
    ways = scenario.techniques
    kept = {key: ways[key] for key in [*list(ways)[:2], *[k for k in ways if ways[k].works_on == "empty places"][:1]]}
    return scenario.model_copy(update={"techniques": FrozenDict(kept)})


def template(name):
    return with_loans(demo_scenario(name))


@pytest.mark.parametrize("name", FARMS[:1])
def test_two_farms_of_everything_one_by_one_and_in_the_batch(name):
    assert_all_the_same(invented(2, 5, template(name)))


@pytest.mark.long
@pytest.mark.parametrize("name", FARMS)
def test_random_farms_one_by_one_and_in_the_batch(name):
    """Three hundred in all, with loans of every kind and trees under way; one stand of each."""
    assert_all_the_same(invented(75, 11, template(name)), most=1)


def test_rows_in_any_order_and_chunks_of_any_size_give_the_same_bytes():
    batch, rng = invented(3, 3, few_ways(template("first_grafters"))), np.random.default_rng(1)
    whole, stood = compare_many(batch, cash=True), cash_many(batch)
    shuffled = batch.farms.sample(frac=1, random_state=rng)
    stands = batch.stands.iloc[np.concatenate([np.flatnonzero(batch.stands.farm == farm) for farm in shuffled.index])]
    other = Batch(batch.template, shuffled, stands)
    assert_frame_equal(compare_many(other, cash=True), whole, check_exact=True)
    assert_frame_equal(cash_many(other), stood, check_exact=True)
    parts = [
        Batch(batch.template, batch.farms.loc[[farm]], batch.stands[batch.stands.farm == farm])
        for farm in batch.farms.index
    ]
    alone = pd.concat([compare_many(part, cash=True) for part in parts], ignore_index=True)
    assert_frame_equal(alone, whole, check_exact=True)


def test_no_farm_gives_an_empty_table():
    batch = invented(2, 3)
    nobody = Batch(batch.template, batch.farms.iloc[:0], batch.stands.iloc[:0])
    assert compare_many(nobody).empty
    assert cash_many(nobody).empty
