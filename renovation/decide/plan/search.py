"""Solving: the second of build, solve, read back. Floors are asked where they bind; what cannot be kept is eased.

The floor is written for few months at first. A plan found is worked out month by month; months in which it breaks
the floor are added and the programme is solved again. Each programme leaves out only limits, so its bound holds for
the whole problem, and the last plan keeps every month.
"""

import pickle
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np

from renovation.decide.plan.exact import Account, Breach, Promise, account, best_loan, tolerance
from renovation.decide.plan.model import EASED, Model, formulate, minimising
from renovation.decide.plan.question import Eased, PlanProblem
from renovation.decide.plan.solver import Answer, Program, relative_gap, relax, solve_program
from renovation.types import BoolArray, FloatArray, IntArray

Ended = Literal["proven", "stopped", "cancelled", "given"]
Cancel = Callable[[], bool]

MOST_ROUNDS = 40
"""Rounds of adding months to the floor; each adds at least one of at most 480 months, and few are ever needed."""


class SolverFailed(RuntimeError):  # noqa: N818 - an event the screens word
    """The solver gave neither a plan nor a reason: a fault of the programme, not of the farm."""


class OutOfReach(SolverFailed):
    """No plan keeps the promises that may not be eased: the practice that takes rest on cannot be had."""


class Unfinished(RuntimeError):  # noqa: N818 - an event, not a fault
    """The time was up before an answer was proven."""


class Cancelled(Unfinished):
    """The person who waits has stopped the search."""


@dataclass(frozen=True, eq=False)
class Solution:
    """What the search found, before it is read back as a plan.

    status: "proven" within the gap asked for, "stopped" by the time limit, "cancelled", or "given": not what a search
    ended with. bound: no plan is worth more; None where none was found. floor_months: months at which the floor had
    to be asked. rounds, nodes: how the search went. seconds: wall clock.
    """

    account: Account
    status: Ended
    bound: float | None
    floor_months: IntArray
    rounds: int
    nodes: int
    seconds: float

    @property
    def gap(self) -> float | None:
        """(bound − worth) / |worth|: the proven gap."""
        return relative_gap(self.account.worth, self.bound)


@dataclass(frozen=True)
class Change:
    """The smallest change by which one promise alone makes a plan possible; None where it alone cannot."""

    promise: Promise
    amount: float | None


@dataclass(frozen=True, eq=False)
class Impossible:
    """Why no plan keeps every promise.

    nothing: what doing nothing breaks. changes: the smallest change of each promise alone. eased: what the plan is
    made against instead. least: whether that is proven to be the least; if not, the search for it ended early, there
    are no changes, and it is what doing nothing breaks. trees: of a plan that keeps the eased promises.
    """

    nothing: tuple[Breach, ...]
    changes: tuple[Change, ...]
    eased: Eased
    trees: IntArray | FloatArray
    least: bool = True


class Clock:
    """Counts a time limit down and asks whether anybody has had enough."""

    def __init__(self, seconds: float, cancel: Cancel | None = None) -> None:
        """Start the clock."""
        self._began = time.monotonic()
        self._seconds = seconds
        self.cancel = cancel

    @property
    def spent(self) -> float:
        """Seconds since the start."""
        return time.monotonic() - self._began

    @property
    def left(self) -> float:
        """Seconds left, at least a hundredth."""
        return max(0.01, self._seconds - self.spent)

    @property
    def run_out(self) -> bool:
        """Whether the time limit has passed."""
        return self.spent >= self._seconds

    def solve(self, program: Program, gap: float) -> Answer:
        """Solve within the time left: here, or in a process that a cancel can stop."""
        if self.cancel is None:
            return solve_program(program, gap, self.left)
        return _in_process(program, gap, self.left, self.cancel)


def _in_process(program: Program, gap: float, seconds: float, cancel: Cancel) -> Answer:
    """Solve in a process of its own, ended as soon as `cancel` says so; raises Cancelled."""
    call = (solve_program.__module__, solve_program.__name__, (program, gap, seconds), list(sys.path))
    # the call waits in a file: through a pipe, a wait that is broken off would leave the rest of it unsent
    with tempfile.TemporaryFile() as waiting:
        waiting.write(pickle.dumps(call))
        waiting.seek(0)
        worker = subprocess.Popen(
            [sys.executable, "-P", str(Path(__file__).with_name("worker.py"))],
            stdin=waiting,
            stdout=subprocess.PIPE,
        )
        try:
            output = _output(worker, cancel)
        finally:
            if worker.poll() is None:
                worker.kill()
                worker.communicate()
    if worker.returncode != 0:
        raise SolverFailed(f"the solver's process ended with {worker.returncode}")
    answer: Answer = pickle.loads(output)
    return answer


def _output(worker: "subprocess.Popen[bytes]", cancel: Cancel) -> bytes:
    """What a process answers; raises Cancelled once nobody waits for it any more."""
    while True:
        try:
            return worker.communicate(timeout=0.1)[0]
        except subprocess.TimeoutExpired:
            if cancel():
                raise Cancelled from None


def solve(
    problem: PlanProblem,
    gap: float | None = None,
    time_limit_seconds: float | None = None,
    cancel: Cancel | None = None,
    active: BoolArray | None = None,
    known: IntArray | FloatArray | None = None,
) -> Solution | None:
    """Find the plan worth most, to a proven relative gap; None where no plan keeps every promise.

    gap, time_limit_seconds: the planning's own where None. cancel: asked ten times a second while solving; the
    best plan so far is then given back with status "cancelled". active: (G,) techniques and years held in use or
    out of it: the best plan of that kind. known: trees of a plan to begin with, beside doing nothing.
    Raises SolverFailed where the solver breaks down.
    """
    planning = problem.planning
    gap = planning.gap if gap is None else gap
    clock = Clock(planning.time_limit_seconds if time_limit_seconds is None else time_limit_seconds, cancel)
    search = _Search(problem, gap, clock, active, known)
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
        active: BoolArray | None,
        known: IntArray | FloatArray | None,
    ) -> None:
        self.problem, self.gap, self.clock, self.active = problem, gap, clock, active
        self.floor_months = {min(11, problem.months - 1), problem.months - 1}
        self.margin = 0.0
        self.rounds = self.nodes = 0
        self.bound: float | None = None
        nothing = np.zeros(len(problem.candidates), dtype=np.int64)
        begun = [account(problem, nothing)]
        if known is not None:
            begun.append(account(problem, known.astype(np.int64), best_loan(problem, known.astype(np.int64))))
        kept = [plan for plan in begun if plan.keeps_promises]
        self.best: Account | None = max(kept, key=lambda plan: plan.worth, default=None)

    def run(self) -> Solution | None:
        """Relax until the floor is kept, then solve until it is."""
        if not self.problem.candidates and self.problem.loan_unit is None:
            self.bound = None if self.best is None else self.best.worth
            return None if self.best is None else self._ended("proven", self.bound)
        self._relaxed_months()
        for _ in range(MOST_ROUNDS):
            model = self._model()
            answer = self.clock.solve(model.program, self.gap)
            self.rounds += 1
            self.nodes += answer.nodes
            if answer.status == "infeasible":
                # a margin against the solver's tolerance must not make a kept promise impossible
                return None if self.best is None else self.best_so_far("proven")
            if answer.status in ("unbounded", "failed"):
                raise SolverFailed(answer.status)
            self._tighten(answer, model)
            if answer.point is None:
                return self.best_so_far("stopped")
            found = self._read(model, answer.point)
            broken = self._broken(model, answer.point, found)
            if self._good_enough() or not broken:
                return self.best_so_far("stopped" if answer.status == "stopped" else "proven")
            if self.clock.run_out:
                return self.best_so_far("stopped")
            self._ask(found, broken)
        return self.best_so_far("stopped")

    def _model(self) -> Model:
        """The programme as it stands: the months asked so far."""
        return formulate(self.problem, sorted(self.floor_months), margin=self.margin, held=self.active)

    def _relaxed_months(self) -> None:
        """Add the months that the relaxed plan breaks: cheap, and most of those that matter."""
        for _ in range(MOST_ROUNDS):
            model = self._model()
            relaxed = relax(model.program)
            if relaxed.point is None:
                return
            trees = relaxed.point[model.trees]
            loan = 0.0 if model.loan is None else float(relaxed.point[model.loan]) * model.scale
            plan = account(self.problem, trees, loan)
            # the relaxed plan owns a fraction of its tools: leave them out of what it is judged by
            balance = plan.balance + np.cumsum(plan.tools)
            new = _troughs(self.problem.floor - balance, tolerance(self.problem)) - self.floor_months
            if not new or self.clock.run_out:
                return
            self.floor_months |= new

    def _tighten(self, answer: Answer, model: Model) -> None:
        """Keep the lowest bound seen, in money."""
        if answer.bound is not None and np.isfinite(answer.bound):
            bound = answer.bound * model.scale
            self.bound = bound if self.bound is None else min(self.bound, bound)

    def _read(self, model: Model, point: FloatArray) -> Account:
        """Work the solver's trees out exactly, and remember them where they are the best so far."""
        found = read_point(self.problem, model, point)
        if found.keeps_promises and (self.best is None or found.worth > self.best.worth):
            self.best = found
        return found

    def _good_enough(self) -> bool:
        """Whether the best plan so far is within the gap of the bound."""
        if self.best is None or self.bound is None:
            return False
        # a smallest unit is given away by borrowing whole units only
        allowed = self.gap * abs(self.best.worth) + self.problem.money_unit
        return self.bound - self.best.worth <= allowed

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
            bound = max(bound, self.best.worth)
        if status == "proven" and not self._good_enough():
            status = "stopped" if self.clock.run_out else "given"
        return Solution(
            self.best,
            status,
            bound,
            np.array(sorted(self.floor_months), dtype=np.int64),
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


def ease(problem: PlanProblem, clock: Clock | None = None) -> tuple[PlanProblem, Impossible]:
    """Where no plan keeps every promise: find the smallest change, and the problem with that change made.

    Each of floor, hands and money is eased alone, as little as makes a plan possible. The plan is then made against
    the first of them that suffices alone; where none does, against the least hands, money and floor in that order.
    Where time or patience ends before that is known, against what doing nothing breaks.
    """
    clock = clock or Clock(problem.planning.time_limit_seconds)
    nothing = account(problem, np.zeros(len(problem.candidates), dtype=np.int64))
    try:
        changes, plan = _smallest_changes(problem, clock)
        least = True
    except Unfinished:
        changes, plan, least = (), nothing, False
    eased = problem.eased
    for breach in plan.breaches:
        eased = eased.more(breach.promise, _up(problem, breach.promise, breach.amount))
    return replace(problem, eased=eased), Impossible(nothing.breaches, changes, eased, plan.trees, least)


def _smallest_changes(problem: PlanProblem, clock: Clock) -> tuple[tuple[Change, ...], Account]:
    """The smallest change of each promise alone, and a plan that needs no more than what is eased.

    Raises Unfinished where the time is up, OutOfReach where no plan keeps the rest.
    """
    stated: dict[Promise, object] = {
        "floor": True,
        "hands": problem.hired_limit,
        "money": problem.planning.money_per_year,
    }
    can = [promise for promise in EASED if stated[promise] is not None]
    alone = {promise: _least(problem, (promise,), promise, clock) for promise in can}
    changes = tuple(Change(promise, None if found is None else found[0]) for promise, found in alone.items())
    enough = next((found for found in alone.values() if found is not None), None)
    if enough is not None:
        return changes, enough[1]
    eased = problem.eased
    order: list[Promise] = [promise for promise in ("hands", "money", "floor") if promise in can]
    for place, promise in enumerate(order):
        found = _least(replace(problem, eased=eased), tuple(order[place:]), promise, clock)
        if found is None:
            raise OutOfReach("no plan keeps the limits even with floor, hands and money eased")
        amount, plan = found
        eased = eased.more(promise, amount)
    return changes, account(problem, plan.trees, plan.loan)


def _least(
    problem: PlanProblem, eased: tuple[Promise, ...], promise: Promise, clock: Clock
) -> tuple[float, Account] | None:
    """The least that one promise is broken by, the eased ones free, and a plan; None where the others cannot be kept.

    Raises Unfinished where the time is up before it is known.
    """
    model = formulate(problem, np.arange(problem.months), eased)
    answer = clock.solve(minimising(model, promise), 1e-6)
    if answer.status == "stopped":
        raise Unfinished
    if answer.point is None:
        return None
    # the solver's own slack is as exact as its tolerance: what the plan breaks by the exact account can be kept
    plan = read_point(problem, model, answer.point)
    amount = max((breach.amount for breach in plan.breaches if breach.promise == promise), default=0.0)
    return _up(problem, promise, amount), plan


def _up(problem: PlanProblem, promise: Promise, amount: float) -> float:
    """Rounded up: money to the smallest unit, days to a millionth."""
    step = 1e-6 if promise == "hands" else problem.money_unit
    return float(np.ceil(amount / step - 1e-3) * step)
