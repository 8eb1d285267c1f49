"""Whole plans on futures, and the rows that are learned of them: straight lines above the mean of the worst tenth.

A balance is a concave function of the trees, the tools bought and the loan (hired days are max(0, days − family days)),
but for the cents to which instalments are rounded. So each plan gives a straight line that the mean of the worst tenth
of lowest balances lies under, whatever the plan (Künzi-Bay & Mayer 2006). Where more is asked of a month with an
instalment than of another, its balance is lowered by what more is asked, and the line falls with that too.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from renovation.decide.plan.pieces import Pieces, in_pieces
from renovation.decide.plan.plan import Plan
from renovation.decide.plan.question import PlanProblem, offered_loan
from renovation.decide.plan.rows import Model
from renovation.decide.plan.tools import ToolColumns
from renovation.decide.risk.futures import Futures, as_expected
from renovation.decide.risk.hands import grafts_before
from renovation.decide.risk.judge import farm_cash, stray_of
from renovation.decide.risk.products import product
from renovation.decide.risk.strategy import CAREFUL, Layout, OneTrees, Strategy, lay_out
from renovation.farm import farm_left_alone
from renovation.inputs import Treatment, month_count, year_month
from renovation.money import balance as balance_by_month
from renovation.types import BoolArray, FloatArray, IntArray

Trees = tuple[IntArray, float]
"""A plan as the search holds it: trees of each candidate, and the loan."""

SHARE = 0.9
FEW = 0.01
"""Share of the futures looked at where some have been given up."""
HALVINGS_OF_REACH = 40


def trees_begun(problem: PlanProblem, treatments: Iterable[Treatment]) -> IntArray:
    """Trees of each candidate in what a strategy begins, (n,)."""
    begun: dict[tuple[str, str, int], int] = {}
    for one in treatments:
        at = one.stand, one.technique, problem.scenario.month_of(one.start)
        begun[at] = begun.get(at, 0) + one.trees
    plots = problem.scenario.plots
    named = ((plots[c.stand].name, c.technique, c.start) for c in problem.candidates)
    return np.array([begun.get(at, 0) for at in named], dtype=np.int64)


def strategy_of(problem: PlanProblem, trees: IntArray, loan: float) -> Strategy:
    """Trees of each candidate and a loan as a strategy; `trees_begun` is the way back."""
    first, plots = month_count(problem.scenario.appraisal.start), problem.scenario.plots
    chosen = sorted(zip(problem.candidates, trees, strict=True), key=lambda one: one[0].start)
    treatments = tuple(
        Treatment(
            stand=plots[c.stand].name, technique=c.technique, trees=int(number), start=year_month(first + c.start)
        )
        for c, number in chosen
        if number
    )
    offer = problem.planning.loan
    taken = (offered_loan(offer, loan),) if offer and loan >= problem.money_unit / 2 else ()
    return Strategy(CAREFUL, treatments, taken)


def tenth_of(number: int) -> int:
    """How many futures the worst tenth are; of a single one that one."""
    return max(1, round(number * (1 - SHARE)))


@dataclass(frozen=True, eq=False)
class Seen:
    """A plan on some futures: its lowest balances, the mean of the worst of them, and which those are.

    lowest: (K,). due: (K,) the lowest in a month with an instalment, infinite where there is none. raised: how far the
    balance of those months was lowered beforehand, so that more is asked of it. mean: of the m worst. rows: (m,) those
    futures. month: (m,) month of each one's lowest balance. hired: (m, T) whether hands are hired. tools: (T,) money
    for tools.
    """

    futures: Futures
    lowest: FloatArray
    due: FloatArray
    raised: float
    mean: float
    rows: IntArray
    month: IntArray
    hired: BoolArray
    tools: FloatArray


@dataclass(frozen=True, eq=False)
class _OneTrees:
    """What one tree of each candidate adds to the farm, by month: the slopes of every balance.

    parts: (n, 4·T) sales, kg, days, supplies as expected, (n, 5·T) with payments. other: (n, T) other income but those.
    kinds: candidates that share attempts and seasons, their outcomes (c, J, 4·T or 5·T) and a layout that has them.
    """

    parts: FloatArray
    other: FloatArray
    kinds: tuple[tuple[IntArray, FloatArray, Layout], ...]
    strays: dict[Futures, FloatArray] = field(default_factory=dict)

    @classmethod
    def of(cls, layouts: list[Layout], months: int) -> "_OneTrees":
        """Gather the layouts of farms on which one tree is treated; there may be none."""
        changes = [one.change_by_month for one in layouts]
        sides = [(one.flows.with_plan, one.flows.without) for one in layouts]
        other = [(w.other_income - w.payments) - (o.other_income - o.payments) for w, o in sides]
        each = [one.side_by_side() for one in changes]
        alike: dict[Any, list[int]] = {}
        for place, one in enumerate(layouts):
            if one.outcomes:
                kind = one.outcomes[0]
                drawn = None if one.practice is None else kind.factors
                alike.setdefault((kind.takes, kind.seasons, drawn), []).append(place)
        return cls(
            np.array(each).reshape(len(layouts), each[0].size if each else 4 * months),
            np.array(other).reshape(len(layouts), months),
            tuple(
                (np.array(places), np.array([layouts[i].outcomes_by_month for i in places]), layouts[places[0]])
                for places in alike.values()
            ),
        )

    def stray_in(self, futures: Futures) -> FloatArray:
        """How far the shares of each kind stray in each future, side by side, (K, ΣJ); worked out once."""
        if futures not in self.strays:
            each = [stray_of(layout, futures) for _, _, layout in self.kinds]
            none = [np.zeros((futures.number, outcomes.shape[1])) for _, outcomes, _ in self.kinds]
            drawn = [zero if found is None else found for found, zero in zip(each, none, strict=True)]
            self.strays[futures] = np.concatenate([np.zeros((futures.number, 0)), *drawn], axis=1)
        return self.strays[futures]

    def of_some(self, kept: IntArray) -> "_OneTrees":
        """Those of some candidates, by their places."""
        kinds = []
        for places, outcomes, layout in self.kinds:
            here = np.isin(places, kept)
            if here.any():
                kinds.append((np.searchsorted(kept, places[here]), outcomes[here], layout))
        return _OneTrees(self.parts[kept], self.other[kept], tuple(kinds))


@dataclass(frozen=True, eq=False)
class Lines:
    """Rows that have been learned, one by one: row · v − due · e ≥ limit, e what is asked more of instalments."""

    rows: list[FloatArray] = field(default_factory=list)
    limits: list[float] = field(default_factory=list)
    due: list[float] = field(default_factory=list)


@dataclass(frozen=True, eq=False)
class Tried:
    """A whole plan that was tried: its lowest balances, those in months with an instalment, and its worth.

    lowest, due: (K,), as in `Seen`.
    """

    plan: Trees
    lowest: FloatArray
    due: FloatArray
    worth: float

    def mean(self, depth: float = 0.0) -> float:
        """The mean of the worst tenth, `depth` more being asked of a month with an instalment."""
        asked = np.minimum(self.lowest, self.due - depth)
        return float(np.partition(asked, tenth_of(asked.size) - 1)[: tenth_of(asked.size)].mean())

    def level(self, may_fail: int, missing: float | None = None) -> float:
        """The balance kept in all futures but `may_fail`, −∞ where none is.

        missing: an instalment is missed below this balance, and such a future keeps no level; None to let it be.
        """
        kept = self.lowest if missing is None else np.where(self.due < missing, -np.inf, self.lowest)
        return float(np.sort(kept)[may_fail])

    def reach(self, floor: float) -> float:
        """The highest level ℓ ≤ floor of which the worst tenth fall short by nothing on average; −∞ where none is.

        A month with an instalment falls short where its balance is below 0, another where it is below ℓ.
        """
        high = min(floor, self.mean())
        if high >= 0 or self.mean(-high) >= high:
            return high
        low = 2 * min(high, float(self.lowest.min()))
        if self.mean(-low) < low:
            return -np.inf
        for _ in range(HALVINGS_OF_REACH):
            middle = (low + high) / 2
            low, high = (middle, high) if self.mean(-middle) >= middle else (low, middle)
        return low


class PlansOnFutures:
    """The planner's programme, and what whole plans come to on the futures to plan on."""

    def __init__(self, expected: Plan, futures: Futures, start: Trees | None = None) -> None:
        """Begin from the plan on expected figures and the futures to plan on; start: a bold plan, that one if None."""
        self.expected, self.narrowed = expected, False
        self.problem: PlanProblem = expected.problem
        self.scenario = expected.problem.scenario.model_copy(update={"planning": expected.problem.planning})
        self.grafts = grafts_before(self.scenario, expected.treatments)
        self.futures, self.sure = futures, as_expected(futures.years)
        self.without = farm_left_alone(self.scenario)
        self.known_trees: OneTrees = {}
        self.tail, self.calm = Lines(), Lines()
        self.learned: list[tuple[Trees, Seen]] = []
        self.floor = self.scenario.household.floor
        self.nothing: Trees = (np.zeros(len(self.problem.candidates), dtype=np.int64), 0.0)
        self.start = start or (np.rint(expected.account.trees).astype(np.int64), expected.account.loan)
        self.owes = self._months_of_instalments()

    @cached_property
    def pieces(self) -> Pieces:
        """The planner's programme: the floor as expected is kept by its pool."""
        return in_pieces(self.problem, ease=("floor",))

    @property
    def model(self) -> Model:
        """Its model."""
        return self.pieces.model

    @property
    def tools(self) -> ToolColumns:
        """What its columns of purchases stand for."""
        return self.model.tools

    @cached_property
    def trees(self) -> _OneTrees:
        """What one tree of each candidate adds."""
        layouts = [self._one_tree(i) for i in range(len(self.problem.candidates))]
        return _OneTrees.of(layouts, self.problem.months)

    def narrow(self, kept: IntArray) -> None:
        """Go on with some of the candidates alone, by their places; rows are to be learned anew."""
        self.all_trees, self.narrowed = self.trees, True
        self.problem = self.problem.narrowed(kept)
        del self.pieces
        self.trees = self.all_trees.of_some(kept)
        self.nothing, self.start = ((plan[0][kept], plan[1]) for plan in (self.nothing, self.start))

    def _months_of_instalments(self) -> BoolArray:
        """Months with an instalment of the loan on offer, (T,); none without an offer."""
        offer = self.problem.planning.loan
        if offer is None:
            return np.zeros(self.problem.months, dtype=bool)
        layout = lay_out(self.scenario, self.strategy(self.nothing[0], offer.limit), self.without)
        return np.asarray(layout.cash.debt_service > 0)

    def strategy(self, trees: IntArray, loan: float) -> Strategy:
        """A plan as a strategy."""
        return strategy_of(self.problem, trees, loan)

    def _read(self, point: FloatArray) -> Trees:
        """Trees of each candidate and the loan, in whole units."""
        trees = np.floor(point[self.model.trees] + 1e-6).astype(np.int64)
        if self.model.loan is None:
            return trees, 0.0
        unit = self.problem.money_unit
        return trees, float(np.rint(point[self.model.loan] * self.model.scale / unit) * unit)

    def _see(self, plan: Trees, futures: Futures, rest: IntArray | None = None, raised: float = 0.0) -> Seen:
        """Work a plan out on some futures, the worst tenth looked at, or the worst few of the rest.

        rest: futures that have not been given up. raised: how much more is asked of a month with an instalment. Of a
        single future that one is the worst.
        """
        layout = lay_out(self.scenario, self.strategy(*plan), self.without, self.grafts, self.known_trees)
        cash, hired = farm_cash(layout, futures, stray_of(layout, futures), slice(None))
        side = layout.cash
        flow = cash + side.other_income - side.money_out + side.loan_payout - side.loan_fee
        balance = balance_by_month(side.savings, flow)
        lowest, owes = balance.min(axis=1), side.debt_service > 0
        due = balance[:, owes].min(axis=1, initial=np.inf)
        asked = np.minimum(lowest, due - raised)
        if rest is None:
            worst = np.argsort(asked)[: tenth_of(len(asked))]
        else:
            worst = rest[np.argsort(asked[rest])[: max(1, round(len(asked) * FEW))]]
        return Seen(
            futures=futures,
            lowest=lowest,
            due=due,
            raised=raised,
            mean=float(asked[worst].mean()),
            rows=worst,
            month=(balance[worst] - raised * owes).argmin(axis=1),
            hired=hired[worst] > 0,
            tools=layout.flows.with_plan.tools,
        )

    def _learn(self, lines: "Lines", plan: Trees, seen: Seen) -> None:
        """Add the line that touches the mean of the worst at this plan; the expected run's has no slack."""
        line, constant = self._line(plan, seen)
        calm = lines is self.calm
        line[self.model.slack["floor"]] = 0.0 if calm else 1.0
        due = 0.0 if calm or plan[1] == 0 else float(self.owes[seen.month].mean())
        if lines is self.tail:
            self.learned.append((plan, seen))
        lines.rows.append(line)
        lines.due.append(due)
        lines.limits.append(
            ((self.problem.floor if calm else self.floor) - constant - due * seen.raised) / self.model.scale
        )

    def _line(self, plan: Trees, seen: Seen) -> tuple[FloatArray, float]:
        """The line that touches the mean of the worst at this plan, as a row and a constant: no mean lies above it."""
        trees, loan = plan
        months, scale = self.problem.months, self.model.scale
        until = np.arange(months) <= seen.month[:, None]
        slope = self._slopes(seen, until)
        inputs = np.repeat(seen.futures.inputs[seen.rows], 12, axis=1)
        dearer = (until * inputs).mean(axis=0)  # what a unit of money for tools takes off, by month of purchase
        lent = np.zeros(months) if self.problem.loan_unit is None else np.cumsum(self.problem.loan_unit)
        lends = float(lent[seen.month].mean())
        line = np.zeros(self.model.program.gain.size)
        line[self.model.trees] = slope / scale
        line[self.model.bought] = -self.tools.price * dearer[self.tools.month] / scale
        if self.model.loan is not None:
            line[self.model.loan] = lends
        return line, seen.mean + float(dearer @ seen.tools) - float(slope @ trees) - lends * loan

    def _slopes(self, seen: Seen, until: BoolArray) -> FloatArray:
        """What one more tree of each candidate adds to the mean of the worst, (n,).

        Its cash up to each lowest month, hands hired where hands are hired: a weight for each unit of sales, kg, days
        and supplies in each future and month.
        """
        factors = (seen.futures.price, seen.futures.crop, seen.futures.inputs, seen.futures.wage)
        price, crop, inputs, wage = (np.repeat(one[seen.rows], 12, axis=1) for one in factors)
        market = self.scenario.market
        paid = wage * self.problem.wage * seen.hired
        kg = (price - 1) * crop * market.deductions_per_kg - paid * (crop - 1) * market.harvest_days_per_kg
        each = [part * until for part in (price * crop, kg, -paid, -inputs)]
        weights = np.concatenate(each if self.trees.parts.shape[1] == 4 * until.shape[1] else [*each, until], axis=1)
        slopes: FloatArray = self.trees.parts @ weights.mean(axis=0) + self.trees.other @ until.mean(axis=0)
        stray = self.trees.stray_in(seen.futures)
        moved = product(np.ascontiguousarray(stray[seen.rows].T), weights) / len(weights)
        first = 0
        for places, outcomes, _ in self.trees.kinds:
            after = first + outcomes.shape[1]
            slopes[places] += outcomes.reshape(len(places), -1) @ moved[first:after].ravel()
            first = after
        return slopes

    def _one_tree(self, candidate: int) -> Layout:
        """A farm on which one tree of a candidate is treated."""
        trees = np.zeros(len(self.problem.candidates), dtype=np.int64)
        trees[candidate] = 1
        layout = lay_out(self.scenario, replace(self.strategy(trees, 0.0), loans=()), self.without, self.grafts)
        return replace(layout, outcomes=tuple(outcome for outcome in layout.outcomes if not outcome.begun))
