"""A plan for each farm: the planner as it is, farm by farm, those with most to gain first (method §§8, 13)."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from renovation.farms.batch import FARM, STAND, Batch
from renovation.farms.needs import banded, needs_of
from renovation.types import FloatArray

if TYPE_CHECKING:
    from renovation.decide.plan import MonthOfWork, Replay
    from renovation.farm import FarmFlows

TIMED = 8
"""Farms that are timed before a run begins."""


def plan_each(batch: Batch, seconds: float | None = None) -> dict[str, pd.DataFrame]:
    """The bolder plan of each farm of a batch, as `renovation plan --expected` makes it.

    seconds: how long each search may take at most; by the work done where None. Tables: "farms", a row a farm with the
    plan's NPV and what another could be better by, trees, loan and promises broken; "starts", a row a start; "needs",
    what each month of the planning years needs, zeros left out: `kind` "supply" (units, by way), "work" and "hired"
    (person-days), "money" (to have at the month's start so that all is paid before a kilogram is sold); `variance` as
    the takes may fall.

    Errors: as `bolder_plan`; the engine then sets the farm aside.

    Example:
        >>> plan_each(Batch(*_nothing()))["farms"].empty
        True
    """
    from renovation.decide.plan import learned_plan, replay, sheet
    from renovation.decide.risk.careful import bolder_plan

    tables: dict[str, list[dict[str, Any]]] = {"farms": [], "starts": [], "needs": []}
    for farm in map(str, batch.farms.index):
        scenario = batch.scenario(farm)
        found = bolder_plan(scenario) if seconds is None else learned_plan(scenario, time_limit_seconds=seconds)
        plan = found.plan
        tables["farms"].append(
            {
                FARM: farm,
                "npv": plan.npv,
                "npv_gap": plan.at_most_better,
                "standing": plan.standing,
                "trees": plan.trees,
                "trees_this_year": plan.trees_in(1),
                "loan": plan.loan.amount if plan.loan else 0.0,
                "lowest_balance": float(plan.account.balance.min()),
                "promises_broken": len(plan.broken),
            }
        )
        tables["starts"] += [{FARM: farm, **start.as_dict()} for start in plan.starts]
        replayed = replay(plan)
        years = range(1, scenario.planning.years_of(scenario.appraisal.horizon_years) + 1)
        laid_out = [month for year in years for month in sheet(plan, year, replayed).months]
        tables["needs"] += [
            {FARM: farm, **need} for need in _needs(replayed, laid_out) if need["amount"] or need["variance"]
        ]
    return {name: pd.DataFrame(rows, columns=list(rows[0]) if rows else COLUMNS[name]) for name, rows in tables.items()}


COLUMNS = {
    "farms": [
        FARM,
        "npv",
        "npv_gap",
        "standing",
        "trees",
        "trees_this_year",
        "loan",
        "lowest_balance",
        "promises_broken",
    ],
    "starts": [FARM, STAND, "technique", "year", "start", "project_month", "trees"],
    "needs": [FARM, "month", "kind", "technique", "what", "amount", "variance"],
}


def _needs(replayed: "Replay", months: "Sequence[MonthOfWork]") -> Iterator[dict[str, Any]]:
    """What a plan needs in each of some months, zeros left out: `needs_of` what it starts, as expected all else."""
    flows, found = replayed.flows, needs_of(replayed.flows)
    begun, farm, household = _begun(flows), flows.with_plan, flows.scenario.household
    hired = found.hired(farm.family_days + farm.hired_days, farm.family_days_available)
    more_out = found.more_cost + household.wage_per_day * (hired - farm.hired_days)
    for month in months:
        at = month.project_month
        for (way, what), need in found.supplies.items():
            yield _need(month, "supply", what, need.expected[at], need.variance[at], way)
        for (way, what), units in begun.items():
            yield _need(month, "supply", what, units[at], 0.0, way)
        for what, days in month.work.items():
            yield _need(month, "work", what, days, found.work[what].variance[at] if what in found.work else 0.0)
        yield _need(month, "hired", "", month.hired_days, hired[:, at].var())
        # loan and other income come whatever is sold, as in `MonthOfWork.in_hand`; there nothing is below 0
        short = month.in_hand or month.money_out - (month.money_in - farm.benefits[at]) + household.floor
        yield _need(month, "money", "", month.in_hand, np.maximum(0.0, short + more_out[:, at]).var())


def _need(
    month: "MonthOfWork", kind: str, what: str, amount: float, variance: float = 0.0, technique: str = ""
) -> dict[str, Any]:
    head = {"month": month.month, "kind": kind, "technique": technique, "what": what}
    return {**head, "amount": float(amount), "variance": float(variance)}


def _begun(flows: "FarmFlows") -> dict[tuple[str, str], FloatArray]:
    """(T,) units of each supply that trees under way use, by way, losses before use included."""
    units: dict[tuple[str, str], FloatArray] = {}
    for one in flows.begun:
        for operation, touched in zip(one.tree.operations, one.tree.touched[:, 0], strict=True):
            for supply, use in one.technique.operations[operation].materials.items():
                key = (one.entry.technique, supply)
                units[key] = units.get(key, 0.0) + touched * use.demand
    return units


def first_farms(gains: Mapping[str, float], most: int | None) -> list[str]:
    """Names of the farms with most to gain, those of the largest gain first, equal ones by name.

    gains: ceiling less simple plan of each farm. The ceiling is what the ways worth most bring where money and hands
    suffice for everything at once; the simple plan is the farm as it is.

    Example:
        >>> first_farms({"a": 1.0, "b": 3.0, "c": 3.0}, 2)
        ['b', 'c']
    """
    ordered = sorted(gains, key=lambda farm: (-gains[farm], farm))
    return ordered if most is None else ordered[:most]


def alone(batches: Iterable[Batch], farms: Sequence[str]) -> list[Batch]:
    """Each of these farms as a batch of its own, in their order; those that are in no batch are left out."""
    wanted = set(farms)
    found = {
        str(farm): replace(
            batch, farms=batch.farms.loc[[farm]], stands=batch.stands[batch.stands[FARM] == farm].reset_index(drop=True)
        )
        for batch in batches
        for farm in batch.farms.index[batch.farms.index.isin(wanted)]
    }
    return [found[farm] for farm in farms if farm in found]


def size_of(batch: Batch) -> float:
    """How much there is to choose for the planner: stands × ways × trees, as a guide to what a plan costs."""
    trees = batch.of_stands("stands.trees")
    return float(len(batch.template.techniques) * np.sqrt(np.maximum(trees, 1.0)).sum())


def longest_first(batches: Iterable[Batch]) -> list[Batch]:
    """The largest farms first: the last to end is then a short one, and no worker waits long for it."""
    return sorted(batches, key=lambda batch: (-size_of(batch), str(batch.farms.index[0])))


def spread_sizes(batches: Sequence[Batch], most: int = TIMED) -> list[Batch]:
    """A few farms from the smallest to the largest, evenly spread by size."""
    ordered = sorted(batches, key=size_of)
    places = np.unique(np.round(np.linspace(0, len(ordered) - 1, min(most, len(ordered)))).astype(int))
    return [ordered[place] for place in places.tolist()]


def cost_told(sizes: Sequence[float], seconds: Sequence[float], every: Sequence[float], workers: int) -> float:
    """Seconds that all farms will take, from a few that were timed: a line through sizes and seconds, at least 0.

    Where all sizes are alike: their mean. Example (two seconds for each of size):
        >>> round(cost_told([1.0, 2.0], [2.0, 4.0], [1.0, 2.0, 3.0], 2), 6)
        6.0
    """
    if np.ptp(sizes) == 0:
        each = np.full(len(every), float(np.mean(seconds)))
    else:
        slope, base = np.polyfit(sizes, seconds, 1)
        each = np.maximum(base + slope * np.asarray(every), 0.0)
    return float(each.sum()) / workers


def months_of(pieces: Iterable[pd.DataFrame]) -> pd.DataFrame:
    """What all farms together need by month: the sum, P10 and P90 as the takes may fall (`banded`), and by how many.

    farms: that need some as expected; a farm that hires in poor seasons alone counts in P90.

    Example:
        >>> rows = [("A", "2027-01", "work", "", "graft", 2.0, 0.0), ("B", "2027-01", "work", "", "graft", 3.0, 1.0)]
        >>> months_of([pd.DataFrame(rows, columns=COLUMNS["needs"])])[["amount", "p10", "p90", "farms"]].round(2)
           amount   p10   p90  farms
        0     5.0  3.72  6.28      2
    """
    keys = ["month", "kind", "technique", "what"]
    summed = [_summed(piece, keys) for piece in pieces if len(piece)]
    if not summed:
        return pd.DataFrame(columns=[*keys, "amount", "p10", "p90", "farms"])
    whole = banded(pd.concat(summed).groupby(level=keys).sum().sort_index().reset_index())
    return whole[[*keys, "amount", "p10", "p90", "farms"]]


def _summed(piece: pd.DataFrame, keys: list[str]) -> pd.DataFrame:
    some = piece.assign(farms=piece[FARM].where(piece["amount"] > 0))
    by = some.groupby(keys)
    return by[["amount", "variance"]].sum().assign(farms=by["farms"].nunique())


def _nothing() -> tuple[Any, pd.DataFrame, pd.DataFrame]:
    from renovation.inputs import demo_scenario

    return demo_scenario(), pd.DataFrame(index=pd.Index([], name=FARM)), pd.DataFrame({FARM: [], STAND: []})
