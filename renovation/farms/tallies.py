"""Walks in a table: each class of a stand that was counted becomes a stand of its own (`inputs.tally.walked`)."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from renovation.farms.columns import STAND
from renovation.inputs import Scenario
from renovation.inputs.tally import CLASSES, LONGEST_NAME, default_pods_per_kg
from renovation.types import BoolArray, IndexArray
from renovation.words import Words

Told = tuple[str, str, IndexArray, list[str]]
"""Code, column, places in the table, what was found."""
OTHERWISE = (
    "stands.trees",
    "stands.empty_places",
    "stands.crop_per_tree",
    "stands.pods.pods_per_tree",
    "stands.part_of",
)
"""What a walk says, and nothing else may."""
BEARING = CLASSES[:-1]


def spread(table: pd.DataFrame, template: Scenario) -> tuple[pd.DataFrame, list[Told]]:
    """The stands of a table, those that were walked spread out into their classes, from the best to the bare ones.

    table: a row a stand, index its place. The ground is shared by trees; the empty places go with the class of most.
    Gives the rows without `tally.…` columns, and what is wrong: trees stated beside a walk, none counted, pods of a
    class missing, trees under way in the same row.
    """
    paths = [path for path in table if str(path).startswith("tally.")]
    if not paths:
        return table, []
    walked = table[paths].notna().any(axis=1).to_numpy()
    told = [entry for entry in _wrong(table, walked) if len(entry[2])]
    rest = table.drop(columns=paths)
    if not walked.any():
        return rest, told
    parts = [rest[~walked].assign(rank=0), *_classes(table[walked], rest[walked], template)]
    parts = [part for part in parts if len(part)]
    found = pd.concat(parts).sort_values("rank", kind="stable").sort_index(kind="stable")
    return found.drop(columns="rank").reset_index(drop=True), told


def _number(table: pd.DataFrame, path: str) -> Any:
    return table[path].to_numpy(dtype=float, na_value=np.nan) if path in table else np.full(len(table), np.nan)


def _trees(table: pd.DataFrame) -> Any:
    """(classes, rows) trees of each class."""
    return np.array([np.nan_to_num(_number(table, f"tally.{name}.trees")) for name in CLASSES])


def _wrong(table: pd.DataFrame, walked: BoolArray) -> Iterator[Told]:
    trees, index = _trees(table), table.index.to_numpy()
    none = walked & (trees.sum(axis=0) == 0)
    yield "no_trees_counted", "tally", index[none], [""] * int(none.sum())
    for path in (path for path in OTHERWISE if path in table):
        twice = walked & table[path].notna().to_numpy()
        yield "beside_a_walk", path, index[twice], [str(cell) for cell in table[path][twice]]
    for number, name in enumerate(BEARING):
        pods = _number(table, f"tally.{name}.pods_per_tree")
        missing = walked & (trees[number] > 0) & np.isnan(pods)
        yield "missing", f"tally.{name}.pods_per_tree", index[missing], [""] * int(missing.sum())
    for path in (str(path) for path in table if str(path).startswith("under_way.") and str(path).endswith(".trees")):
        begun = walked & (_number(table, path) > 0)
        yield "begun_beside_a_walk", path, index[begun], [f"{cell:g}" for cell in _number(table, path)[begun]]


def _classes(table: pd.DataFrame, rest: pd.DataFrame, template: Scenario) -> Iterator[pd.DataFrame]:
    """The rows of each class in turn, `rank` its place among those of its stand."""
    words = Words("en")
    trees, names = _trees(table), table[STAND].to_numpy(dtype=object)
    most, in_all = trees.argmax(axis=0), trees.sum(axis=0)
    like = {stand.name: stand for stand in template.stands}
    lent = [like.get(name, template.stands[0]) for name in names]
    per_kg = np.array([default_pods_per_kg(template, stand.name) for stand in lent])
    lost = np.array([stand.pods.lost_share if stand.pods else 0.0 for stand in lent])
    stated = {field: _number(table, f"stands.pods.{field}") for field in ("pods_per_kg", "lost_share")}
    places, ground = np.nan_to_num(_number(table, "tally.empty_places")), _number(table, "stands.hectares")
    for number, name in enumerate(CLASSES):
        called = [f"{whole}, {words(f'tally.class.{name}')}"[-LONGEST_NAME:].strip() for whole in names]
        columns = {
            STAND: np.array(called, dtype=object),
            "stands.part_of": names,
            "stands.trees": trees[number],
            "stands.empty_places": np.where(most == number, places, 0.0),
            "stands.pods.pods_per_tree": np.nan_to_num(_number(table, f"tally.{name}.pods_per_tree")),
            "stands.pods.pods_per_kg": np.where(np.isnan(stated["pods_per_kg"]), per_kg, stated["pods_per_kg"]),
            "stands.pods.lost_share": np.where(np.isnan(stated["lost_share"]), lost, stated["lost_share"]),
            "stands.hectares": ground * trees[number] / np.maximum(in_all, 1),
        }
        kept = {path: values for path, values in columns.items() if path != "stands.hectares" or path in rest}
        yield rest.assign(rank=number, **kept)[trees[number] > 0]
