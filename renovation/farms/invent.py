"""Farms for trying: invented around a template, so many as are asked for, the same ones from the same seed."""

import io
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet

from renovation.farms.columns import FARM, INVENTED, STAND, VILLAGE, columns_of
from renovation.farms.reading import ROWS
from renovation.inputs import Scenario, month_count, year_month
from renovation.types import FloatArray, IndexArray
from renovation.version import __version__
from renovation.words import smallest_unit

MOST_FARMS = 2_000_000
STANDS = (0.35, 0.40, 0.25)
"""Shares of the farms that have one, two and three stands. This and all that follows is invented."""
FARMS_OF_A_VILLAGE, MOST_VILLAGES = 200, 60
SPREAD = {
    "stands.trees": 0.6,
    "stands.crop_per_tree": 0.35,
    "household.savings": 0.8,
    "household.family_days": 0.3,
    "household.living_costs": 0.25,
    "household.other_income": 0.5,
    "loans": 0.4,
    "village.wage": 0.08,
    "village.price": 0.05,
    "price": 0.02,
}
"""Standard deviations of the logarithm of a factor of mean 1 on the template's own figure."""
DECLINE, TAKE = 0.015, 0.4
"""Standard deviations of the yearly decline, and of the log odds of a take."""
WITHOUT_LOAN, WITHOUT_OTHER_INCOME, BEGUN = 0.6, 0.3, 0.1
"""Shares of the farms without a loan, without other income, and with a tenth to a half of a stand under way."""
FEWEST_TREES = 20
MONTHS_AGO = 8


def invent(farms: int, seed: int, template: Scenario) -> pd.DataFrame:
    """A table of stands of invented farms, a column `invented` in every row, that a check lets pass whole.

    Figures lie around the template's: x·exp(σz − σ²/2), σ by `SPREAD`, wages and prices with a part that is common to a
    village; what the template does not state, or states by month, stays its own.

    Errors: ValueError for fewer than 1 farm or more than `MOST_FARMS`.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> table = invent(100, 1, demo_scenario())
        >>> table["farm"].nunique(), bool(table["invented"].all())
        (100, True)
    """
    if not 1 <= farms <= MOST_FARMS:
        raise ValueError(f"farms must be 1 to {MOST_FARMS}")
    return _Invention(farms, np.random.default_rng(seed), template).table()


class _Invention:
    """One table in the making: draws in a fixed order from one generator."""

    def __init__(self, farms: int, rng: np.random.Generator, template: Scenario) -> None:
        self.farms, self.rng, self.template = farms, rng, template
        self.known = columns_of(template)
        self.like = [stand for stand in template.stands if not stand.untouched] or list(template.stands)

    def table(self) -> pd.DataFrame:
        """A row a stand; what is said of the farm on each of its rows."""
        digits = len(str(self.farms))
        villages = self.rng.integers(0, min(MOST_VILLAGES, 1 + self.farms // FARMS_OF_A_VILLAGE), self.farms)
        named = {
            FARM: [f"Farm {number + 1:0{digits}d}" for number in range(self.farms)],
            VILLAGE: [f"Village {number + 1:02d}" for number in range(MOST_VILLAGES)],
        }
        place, like = self._stands()
        farm_columns = self._of_farms(villages)
        found: dict[str, Any] = {
            FARM: np.array(named[FARM], dtype=object)[place],
            STAND: np.array([stand.name for stand in self.like], dtype=object)[like],
            VILLAGE: np.array(named[VILLAGE], dtype=object)[villages[place]],
            INVENTED: np.ones(len(place), dtype=bool),
            **self._of_stands(place, like),
            **{path: values[place] for path, values in farm_columns.items()},
        }
        return pd.DataFrame(found)

    def _factor(self, spread: str, count: int) -> FloatArray:
        """(count,) factors of mean 1."""
        sigma = SPREAD[spread]
        drawn: FloatArray = np.exp(sigma * self.rng.standard_normal(count) - sigma**2 / 2)
        return drawn

    def _within(self, path: str, values: FloatArray, decimals: int = 2) -> FloatArray:
        """Values rounded and kept within the bounds of their column; above 1, three decimals have two readings."""
        limit = self.known[path].bounds
        held: FloatArray = np.clip(np.round(values, decimals), limit.lower, limit.upper)
        return held

    def _stands(self) -> tuple[IndexArray, IndexArray]:
        """(stands,) the farm of each stand, and the stand of the template that it is like."""
        many = np.minimum(self.rng.choice([1, 2, 3], self.farms, p=STANDS), len(self.like))
        order = np.argsort(self.rng.random((self.farms, len(self.like))), axis=1)
        chosen = np.arange(len(self.like))[None, :] < many[:, None]
        return np.repeat(np.arange(self.farms), many), order[chosen]

    def _of_stands(self, place: IndexArray, like: IndexArray) -> dict[str, Any]:
        count = len(place)
        trees, crop, decline = (
            np.array([getattr(stand, field) for stand in self.like], dtype=float)[like]
            for field in ("trees", "kg_per_tree", "decline_per_year")
        )
        trees = np.maximum(FEWEST_TREES, trees * self._factor("stands.trees", count))
        crop = crop * self._factor("stands.crop_per_tree", count)
        decline = decline + DECLINE * self.rng.standard_normal(count)
        trees = self._within("stands.trees", trees, 0)
        return {
            "stands.trees": trees.astype(int),
            "stands.crop_per_tree": self._within("stands.crop_per_tree", crop),
            "stands.decline_per_year": self._within("stands.decline_per_year", decline, 4),
            **self._under_way(place, trees),
        }

    def _under_way(self, place: IndexArray, trees: FloatArray) -> dict[str, Any]:
        """Some trees of the first stand of some farms, tried once some months ago."""
        key, _ = self.template.compared_pair
        technique, count = self.template.techniques[key], len(place)
        first = np.diff(place, prepend=-1) > 0
        has = first & (self.rng.random(self.farms) < BEGUN)[place]
        begun = np.where(has, np.floor(trees * self.rng.uniform(0.1, 0.5, count)), 0.0)
        taken = self.rng.binomial(begun.astype(int), min(technique.take.value))
        has &= begun > 0
        start = year_month(month_count(self.template.appraisal.start) - MONTHS_AGO)
        way = f"under_way.{key}"
        columns = {"trees": begun, "taken.1": taken.astype(float)}
        if technique.attempts.value == 1:
            columns["given_up"] = begun - taken
        counts = {f"{way}.{name}": np.where(has, values, np.nan) for name, values in columns.items()}
        return {**counts, f"{way}.start": np.array([None, start], dtype=object)[has.astype(int)]}

    def _of_farms(self, villages: IndexArray) -> dict[str, FloatArray]:
        """(farms,) columns by path."""
        household, found = self.template.household, {}
        for field in ("savings", "family_days", "living_costs", "other_income"):
            value, path = getattr(household, field), f"household.{field}"
            if not isinstance(value, tuple):
                found[path] = self._within(path, value * self._factor(path, self.farms))
        if "household.other_income" in found:
            found["household.other_income"][self.rng.random(self.farms) < WITHOUT_OTHER_INCOME] = 0.0
        wage = household.wage_per_day * self._factor("village.wage", MOST_VILLAGES)[villages]
        least = self.template.planning.value_per_family_day or 0.0
        found["household.wage_per_day"] = np.maximum(least, self._within("household.wage_per_day", wage))
        return {**found, **self._price(villages), **self._take(), **self._loans()}

    def _price(self, villages: IndexArray) -> dict[str, FloatArray]:
        market = self.template.market
        path, price = "market.price_per_kg", market.price_per_kg
        if market.wet_beans is not None:
            path, price = "market.wet_beans.price_per_kg", market.wet_beans.price_per_kg
        common = self._factor("village.price", MOST_VILLAGES)[villages]
        return {path: self._within(path, (price or 0.0) * common * self._factor("price", self.farms))}

    def _take(self) -> dict[str, FloatArray]:
        """The take of the way that is compared first, where it is one for all years and a tree may fail."""
        key, _ = self.template.compared_pair
        technique = self.template.techniques[key]
        take, factor = technique.take.value, technique.highest_factor[0]
        if len(take) > 1 or not 0 < take[0] < 1:
            return {}
        odds = np.log(take[0] / (1 - take[0])) + TAKE * self.rng.standard_normal(self.farms)
        path, most = f"techniques.{key}.take", np.floor(1000 / max(1.0, factor)) / 1000
        return {path: np.minimum(self._within(path, 1 / (1 + np.exp(-odds)), 3), most)}

    def _loans(self) -> dict[str, FloatArray]:
        """What each farm has of the template's loans, ten smallest units at least, or none."""
        unit = 10 * smallest_unit(self.template.appraisal.currency)
        found = {}
        for loan in self.template.loans:
            if not loan.running:
                amount = np.maximum(1, np.round(loan.amount * self._factor("loans", self.farms) / unit)) * unit
                none = self.rng.random(self.farms) < WITHOUT_LOAN
                found[f"loans.{loan.name}.amount"] = np.where(none, 0.0, amount)
        return found


def invented_file(table: pd.DataFrame, name: str, seed: int, template: Scenario) -> bytes:
    """The content of a file of invented farms: CSV where the name ends in .csv, else Parquet that says so of itself."""
    out, rows = io.BytesIO(), pa.Table.from_pandas(table, preserve_index=False)
    if name.casefold().endswith(".csv"):
        pyarrow.csv.write_csv(rows, out)
        return out.getvalue()
    said = {INVENTED: "true", "seed": str(seed), "template": template.digest, "version": __version__}
    pyarrow.parquet.write_table(rows.replace_schema_metadata(said), out, row_group_size=ROWS)
    return out.getvalue()
