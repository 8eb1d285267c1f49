"""Many farms in a few figures, from the comparison of each: which way where, who gains most, what it takes."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from renovation.farms.batch import FARM, STAND
from renovation.farms.out import Best
from renovation.types import FloatArray

FIRST = 10_000
"""Farms that `who_first.csv` names: more than anybody visits."""
COLUMNS = (FARM, STAND, "technique", "works_on", "trees", "npv", "payback_years", "most_money_out", "best")
WHO = (FARM, "gain", "gain_per_tree", "trees", "way", "payback_years", "most_money_out")
"""Columns of `who_first.csv`: the way is that of the farm's stand with the largest gain."""


@dataclass(frozen=True)
class Group:
    """What the comparison of each farm adds up to, each stand by its way worth most where one is worth anything.

    farms, stands, trees: in all. ways: of each technique the stands where it is worth most and what it brings there.
    gains: (F,) what each farm gains by these ways (NPV), farms with most first; 0 where no way is worth anything.
    paybacks: (S,) years in which they are paid back, NaN where never. out: (F,) money that is out at the deepest, the
    stands of a farm added up: at most what all of them take at once. first: those who gain most, `WHO`.
    """

    farms: int
    stands: int
    trees: int
    ways: dict[str, tuple[int, float]]
    gains: FloatArray
    paybacks: FloatArray
    out: FloatArray
    first: pd.DataFrame

    @property
    def gaining(self) -> int:
        """Farms that gain by some way."""
        return int((self.gains > 0).sum())

    @property
    def gain(self) -> float:
        """What all farms gain together."""
        return float(self.gains.sum())

    def as_dict(self) -> dict[str, Any]:
        """Plain data, without the farms' names."""
        return {
            "farms": self.farms,
            "stands": self.stands,
            "trees": self.trees,
            "gaining": self.gaining,
            "gain": self.gain,
            "ways": {way: {"stands": stands, "gain": gain} for way, (stands, gain) in self.ways.items()},
            "farms_for_half": farms_for(self.gains, 0.5),
            "farms_for_nine_tenths": farms_for(self.gains, 0.9),
        }


def farms_for(gains: FloatArray, share: float) -> int:
    """The fewest farms that together bring a share of the whole gain; 0 where there is none.

    gains: (F,), those with most first.

    Example:
        >>> farms_for(np.array([6.0, 3.0, 1.0]), 0.9)
        2
    """
    whole = float(np.maximum(gains, 0.0).sum())
    return int(np.searchsorted(np.cumsum(np.maximum(gains, 0.0)), share * whole * (1 - 1e-12)) + 1) if whole > 0 else 0


def group_of(folder: "Path | str") -> Group:
    """The group in a finished folder of a comparison, read some thousands of rows at a time."""
    return grouped(farms_whole(Path(folder) / "farms.parquet"))


def grouped(pieces: Iterable[pd.DataFrame], most: int = FIRST) -> Group:
    """The group of comparisons in pieces, each with all rows of its farms: columns `COLUMNS`. most: farms named.

    Example:
        >>> rows = [("A", "Hill", "x", "trees", 10, 5.0, 3.0, -8.0, True)]
        >>> found = grouped([pd.DataFrame(rows, columns=list(COLUMNS))])
        >>> found.farms, found.gain, found.ways, found.first["way"].tolist()
        (1, 5.0, {'x': (1, 5.0)}, ['x'])
    """
    gains, paybacks, out = ([np.zeros(0)] for _ in range(3))
    ways: dict[str, tuple[int, float]] = {}
    first = Best("gain", most)
    stands = trees = 0
    for rows in pieces:
        places = rows.drop_duplicates([FARM, STAND, "works_on"])
        stands, trees = stands + len(places.drop_duplicates([FARM, STAND])), trees + int(places["trees"].sum())
        best = rows[rows["best"]]
        for way, some in best.groupby("technique")["npv"]:
            count, worth = ways.get(str(way), (0, 0.0))
            ways[str(way)] = (count + len(some), worth + float(some.sum()))
        each = _each(places, best)
        gains.append(each["gain"].to_numpy())
        out.append(-np.minimum(each["most_money_out"].to_numpy(), 0.0))
        paybacks.append(best["payback_years"].to_numpy(dtype=float, na_value=np.nan))
        first.add(each[list(WHO)])
    every = np.concatenate(gains)
    ordered = dict(sorted(ways.items(), key=lambda item: (-item[1][0], item[0])))
    who = first.rows if len(first.rows) else pd.DataFrame(columns=list(WHO))
    return Group(
        len(every), stands, trees, ordered, -np.sort(-every), np.concatenate(paybacks), np.concatenate(out), who
    )


def _each(places: pd.DataFrame, best: pd.DataFrame) -> pd.DataFrame:
    """A row a farm: its gain, its trees, the way of the stand that brings most, its longest payback, its money out."""
    trees = places.groupby(FARM)["trees"].sum()
    by_farm = best.groupby(FARM)
    each = pd.DataFrame(
        {
            "gain": by_farm["npv"].sum(),
            "payback_years": by_farm["payback_years"].max(),
            "most_money_out": by_farm["most_money_out"].sum(),
            "way": best.sort_values("npv", ascending=False, kind="stable").groupby(FARM)["technique"].first(),
        }
    ).reindex(trees.index)
    each["gain"] = each["gain"].fillna(0.0)
    each["most_money_out"] = each["most_money_out"].fillna(0.0)
    each["trees"] = trees
    each["gain_per_tree"] = each["gain"] / trees.where(trees > 0)
    return each.rename_axis(FARM).reset_index()


def farms_whole(path: Path, columns: Sequence[str] | None = COLUMNS) -> Iterator[pd.DataFrame]:
    """The rows of a sorted table in pieces that cut no farm in two. columns: all where None."""
    held: pa.Table | None = None
    for batch in pq.ParquetFile(path).iter_batches(65_536, columns=None if columns is None else list(columns)):
        rows = pa.Table.from_batches([batch])
        rows = rows if held is None else pa.concat_tables([held, rows])
        names = rows.column(FARM)
        last = names[-1].as_py()
        whole = len(rows)
        while whole and names[whole - 1].as_py() == last:
            whole -= 1
        if whole:
            yield rows.slice(0, whole).to_pandas()
        held = rows.slice(whole)
    if held is not None and len(held):
        yield held.to_pandas()
