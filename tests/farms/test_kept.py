"""What a run was about, kept in its folder: any farm read again is the farm of the tables."""

import pandas as pd
import pytest

from renovation.farms.kept import NotKept, digest_of, keep, kept
from renovation.farms.table import check
from renovation.inputs import demo_names, demo_scenario

STANDS = pd.DataFrame(
    {
        "farm": ["Low", " Upper ", "12", "Upper", "Bare"],
        "stand": ["Hill", "Hill", "Hill", "River", "Hill"],
        "village": ["Near", None, "Far", "Far", None],
        "stands.trees": [90, 120, 60, 80, 0],
        "stands.crop_per_tree": ["0,25", None, "0.4", None, None],
    }
)
FARMS = pd.DataFrame(
    {"farm": ["12", "Bare", "Low", "Upper"], "template": ["a", "b", "b", "a"], "household.savings": [1.0, 2, None, 4]}
)


def kept_in(folder, templates, stands, farms=None):
    keep(folder, templates, stands, farms)
    tables = {str(path): digest_of(path) for path in (stands, farms) if path is not None}
    return {"tables": tables, "templates": {name: one.digest for name, one in templates.items()}}


@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_every_farm_read_again_is_the_farm_of_the_tables(tmp_path, ending):
    paths = [tmp_path / f"{name}.{ending}" for name in ("mine", "theirs")]
    for table, path in zip((STANDS, FARMS), paths, strict=True):
        table.to_csv(path, index=False) if ending == "csv" else table.to_parquet(path)
    templates = dict(zip("ab", map(demo_scenario, demo_names()[:2]), strict=True))
    told = kept_in(tmp_path / "run", templates, *map(str, paths))
    found = kept(tmp_path / "run", told)
    batches = list(check(templates, *paths, tried=0).batches())
    assert sorted(farm for batch in batches for farm in batch.farms.index) == ["12", "Low", "Upper"]
    for batch in batches:
        for farm in batch.farms.index:
            assert found.farm(farm) == batch.scenario(farm)
    for nobody in ("Bare", "Nobody", "../mine"):
        with pytest.raises(KeyError):
            found.farm(nobody)
    assert found.villages(["Low", "Upper"]) == {"Low": "Near", "Upper": "Far"}


def test_inputs_that_are_gone_or_changed_are_not_read(tmp_path):
    path = tmp_path / "mine.csv"
    STANDS.to_csv(path, index=False)
    told = kept_in(tmp_path, {"": demo_scenario()}, str(path))
    assert kept(tmp_path, told).farm("Low").stands[0].trees == 90
    for changed in ({"templates": {"": "0"}}, {"tables": {"mine.csv": "0"}}):
        with pytest.raises(NotKept):
            kept(tmp_path, told | changed)
    with pytest.raises(NotKept):
        kept(tmp_path / "inputs", told)
