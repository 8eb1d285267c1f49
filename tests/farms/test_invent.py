"""Invented farms: the same from a seed, said to be invented, near the template, and let pass by every check."""

import numpy as np
import pandas as pd
import pytest

from renovation.farms.invent import SPREAD, invent, invented_file
from renovation.farms.table import check
from renovation.inputs import demo_names, demo_scenario

FARM = demo_scenario()


@pytest.mark.long
def test_the_same_seed_gives_the_same_farms_and_another_gives_others():
    pd.testing.assert_frame_equal(invent(30, 1, FARM), invent(30, 1, FARM))
    assert not invent(30, 1, FARM).equals(invent(30, 2, FARM))
    with pytest.raises(ValueError, match="farms"):
        invent(0, 1, FARM)


@pytest.mark.long
@pytest.mark.parametrize("name", demo_names())
@pytest.mark.parametrize("ending", ["parquet", "csv"])
def test_every_invented_farm_is_accepted_by_columns_and_models(tmp_path, name, ending):
    template = demo_scenario(name)
    path = tmp_path / f"stands.{ending}"
    path.write_bytes(invented_file(invent(300, 3, template), path.name, 3, template))
    found = check(template, path, tried=40)
    assert (found.farms, found.refused_farms, found.tried, found.disagreed) == (300, 0, 40, 0)
    assert found.tables.invented
    assert sum(len(batch) for batch in found.batches(70)) == 300


@pytest.mark.long
def test_figures_lie_around_the_template_as_documented():
    table = invent(40_000, 4, FARM)
    prices = table.drop_duplicates("farm")
    crop = table[table["stand"] == "River field"]["stands.crop_per_tree"]
    assert crop.mean() == pytest.approx(FARM.stand("River field").kg_per_tree, rel=0.02)
    assert np.log(crop[crop > 0]).std() == pytest.approx(SPREAD["stands.crop_per_tree"], rel=0.05)
    within = prices["market.price_per_kg"] / prices.groupby("village")["market.price_per_kg"].transform("mean")
    assert np.log(within).std() == pytest.approx(SPREAD["price"], rel=0.05)
    assert (prices["loans.Tree loan.amount"] == 0).mean() == pytest.approx(0.6, abs=0.01)
    begun = prices["farm"].isin(table.loc[table["under_way.side_graft.trees"].notna(), "farm"])
    assert begun.mean() == pytest.approx(0.1, abs=0.01)
