"""The search: the programme in pieces, branched on until the plan worth most is proven (method §8).

A plan found is worked out month by month; where the solver's tolerance broke the floor, the floor is raised by a
little and the programme is solved again. Where starts are held in use, the floor is written for few months at first,
and months in which a plan breaks it are added. Each programme leaves out only limits, so its bound holds for the whole
problem, and the last plan keeps every month.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from renovation.decide.plan.clock import Cancel, Cancelled, Clock, SolverFailed
from renovation.decide.plan.exact import Account, account, best_loan, tolerance
from renovation.decide.plan.pieces import in_pieces
from renovation.decide.plan.question import PlanProblem
from renovation.decide.plan.rows import Held, Model, formulate
from renovation.decide.plan.solver import Answer, relative_gap
from renovation.types import FloatArray, IntArray

Ended = Literal["proven", "stopped", "cancelled", "given"]

DUST = 1e-6
"""What rounding leaves of a gap."""
MOST_ROUNDS = 40
"""Rounds of adding months to the floor; each adds at least one of at most 480 months, and few are ever needed."""


@dataclass(frozen=True, eq=False)
class Solution:
    """What the search found, before it is read back as a plan.

    status: "proven" within the gap asked for, "stopped" by the time limit, "cancelled", or "given": not what a search
    ended with. bound: no plan has a higher aim; None where none was found. rounds, nodes: how the search went.
    seconds: wall clock.
    """

    account: Account
    status: Ended
    bound: float | None
    rounds: int
    nodes: int
    seconds: float

    @property
    def gap(self) -> float | None:
        """(bound − aim) / |aim|: the proven gap."""
        return relative_gap(self.account.aim, self.bound)


def solve(
    problem: PlanProblem,
    gap: float | None = None,
    time_limit_seconds: float | None = None,
    cancel: Cancel | None = None,
    held: Held | None = None,
    known: IntArray | FloatArray | None = None,
    rough_gap: float = 0.0,
) -> Solution | None:
    """Find the plan of the highest aim, to a proven relative gap; None where no plan keeps every promise.

    gap, time_limit_seconds: the planning's own where None. cancel: asked ten times a second while solving; the
    best plan so far is then given back with status "cancelled". held: techniques and starts held in use or out of
    it: the best plan of that kind. known: trees of a plan to begin with, beside doing nothing. rough_gap: what will do
    where the gap is not proven with little work, by the planner's own branching (`branch`): so the work done ends the
    search and not the clock.
    Raises SolverFailed where the solver breaks down.
    """
    planning = problem.planning
    gap = planning.gap if gap is None else gap
    clock = Clock(planning.time_limit_seconds if time_limit_seconds is None else time_limit_seconds, cancel)
    search = _Search(problem, gap, clock, held, known)
    search.rough_gap = rough_gap
    try:
        return search.run()
    except Cancelled:
        return search.best_so_far("cancelled")


class _Search:
    """One search: the months asked so far, the best plan so far, the bound so far."""

    def __init__(
        self,
        problem: PlanProblem,
        gap: float,
        clock: Clock,
        held: Held | None,
        known: IntArray | FloatArray | None,
    ) -> None:
        self.problem, self.gap, self.clock, self.held = problem, gap, clock, held
        self.rough_gap = 0.0
        # in pieces the floor is asked in every month that needs it
        first = {min(11, problem.months - 1), problem.months - 1}
        self.floor_months = set(range(problem.months)) if held is None else first
        self.margin = 0.0
        self.rounds = self.nodes = 0
        self.bound: float | None = None
        nothing = np.zeros(len(problem.candidates), dtype=np.int64)
        begun = [account(problem, nothing)]
        if known is not None:
            begun.append(account(problem, known.astype(np.int64), best_loan(problem, known.astype(np.int64))))
        kept = [plan for plan in begun if plan.keeps_promises]
        self.best: Account | None = max(kept, key=lambda plan: plan.aim, default=None)

    def run(self) -> Solution | None:
        """Relax until the floor is kept, then solve until it is."""
        if not self.problem.candidates and self.problem.loan_unit is None:
            self.bound = None if self.best is None else self.best.aim
            return None if self.best is None else self._ended("proven", self.bound)
        for _ in range(MOST_ROUNDS):
            model, answer = self._answer()
            self.rounds += 1
            self.nodes += answer.nodes
            if answer.status == "infeasible":
                # a margin against the solver's tolerance must not make a kept promise impossible
                return None if self.best is None else self.best_so_far("proven")
            if answer.status in ("unbounded", "failed"):
                raise SolverFailed(answer.status)
            self._tighten(answer, model)
            if answer.point is None:
                return self.best_so_far("stopped" if answer.status == "stopped" else "proven")
            found = self._read(model, answer.point)
            broken = self._broken(model, answer.point, found)
            if self._good_enough() or not broken:
                return self.best_so_far("stopped" if answer.status == "stopped" else "proven")
            if self.clock.run_out:
                return self.best_so_far("stopped")
            self._ask(found, broken)
        return self.best_so_far("stopped")

    def _answer(self) -> tuple[Model, Answer]:
        """Solve the programme as it stands; what is held in use needs none of the planner's own branching."""
        if self.held is not None:
            model = formulate(self.problem, sorted(self.floor_months), margin=self.margin, held=self.held)
            return model, self.clock.solve(model.program, self.gap)
        pieces = in_pieces(self.problem, self.margin)
        least = -np.inf if self.best is None else self.best.aim / pieces.model.scale
        answer = self.clock.branch(pieces, self.gap, least, self.rough_gap)
        if answer.status == "proven" and (answer.gap or 0.0) > self.gap + DUST:  # little work did not prove it
            self.gap = max(self.gap, self.rough_gap)
        return pieces.model, answer

    def _tighten(self, answer: Answer, model: Model) -> None:
        """Keep the lowest bound seen, in money."""
        if answer.bound is not None and np.isfinite(answer.bound):
            bound = answer.bound * model.scale
            self.bound = bound if self.bound is None else min(self.bound, bound)

    def _read(self, model: Model, point: FloatArray) -> Account:
        """Work the solver's trees out exactly, and remember them where they are the best so far."""
        found = read_point(self.problem, model, point)
        if found.keeps_promises and (self.best is None or found.aim > self.best.aim):
            self.best = found
        return found

    def _good_enough(self) -> bool:
        """Whether the best plan so far is within the gap of the bound."""
        if self.best is None or self.bound is None:
            return False
        # a smallest unit is given away by borrowing whole units only
        allowed = self.gap * abs(self.best.aim) + self.problem.money_unit
        return self.bound - self.best.aim <= allowed

    def _broken(self, model: Model, point: FloatArray, found: Account) -> set[int]:
        """Months in which the floor is broken, the deepest of each stretch: with the loan that suits the trees,

        and with the solver's own, which may be too small because it has not been asked for these months.
        """
        floor, allowed = self.problem.floor, tolerance(self.problem)
        broken = _troughs(floor - found.balance, allowed)
        if model.loan is None or self.problem.loan_unit is None:
            return broken
        own = float(point[model.loan]) * model.scale
        balance = found.balance + (own - found.loan) * np.cumsum(self.problem.loan_unit)
        return broken | (_troughs(floor - balance, allowed) - self.floor_months)

    def _ask(self, found: Account, broken: set[int]) -> None:
        """Ask for the floor in the broken months; raise it a little where it was asked already."""
        if broken <= self.floor_months:
            deepest = float((self.problem.floor - found.balance).max())
            self.margin += 2 * deepest + self.problem.money_unit / 100
        self.floor_months |= broken

    def best_so_far(self, status: Ended) -> Solution | None:
        """The best plan found, whatever ended the search."""
        if self.best is None:
            # nobody knows yet whether a plan exists: doing nothing is all that can be shown
            self.best = account(self.problem, np.zeros(len(self.problem.candidates), dtype=np.int64))
        return self._ended(status, self.bound)

    def _ended(self, status: Ended, bound: float | None) -> Solution:
        assert self.best is not None
        if bound is not None:
            bound = max(bound, self.best.aim)
        if status == "proven" and not self._good_enough():
            status = "stopped" if self.clock.run_out else "given"
        return Solution(
            self.best,
            status,
            bound,
            self.rounds,
            self.nodes,
            self.clock.spent,
        )


def _troughs(short: FloatArray, allowed: float) -> set[int]:
    """Deepest month of each stretch in which something is short by more than is allowed."""
    padded = np.concatenate([[-np.inf], short, [-np.inf]])
    lowest = (padded[1:-1] >= padded[:-2]) & (padded[1:-1] > padded[2:]) & (short > allowed)
    return set(np.flatnonzero(lowest).tolist())


def read_point(problem: PlanProblem, model: Model, point: FloatArray) -> Account:
    """Read a solver's point as whole trees, with the loan that suits them best, worked out exactly."""
    trees = np.round(point[model.trees]).astype(np.int64)
    return account(problem, trees, best_loan(problem, trees))
