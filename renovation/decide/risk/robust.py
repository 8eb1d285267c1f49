"""A plan that stands up: the money in hand stays at the floor in at least nine futures of ten (method §§8, 9).

The promise P(lowest balance ≥ floor) ≥ 90 % is judged on a sample of futures, but it is not convex and cannot be
planned against outright. What is planned against is the mean of the lowest balances of the worst tenth of futures, its
conditional value at risk (Rockafellar & Uryasev 2000): where that mean is at a level, nine futures in ten are above it.
A balance is a concave function of the trees and the loan (hired days are max(0, days − family days)), so each plan
whose mean is too low gives a straight line above that mean: one row that every plan with a high enough mean satisfies
(Künzi-Bay & Mayer 2006). The planner's programme grows by such rows until its best plan has the mean asked for; the
objective stays the worth on expected figures. The mean asked for is then lowered by halving, as far as the promise
itself still holds on the sample with a margin for its size: no more caution is bought than was promised.

Where the mean can be brought to the floor by no plan, the highest level that it can be brought to is promised instead,
and the plan says so.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from renovation.decide.plan.model import Model, formulate, minimising, tool_columns
from renovation.decide.plan.plan import Plan, make_plan
from renovation.decide.plan.problem import PlanProblem, offered_loan
from renovation.decide.plan.program import Program, solve_program
from renovation.decide.risk.answers import Answers, Estimate, chance_of, judged_on
from renovation.decide.risk.futures import Futures, draw_futures
from renovation.decide.risk.judge import farm_cash, stray_of, strayed
from renovation.decide.risk.strategy import LEAVE, Layout, Strategy, lay_out
from renovation.inputs import Scenario, Treatment, month_count, year_month
from renovation.inputs.planning import Planning
from renovation.money import balance as balance_by_month

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

SHARE = 0.9
TRAINING, FRESH = 512, 4096
RELAXED_ROUNDS, WHOLE_ROUNDS = 12, 20
"""Rows are learned without wholeness first, which takes a hundredth of the time, and then with it."""
HALVINGS = 5
LEVEL_GAP = 0.01
"""How near the highest level that can be promised is looked for, as a share of its distance from the floor."""
CLOSE = 1e-3
"""How near a level counts as reached, as a share of the spread of lowest balances."""
EXPECTED, ROBUST = "expected_plan", "robust_plan"


@dataclass(frozen=True, eq=False)
class RobustPlan:
    """The plan that stands up beside the plan made on expected figures, both judged on futures neither has seen.

    level: the balance that is promised: the floor, or the highest that could be reached. at_floor: whether it is the
    floor. expected: the plan on expected figures. answers: of both plans and of leaving the farm, on fresh
    futures. kept: chance that the balance never falls below `level`, by strategy. rounds: plans tried. settled:
    whether the promise is kept on the futures that were planned on.
    """

    scenario: Scenario
    level: float
    at_floor: bool
    expected: Plan
    robust: Strategy
    answers: dict[str, Answers]
    kept: dict[str, Estimate]
    rounds: int
    settled: bool

    @property
    def holds(self) -> bool:
        """Whether the promise holds on fresh futures, within sampling error."""
        found = self.kept[ROBUST]
        return found.value + found.error >= SHARE

    @property
    def cost(self) -> float:
        """What standing up costs: expected NPV of the expected plan less that of the robust one."""
        return self.answers[EXPECTED].expected_npv - self.answers[ROBUST].expected_npv

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`."""
        return {
            "promise": {"share": SHARE, "level": self.level, "at_floor": self.at_floor},
            "settled": self.settled,
            "rounds": self.rounds,
            "holds": self.holds,
            "cost": self.cost,
            "kept": {key: found.as_dict() for key, found in self.kept.items()},
            "answers": [answer.as_dict() for answer in self.answers.values()],
        }


def robust_plan(
    scenario: Scenario,
    planning: Planning,
    *,
    training: int = TRAINING,
    fresh: int = FRESH,
    on_round: Callable[[int], None] | None = None,
) -> RobustPlan:
    """Plan for nine futures of ten, and judge the plan beside the expected one on fresh futures.

    training, fresh: numbers of futures to plan on and to judge on, from different seeds. Raises as
    `make_plan` and `draw_futures` do.
    """
    years, seed = scenario.appraisal.horizon_years, scenario.risk.seed
    expected = make_plan(scenario, planning)
    search = _Search(expected, draw_futures(scenario.risk, years, training, seed + 1), on_round)
    made_trees = np.rint(expected.account.trees).astype(np.int64)
    trees, loan = search.run((made_trees, expected.account.loan))
    robust = search.strategy(trees, loan)
    judged = draw_futures(scenario.risk, years, fresh, seed + 2)
    made = Strategy(EXPECTED, expected.treatments, (expected.loan,) if expected.loan else ())
    answers = {s.key: judged_on(lay_out(scenario, s), judged) for s in (Strategy(LEAVE), made, robust)}
    kept = {
        key: chance_of(answer.deepests >= search.level - search.close, judged.replicates)
        for key, answer in answers.items()
    }
    return RobustPlan(
        scenario,
        search.level,
        search.level >= scenario.household.floor,
        expected,
        robust,
        answers,
        kept,
        search.rounds,
        search.settled,
    )


@dataclass(frozen=True, eq=False)
class _Seen:
    """A plan on the training futures: lowest balances, the mean of their worst tenth, and which those are.

    lowest: (K,). level: the mean. rows: (m,) futures of the worst tenth. month: (m,) month of each lowest balance.
    hired: (m, T) whether hands are hired.
    """

    layout: Layout
    lowest: FloatArray
    level: float
    rows: IntArray
    month: IntArray
    hired: npt.NDArray[np.bool_]


class _Search:
    """The planner's programme with rows added until its best plan keeps the promise."""

    def __init__(self, expected: Plan, futures: Futures, on_round: Callable[[int], None] | None) -> None:
        self.problem: PlanProblem = expected.problem
        self.scenario = expected.problem.scenario
        self.futures, self.on_round = futures, on_round
        self.model: Model = formulate(self.problem, [], ease=("floor",))
        self.tools = tool_columns(self.problem.tools)  # the same call that the programme's columns come from
        self.trees = [self._one_tree(i) for i in range(len(self.problem.candidates))]
        self.lines: list[FloatArray] = []
        self.limits: list[float] = []
        self.rounds, self.settled = 0, True
        self.level = self.scenario.household.floor
        self.close = 0.0
        first = self._see(np.zeros(len(self.trees), dtype=np.int64), 0.0)
        self.close = CLOSE * float(np.ptp(first.lowest))
        self._learn(first, np.zeros(len(self.trees), dtype=np.int64), 0.0)

    def run(self, start: tuple[IntArray, float]) -> tuple[IntArray, float]:
        """Find the level that can be promised, then the plan worth most that keeps it in enough futures.

        start: the plan on expected figures, which is worth most of all; where it keeps the promise it is the answer.
        """
        short, safest = self._least_shortfall(start)
        if short > self.close:
            self.level -= short
        seen = self._see(*start)
        if self._kept(seen):
            return start
        low, high = min(seen.level, self.level), self.level
        best = self._worth_most(high) or safest
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            found = self._worth_most(middle)
            if found is not None and self._kept(self._see(*found)):
                best, high = found, middle
            else:
                low = middle
        self.settled = self._kept(self._see(*best))
        return best

    def _kept(self, seen: _Seen) -> bool:
        """Whether enough of the training futures keep the level: 90 %, and 1.645 standard errors of that share."""
        margin = 1.645 * np.sqrt(SHARE * (1 - SHARE) / self.futures.number)
        return bool((seen.lowest >= self.level - self.close).mean() >= SHARE + margin)

    def _worth_most(self, asked: float) -> tuple[IntArray, float] | None:
        """The plan worth most whose worst tenth has the mean asked for; None where the rounds run out."""
        upper = self.model.program.upper.copy()
        upper[self.model.slack["floor"]] = max(0.0, self.scenario.household.floor - asked) / self.model.scale
        for program, rounds in self._stages(replace(self.model.program, upper=upper)):
            for _ in range(rounds):
                trees, loan = self._read(self._point(program))
                seen = self._see(trees, loan)
                if seen.level >= asked - self.close:
                    break
                self._learn(seen, trees, loan)
            else:
                if program.whole.any():
                    return None
        return trees, loan

    def _stages(self, program: Program) -> tuple[tuple[Program, int], tuple[Program, int]]:
        """The programme without wholeness and with it, and the most rounds of each."""
        relaxed = replace(program, whole=np.zeros_like(program.whole))
        return (relaxed, RELAXED_ROUNDS), (program, WHOLE_ROUNDS)

    def _least_shortfall(self, start: tuple[IntArray, float]) -> tuple[float, tuple[IntArray, float]]:
        """The least by which the worst tenth must stay below the floor, as near as was found, and that plan."""
        best, kept = max(0.0, self.level - self._see(*start).level), start
        for program, rounds in self._stages(minimising(self.model, "floor")):
            for _ in range(rounds):
                if best <= self.close:
                    return best, kept
                point = self._point(program, LEVEL_GAP)
                trees, loan = self._read(point)
                seen = self._see(trees, loan)
                short = max(0.0, self.level - seen.level)
                if short < best:
                    best, kept = short, (trees, loan)
                least = point[self.model.slack["floor"]] * self.model.scale
                if best <= (1 + LEVEL_GAP) * least + self.close:
                    break
                self._learn(seen, trees, loan)
        return best, kept

    def _point(self, program: Program, gap: float | None = None) -> FloatArray:
        """Solve with the rows learned so far."""
        self.rounds += 1
        if self.on_round is not None:
            self.on_round(self.rounds)
        rows = np.array(self.lines)
        grown = program.with_rows(rows, np.array(self.limits), np.full(len(rows), np.inf))
        planning = self.problem.planning
        answer = solve_program(grown, planning.gap if gap is None else gap, planning.time_limit_seconds)
        if answer.point is None:
            raise RuntimeError(f"the solver found no plan: {answer.status}")
        return answer.point

    def _read(self, point: FloatArray) -> tuple[IntArray, float]:
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
        return Strategy(ROBUST, treatments, taken)

    def _see(self, trees: IntArray, loan: float) -> _Seen:
        """Work a plan out on every training future."""
        layout = lay_out(self.scenario, self.strategy(trees, loan))
        cash, hired = farm_cash(layout, self.futures, stray_of(layout, self.futures), slice(None))
        side = layout.cash
        flow = cash + side.other_income - side.money_out + side.loan_payout - side.loan_fee
        balance = balance_by_month(side.savings, flow)
        lowest = balance.min(axis=1)
        worst = np.argsort(lowest)[: max(1, round(len(lowest) * (1 - SHARE)))]
        return _Seen(
            layout=layout,
            lowest=lowest,
            level=float(lowest[worst].mean()),
            rows=worst,
            month=balance[worst].argmin(axis=1),
            hired=hired[worst] > 0,
        )

    def _learn(self, seen: _Seen, trees: IntArray, loan: float) -> None:
        """Add the line that touches the mean of the worst tenth at this plan: no plan's mean lies above it."""
        months = self.problem.months
        until = np.arange(months) <= seen.month[:, None]
        wage = np.repeat(self.futures.wage[seen.rows], 12, axis=1) * self.problem.wage
        slope = np.array([self._slope(one, seen, until, wage) for one in self.trees])
        inputs = np.repeat(self.futures.inputs[seen.rows], 12, axis=1)
        dearer = (until * inputs).mean(axis=0)  # what a unit of money for tools takes off, by month of purchase
        lent = np.zeros(months) if self.problem.loan_unit is None else np.cumsum(self.problem.loan_unit)
        lends = float(lent[seen.month].mean())
        tools = float(dearer @ seen.layout.flows.with_plan.tools)
        constant = seen.level + tools - float(slope @ trees) - lends * loan
        line = np.zeros(self.model.program.gain.size)
        scale = self.model.scale
        line[self.model.trees] = slope / scale
        line[self.model.bought] = -self.tools.price * dearer[self.tools.month] / scale
        if self.model.loan is not None:
            line[self.model.loan] = lends
        line[self.model.slack["floor"]] = 1.0
        self.lines.append(line)
        self.limits.append((self.scenario.household.floor - constant) / scale)

    def _one_tree(self, candidate: int) -> Layout:
        """A farm on which one tree of a candidate is treated."""
        trees = np.zeros(len(self.problem.candidates), dtype=np.int64)
        trees[candidate] = 1
        return lay_out(self.scenario, replace(self.strategy(trees, 0.0), loans=()))

    def _slope(self, one: Layout, seen: _Seen, until: npt.NDArray[np.bool_], wage: FloatArray) -> float:
        """What one more tree adds to the mean of the worst tenth: its cash up to each lowest month, hands hired."""
        some = self.futures.part(seen.rows)
        sales, kg, days, materials = strayed(one.change_by_month, one.outcomes_by_month, stray_of(one, some))
        market = self.scenario.market
        price, crop, inputs = (np.repeat(values, 12, axis=1) for values in (some.price, some.crop, some.inputs))
        cash = sales * price * crop + (price - 1) * crop * market.deductions_per_kg * kg - inputs * materials
        cash += one.flows.with_plan.other_income - one.flows.without.other_income
        cash -= wage * seen.hired * (days + (crop - 1) * market.harvest_days_per_kg * kg)
        return float((cash * until).sum(axis=1).mean())
