"""A batch of farms: what the columns hold is what the ordinary model of each farm holds."""

import pickle

import numpy as np
import pandas as pd
import pytest

from renovation.farms import Batch
from renovation.inputs import ScenarioError, demo_scenario


def batch(**columns):
    """Two farms: one states three figures of its own, the other one nothing but its trees."""
    farms = pd.DataFrame(
        {
            "household.savings": [900.0, np.nan],
            "household.family_days.3": [14.0, np.nan],
            "market.wet_beans.price_per_kg": [1.6, np.nan],
            "market.wet_beans.dry_per_wet": [0.4, np.nan],
            "techniques.side_graft.take": [0.4, np.nan],
            "techniques.side_graft.take.2": [0.5, np.nan],
            "loans.Tree loan.amount": [0.0, 500.0],
        },
        index=pd.Index(["One", "Two"], name="farm"),
    )
    stands = pd.DataFrame(
        {
            "farm": ["One", "One", "Two"],
            "stand": ["Hill", "House field", "Hill"],
            "stands.trees": [250, 30, 4],
            "stands.crop_per_tree": [0.4, np.nan, np.nan],
            "under_way.side_graft.trees": [50.0, np.nan, np.nan],
            "under_way.side_graft.start": ["2026-04", None, None],
            "under_way.side_graft.taken.1": [10.0, np.nan, np.nan],
        }
    )
    return Batch(demo_scenario(), farms, stands.assign(**columns))


def test_a_farm_is_the_template_with_what_its_rows_state():
    template, farm = demo_scenario(), batch().scenario("One")
    assert farm.about.name == "One"
    assert farm.techniques["side_graft"].take.value == (0.4, 0.5)
    assert farm.techniques["side_graft"].take.source == "own"
    assert farm.household.family_days == (10.0, 10.0, 14.0, *[10.0] * 9)
    assert farm.market.dry_price_per_kg == pytest.approx(4.0)
    assert [loan.name for loan in farm.loans] == []
    assert [(w.stand, w.trees, w.taken, w.waiting) for w in farm.under_way] == [("Hill", 50, (10,), 40)]
    hill, house = farm.stands
    assert (hill.trees, hill.crop_per_tree, hill.hectares) == (250, 0.4, None)
    assert (house.trees, house.pods) == (30, template.stand("House field").pods)
    other = batch().scenario("Two")
    assert other.household == template.household
    assert other.techniques == template.techniques
    assert [loan.amount for loan in other.loans] == [500.0]


@pytest.mark.parametrize(
    "path", ["household.savings", "household.wage_per_day", "market.deductions_per_kg", "techniques.side_graft.take"]
)
def test_columns_of_farms_hold_what_the_models_hold(path):
    one, two = (batch().scenario(farm) for farm in ("One", "Two"))
    section, *rest = path.split(".")
    found = []
    for farm in (one, two):
        value = getattr(farm, section)
        for part in rest:
            value = value[part] if isinstance(value, dict) else getattr(value, part)
        found.append(getattr(value, "value", (value,))[0])
    assert list(batch().of_farms(path)) == found


@pytest.mark.parametrize("field", ["trees", "empty_places", "decline_per_year", "upkeep_inputs", "kg_per_tree"])
def test_columns_of_stands_hold_what_the_models_hold(field):
    stands = [stand for farm in ("One", "Two") for stand in batch().scenario(farm).stands]
    assert list(batch().of_stands(f"stands.{field}")) == [getattr(stand, field) for stand in stands]


def test_what_the_models_do_not_accept_is_said_of_the_farm():
    with pytest.raises(ScenarioError, match="stands"):
        batch(**{"stands.trees": [0, 1, 1]}).scenario("One")


def test_a_batch_goes_to_another_process_and_back():
    again = pickle.loads(pickle.dumps(batch()))
    assert again.scenario("One") == batch().scenario("One")
    assert len(pickle.dumps(batch())) < 150_000
