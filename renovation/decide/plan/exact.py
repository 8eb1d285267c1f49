"""The exact account of a plan: hired days, tools, balance, aim and NPV, once the trees and the loan are fixed.

The solver works with tolerances; every number that is shown comes from here, and every yardstick is judged here too.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np

from renovation.decide.appraise import worth_of_change
from renovation.decide.plan.columns import ToolNeed
from renovation.decide.plan.question import PlanProblem
from renovation.types import BoolArray, FloatArray, IntArray

Promise = Literal["trees", "floor", "hands", "scions", "plants", "money", "share", "batch", "clones", "loan"]

DUST = 1e-9
"""What rounding leaves of nothing, as a share of the numbers at hand."""


@dataclass(frozen=True)
class Breach:
    """A promise that a plan breaks: by how much at worst, and where.

    month: project month for floor and hands; year: project year for limits of a year. amount: money, days,
    units or trees.
    """

    promise: Promise
    amount: float
    month: int | None = None
    year: int | None = None

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {"promise": self.promise, "amount": self.amount, "month": self.month, "year": self.year}


@dataclass(frozen=True, eq=False)
class Account:
    """One plan, month by month; A months of which the first T are the horizon.

    trees: (n,) of each candidate. loan: amount taken, money of the day it is paid out. days, hired: (A,).
    tools: (T,) money. bought: pieces of each tool, (T,). farm_cash: (A,) after hired labour and tools.
    loan_flow: (T,) net payout less debt service, constant prices. balance: (T,). aim: what §8 maximises: present value
    by month of farm cash after hired hands, less the value of the family's days, with the loan's payouts and payments.
    """

    problem: PlanProblem
    trees: IntArray | FloatArray
    loan: float
    days: FloatArray
    hired: FloatArray
    tools: FloatArray
    bought: dict[str, FloatArray]
    farm_cash: FloatArray
    loan_flow: FloatArray
    balance: FloatArray
    aim: float

    @cached_property
    def family(self) -> FloatArray:
        """Person-days the family works, (A,)."""
        return self.days - self.hired

    @cached_property
    def npv(self) -> float:
        """What the plan is worth: NPV by project year of the economic account, set against the farm as it is (§5).

        Every day of work costs wage × labour value, no loan stands in it and nothing after the horizon.
        """
        problem, months = self.problem, self.problem.months
        a_day = problem.wage * problem.scenario.household.labour_value
        base = (problem.base_cash - a_day * problem.base_days)[:months]
        change = (self.trees @ (problem.cash - a_day * problem.days))[:months]
        tools_anyway = sum(tool.price * tool_pieces(tool, problem.always) for tool in problem.tools)
        return float(worth_of_change(problem.scenario, base + change - self.tools, base - tools_anyway))

    @cached_property
    def loan_adds(self) -> float:
        """What the loan adds to the aim, or costs where below 0: present value by month of payouts less payments (§8).

        In constant prices. By month, since by project year a loan paid out and repaid across a year's end would look
        like a gain. No part of the NPV.
        """
        return float(self.problem.discount[: self.problem.months] @ self.loan_flow)

    @cached_property
    def spending(self) -> FloatArray:
        """Money of each project year for materials of operations, tools and hired labour, (H,)."""
        problem, months = self.problem, self.problem.months
        wages = (self.hired[:months] * problem.wage + self.tools).reshape(-1, 12).sum(axis=1)
        return np.asarray(self.trees @ problem.spending + wages + problem.begun["money"])

    @cached_property
    def breaches(self) -> tuple[Breach, ...]:
        """Every promise that the plan breaks, the worst place of each; empty where all are kept."""
        return tuple(_breaches(self))

    @property
    def keeps_promises(self) -> bool:
        """Whether no promise is broken."""
        return not self.breaches


def tool_pieces(tool: ToolNeed, active: BoolArray) -> FloatArray:
    """Pieces bought in each month, (T,), where the groups (G,) are active.

    Bought at the first need, and again at the first need after it has worn out: the same rule as
    `farm.tool_purchases`. No other way of covering the needs buys as late, so none is cheaper.
    """
    at_work = np.flatnonzero(tool.need[active].any(axis=0))
    pieces = np.zeros(tool.need.shape[1])
    worn_out = 0.0
    for month in at_work:
        if month >= worn_out:
            pieces[month] = 1.0
            worn_out = month + tool.life_months
    return pieces


def account(problem: PlanProblem, trees: IntArray | FloatArray, loan: float = 0.0) -> Account:
    """Work a plan out to the cent: hired(t) = max(0, days − family days), tools by need, balance by month.

    trees: (n,) of each candidate; whole, but for a relaxed plan. loan: amount taken.
    """
    months = problem.months
    days = problem.base_days + trees @ problem.days
    hired = np.maximum(0.0, days - problem.family_days)
    active = problem.always | (np.bincount(problem.group, weights=trees, minlength=len(problem.groups)) > 0)
    bought = {tool.name: tool_pieces(tool, active) for tool in problem.tools}
    tools = np.zeros(months)
    for tool in problem.tools:
        tools += tool.price * bought[tool.name]
    cash = problem.base_cash + trees @ problem.cash - problem.wage * hired
    cash[:months] -= tools
    unit = np.zeros(months) if problem.loan_unit is None else problem.loan_unit
    flow = loan * unit
    household = problem.scenario.household
    balance = household.savings + np.cumsum(cash[:months] + problem.household + flow)
    aim = float(problem.discount @ cash + problem.discount[:months] @ flow)
    aim -= problem.value_per_family_day * float(problem.discount @ (days - hired))
    return Account(problem, trees, loan, days, hired, tools, bought, cash, flow, balance, aim)


def best_loan(problem: PlanProblem, trees: IntArray) -> float:
    """The amount of the loan on offer that the aim likes best with these trees, in whole smallest units.

    The balance is linear in the amount, so the amounts that keep the floor are one interval; the objective is linear
    too, so the best is one of its ends. Where no amount keeps the floor, the one that breaks it least.
    """
    if problem.loan_unit is None or problem.planning.loan is None:
        return 0.0
    unit = problem.money_unit
    limit = np.floor(problem.planning.loan.limit / unit + 1e-6) * unit
    room = account(problem, trees).balance - problem.floor
    slope = np.cumsum(problem.loan_unit)
    low, high = _interval(room, slope, float(limit))
    if low > high:
        low, high = _interval(room + tolerance(problem), slope, float(limit))
    if low > high:
        return _least_breach(room, slope, float(limit), unit)
    gain = float(problem.discount[: problem.months] @ problem.loan_unit)
    if gain > 0:
        return max(0.0, float(np.floor(high / unit + 1e-9) * unit))
    return max(0.0, min(float(limit), float(np.ceil(low / unit - 1e-9) * unit)))


def _interval(room: FloatArray, slope: FloatArray, limit: float) -> tuple[float, float]:
    """Amounts a in [0, limit] with room + a·slope ≥ 0 in every month, as (low, high); low > high if none."""
    flat = np.abs(slope) < 1e-15
    if (room[flat] < 0).any():
        return 1.0, 0.0
    rising, falling = (slope > 0) & ~flat, (slope < 0) & ~flat
    low = max(0.0, float((-room[rising] / slope[rising]).max(initial=0.0)))
    high = min(limit, float((room[falling] / -slope[falling]).min(initial=limit)))
    return low, high


def _least_breach(room: FloatArray, slope: FloatArray, limit: float, unit: float) -> float:
    """The amount in [0, limit] whose lowest balance is highest: a concave function, searched by thirds."""
    low, high = 0.0, limit
    for _ in range(200):
        if high - low < unit / 4:
            break
        third = (high - low) / 3
        if (room + (low + third) * slope).min() < (room + (high - third) * slope).min():
            low += third
        else:
            high -= third
    return float(np.round((low + high) / 2 / unit) * unit)


def tolerance(problem: PlanProblem) -> float:
    """How far below the floor still counts as kept: half the currency's smallest unit."""
    return problem.money_unit / 2


def _breaches(result: Account) -> list[Breach]:
    """Every promise broken, the worst place of each."""
    problem, months = result.problem, result.problem.months
    found: list[Breach] = []
    short = problem.floor - result.balance
    if short.max() > tolerance(problem):
        found.append(Breach("floor", float(short.max()), month=int(np.argmax(short))))
    if problem.hired_limit is not None:
        over = result.hired[:months] - problem.hired_limit
        if over.max() > DUST * max(1.0, float(result.days.max())):
            found.append(Breach("hands", float(over.max()), month=int(np.argmax(over))))
    yearly: tuple[tuple[Promise, FloatArray, FloatArray | None], ...] = (
        ("scions", result.trees @ problem.scions, problem.units_limit("scions")),
        ("plants", result.trees @ problem.plants, problem.units_limit("plants")),
        ("money", result.spending, problem.money_limit),
    )
    for promise, used, limit in yearly:
        if limit is not None:
            beyond = used - limit
            allowed = tolerance(problem) if promise == "money" else 1e-6
            if beyond.max() > allowed:
                found.append(Breach(promise, float(beyond.max()), year=int(np.argmax(beyond)) + 1))
    return found + _tree_breaches(result)


def _tree_breaches(result: Account) -> list[Breach]:
    """Promises about numbers of trees that are broken."""
    problem, planning, trees = result.problem, result.problem.planning, result.trees
    found: list[Breach] = []
    over = np.bincount(problem.stand, weights=trees, minlength=len(problem.trees)) - problem.trees
    if over.size and over.max() > 0:
        found.append(Breach("trees", float(over.max())))
    most = problem.most_trees_per_year
    by_year = np.bincount(problem.year, weights=trees, minlength=problem.years + 1)
    if most is not None and by_year.max() > most:
        found.append(Breach("share", float(by_year.max() - most), year=int(np.argmax(by_year))))
    in_batch = trees_in_batches(problem, trees)
    short_of_it = np.where(in_batch > 0, problem.least_of_batch - in_batch, 0)
    if short_of_it.size and short_of_it.max() > 0:
        worst = int(np.argmax(short_of_it))
        found.append(Breach("batch", float(short_of_it[worst]), year=problem.batches[worst].year))
    excess = max((float(row @ trees) for row in clone_rows(problem)), default=0.0)
    if excess > 1e-6:
        found.append(Breach("clones", excess))
    if planning.loan and result.loan > planning.loan.limit + tolerance(problem):
        found.append(Breach("loan", result.loan - planning.loan.limit))
    return found


def trees_in_batches(problem: PlanProblem, trees: IntArray | FloatArray) -> FloatArray:
    """(B,) trees of each batch, all its months together."""
    inside = problem.batch >= 0
    counted = np.bincount(problem.batch[inside], weights=trees[inside], minlength=len(problem.batches))
    return counted.astype(np.float64)


def clone_rows(problem: PlanProblem) -> list[FloatArray]:
    """Rows a with a·x ≤ 0: in each stand no planting material makes up more than its share of the new crowns.

    Only stands for which the scenario tells at least two materials apart have rows; where it tells only one,
    the family splits it between clones itself.
    """
    planning = problem.planning
    if not planning.at_least_two_clones:
        return []
    material = np.array([problem.scenario.techniques[c.technique].material for c in problem.candidates])
    rows = []
    for stand in range(len(problem.trees)):
        here = (problem.stand == stand) & problem.new_crown
        kinds = sorted(set(material[here]))
        if len(kinds) > 1:
            rows += [np.where(here, (material == kind) - planning.largest_clone_share, 0.0) for kind in kinds]
    return rows
