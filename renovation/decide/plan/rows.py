"""The promises as linear rows over the planner's columns: a mixed-integer programme (method §8).

Columns: x trees of each candidate (whole), z a yes/no for each technique and start, w a yes/no for each batch, u pieces
of each tool bought in each month, h hired days, B balances, L the loan. What keeps it small, each measured on random
farms:

- The floor is asked only in the months named (`floor_months`); the solver loop adds the months that a plan breaks.
- Hired days are a column only where a plan decides whether the family's days are enough; elsewhere they are
  0, or days − family days outright.
- Tools are merged (see `tools`). With z whole, u needs not be whole: the windows of the rule's purchases do not
  overlap, so no fraction is cheaper or later. Only a limit on the money of a year could make an early purchase pay;
  where there is one, the rule is written out and u is whole.

A stand's trees spread over several months buy a fraction of each tool here; `pieces` is stronger, and what plans are
sought with. This form serves where starts are held in use (`why_not_more`) or promises are eased.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array

from renovation.decide.plan.exact import Promise, clone_rows, tolerance
from renovation.decide.plan.labour import Labour
from renovation.decide.plan.question import PlanProblem
from renovation.decide.plan.solver import Program
from renovation.decide.plan.tools import ToolColumns, tool_columns
from renovation.types import BoolArray, FloatArray, IndexArray, IntArray

EASED: tuple[Promise, ...] = ("floor", "hands", "money")
"""Promises that can be impossible to keep whatever is planned: each may be given a slack."""


@dataclass(frozen=True, eq=False)
class Held:
    """What is held in use or out of it: (G,) techniques and starts, (B,) batches."""

    groups: BoolArray
    batches: BoolArray


@dataclass(frozen=True, eq=False)
class Model:
    """The programme with the places of its columns; money in units of `scale`.

    trees, active, batches, bought, hired, balance, loan: column ranges. slack: column of each eased promise.
    row_of: (promise, index) of a limit to its row; index a stand, year or month. hired_months,
    floor_months: the months that hired days and balances stand for.
    """

    program: Program
    scale: float
    trees: slice
    active: slice
    batches: slice
    bought: slice
    hired: slice
    balance: slice
    loan: int | None
    slack: dict[Promise, int]
    row_of: dict[tuple[Promise, int], int]
    tools: ToolColumns
    hired_months: IntArray
    floor_months: IntArray


Part = tuple[npt.ArrayLike, npt.ArrayLike]
"""Columns and their values in a row; one value may stand for all."""


@dataclass
class _Rows:
    """Sparse rows, gathered one by one."""

    columns: list[IndexArray] = field(default_factory=list)
    values: list[FloatArray] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)

    def add(self, parts: Iterable[Part], low: float = -np.inf, high: float = np.inf) -> int:
        """Add low ≤ Σ values·columns ≤ high; returns the row's number."""
        gathered = [(np.atleast_1d(c), np.broadcast_to(v, np.shape(np.atleast_1d(c)))) for c, v in parts]
        columns = np.concatenate([c for c, _ in gathered]).astype(np.intp)
        values = np.concatenate([v for _, v in gathered]).astype(np.float64)
        keep = values != 0
        self.columns.append(columns[keep])
        self.values.append(values[keep])
        self.low.append(low)
        self.high.append(high)
        return len(self.low) - 1

    def matrix(self, width: int) -> csr_array:
        """All rows as one sparse matrix."""
        starts = np.cumsum([0, *(c.size for c in self.columns)])
        return csr_array(
            (np.concatenate([[], *self.values]), np.concatenate([np.zeros(0, np.intp), *self.columns]), starts),
            shape=(len(self.low), width),
        )


def formulate(
    problem: PlanProblem,
    floor_months: Sequence[int] | IntArray,
    ease: Sequence[Promise] = (),
    margin: float = 0.0,
    held: Held | None = None,
    *,
    tied: bool = True,
) -> Model:
    """Write the problem as a programme that keeps the floor in the months named.

    ease: promises that get a slack at no cost; the caller sets the objective. margin: money by which the floor is
    raised, where the solver's tolerance broke a promise. held: what is held in use or out of it. tied: whether trees
    and tools are tied by a yes/no; if not, the caller ties them.
    """
    number, groups = len(problem.candidates), len(problem.groups)
    scale = max(1.0, problem.wage, problem.scenario.market.dry_price_per_kg)
    labour = Labour.of(problem)
    tools = tool_columns(problem.tools)
    floor_at = np.unique(np.asarray(floor_months, dtype=np.int64))
    sizes = [number, groups, len(problem.batches), tools.month.size, labour.months.size, floor_at.size]
    ends = np.cumsum(sizes)
    trees, active, batches, bought, hired, balance = (
        slice(int(end - size), int(end)) for size, end in zip(sizes, ends, strict=True)
    )
    width = int(ends[-1])
    loan = width if problem.loan_unit is not None else None
    width += loan is not None
    slack = {promise: width + i for i, promise in enumerate(ease)}
    width += len(slack)
    spans = trees, active, batches, bought, hired, balance
    places = _Places(problem, *spans, loan, slack, scale, labour, tools, floor_at)
    rows = _Rows()
    row_of = places.tree_rows(rows, linked=held is None, tied=tied)
    places.tool_rows(rows, linked=held is None, tied=tied)
    row_of |= places.labour_rows(rows)
    places.floor_rows(rows, margin)
    row_of |= places.limit_rows(rows)
    lower, upper = places.lower(width, margin), places.upper(width)
    lower[places.active] = problem.always
    if held is not None:
        lower[places.active] = upper[places.active] = held.groups
        lower[places.batches] = upper[places.batches] = held.batches
        # only the row of the stand limits its trees then: what one tree more is worth stands there alone
        in_use = held.groups[problem.group] & np.append(held.batches, True)[problem.batch]
        upper[places.trees] = np.where(in_use, np.inf, 0.0)
    program = Program(
        gain=places.gain(width),
        rows=rows.matrix(width),
        low=np.array(rows.low),
        high=np.array(rows.high),
        lower=lower,
        upper=upper,
        whole=np.arange(width) < (places.batches.stop if problem.money_limit is None else places.bought.stop),
        constant=float(problem.discount @ labour.base_cash) / scale
        - problem.value_per_family_day * float(problem.discount @ labour.base_family) / scale,
    )
    return Model(program, scale, *spans, loan, slack, row_of, tools, labour.months, floor_at)


def held_floor(problem: PlanProblem, scale: float, margin: float) -> float:
    """The floor in units of `scale`, kept to (nearly) half a smallest unit as the exact account keeps it."""
    return (problem.floor - 0.99 * tolerance(problem) + margin) / scale


@dataclass(frozen=True, eq=False)
class _Places:
    """Everything the rows are written from: the problem and where its columns stand."""

    problem: PlanProblem
    trees: slice
    active: slice
    batches: slice
    bought: slice
    hired: slice
    balance: slice
    loan: int | None
    slack: dict[Promise, int]
    scale: float
    labour: Labour
    tools: ToolColumns
    floor_at: IntArray

    def _eased(self, promise: Promise, value: float) -> list[Part]:
        """The slack's part of a row, if the promise has one."""
        return [(self.slack[promise], value)] if promise in self.slack else []

    def _x(self) -> IndexArray:
        return np.arange(self.trees.stop)

    def tree_rows(self, rows: _Rows, *, linked: bool, tied: bool) -> dict[tuple[Promise, int], int]:
        """Trees of a stand, trees of a year, batches, clones; x = 0 where its technique and start are not used.

        linked: whether that last needs rows, since nobody has said yet what is used. tied: whether they are wanted.
        """
        problem = self.problem
        row_of: dict[tuple[Promise, int], int] = {}
        for stand, number in enumerate(problem.trees):
            here = np.flatnonzero(problem.stand == stand)
            if here.size:
                row_of["trees", stand] = rows.add([(here, 1.0)], high=float(number))
        for x in np.flatnonzero(self._needs_tools()[problem.group]) if linked and tied else ():
            most = float(problem.trees[problem.stand[x]])
            rows.add([(x, 1.0), (self.active.start + problem.group[x], -most)], high=0.0)
        if problem.most_trees_per_year is not None:
            for year in range(1, problem.years + 1):
                here = np.flatnonzero(problem.year == year)
                if here.size:
                    row_of["share", year] = rows.add([(here, 1.0)], high=float(problem.most_trees_per_year))
        for place, least in enumerate(problem.least_of_batch.tolist()):
            here = np.flatnonzero(problem.batch == place)
            most = float(problem.trees[problem.batches[place].stand])
            rows.add([(here, 1.0), (self.batches.start + place, -float(least))], low=0.0)
            if linked:
                rows.add([(here, 1.0), (self.batches.start + place, -most)], high=0.0)
        for row in clone_rows(problem):
            rows.add([(self._x(), row)], high=0.0)
        self._practice_rows(rows)
        return row_of

    def _needs_tools(self) -> BoolArray:
        """(G,) whether a group needs any tool: only these are told apart by a yes/no."""
        needed = np.zeros(len(self.problem.groups), dtype=bool)
        for tool in self.problem.tools:
            needed |= tool.need.any(axis=1)
        return needed

    def _practice_rows(self, rows: _Rows) -> None:
        """Grafts made before a project year, at least what its take rests on."""
        problem = self.problem
        if problem.practice is None or problem.practice_needed is None:
            return
        before = np.cumsum(problem.practice, axis=1) - problem.practice
        for year, needed in enumerate(problem.practice_needed):
            if needed > 0:
                rows.add([(self._x(), before[:, year])], low=float(needed) * (1 - 1e-9))

    def tool_rows(self, rows: _Rows, *, linked: bool, tied: bool) -> None:
        """A purchase within the tool's life at or before each need of a technique and start in use.

        linked: whether a yes must have trees: held in use, a start that needs nothing more may be without. tied:
        whether the rows with a yes/no are wanted.
        """
        for group, first, after in self.tools.cover if tied else ():
            window = self.bought.start + np.arange(first, after)
            rows.add([(window, 1.0), (self.active.start + group, -1.0)], low=0.0)
        if self.problem.money_limit is None:
            return
        for group in np.flatnonzero(self._needs_tools()).tolist() if linked and tied else ():
            here = np.flatnonzero(self.problem.group == group)
            if here.size:
                rows.add([(here, 1.0), (self.active.start + group, -1.0)], low=0.0)
        for first, after in self.tools.lasting:
            rows.add([(self.bought.start + np.arange(first, after), 1.0)], high=1.0)
        for column, groups in enumerate(self.tools.asked_by if tied else ()):
            asking = self.active.start + np.array(groups)
            rows.add([(self.bought.start + column, 1.0), (asking, -1.0)], high=0.0)

    def labour_rows(self, rows: _Rows) -> dict[tuple[Promise, int], int]:
        """hired ≥ days − family days where a plan decides; hired ≤ limit where hands are always hired."""
        problem, labour = self.problem, self.labour
        row_of: dict[tuple[Promise, int], int] = {}
        spare = problem.family_days - problem.base_days
        for place, month in enumerate(labour.months):
            rows.add([(self._x(), problem.days[:, month]), (self.hired.start + place, -1.0)], high=float(spare[month]))
        if problem.hired_limit is None:
            return row_of
        limit = problem.hired_limit
        for month in np.flatnonzero(labour.affine[: problem.months]):
            if labour.most[month] - problem.family_days[month] > limit[month] or "hands" in self.slack:
                parts: list[Part] = [(self._x(), problem.days[:, month]), *self._eased("hands", -1.0)]
                row_of["hands", int(month)] = rows.add(parts, high=float(limit[month] + spare[month]))
        if "hands" in self.slack:
            for place, month in enumerate(labour.months):
                if month < problem.months:
                    rows.add([(self.hired.start + place, 1.0), *self._eased("hands", -1.0)], high=float(limit[month]))
        return row_of

    def floor_rows(self, rows: _Rows, margin: float) -> None:
        """B(t) − B(t′) = what flows between two named months, so that no flow is written twice."""
        problem, labour, tools, scale = self.problem, self.labour, self.tools, self.scale
        months = problem.months
        cash = np.cumsum(labour.cash[:, :months], axis=1) / scale
        known = problem.scenario.household.savings + np.cumsum(labour.base_cash[:months] + problem.household)
        lent = np.zeros(months) if problem.loan_unit is None else np.cumsum(problem.loan_unit)
        before = -1
        for place, month in enumerate(self.floor_at):
            hired = np.flatnonzero((labour.months > before) & (labour.months <= month))
            pieces = np.flatnonzero((tools.month > before) & (tools.month <= month))
            parts: list[Part] = [
                (self._x(), _at(cash, before) - cash[:, month]),
                (self.hired.start + hired, problem.wage / scale),
                (self.bought.start + pieces, tools.price[pieces] / scale),
                (self.balance.start + place, 1.0),
            ]
            if place:
                parts.append((self.balance.start + place - 1, -1.0))
            if self.loan is not None:
                parts.append((self.loan, _at(lent, before) - lent[month]))
            amount = float(known[month] - _at(known, before)) / scale
            rows.add(parts, amount, amount)
            if "floor" in self.slack:
                parts = [(self.balance.start + place, 1.0), *self._eased("floor", 1.0)]
                rows.add(parts, low=held_floor(self.problem, self.scale, margin))
            before = month

    def limit_rows(self, rows: _Rows) -> dict[tuple[Promise, int], int]:
        """Scions, plants and money of each project year."""
        problem = self.problem
        row_of: dict[tuple[Promise, int], int] = {}
        units: tuple[tuple[Promise, FloatArray, FloatArray | None], ...] = (
            ("scions", problem.scions, problem.units_limit("scions")),
            ("plants", problem.plants, problem.units_limit("plants")),
        )
        for promise, use, limit in units:
            for year in range(use.shape[1]):
                if limit is not None and use[:, year].any():
                    row_of[promise, year + 1] = rows.add([(self._x(), use[:, year])], high=float(limit[year]))
        money = problem.money_limit
        if money is not None:
            for year in range(money.size):
                row_of["money", year + 1] = self._money_row(rows, year, float(money[year]))
        return row_of

    def _money_row(self, rows: _Rows, year: int, limit: float) -> int:
        """Materials of operations, tools and hired labour of one project year (from 0)."""
        problem, labour, scale = self.problem, self.labour, self.scale
        inside = slice(12 * year, 12 * year + 12)
        always = np.flatnonzero(labour.affine[inside]) + 12 * year
        hired = np.flatnonzero(labour.months // 12 == year)
        pieces = np.flatnonzero(self.tools.month // 12 == year)
        known = problem.wage * float((problem.base_days - problem.family_days)[always].sum())
        known += float(problem.begun["money"][year])
        per_tree = problem.spending[:, year] + problem.wage * problem.days[:, always].sum(axis=1)
        return rows.add(
            [
                (self._x(), per_tree / scale),
                (self.hired.start + hired, problem.wage / scale),
                (self.bought.start + pieces, self.tools.price[pieces] / scale),
                *self._eased("money", -1.0),
            ],
            high=(limit - known) / scale,
        )

    def gain(self, width: int) -> FloatArray:
        """What a unit of each column adds to the objective, in units of `scale`."""
        problem, labour, tools = self.problem, self.labour, self.tools
        discount, value = problem.discount, problem.value_per_family_day
        gain = np.zeros(width)
        gain[self.trees] = labour.cash @ discount - value * (labour.family @ discount)
        gain[self.bought] = -tools.price * discount[tools.month]
        gain[self.hired] = (value - problem.wage) * discount[labour.months]
        if self.loan is not None and problem.loan_unit is not None:
            gain[self.loan] = self.scale * float(problem.loan_unit @ discount[: problem.months])
        return gain / self.scale

    def lower(self, width: int, margin: float) -> FloatArray:
        """Nothing below 0 but balances, which stay at the floor unless it is eased."""
        lower = np.zeros(width)
        lower[self.balance] = -np.inf if "floor" in self.slack else held_floor(self.problem, self.scale, margin)
        return lower

    def upper(self, width: int) -> FloatArray:
        """Trees of the stand, one piece, hands to be had, the loan's limit."""
        problem, labour = self.problem, self.labour
        upper = np.full(width, np.inf)
        upper[self.trees] = problem.trees[problem.stand]
        upper[self.active] = upper[self.batches] = 1.0
        upper[self.bought] = 1.0
        most = (labour.most - problem.family_days)[labour.months]
        if problem.hired_limit is not None and "hands" not in self.slack:
            within = labour.months < problem.months
            most[within] = np.minimum(most[within], problem.hired_limit[labour.months[within]])
        upper[self.hired] = most
        if self.loan is not None and problem.planning.loan is not None:
            upper[self.loan] = problem.planning.loan.limit / self.scale
        return upper


def _at(series: FloatArray, month: int) -> Any:
    """A running sum at a month; nothing before month 0."""
    return series[..., month] if month >= 0 else 0.0


def minimising(model: Model, promise: Promise) -> Program:
    """The model's programme with one slack to be made as small as it can be."""
    gain = np.zeros_like(model.program.gain)
    gain[model.slack[promise]] = -1.0
    return replace(model.program, gain=gain, constant=0.0)
