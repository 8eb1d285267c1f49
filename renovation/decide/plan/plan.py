"""The result: a solution read back as a plan that people can follow, and its replay through the farm model.

`make_plan` is the whole of build, solve and read back. Every figure of a plan comes from its exact account;
`replay` works the same plan out a second time, month by month through `farm_flows`, and compares.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from renovation.decide.plan.clock import Cancel, Clock, SolverFailed
from renovation.decide.plan.columns import LeftOut
from renovation.decide.plan.ease import Impossible, OutOfReach, ease
from renovation.decide.plan.exact import Account, Breach, account, best_loan, tolerance
from renovation.decide.plan.question import Eased, PlanProblem, build, offered_loan
from renovation.decide.plan.search import Ended, Solution, solve
from renovation.farm import FarmFlows, farm_flows
from renovation.inputs import Loan, Scenario, Treatment, month_count, year_month
from renovation.inputs.planning import Planning
from renovation.types import FloatArray, IntArray

if TYPE_CHECKING:
    import pandas as pd

Standing = Literal["best", "within_gap", "unproven"]


@dataclass(frozen=True)
class Start:
    """Trees of one stand to be started with one technique in one month of a planning year (from 1)."""

    stand: str
    technique: str
    year: int
    month: str
    project_month: int
    trees: int

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "stand": self.stand,
            "technique": self.technique,
            "year": self.year,
            "start": self.month,
            "project_month": self.project_month,
            "trees": self.trees,
        }


@dataclass(frozen=True, eq=False)
class Plan:
    """How many trees of which stand, by which way, in which month; and what is known about how good that is.

    problem: what was solved, eased where no plan keeps every promise. solution: the exact account, the status, and the
    bound that no plan passes, each apart. nothing: the farm as it is, without a loan. impossible: why promises had
    to be eased; None where they did not.
    """

    problem: PlanProblem
    solution: Solution
    nothing: Account
    impossible: Impossible | None

    @property
    def scenario(self) -> Scenario:
        """The scenario that the plan was made for, learned takes included."""
        return self.problem.scenario

    @property
    def account(self) -> Account:
        """The plan worked out month by month."""
        return self.solution.account

    @property
    def npv(self) -> float:
        """What the plan is worth beside the farm as it is: `Account.npv`, the number called worth everywhere (§5)."""
        return self.account.npv

    @property
    def aim(self) -> float:
        """What plans are chosen by, the objective of §8: `Account.aim`. Bound and gap are of it, not of the NPV."""
        return self.account.aim

    @property
    def aim_gain(self) -> float:
        """By how much the aim is above that of doing nothing."""
        return self.account.aim - self.nothing.aim

    @property
    def at_most_better(self) -> float | None:
        """Money by which the aim of another plan could at most be better; None where unknown."""
        return None if self.solution.bound is None else self.solution.bound - self.account.aim

    @property
    def standing(self) -> Standing:
        """How good the plan is proven to be: "best" to the smallest unit, "within_gap", or "unproven"."""
        if self.solution.status != "proven":
            return "unproven"
        return "best" if (self.at_most_better or 0.0) <= tolerance(self.problem) else "within_gap"

    @cached_property
    def starts(self) -> tuple[Start, ...]:
        """What is started, in the order of time; only numbers above 0."""
        first, plots = month_count(self.scenario.appraisal.start), self.scenario.plots
        found = [
            Start(
                plots[c.stand].name,
                c.technique,
                c.year,
                year_month(first + c.start),
                c.start,
                int(trees),
            )
            for c, trees in zip(self.problem.candidates, self.account.trees, strict=True)
            if trees
        ]
        return tuple(sorted(found, key=lambda s: s.project_month))

    @property
    def treatments(self) -> tuple[Treatment, ...]:
        """The plan as a scenario states it."""
        return tuple(Treatment(stand=s.stand, technique=s.technique, trees=s.trees, start=s.month) for s in self.starts)

    @property
    def trees(self) -> int:
        """Trees started in all."""
        return int(self.account.trees.sum())

    @cached_property
    def loan(self) -> Loan | None:
        """The contract for the amount taken; None where none is."""
        offer, amount = self.problem.planning.loan, self.account.loan
        if offer is None or amount < self.problem.money_unit / 2:
            return None
        return offered_loan(offer, amount)

    @property
    def left_out(self) -> tuple[LeftOut, ...]:
        """Months of a planning year in which a technique has no start, and why."""
        return self.problem.left_out

    @property
    def breaches(self) -> tuple[Breach, ...]:
        """Promises, eased ones as eased, that the plan breaks: none unless the search was stopped early."""
        return self.account.breaches

    @cached_property
    def broken(self) -> tuple[Breach, ...]:
        """Promises as they were stated that the plan breaks, however far they were eased; none of a plan that may be
        called the answer."""
        return replace(self.account, problem=replace(self.problem, eased=Eased())).breaches

    @cached_property
    def deepest_month(self) -> int:
        """First project month of the lowest balance."""
        return int(np.argmin(self.account.balance))

    def trees_in(self, year: int) -> int:
        """Trees started in a planning year."""
        return sum(start.trees for start in self.starts if start.year == year)

    def year_rows(self) -> list[dict[str, Any]]:
        """One dict per project year: trees started, days, hired days, spending, cash, loan flow, balances."""
        result, months = self.account, self.problem.months
        yearly = {
            name: series[:months].reshape(-1, 12).sum(axis=1)
            for name, series in (
                ("days", result.days),
                ("hired_days", result.hired),
                ("farm_cash", result.farm_cash),
                ("loan_flow", result.loan_flow),
            )
        }
        balance = result.balance.reshape(-1, 12)
        return [
            {
                "year": y + 1,
                "trees": self.trees_in(y + 1),
                **{name: float(values[y]) for name, values in yearly.items()},
                "spending": float(result.spending[y]),
                "lowest_balance": float(balance[y].min()),
                "balance": float(balance[y, -1]),
                "balance_without": float(self.nothing.balance[12 * y + 11]),
            }
            for y in range(months // 12)
        ]

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`: full precision, stable keys, None for blank."""
        solution = self.solution
        deepest = self.deepest_month
        return {
            "scenario_digest": self.scenario.digest,
            "currency": self.scenario.appraisal.currency,
            "planning_years": self.problem.years,
            "status": solution.status,
            "standing": self.standing,
            "npv": self.npv,
            "loan_adds": self.account.loan_adds,
            "aim": self.aim,
            "aim_of_nothing": self.nothing.aim,
            "bound": solution.bound,
            "gap": solution.gap,
            "at_most_better": self.at_most_better,
            "trees": self.trees,
            "starts": [start.as_dict() for start in self.starts],
            "loan": None if self.loan is None else {"name": self.loan.name, "amount": self.loan.amount},
            "lowest_balance": {
                "balance": float(self.account.balance[deepest]),
                "month": self.problem.months_named[deepest],
                "project_month": deepest,
            },
            "floor": self.scenario.household.floor,
            "breaches": [breach.as_dict() for breach in self.breaches],
            "impossible": impossible_dict(self.impossible),
            "left_out": [
                {
                    "technique": o.technique,
                    "year": o.year,
                    "reason": o.reason,
                    "earliest": o.earliest,
                    "months": [self.problem.months_named[month] for month in o.months],
                }
                for o in self.left_out
            ],
            "late_starts_undervalued": self.problem.undervalues_late_starts,
            "years": self.year_rows(),
            "balance": self.account.balance.tolist(),
            "hired_days": self.account.hired[: self.problem.months].tolist(),
        }

    def starts_table(self) -> "pd.DataFrame":
        """One row per start: the columns of `Start`."""
        import pandas as pd

        columns = ["stand", "technique", "year", "start", "project_month", "trees"]
        return pd.DataFrame([start.as_dict() for start in self.starts], columns=columns)

    def months_table(self) -> "pd.DataFrame":
        """One row per month of the horizon: days, hands, tools, cash, loan, balance with and without the plan."""
        import pandas as pd

        result, months = self.account, self.problem.months
        return pd.DataFrame(
            {
                "project_month": np.arange(months),
                "month": self.problem.months_named,
                "days": result.days[:months],
                "family_days": result.family[:months],
                "hired_days": result.hired[:months],
                "tools": result.tools,
                "farm_cash": result.farm_cash[:months],
                "loan_flow": result.loan_flow,
                "balance": result.balance,
                "balance_without": self.nothing.balance,
            }
        )

    def years_table(self) -> "pd.DataFrame":
        """One row per project year: the columns of `year_rows`."""
        import pandas as pd

        return pd.DataFrame(self.year_rows())


def impossible_dict(impossible: Impossible | None) -> dict[str, Any] | None:
    """Why promises had to be eased, as plain data."""
    if impossible is None:
        return None
    eased = impossible.eased
    return {
        "doing_nothing_breaks": [breach.as_dict() for breach in impossible.nothing],
        "smallest_changes": [{"promise": c.promise, "amount": c.amount} for c in impossible.changes],
        "eased": {"floor": eased.floor, "hands": eased.hands, "money": eased.money},
        "eased_least": impossible.least,
    }


def make_plan(
    scenario: Scenario,
    planning: Planning | None = None,
    *,
    gap: float | None = None,
    time_limit_seconds: float | None = None,
    cancel: Cancel | None = None,
) -> Plan:
    """Plan: build, solve, read back; takes are the scenario's own (see `learned_plan` for learning).

    planning: the scenario's own where None. gap, time_limit_seconds: the planning's where None. cancel: asked
    while solving; the best plan so far is then read back. Raises as `build` and `solve` do.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> plan = make_plan(demo_scenario(), Planning(years=1, gap=0.01))
        >>> plan.aim >= plan.nothing.aim, plan.breaches
        (True, ())
    """
    return plan_for(build(scenario, planning), gap=gap, time_limit_seconds=time_limit_seconds, cancel=cancel)


def plan_for(
    problem: PlanProblem,
    *,
    gap: float | None = None,
    time_limit_seconds: float | None = None,
    cancel: Cancel | None = None,
    may_ease: bool = True,
    rough_gap: float = 0.0,
) -> Plan:
    """Solve a problem that has been built and read it back; promises are eased where no plan keeps them all.

    rough_gap: as in `solve`. Raises OutOfReach where that may not be, or is not enough.
    """
    seconds = problem.planning.time_limit_seconds if time_limit_seconds is None else time_limit_seconds
    clock = Clock(seconds, cancel)
    nothing = account(problem, np.zeros(len(problem.candidates), dtype=np.int64))
    solution, impossible = solve(problem, gap, clock.left, cancel, rough_gap=rough_gap), None
    if solution is None and not may_ease:
        raise OutOfReach("no plan keeps every promise")
    if solution is None:
        problem, impossible = ease(problem, clock)
        solution = solve(problem, gap, max(1.0, clock.left), cancel, known=impossible.trees, rough_gap=rough_gap)
    if solution is None:
        raise SolverFailed("no plan keeps even the eased promises")
    return Plan(problem, solution, nothing, impossible)


def plan_of(
    problem: PlanProblem, trees: IntArray, impossible: Impossible | None = None, ended: Ended = "given"
) -> Plan:
    """Any numbers of trees read back as a plan, unproven, with the loan that suits them best.

    impossible: why the problem's promises were eased, if they were. ended: what the search that met them ended with.
    """
    result = account(problem, trees, best_loan(problem, trees))
    nothing = account(problem, np.zeros_like(trees))
    solution = Solution(result, ended, None, 0, 0, 0.0)
    return Plan(problem, solution, nothing, impossible)


@dataclass(frozen=True, eq=False)
class Replay:
    """The plan worked out a second time through the farm model, month by month.

    flows: the farm's, from `farm_flows`. balance: (T,) without interest on savings. difference: the largest
    distance from the plan's own balance.
    """

    flows: FarmFlows
    balance: FloatArray
    difference: float


def replay(plan: Plan) -> Replay:
    """Replay a plan through `farm_flows`: hired days, tools and cash from the farm model, then the balance."""
    scenario, problem = plan.scenario, plan.problem
    flows = farm_flows(scenario, plan.treatments)
    cash = flows.with_plan.cash + problem.household + plan.account.loan_flow
    balance = scenario.household.savings + np.cumsum(cash)
    return Replay(flows, balance, float(np.abs(balance - plan.account.balance).max()))
