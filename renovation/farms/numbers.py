"""Farms of a batch as arrays: what each states, by farm and by stand, and what all of them share (method §13).

Farms that share their structure are a group: everything that has no array form is the same for all of them. Prices,
wages, days, takes, mature crops, the shade of the old crown, loans' money and the numbers of stands have one. Any other
column (a horizon, a rate of discount, a price path, a technique's attempts) makes a group of each of its values.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from renovation.decide.held import with_records
from renovation.farms.batch import FARM, STAND, Batch
from renovation.inputs import Scenario, twelve
from renovation.types import BoolArray, FloatArray, IndexArray

BY_FARM = ("household", "loans")
MARKET = ("price_per_kg", "wet_beans", "deductions_per_kg", "premium", "harvest_days_per_kg")
TECHNIQUE = ("take", "mature_crop", "shade")


def has_array_form(path: str) -> bool:
    """Whether farms that differ in this column are worked out together.

    Example:
        >>> has_array_form("techniques.side_graft.take"), has_array_form("appraisal.discount_rate")
        (True, False)
    """
    section, *rest = path.split(".")
    if section not in Scenario.model_fields:
        return True
    if section == "market":
        return rest[0] in MARKET
    return section in BY_FARM or (section == "techniques" and rest[1] in TECHNIQUE)


def groups(batch: Batch) -> Iterator["Group"]:
    """The farms by what they share, each group in the order of its farms' names, and of its stands' within them.

    The rows of its stands are numbered by their place among the stands of all.
    """
    shared = [path for path in batch.farms.columns if not has_array_form(str(path))]
    farms = batch.farms.sort_index()
    stands = batch.stands.sort_values([FARM, STAND], kind="stable", ignore_index=True)
    if not len(farms):
        return
    if not shared:
        yield Group(Batch(batch.template, farms, stands))
        return
    number = farms.groupby(shared, dropna=False, sort=False).ngroup()
    of_stand = number.reindex(stands[FARM]).to_numpy()
    for one in range(int(number.max()) + 1):
        yield Group(Batch(batch.template, farms[number == one], stands[of_stand == one]))


@dataclass(frozen=True, eq=False)
class Group:
    """Farms F with their stands R, sorted by name, that share all that is not in an array here.

    batch: these farms alone.
    """

    batch: Batch

    @cached_property
    def shared(self) -> Scenario:
        """A farm of the group with the days and takes of the records: read of it what all of them share."""
        first = self.batch.scenario(str(self.batch.farms.index[0]))
        return with_records(first, first.planning)

    @cached_property
    def farm_of(self) -> IndexArray:
        """(R,) the farm of each stand."""
        return self.batch.farm_of_stand

    @cached_property
    def first_stand(self) -> IndexArray:
        """(F,) the first stand of each farm: the stands of a farm stand together."""
        return np.flatnonzero(np.diff(self.farm_of, prepend=-1))

    @cached_property
    def _known(self) -> dict[str, FloatArray]:
        return {}

    def of_farm(self, path: str) -> FloatArray:
        """(R,) a number of the farm that each stand belongs to."""
        if path not in self._known:
            self._known[path] = self.batch.of_farms(path)[self.farm_of]
        return self._known[path]

    def of_stand(self, path: str) -> FloatArray:
        """(R,) a number of each stand."""
        return self.batch.of_stands(f"stands.{path}")

    def by_calendar(self, field: str) -> FloatArray:
        """(F, 12) figures of the household by calendar month, January first."""
        path, table = f"household.{field}", self.batch.farms
        figures = np.tile(np.asarray(twelve(getattr(self.batch.template.household, field))), (len(table), 1))
        if path in table:
            stated = table[path].to_numpy(dtype=float, na_value=np.nan)[:, None]
            figures = np.where(np.isnan(stated), figures, stated)
        for month in range(12):
            if f"{path}.{month + 1}" in table:
                one = table[f"{path}.{month + 1}"].to_numpy(dtype=float, na_value=np.nan)
                figures[:, month] = np.where(np.isnan(one), figures[:, month], one)
        return figures

    def by_project_month(self, field: str) -> FloatArray:
        """(F, 12) the same from the calendar month of month 0 on."""
        return np.roll(self.by_calendar(field), 1 - self.shared.appraisal.start_calendar_month, axis=1)

    @cached_property
    def price(self) -> FloatArray:
        """(R,) price of a kg of dry beans, before deductions."""
        wet = ("market.wet_beans.price_per_kg", "market.wet_beans.dry_per_wet")
        table, template = self.batch.farms, self.batch.template.market
        told = "market.price_per_kg"
        by_wet = np.full(len(table), template.wet_beans is not None)
        if told in table:
            by_wet &= table[told].isna().to_numpy()
        for path in wet:
            if path in table:
                by_wet |= table[path].notna().to_numpy()
        direct, (per_wet, dry) = self.batch.of_farms(told), (self.batch.of_farms(path) for path in wet)
        return np.where(by_wet, per_wet / np.where(np.isnan(dry), 1.0, dry), direct)[self.farm_of]

    def premium(self, material: str) -> FloatArray:
        """(R,) premium on the price of a planting material; 0 where none is stated."""
        path = f"market.premium.{material}"
        if path not in self._known:
            self._known[path] = self._premium(material, path)
        return self._known[path]

    def _premium(self, material: str, path: str) -> FloatArray:
        if material not in self.batch.template.market.premium and path not in self.batch.farms:
            return np.zeros(len(self.farm_of))
        stated = self.batch.template.market.premium.get(material, 0.0)
        if path not in self.batch.farms:
            return np.full(len(self.farm_of), stated)
        column = self.batch.farms[path].to_numpy(dtype=float, na_value=np.nan)
        return np.where(np.isnan(column), stated, column)[self.farm_of]

    def takes(self, key: str) -> FloatArray:
        """(R, H) takes of a technique by project year as the farms state them, the last holding from then on."""
        years, path = self.shared.appraisal.horizon_years, f"techniques.{key}.take"
        stated = self.batch.template.techniques[key].take.value
        rows = np.tile(np.asarray(stated)[np.minimum(np.arange(max(years, 40)), len(stated) - 1)], (len(self.batch), 1))
        length = np.full(len(self.batch), len(stated))
        for column in self.batch.farms.columns:
            if column != path and not str(column).startswith(f"{path}."):
                continue
            value = self.batch.farms[column].to_numpy(dtype=float, na_value=np.nan)[:, None]
            entry = np.arange(rows.shape[1])
            if column == path:
                put, length = np.ones_like(rows, dtype=bool), np.where(np.isnan(value[:, 0]), length, 1)
            else:
                number = int(str(column).removeprefix(f"{path}."))
                later = number >= length[:, None]  # the last entry holds from then on
                put = (entry == number - 1) | (later & (entry >= number - 1))
                length = np.where(np.isnan(value[:, 0]), length, np.maximum(length, number))
            rows = np.where(put & ~np.isnan(value), value, rows)
        return rows[self.farm_of, :years]

    @cached_property
    def allowed(self) -> dict[str, BoolArray]:
        """By technique the stands, (R,), that it suits: all but where a stand names those that do."""
        lent = [stand.techniques for stand in self.batch.template.stands]
        like = self.batch._like
        named = pd.Series([None if ways is None else " ".join(ways) for ways in lent], dtype=object).to_numpy()[like]
        if "stands.techniques" in self.batch.stands:
            own = self.batch.stands["stands.techniques"]
            named = np.where(own.isna().to_numpy(), named, own.to_numpy())
        codes, texts = pd.factorize(named)
        lists = [str(text).split() for text in texts]
        return {
            key: np.array([*(key in ways for ways in lists), True])[codes]  # −1, nothing named, is the last
            for key in self.shared.techniques
        }
