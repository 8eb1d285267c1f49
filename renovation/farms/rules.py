"""What no single cell can know, of whole columns: the cross-checks of the models on a batch of farms (method §11)."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from renovation.farms.batch import Batch
from renovation.farms.columns import FARM, STAND
from renovation.inputs.quantities import LAST_MONTH, month_count, year_month
from renovation.money.loan_terms import MOST_UNITS
from renovation.types import BoolArray, FloatArray, IndexArray
from renovation.words import smallest_unit

MOST_STANDS = 200
PODS = ("pods_per_tree", "pods_per_kg", "lost_share")


@dataclass(frozen=True)
class Finding:
    """Rows of `farms` or of `stands` that break one rule: where, what was found, the facts of each sentence."""

    of_stand: bool
    rows: IndexArray
    column: str
    code: str
    found: tuple[str, ...]
    facts: tuple[dict[str, Any], ...]


def findings(batch: Batch) -> Iterator[Finding]:
    """Every broken rule of the farms of a batch, whose cells are sound by themselves.

    Errors: none; a farm that breaks several rules is found several times.
    """
    for rule in RULES:
        yield from rule(batch)


def _broken(of_stand: bool, broken: Any, column: str, code: str, found: Any = None, **facts: Any) -> Iterator[Finding]:
    """The finding of a rule, if any row breaks it. found and facts: (rows,) arrays, or one for all."""
    rows = np.flatnonzero(broken)
    if not len(rows):
        return
    told = [_said(found, row) for row in rows]
    each = [{name: _at(fact, row) for name, fact in facts.items()} for row in rows]
    yield Finding(of_stand, rows, column, code, tuple(told), tuple(each))


def _at(fact: Any, row: Any) -> Any:
    """A fact of one row."""
    if not isinstance(fact, np.ndarray):
        return fact
    value = fact[row]
    return value.item() if isinstance(value, np.generic) else value


def _said(found: Any, row: Any) -> str:
    value = _at(found, row)
    return "" if value is None else value if isinstance(value, str) else f"{value:.10g}"


def _texts(table: pd.DataFrame, path: str) -> Any:
    """A column of texts as objects, None where it is blank."""
    if path not in table:
        return np.full(len(table), None, dtype=object)
    cells = table[path].astype(object)
    return cells.where(cells.notna(), None).to_numpy()


def _stated(table: pd.DataFrame, path: str) -> BoolArray:
    """(rows,) whether a column is there and its cell is not blank."""
    return table[path].notna().to_numpy() if path in table else np.zeros(len(table), dtype=bool)


def _number(table: pd.DataFrame, path: str) -> FloatArray:
    """(rows,) a column of numbers as stated, NaN where it is blank."""
    return table[path].to_numpy(dtype=float, na_value=np.nan) if path in table else np.full(len(table), np.nan)


# Stands


def _trees(batch: Batch) -> Iterator[Finding]:
    """A stand without a number of trees."""
    yield from _broken(True, ~_stated(batch.stands, "stands.trees"), "stands.trees", "missing")


def _names(batch: Batch) -> Iterator[Finding]:
    """A stand twice in a farm, capitals aside; more stands than a farm may have."""
    names = batch.stands[STAND].to_numpy(dtype=object)
    same = pd.DataFrame({FARM: batch.farm_of_stand, STAND: [str(name).strip().casefold() for name in names]})
    yield from _broken(True, same.duplicated().to_numpy(), STAND, "stand_twice", names)
    counts = np.bincount(batch.farm_of_stand, minlength=len(batch))
    yield from _broken(False, counts > MOST_STANDS, STAND, "too_many_stands", counts, most=MOST_STANDS)


def _crop(batch: Batch) -> Iterator[Finding]:
    """A crop stated both ways, or by pods in part."""
    pods = {f"stands.pods.{field}": _stated(batch.stands, f"stands.pods.{field}") for field in PODS}
    by_pods = np.any(list(pods.values()), axis=0)
    both = by_pods & _stated(batch.stands, "stands.crop_per_tree")
    found = _number(batch.stands, "stands.crop_per_tree")
    yield from _broken(True, both, "stands.crop_per_tree", "stated_twice", found, other="stands.pods")
    for path in pods:
        yield from _broken(True, by_pods & np.isnan(batch.of_stands(path)), path, "missing")


# Farms


def _price(batch: Batch) -> Iterator[Finding]:
    """A price stated both ways, or that of wet beans in part."""
    wet = ("market.wet_beans.price_per_kg", "market.wet_beans.dry_per_wet")
    by_wet = np.any([_stated(batch.farms, path) for path in wet], axis=0)
    price = _number(batch.farms, "market.price_per_kg")
    both = by_wet & ~np.isnan(price)
    yield from _broken(False, both, "market.price_per_kg", "stated_twice", price, other="market.wet_beans")
    for path in wet:
        yield from _broken(False, by_wet & np.isnan(batch.of_farms(path)), path, "missing")


def _loans(batch: Batch) -> Iterator[Finding]:
    """Sums not whole in the smallest unit, or too many to count; a debt of a loan that is not running."""
    unit = smallest_unit(batch.template.appraisal.currency)
    for loan in batch.template.loans:
        has = batch.of_farms(f"loans.{loan.name}.amount") != 0
        for field in ("amount", "owed"):
            path = f"loans.{loan.name}.{field}"
            value = _number(batch.farms, path)
            units = np.where(has, value, np.nan) / unit
            with np.errstate(invalid="ignore"):
                many = units > MOST_UNITS
                whole = (np.round(units) >= 1) & (np.abs(units - np.round(units)) <= np.maximum(1e-6, 1e-12 * units))
            yield from _broken(False, many, path, "not_countable", value, most=MOST_UNITS * unit)
            odd = ~np.isnan(units) & ~many & ~whole
            yield from _broken(False, odd, path, "not_whole_units", value, unit=f"{unit:g}")
        owed = f"loans.{loan.name}.owed"
        stated = has & _stated(batch.farms, owed)
        if not loan.running:
            yield from _broken(False, stated, owed, "not_running", _number(batch.farms, owed))


def _wage(batch: Batch) -> Iterator[Finding]:
    """A wage below the value that the template gives a day of the family."""
    value, wage = batch.template.planning.value_per_family_day, _number(batch.farms, "household.wage_per_day")
    if value is not None:
        yield from _broken(False, wage < value, "household.wage_per_day", "below_family_day", wage, least=float(value))


def _takes(batch: Batch) -> Iterator[Finding]:
    """A take that passes 1 with the factor of a try."""
    for key, technique in batch.template.techniques.items():
        factor, _ = technique.highest_factor
        if factor <= 1:
            continue
        for path in (path for path in map(str, batch.farms) if path.startswith(f"techniques.{key}.take")):
            take = _number(batch.farms, path)
            yield from _broken(False, take * factor > 1, path, "take_above_one", take, most=1 / factor)


# Trees under way


def _under_way(batch: Batch) -> Iterator[Finding]:
    """Trees under way of one way after another: what is missing, tries that cannot be, more ended than begun."""
    for key in batch.template.techniques:
        if any(path.startswith(f"under_way.{key}.") for path in map(str, batch.stands)):
            yield from _UnderWay(batch, key).findings()


class _UnderWay:
    """Trees under way by one technique, of every stand of a batch."""

    def __init__(self, batch: Batch, key: str) -> None:
        table, self.way = batch.stands, f"under_way.{key}"
        self.batch, self.technique, self.table = batch, batch.template.techniques[key], table
        self.first = month_count(batch.template.appraisal.start)
        self.trees = np.nan_to_num(_number(table, f"{self.way}.trees"))
        self.begun = self.trees > 0
        tries = range(1, self.technique.attempts.value + 1)
        self.taken = np.array([_number(table, f"{self.way}.taken.{number}") for number in tries])
        self.made = (~np.isnan(self.taken)).sum(axis=0)
        self.given_up = np.nan_to_num(_number(table, f"{self.way}.given_up"))
        self.start = np.array([month_count(m) if m else -1 for m in _texts(table, f"{self.way}.start")], dtype=int)

    def findings(self) -> Iterator[Finding]:
        yield from self._missing()
        yield from self._start()
        yield from self._ends()

    def _tell(self, broken: Any, field: str, code: str, found: Any = None, **facts: Any) -> Iterator[Finding]:
        return _broken(True, self.begun & broken, f"{self.way}.{field}", code, found, **facts)

    def _missing(self) -> Iterator[Finding]:
        """Something said of no trees, no start, a try left out before a later one."""
        said = (self.made > 0) | (self.given_up > 0)
        yield from _broken(True, said & ~self.begun, f"{self.way}.trees", "missing")
        yield from self._tell(self.start < 0, "start", "missing")
        there = ~np.isnan(self.taken)
        for place in range(len(there) - 1):
            gap = ~there[place] & there[place + 1 :].any(axis=0)
            yield from self._tell(gap, f"taken.{place + 1}", "missing")

    def _start(self) -> Iterator[Finding]:
        """A start that has not begun, one after the last year, or a try that falls in the first month or later."""
        known, first = self.start >= 0, year_month(self.first)
        written = _texts(self.table, f"{self.way}.start")
        early = self.start + min(0, self.technique.earliest_month)
        ahead = known & (self.start >= self.first)
        waits = ahead & (early >= self.first)
        yield from self._tell(waits, "start", "not_under_way", written, first=first)
        end = self.first + 12 * self.batch.template.appraisal.horizon_years
        last = year_month(end - 1) if end - 1 <= month_count(LAST_MONTH) else LAST_MONTH
        late = ahead & ~waits & (self.start >= end)
        yield from self._tell(late, "start", "outside_years", written, first=first, last=last)
        latest = self.start + (self.made - 1) * self.technique.gap_months.value
        unmade = known & (self.made > 0) & (latest >= self.first)
        for number in range(1, len(self.taken) + 1):
            told = unmade & (self.made == number)
            yield from self._tell(told, f"taken.{number}", "try_not_made", self.taken[number - 1], first=first)

    def _ends(self) -> Iterator[Finding]:
        """More ended than begun, trees that wait for a try that is not there, trees given up untried."""
        ended = np.nansum(self.taken, axis=0) + self.given_up
        yield from self._tell(ended > self.trees, "trees", "more_ended", self.trees, least=ended)
        most = len(self.taken)
        stuck = (self.made == most) & (self.trees > ended)
        facts = {"most": most, "waiting": self.trees - ended}
        yield from self._tell(stuck, "given_up", "no_try_left", self.given_up, **facts)
        untried = (self.made == 0) & (self.given_up > 0)
        yield from self._tell(untried, "given_up", "untried", self.given_up)


def _room(batch: Batch) -> Iterator[Finding]:
    """More under way than a stand has trees or empty places; a farm that has no other tree left to weigh."""
    begun = {works_on: np.zeros(len(batch.stands)) for works_on in ("trees", "empty places")}
    for key, technique in batch.template.techniques.items():
        begun[technique.works_on] += np.nan_to_num(_number(batch.stands, f"under_way.{key}.trees"))
    trees, places = batch.of_stands("stands.trees"), batch.of_stands("stands.empty_places")
    if not any(total.any() for total in begun.values()):
        return
    many = begun["trees"] > trees
    yield from _broken(True, many, "under_way", "too_many_under_way", begun["trees"], most=trees)
    many = begun["empty places"] > places
    yield from _broken(True, many, "under_way", "too_many_planted", begun["empty places"], most=places)
    left = np.bincount(batch.farm_of_stand, begun["trees"] < trees, minlength=len(batch))
    yield from _broken(
        False, (left == 0) & (np.bincount(batch.farm_of_stand, minlength=len(batch)) > 0), "under_way", "nothing_left"
    )


RULES: tuple[Callable[[Batch], Iterator[Finding]], ...] = (
    _trees,
    _names,
    _crop,
    _price,
    _loans,
    _wage,
    _takes,
    _under_way,
    _room,
)
