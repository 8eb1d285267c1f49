"""The search for a careful plan: the planner's programme, with rows added until its best plan keeps the promise.

The promise P(lowest balance ≥ floor) ≥ 90 % is judged on a sample of futures, but it is not convex and cannot be
planned against outright. What is planned against is the mean of the lowest balances of the worst tenth of futures, its
conditional value at risk (Rockafellar & Uryasev 2000): where that mean is at a level, nine futures in ten are above it.
A balance is a concave function of the trees, the tools bought and the loan (hired days are max(0, days − family days)),
but for the cents to which instalments are rounded. So each plan whose mean is too low gives a straight line above that
mean: one row that every plan with a high enough mean satisfies (Künzi-Bay & Mayer 2006). As in any plan no interest on
savings is counted on: with it a balance would be concave no more. The planner's programme grows by such rows; its
objective stays the worth on expected figures, and the expected run keeps the floor as in any plan. How high a mean to
ask for is found by halving: the lowest at which the promise itself holds on the sample, with a
margin for its size. No more caution is bought than was promised.

Where no such plan is found, the futures that the best plan breaks are given up and the worst of the rest are planned
against. If that fails too, the plan keeps the smallest breach that was found, and says so beside a bound that is
proven: a level above which no plan that keeps its promises as expected brings the mean of the worst tenth.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from renovation.decide.plan.clock import Cancel
from renovation.decide.plan.exact import account, tolerance
from renovation.decide.plan.plan import Plan
from renovation.decide.plan.question import PlanProblem, offered_loan
from renovation.decide.plan.rows import Model, formulate, minimising
from renovation.decide.plan.solver import Answer, Program, solve_program
from renovation.decide.plan.tools import tool_columns
from renovation.decide.risk.futures import Futures, as_expected
from renovation.decide.risk.judge import farm_cash, stray_of
from renovation.decide.risk.strategy import CAREFUL, Layout, Strategy, lay_out
from renovation.farm import farm_left_alone
from renovation.inputs import Treatment, month_count, year_month
from renovation.money import balance as balance_by_month
from renovation.types import BoolArray, FloatArray, IntArray

Trees = tuple[IntArray, float]
"""A plan as the search holds it: trees of each candidate, and the loan."""

SHARE = 0.9
RELAXED_ROUNDS, WHOLE_ROUNDS = 15, 15
"""Rows are learned without wholeness first, which takes a hundredth of the time, and then with it."""
HALVINGS = 5
ROUGH_GAP = 0.002
"""Gap to which plans are proven while the mean to ask for is sought."""
LEVEL_GAP = 0.01
"""How near the highest mean of the worst tenth is looked for, as a share of its distance from the floor."""
CLOSE = 1e-3
"""How near a level counts as reached, as a share of the spread of lowest balances."""
TRIMMINGS, TRIMMED_ROUNDS, FEW = 3, 8, 0.01
"""Where the floor is out of reach: how often futures are given up, plans tried each time, and the share looked at."""


@dataclass(frozen=True, eq=False)
class _Seen:
    """A plan on some futures: its lowest balances, the mean of the worst of them, and which those are.

    lowest: (K,). mean: of the m worst. rows: (m,) those futures. month: (m,) month of each one's lowest balance.
    hired: (m, T) whether hands are hired. tools: (T,) money for tools.
    """

    futures: Futures
    lowest: FloatArray
    mean: float
    rows: IntArray
    month: IntArray
    hired: BoolArray
    tools: FloatArray


@dataclass(frozen=True, eq=False)
class _OneTrees:
    """What one tree of each candidate adds to the farm, by month: the slopes of every balance.

    parts: (n, 4·T) sales, kg, days, supplies as expected. other: (n, T) other income. kinds: candidates that share
    attempts and seasons, their outcomes (c, J, 4·T) and a layout that has them.
    """

    parts: FloatArray
    other: FloatArray
    kinds: tuple[tuple[IntArray, FloatArray, Layout], ...]

    @classmethod
    def of(cls, layouts: list[Layout], months: int) -> "_OneTrees":
        """Gather the layouts of farms on which one tree is treated; there may be none."""
        changes = [one.change_by_month.side_by_side() for one in layouts]
        other = [one.flows.with_plan.other_income - one.flows.without.other_income for one in layouts]
        alike: dict[Any, list[int]] = {}
        for place, one in enumerate(layouts):
            if one.outcomes:
                alike.setdefault((one.outcomes[0].takes, one.outcomes[0].seasons), []).append(place)
        return cls(
            np.array(changes).reshape(len(layouts), 4 * months),
            np.array(other).reshape(len(layouts), months),
            tuple(
                (np.array(places), np.array([layouts[i].outcomes_by_month for i in places]), layouts[places[0]])
                for places in alike.values()
            ),
        )


@dataclass(frozen=True, eq=False)
class _Lines:
    """Rows that have been learned, one by one: row · v ≥ limit."""

    rows: list[FloatArray]
    limits: list[float]


class CarefulSearch:
    """The planner's programme with rows added until its best plan keeps the promise."""

    def __init__(
        self, expected: Plan, futures: Futures, on_round: Callable[[int], None] | None, cancel: Cancel | None
    ) -> None:
        """Begin from the plan on expected figures and the futures to plan on."""
        self.problem: PlanProblem = expected.problem
        self.scenario = expected.problem.scenario
        self.futures, self.sure = futures, as_expected(futures.years)
        self.on_round, self.cancel = on_round, cancel
        self.model: Model = formulate(self.problem, [], ease=("floor",))
        self.tools = tool_columns(self.problem.tools)  # the same call that the programme's columns come from
        self.without = farm_left_alone(self.scenario)
        one_trees = [self._one_tree(i) for i in range(len(self.problem.candidates))]
        self.trees = _OneTrees.of(one_trees, self.problem.months)
        self.tail, self.calm = _Lines([], []), _Lines([], [])
        self.tried: list[_Tried] = []
        self.rounds, self.stopped = 0, False
        self.level = self.floor = self.scenario.household.floor
        self.bound: float | None = None
        offer = self.problem.planning.loan
        # half a unit, and what rounding the payouts and each instalment may add to it
        self.cents = tolerance(self.problem) * (1 + (len(offer.payouts) + offer.term_months if offer else 0))
        self.nothing: Trees = (np.zeros(len(self.problem.candidates), dtype=np.int64), 0.0)
        self.close = max(self.cents, CLOSE * float(np.ptp(self._see(self.nothing, futures).lowest)))
        self.start: Trees = (np.rint(expected.account.trees).astype(np.int64), expected.account.loan)
        for plan in (self.nothing, self.start):
            self._learn(self.tail, plan, self._see(plan, futures))
            self._learn(self.calm, plan, self._see(plan, self.sure))

    def run(self) -> Trees:
        """Find the level that can be promised, then the plan worth most that keeps it in enough futures.

        The plan on expected figures is worth most of all; where it keeps the promise it is the answer.
        """
        start = self._try(self.start, self._see(self.start, self.futures))
        if self._keeps(start):
            return start.plan
        if not (self._seek_safest() or self._leaving_it_does() or self._seek_smallest_breach()):
            self.level = min(self.floor, max(tried.level for tried in self.tried))
        keeping = [tried for tried in self.tried if self._keeps(tried)]
        if self.level == self.floor or self.scenario.household.savings_rate > 0:
            self.bound = None
        low, high = start.mean, max(tried.mean for tried in keeping)
        for _ in range(HALVINGS if start not in keeping else 0):
            middle = (low + high) / 2
            found = self._worth_most(middle, ROUGH_GAP)
            if found is not None and self._keeps(found):
                high = middle
            else:
                low = middle
        if start not in keeping:
            self._worth_most(high, self.problem.planning.gap)
        return max((tried for tried in self.tried if self._keeps(tried)), key=lambda tried: tried.worth).plan

    # What the promise asks

    def _keeps(self, tried: "_Tried") -> bool:
        """Whether enough of the training futures keep the level."""
        return tried.level >= self.level - self.close

    def _try(self, plan: Trees, seen: _Seen) -> "_Tried":
        """Keep a whole plan in mind: the level kept in 90 % of futures and 1.645 standard errors of that share more."""
        level = float(np.sort(seen.lowest)[self._may_fail()])
        self.tried.append(_Tried(plan, seen.mean, level, account(self.problem, *plan).worth))
        return self.tried[-1]

    def _may_fail(self) -> int:
        """How many of the training futures may break the promise."""
        number = self.futures.number
        share = SHARE + 1.645 * np.sqrt(SHARE * (1 - SHARE) / number)
        return number - int(np.ceil(share * number))

    # The search

    def _seek_safest(self) -> bool:
        """Seek the plan with the highest mean of the worst tenth, up to the floor; whether one keeps the promise.

        Without wholeness first, for the rows; what it finds is no plan.
        """
        aim = minimising(self.model, "floor")
        for _ in self._rounds(replace(aim, whole=np.zeros_like(aim.whole)), RELAXED_ROUNDS, LEVEL_GAP):
            pass
        highest = max(tried.mean for tried in self.tried)
        for answer, plan, seen in self._rounds(aim, WHOLE_ROUNDS, LEVEL_GAP):
            tried = self._try(plan, seen)
            if self._keeps(tried):
                return True
            highest = max(highest, tried.mean)
            bound = self.floor + (0.0 if answer.bound is None else answer.bound) * self.model.scale
            if bound < self.floor:  # at the floor it says nothing: no higher mean was looked for
                self.bound = bound if self.bound is None else min(self.bound, bound)
            proven = self.floor if self.bound is None else self.bound
            if highest >= proven - LEVEL_GAP * (self.floor - proven) - self.close:
                break
        return False

    def _leaving_it_does(self) -> bool:
        """Leave the farm as it is, where that breaks no promise; whether it keeps the floor in enough futures."""
        allowed = account(self.problem, *self.nothing).keeps_promises
        return allowed and self._keeps(self._try(self.nothing, self._see(self.nothing, self.futures)))

    def _seek_smallest_breach(self) -> bool:
        """Give up the futures that break the best plan so far, and seek the plan that is best in the worst of the rest.

        Again with the futures that break that one, until none is better; whether one keeps the promise. What the mean
        of the worst tenth asks of futures that may fail anyway is thereby no longer asked.
        """
        aim = minimising(self.model, "floor")
        best = max(self.tried, key=lambda tried: tried.level)
        for _ in range(TRIMMINGS):
            lowest = self._see(best.plan, self.futures).lowest
            rest = np.sort(np.argsort(lowest)[self._may_fail() :])
            lines = _Lines([], [])
            self._learn(lines, best.plan, self._see(best.plan, self.futures, rest))
            for _, plan, seen in self._rounds(aim, TRIMMED_ROUNDS, LEVEL_GAP, lines, rest):
                if self._keeps(self._try(plan, seen)):
                    return True
            better = max(self.tried, key=lambda tried: tried.level)
            if better.level <= best.level + self.close:
                break
            best = better
        return False

    def _worth_most(self, asked: float, gap: float) -> "_Tried | None":
        """The plan worth most whose worst tenth has the mean asked for; None where the rounds run out.

        A plan on the way to it that keeps the promise is worth more still, and will do.
        """
        upper = self.model.program.upper.copy()
        upper[self.model.slack["floor"]] = max(0.0, self.floor - asked) / self.model.scale
        for _, plan, seen in self._rounds(replace(self.model.program, upper=upper), WHOLE_ROUNDS, gap):
            tried = self._try(plan, seen)
            if tried.mean >= asked - self.close or self._keeps(tried):
                return tried
        return None

    def _rounds(
        self, program: Program, number: int, gap: float, lines: "_Lines | None" = None, rest: IntArray | None = None
    ) -> Iterator[tuple[Answer, Trees, _Seen]]:
        """Solve, give the plan, and learn its rows if another is asked for.

        lines: of the mean of the worst tenth where None; else of the worst of `rest`. A plan that breaks the floor in
        the expected run is not given, but learned from. One that comes again ends the rounds: its rows are there, and
        no other would come.
        """
        lines = self.tail if lines is None else lines
        known: set[tuple[bytes, float]] = set()
        for _ in range(number):
            if self.cancel is not None and self.cancel():
                self.stopped = True
                return
            self.rounds += 1
            if self.on_round is not None:
                self.on_round(self.rounds)
            rows, limits = np.array(lines.rows + self.calm.rows), np.array(lines.limits + self.calm.limits)
            grown = program.with_rows(rows, limits, np.full(len(rows), np.inf))
            answer = solve_program(grown, gap, self.problem.planning.time_limit_seconds)
            if answer.point is None:
                return
            plan = self._read(answer.point)
            name = plan[0].tobytes(), plan[1]
            if name in known:
                return
            known.add(name)
            seen, calm = self._see(plan, self.futures), self._see(plan, self.sure)
            if calm.mean >= self.problem.floor - 2 * tolerance(self.problem):
                yield answer, plan, seen
            self._learn(lines, plan, seen if rest is None else self._see(plan, self.futures, rest))
            self._learn(self.calm, plan, calm)

    def _read(self, point: FloatArray) -> Trees:
        """Trees of each candidate and the loan, in whole units."""
        trees = np.floor(point[self.model.trees] + 1e-6).astype(np.int64)
        if self.model.loan is None:
            return trees, 0.0
        unit = self.problem.money_unit
        return trees, float(np.rint(point[self.model.loan] * self.model.scale / unit) * unit)

    def strategy(self, trees: IntArray, loan: float) -> Strategy:
        """A plan as a strategy."""
        first = month_count(self.scenario.appraisal.start)
        chosen = sorted(zip(self.problem.candidates, trees, strict=True), key=lambda one: one[0].start)
        treatments = tuple(
            Treatment(
                stand=self.scenario.stands[c.stand].name,
                technique=c.technique,
                trees=int(number),
                start=year_month(first + c.start),
            )
            for c, number in chosen
            if number
        )
        offer = self.problem.planning.loan
        taken = (offered_loan(offer, loan),) if offer and loan >= self.problem.money_unit / 2 else ()
        return Strategy(CAREFUL, treatments, taken)

    # Plans on futures

    def _see(self, plan: Trees, futures: Futures, rest: IntArray | None = None) -> _Seen:
        """Work a plan out on some futures, the worst tenth looked at, or the worst few of the rest.

        rest: futures that have not been given up. Of a single future that one is the worst.
        """
        layout = lay_out(self.scenario, self.strategy(*plan), self.without)
        cash, hired = farm_cash(layout, futures, stray_of(layout, futures), slice(None))
        side = layout.cash
        flow = cash + side.other_income - side.money_out + side.loan_payout - side.loan_fee
        balance = balance_by_month(side.savings, flow)
        lowest = balance.min(axis=1)
        if rest is None:
            worst = np.argsort(lowest)[: max(1, round(len(lowest) * (1 - SHARE)))]
        else:
            worst = rest[np.argsort(lowest[rest])[: max(1, round(len(lowest) * FEW))]]
        return _Seen(
            futures=futures,
            lowest=lowest,
            mean=float(lowest[worst].mean()),
            rows=worst,
            month=balance[worst].argmin(axis=1),
            hired=hired[worst] > 0,
            tools=layout.flows.with_plan.tools,
        )

    def _learn(self, lines: "_Lines", plan: Trees, seen: _Seen) -> None:
        """Add the line that touches the mean of the worst at this plan; the expected run's has no slack."""
        line, constant = self._line(plan, seen)
        calm = lines is self.calm
        line[self.model.slack["floor"]] = 0.0 if calm else 1.0
        lines.rows.append(line)
        lines.limits.append(((self.problem.floor if calm else self.floor) - constant) / self.model.scale)

    def _line(self, plan: Trees, seen: _Seen) -> tuple[FloatArray, float]:
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

    def _slopes(self, seen: _Seen, until: BoolArray) -> FloatArray:
        """What one more tree of each candidate adds to the mean of the worst, (n,).

        Its cash up to each lowest month, hands hired where hands are hired: a weight for each unit of sales, kg, days
        and supplies in each future and month.
        """
        factors = (seen.futures.price, seen.futures.crop, seen.futures.inputs, seen.futures.wage)
        price, crop, inputs, wage = (np.repeat(one[seen.rows], 12, axis=1) for one in factors)
        market = self.scenario.market
        paid = wage * self.problem.wage * seen.hired
        kg = (price - 1) * crop * market.deductions_per_kg - paid * (crop - 1) * market.harvest_days_per_kg
        weights = np.concatenate([part * until for part in (price * crop, kg, -paid, -inputs)], axis=1)
        slopes: FloatArray = self.trees.parts @ weights.mean(axis=0) + self.trees.other @ until.mean(axis=0)
        for places, outcomes, layout in self.trees.kinds:
            stray = stray_of(layout, seen.futures)
            if stray is not None:
                moved = stray[seen.rows].T @ weights / len(weights)
                slopes[places] += (outcomes * moved).sum(axis=(1, 2))
        return slopes

    def _one_tree(self, candidate: int) -> Layout:
        """A farm on which one tree of a candidate is treated."""
        trees = np.zeros(len(self.problem.candidates), dtype=np.int64)
        trees[candidate] = 1
        return lay_out(self.scenario, replace(self.strategy(trees, 0.0), loans=()), self.without)


@dataclass(frozen=True, eq=False)
class _Tried:
    """A whole plan that was tried: its mean of the worst tenth, the level it keeps, and its worth."""

    plan: Trees
    mean: float
    level: float
    worth: float
