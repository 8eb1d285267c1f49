"""This year's sheet for the family, as data: trees, a calendar of work and hands, a shopping list, looks, cash.

Everything comes from the plan's replay through the farm model, so that the sheet and the plan cannot differ. Which
trees, which month, how many days: words and layout are made elsewhere.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from renovation.decide.plan.plan import Plan, Replay, Start, replay
from renovation.farm import by_project_month, setting_of
from renovation.inputs import Scenario, month_count, year_month
from renovation.tree import attempts, profile
from renovation.types import FloatArray

if TYPE_CHECKING:
    import pandas as pd

When = Literal["days_15", "month", "months_8"]

LOOKS: tuple[tuple[When, int], ...] = (("days_15", 0), ("month", 1), ("months_8", 8))
"""What to look at: 15 days, a month and 8 months after the work. Common practice, no source."""
WHOLE_UNITS = frozenset({"piece", "plant"})
"""Units that nobody sells a part of."""


@dataclass(frozen=True)
class MonthOfWork:
    """One month of the calendar.

    work: person-days of each kind, the operation's key, `upkeep`, `harvest` or `intercrop`; only what takes time.
    family_days, hired_days: who does it; family_days_available: what the family has. money_out: materials, tools,
    hired hands, living costs and debt service. money_in: sales, temporary crop, other income, loan paid out. opening,
    balance: money at the start and the end. in_hand: money to have at the start of the month so that all is paid
    before a kilogram is sold and the floor still stands.
    """

    month: str
    project_month: int
    work: Mapping[str, float]
    family_days: float
    hired_days: float
    family_days_available: float
    money_out: float
    money_in: float
    opening: float
    balance: float
    in_hand: float

    @property
    def short_until_sales(self) -> float:
        """Money that must come from the month's own sales before everything can be paid."""
        return max(0.0, self.in_hand - self.opening)

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "month": self.month,
            "project_month": self.project_month,
            "work": dict(self.work),
            "family_days": self.family_days,
            "hired_days": self.hired_days,
            "family_days_available": self.family_days_available,
            "money_out": self.money_out,
            "money_in": self.money_in,
            "opening": self.opening,
            "balance": self.balance,
            "in_hand": self.in_hand,
            "short_until_sales": self.short_until_sales,
        }


@dataclass(frozen=True)
class ToBuy:
    """A supply or a tool to get in the year.

    quantity: whole pieces where it is sold by the piece. spare: the part of it for what is lost before use and
    for expected failures. cost: quantity × price. months: in which it is used, or bought (tools).
    """

    kind: Literal["item", "tool"]
    key: str
    label: str | None
    unit: str
    quantity: float
    spare: float
    cost: float
    months: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "kind": self.kind,
            "key": self.key,
            "unit": self.unit,
            "quantity": self.quantity,
            "spare": self.spare,
            "cost": self.cost,
            "months": list(self.months),
        }


@dataclass(frozen=True)
class Look:
    """Something to look at: so long after the work on a number of trees. family: of the technique."""

    when: When
    month: str
    stand: str
    technique: str
    family: str
    trees: int
    expected_alive: float
    """Trees of these that are expected to be alive by then, from the first attempt."""

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "when": self.when,
            "month": self.month,
            "stand": self.stand,
            "technique": self.technique,
            "trees": self.trees,
            "expected_alive": self.expected_alive,
        }


@dataclass(frozen=True, eq=False)
class Sheet:
    """One project year of a plan for the family.

    starts: what is started in the year. next_start: the first start after it, whose nursery may begin now.
    clones: how many trees of each of two clones at least, where the plan asks for two and the scenario tells only
    one planting material. cautions: keys, in the order of the techniques.
    """

    year: int
    currency: str
    starts: tuple[Start, ...]
    next_start: Start | None
    months: tuple[MonthOfWork, ...]
    shopping: tuple[ToBuy, ...]
    looks: tuple[Look, ...]
    cautions: tuple[str, ...]
    clones: Mapping[str, tuple[int, int]]

    @property
    def trees(self) -> int:
        """Trees started in the year."""
        return sum(start.trees for start in self.starts)

    @property
    def shopping_cost(self) -> float:
        """Money for the whole list."""
        return math.fsum(item.cost for item in self.shopping)

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`."""
        return {
            "year": self.year,
            "currency": self.currency,
            "trees": self.trees,
            "starts": [start.as_dict() for start in self.starts],
            "next_start": None if self.next_start is None else self.next_start.as_dict(),
            "calendar": [month.as_dict() for month in self.months],
            "shopping": [item.as_dict() for item in self.shopping],
            "shopping_cost": self.shopping_cost,
            "looks": [look.as_dict() for look in self.looks],
            "cautions": list(self.cautions),
            "clones": {stand: list(parts) for stand, parts in self.clones.items()},
        }

    def calendar_table(self) -> "pd.DataFrame":
        """One row per month and kind of work, with the month's hands."""
        import pandas as pd

        rows = [
            {
                "month": month.month,
                "work": kind,
                "days": days,
                "family_days": month.family_days,
                "hired_days": month.hired_days,
            }
            for month in self.months
            for kind, days in month.work.items()
        ]
        return pd.DataFrame(rows, columns=["month", "work", "days", "family_days", "hired_days"])

    def cash_table(self) -> "pd.DataFrame":
        """One row per month: opening balance, money to have in hand, out, in, balance."""
        import pandas as pd

        kept = ("month", "opening", "in_hand", "money_out", "money_in", "balance", "short_until_sales")
        return pd.DataFrame([{key: m.as_dict()[key] for key in kept} for m in self.months])

    def shopping_table(self) -> "pd.DataFrame":
        """One row per thing to buy."""
        import pandas as pd

        columns = ["kind", "key", "unit", "quantity", "spare", "cost", "months"]
        return pd.DataFrame([item.as_dict() for item in self.shopping], columns=columns)

    def looks_table(self) -> "pd.DataFrame":
        """One row per look."""
        import pandas as pd

        columns = ["when", "month", "stand", "technique", "trees", "expected_alive"]
        return pd.DataFrame([look.as_dict() for look in self.looks], columns=columns)


def sheet(plan: Plan, year: int = 1, replayed: Replay | None = None) -> Sheet:
    """Lay out one project year of a plan. replayed: the plan's replay where it has been made already.

    Raises ValueError for a year outside the horizon.

    Example:
        >>> from renovation.decide.plan.plan import make_plan
        >>> from renovation.inputs import Planning, demo_scenario
        >>> laid_out = sheet(make_plan(demo_scenario(), Planning(years=1, gap=0.01)))
        >>> len(laid_out.months)
        12
    """
    if not 1 <= year <= plan.problem.months // 12:
        raise ValueError(f"year {year} of {plan.problem.months // 12}")
    replayed = replayed or replay(plan)
    now = tuple(start for start in plan.starts if start.year == year)
    later = tuple(start for start in plan.starts if start.year > year)
    in_year = {s.technique for s in now} | {s.technique for s in later if _nursery_begins(plan, s, year)}
    techniques = plan.scenario.techniques
    cautions = dict.fromkeys(c for key in techniques if key in in_year for c in techniques[key].cautions)
    return Sheet(
        year=year,
        currency=plan.scenario.appraisal.currency,
        starts=now,
        next_start=later[0] if later else None,
        months=_calendar(plan, replayed, year),
        shopping=_shopping(plan, replayed, year),
        looks=_looks(plan, year),
        cautions=tuple(cautions),
        clones=_clones(plan, now),
    )


def _nursery_begins(plan: Plan, start: Start, year: int) -> bool:
    """Whether work for a later start falls into the year."""
    first = start.project_month + plan.scenario.techniques[start.technique].earliest_month
    return first < 12 * year


def _calendar(plan: Plan, replayed: Replay, year: int) -> tuple[MonthOfWork, ...]:
    """Twelve months of work, hands and cash."""
    scenario, flows, result = plan.scenario, replayed.flows, plan.account
    household, first = scenario.household, scenario.appraisal.start_calendar_month
    farm, months = flows.with_plan, plan.problem.months
    living = by_project_month(household.living_costs, first, months)
    other = by_project_month(household.other_income, first, months)
    loans = result.loan_flow + plan.problem.running
    lent, repaid = np.maximum(0.0, loans), np.maximum(0.0, -loans)
    out = farm.materials + farm.tools + farm.wages + living + repaid
    came = farm.benefits + other + lent
    opening = np.concatenate([[household.savings], result.balance[:-1]])
    # loan and other income come whatever is sold; the crop is what cannot be counted on before it is sold
    in_hand = np.maximum(0.0, out - other - lent + plan.problem.floor)
    dust = 1e-6
    return tuple(
        MonthOfWork(
            month=plan.problem.months_named[t],
            project_month=t,
            work={
                kind: float(days[t])
                for kind, days in sorted(flows.work.items(), key=lambda entry: -float(entry[1][t]))
                if days[t] > dust
            },
            family_days=float(farm.family_days[t]),
            hired_days=float(farm.hired_days[t]),
            family_days_available=float(farm.family_days_available[t]),
            money_out=float(out[t]),
            money_in=float(came[t]),
            opening=float(opening[t]),
            balance=float(result.balance[t]),
            in_hand=float(in_hand[t]),
        )
        for t in range(12 * (year - 1), 12 * year)
    )


def _shopping(plan: Plan, replayed: Replay, year: int) -> tuple[ToBuy, ...]:
    """Supplies of the year's operations, then tools."""
    scenario = plan.scenario
    inside = slice(12 * (year - 1), 12 * year)
    certain = _without_failures(plan)
    bought = []
    for key, units in replayed.flows.demand.items():
        needed = float(units[inside].sum())
        if needed <= 1e-9:
            continue
        item = scenario.supplies.items[key]
        digits = 0 if item.unit in WHOLE_UNITS else 1
        quantity = math.ceil(needed * 10**digits - 1e-6) / 10**digits
        spare = max(0.0, quantity - float(certain.get(key, np.zeros(1))[inside].sum()))
        bought.append(
            ToBuy(
                "item",
                key,
                item.label,
                item.unit,
                quantity,
                round(spare, digits),
                quantity * item.unit_cost.value,
                _named(plan, units, inside),
            )
        )
    for key, pieces in replayed.flows.bought.items():
        number = float(pieces[inside].sum())
        if number:
            tool = scenario.supplies.tools[key]
            months = _named(plan, pieces, inside)
            bought.append(ToBuy("tool", key, tool.label, "piece", number, 0.0, number * tool.price.value, months))
    return tuple(bought)


def _without_failures(plan: Plan) -> dict[str, FloatArray]:
    """Units of each supply that the same starts would use if nothing were lost and every first attempt took."""
    scenario, setting = plan.scenario, setting_of(plan.scenario)
    demand: dict[str, FloatArray] = {}
    for start in plan.starts:
        technique = scenario.techniques[start.technique].model_copy(
            update={"attempt_factor": None, "take_by_month": None}
        )
        tree = profile(
            technique, scenario.stand(start.stand), scenario.supplies, setting, [start.project_month], np.ones(1)
        )
        for key, touched in zip(tree.operations, tree.touched[:, 0], strict=True):
            for supply, use in technique.operations[key].materials.items():
                units = start.trees * touched * use.quantity.value
                demand[supply] = demand.get(supply, np.zeros(setting.months)) + units
    return demand


def _named(plan: Plan, series: FloatArray, inside: slice) -> tuple[str, ...]:
    """The months of a year in which something happens."""
    return tuple(plan.problem.months_named[t] for t in range(inside.start, inside.stop) if series[t] > 1e-9)


def _looks(plan: Plan, year: int) -> tuple[Look, ...]:
    """Looks that fall into the year, at the first attempt of every start."""
    scenario = plan.scenario
    found = []
    for start in plan.starts:
        technique = scenario.techniques[start.technique]
        tries = attempts(
            technique,
            np.array([start.project_month]),
            plan.problem.months,
            start_calendar_month=scenario.appraisal.start_calendar_month,
        )
        alive = start.trees * float(tries.succeeds[0, 0])
        for when, after in LOOKS:
            month = start.project_month + after
            if 12 * (year - 1) <= month < 12 * year:
                found.append(
                    Look(
                        when,
                        _month(scenario, month),
                        start.stand,
                        start.technique,
                        technique.family,
                        start.trees,
                        alive,
                    )
                )
    return tuple(sorted(found, key=lambda look: look.month))


def _month(scenario: Scenario, month: int) -> str:
    """Calendar month of a project month."""
    return year_month(month_count(scenario.appraisal.start) + month)


def _clones(plan: Plan, starts: tuple[Start, ...]) -> dict[str, tuple[int, int]]:
    """How to split a stand's new trees between two clones where the scenario tells only one material."""
    if not plan.problem.planning.at_least_two_clones:
        return {}
    techniques = plan.scenario.techniques
    parts = {}
    for stand in dict.fromkeys(start.stand for start in starts):
        mine = [s for s in starts if s.stand == stand and techniques[s.technique].mature_crop.value > 0]
        kinds = {techniques[s.technique].material for s in mine}
        named = {name for s in mine for name in techniques[s.technique].planting_materials}
        trees = sum(s.trees for s in mine)
        if len(kinds) == 1 and len(named) < 2 and trees > 1:
            second = max(1, math.ceil(trees * (1 - plan.problem.planning.largest_clone_share) - 1e-9))
            parts[stand] = (trees - second, second)
    return parts
