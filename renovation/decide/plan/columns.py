"""The decision variables: every start that could be made, and what one tree of it does month by month.

A candidate is one stand, technique, planning year and calendar month; every month that suits the technique's calendar
and nursery is a candidate of its own. The plan says how many trees of each candidate are started.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from renovation.decide.starts import techniques_for
from renovation.farm import by_year, net_prices, setting_of, trees_under_way
from renovation.inputs import Scenario
from renovation.inputs.planning import Planning
from renovation.tree import Profile, profile, takes_of_attempts, untouched
from renovation.types import BoolArray, FloatArray

Reason = Literal["nursery_before_start", "take_above_one"]


@dataclass(frozen=True)
class Candidate:
    """Trees of one plot that could be started with one technique in one project month of a planning year (from 1).

    stand: the plot's place among `Scenario.plots`, the trees of a stand or its empty places.
    """

    stand: int
    technique: str
    year: int
    start: int


class Group(NamedTuple):
    """What is used or not: a technique, started in one project month. It is what tools are bought for."""

    technique: str
    start: int


BEGUN = Group("", -1)
"""The trees under way: what they need is needed whatever is planned."""


class Batch(NamedTuple):
    """Starts of which a smallest number is worth making: one stand, technique and planning year, all its months."""

    stand: int
    technique: str
    year: int


@dataclass(frozen=True)
class LeftOut:
    """Months of a planning year in which a technique cannot be started, and why.

    earliest: first project month that the nursery is in time for; None where that is not the reason. months: project
    months that suit the technique's calendar. whole_year: whether no other month of the year is left.
    """

    technique: str
    year: int
    reason: Reason
    earliest: int | None
    months: tuple[int, ...]
    whole_year: bool


@dataclass(frozen=True)
class ToolNeed:
    """A tool and the months in which it is at work: `need` (G, T), one row for each technique and start."""

    name: str
    price: float
    life_months: float
    need: BoolArray


def starts_in_year(scenario: Scenario, technique_key: str, year: int) -> tuple[tuple[int, ...], tuple[LeftOut, ...]]:
    """Project months of a project year that suit a technique's calendar and nursery, and those left out."""
    technique = scenario.techniques[technique_key]
    suits = [
        month
        for month in range(12 * (year - 1), 12 * year)
        if (scenario.appraisal.start_calendar_month - 1 + month) % 12 + 1 in technique.start_months
    ]
    earliest = -technique.earliest_month
    sure = {month for month in suits if _takes_can_be(scenario, technique_key, month)}
    late = tuple(month for month in suits if month < earliest)
    above = tuple(month for month in suits if month >= earliest and month not in sure)
    starts = tuple(month for month in suits if month >= earliest and month in sure)
    out = []
    if late:
        out.append(LeftOut(technique_key, year, "nursery_before_start", earliest, late, late == tuple(suits)))
    if above:
        out.append(LeftOut(technique_key, year, "take_above_one", None, above, above == tuple(suits)))
    return starts, tuple(out)


def _takes_can_be(scenario: Scenario, technique_key: str, start: int) -> bool:
    """Whether no attempt of a start has a take, its factors counted, above 1."""
    appraisal = scenario.appraisal
    takes = takes_of_attempts(
        scenario.techniques[technique_key],
        np.array([start]),
        appraisal.months,
        start_calendar_month=appraisal.start_calendar_month,
    )
    return bool(takes.max(initial=0.0) <= 1)


def candidates_of(scenario: Scenario, planning: Planning) -> tuple[tuple[Candidate, ...], tuple[LeftOut, ...]]:
    """Every start that could be made, and the techniques, years and months that have none."""
    years = range(1, planning.years_of(scenario.appraisal.horizon_years) + 1)
    found = {(key, year): starts_in_year(scenario, key, year) for key in scenario.techniques for year in years}
    candidates = [
        Candidate(position, key, year, start)
        for position, plot in enumerate(scenario.plots)
        if not plot.stand.untouched and plot.free
        for key in techniques_for(scenario, plot.name, plot.works_on)
        for year in years
        for start in found[key, year][0]
    ]
    open_to_it = (plot for plot in scenario.plots if not plot.stand.untouched)
    used = {key for plot in open_to_it for key in techniques_for(scenario, plot.name, plot.works_on)}
    left = [out for (key, _), (_, outs) in found.items() if key in used for out in outs]
    return tuple(candidates), tuple(left)


@dataclass(frozen=True, eq=False)
class Columns:
    """The arrays of `PlanProblem` that are gathered candidate by candidate."""

    cash: FloatArray
    days: FloatArray
    base_cash: FloatArray
    base_days: FloatArray
    scions: FloatArray
    plants: FloatArray
    spending: FloatArray
    begun: dict[str, FloatArray]
    """(H,) `scion`, `plant` and `money` for materials of operations that the trees under way use."""
    touched: dict[tuple[str, int], BoolArray]
    """(T,) months in which a technique, started in a project month, has work that needs its tools."""


def columns_of(scenario: Scenario, tail: Scenario, candidates: Sequence[Candidate]) -> Columns:
    """Profile the tree of every candidate; months after the horizon come from the lengthened scenario."""
    months, every = scenario.appraisal.months, tail.appraisal.months
    number, years = len(candidates), months // 12
    cash, days = np.zeros((number, every)), np.zeros((number, every))
    yearly = {name: np.zeros((number, years)) for name in ("scion", "plant", "money")}
    base_cash, base_days = np.zeros(every), np.zeros(every)
    touched: dict[tuple[str, int], BoolArray] = {}
    rows: dict[tuple[int, str], list[int]] = {}
    for row, candidate in enumerate(candidates):
        rows.setdefault((candidate.stand, candidate.technique), []).append(row)
    plots = scenario.plots
    alone = [_money_and_days(tail, untouched(plot.stand, setting_of(tail)), None) for plot in plots]
    for plot, (plot_cash, plot_days) in zip(plots, alone, strict=True):
        base_cash += plot.free * plot_cash[0]
        base_days += plot.free * plot_days[0]
    begun = {name: np.zeros(years) for name in yearly}
    for now, later in zip(*(trees_under_way(one, setting_of(one)) for one in (scenario, tail)), strict=True):
        material = now.technique.material
        for base, within, beyond in zip(
            (base_cash, base_days),
            _money_and_days(scenario, now.tree, material),
            _money_and_days(tail, later.tree, material),
            strict=True,
        ):
            base += np.concatenate([within[0], beyond[0, months:]])
        for name, units in _demand_by_year(scenario, now.entry.technique, now.tree).items():
            begun[name] += units[0]
    for (position, key), members in rows.items():
        technique, stand = scenario.techniques[key], plots[position].stand
        starts = [candidates[row].start for row in members]
        tree = profile(technique, stand, scenario.supplies, setting_of(scenario), starts)
        tree_cash, tree_days = _money_and_days(scenario, tree, technique.material)
        if every > months:
            longer = profile(technique, stand, scenario.supplies, setting_of(tail), starts)
            more_cash, more_days = _money_and_days(tail, longer, technique.material)
            tree_cash = np.concatenate([tree_cash, more_cash[:, months:]], axis=1)
            tree_days = np.concatenate([tree_days, more_days[:, months:]], axis=1)
        cash[members] = tree_cash - alone[position][0]
        days[members] = tree_days - alone[position][1]
        for name, units in _demand_by_year(scenario, key, tree).items():
            yearly[name][members] = units
        at_work_by_start = np.asarray((tree.touched > 0).any(axis=0))
        for start, at_work in zip(starts, at_work_by_start, strict=True):
            touched[key, start] = at_work
    return Columns(cash, days, base_cash, base_days, yearly["scion"], yearly["plant"], yearly["money"], begun, touched)


def _money_and_days(scenario: Scenario, tree: Profile, material: str | None) -> tuple[FloatArray, FloatArray]:
    """Cash before labour and person-days of one tree, (S, T) each."""
    sales = tree.old_kg * net_prices(scenario)
    if material is not None:
        sales = sales + tree.new_kg * net_prices(scenario, material)
    return sales + tree.other_income - tree.materials_cost, tree.days


def _demand_by_year(scenario: Scenario, key: str, tree: Profile) -> dict[str, FloatArray]:
    """Scions, plants and money for materials of operations, by project year, (S, H) each."""
    items = scenario.supplies.items
    found = {"money": by_year(tree.operation_cost)}
    for kind in ("scion", "plant"):
        per_tree = np.array(
            [
                sum(use.demand for item, use in op.materials.items() if items[item].counts_as == kind)
                for op in scenario.techniques[key].operations.values()
            ]
        )
        if per_tree.any():
            found[kind] = by_year(np.tensordot(per_tree, tree.touched, axes=1))
    return found


def tool_needs(
    scenario: Scenario,
    groups: Sequence[Group],
    touched: dict[tuple[str, int], BoolArray],
) -> tuple[ToolNeed, ...]:
    """Each tool of the techniques that can be started or are under way, with its months of need.

    While a tool that is owned still serves, nothing is needed.
    """
    setting = setting_of(scenario)
    under_way = trees_under_way(scenario, setting) if BEGUN in groups else ()

    def asking(group: Group, name: str) -> BoolArray:
        """Months in which a group needs a tool, (T,)."""
        if group != BEGUN:
            return touched[group] & (name in scenario.techniques[group.technique].tools)
        found = np.zeros(setting.months, dtype=bool)
        for item in under_way:
            if name in item.technique.tools:
                found |= (item.tree.touched[:, 0] > 0).any(axis=0)
        return found

    ways = [scenario.techniques[group.technique] for group in groups if group != BEGUN]
    names = dict.fromkeys(tool for way in (*ways, *(item.technique for item in under_way)) for tool in way.tools)
    tools = []
    for name in names:
        tool = scenario.supplies.tools[name]
        need = np.array([asking(group, name) for group in groups])
        need[:, np.arange(setting.months) < scenario.tools_owned.get(name, 0.0)] = False
        tools.append(ToolNeed(name, tool.price.value, tool.lasts_years.value * 12, need))
    return tuple(tools)
