"""The plans of many farms in a few figures: what they are worth together, what they need by month."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow.parquet as pq

from renovation.farms.batch import FARM
from renovation.farms.group import FIRST, farms_whole
from renovation.farms.out import Best
from renovation.farms.plan import COLUMNS, months_of
from renovation.types import FloatArray

WHO = (FARM, "npv", "trees", "trees_this_year", "loan", "promises_broken")
"""Columns of `who_first.csv` of plans."""


@dataclass(frozen=True)
class PlanGroup:
    """What the plans of all farms add up to.

    farms: in all; renewing: those whose plan starts a tree; borrowing: those whose plan takes a loan; breaking: those
    of which no plan keeps every promise. worth: (F,) NPV of each plan beside the farm as it is, the highest first.
    trees: started in all, trees_this_year of them in the first year. ways: trees by technique. months: what all need by
    month, as `months_of`. first: farms whose plans are worth most, `WHO`.
    """

    farms: int
    renewing: int
    borrowing: int
    breaking: int
    worth: FloatArray
    trees: int
    trees_this_year: int
    ways: dict[str, int]
    months: pd.DataFrame
    first: pd.DataFrame

    def need(self, kind: str) -> "pd.Series[float]":
        """What is needed of a kind by month, ways and supplies added up."""
        some = self.months[self.months["kind"] == kind]
        return some.groupby("month")["amount"].sum()

    def as_dict(self) -> dict[str, Any]:
        """Plain data, without the farms' names."""
        return {
            "farms": self.farms,
            "renewing": self.renewing,
            "borrowing": self.borrowing,
            "breaking": self.breaking,
            "npv": float(self.worth.sum()),
            "trees": self.trees,
            "trees_this_year": self.trees_this_year,
            "ways": self.ways,
        }


def plans_of(folder: "Path | str") -> PlanGroup:
    """The group in a finished folder of plans."""
    place = Path(folder)
    worth = [np.zeros(0)]
    first = Best("npv", FIRST)
    sums = dict.fromkeys(("renewing", "borrowing", "breaking", "trees", "trees_this_year"), 0)
    for rows in farms_whole(place / "farms.parquet", None):
        worth.append(rows["npv"].to_numpy())
        first.add(rows[list(WHO)])
        sums["renewing"] += int((rows["trees"] > 0).sum())
        sums["borrowing"] += int((rows["loan"] > 0).sum())
        sums["breaking"] += int((rows["promises_broken"] > 0).sum())
        sums["trees"] += int(rows["trees"].sum())
        sums["trees_this_year"] += int(rows["trees_this_year"].sum())
    every = np.concatenate(worth)
    starts = pq.read_table(place / "starts.parquet", columns=["technique", "trees"]).to_pandas()
    ways = starts.groupby("technique")["trees"].sum().sort_values(ascending=False, kind="stable")
    months = months_of(piece for piece in farms_whole(place / "needs.parquet", COLUMNS["needs"]))
    return PlanGroup(
        farms=len(every),
        worth=-np.sort(-every),
        ways={str(way): int(trees) for way, trees in ways.items()},
        months=months,
        first=first.rows if len(first.rows) else pd.DataFrame(columns=list(WHO)),
        **sums,
    )
