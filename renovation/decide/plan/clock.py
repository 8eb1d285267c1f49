"""Time and patience: a limit that counts down, and a search that a person can stop."""

import time
from collections.abc import Callable
from functools import partial

from renovation import aside
from renovation.decide.plan.branch import branch
from renovation.decide.plan.pieces import Pieces, at_once
from renovation.decide.plan.question import PlanProblem
from renovation.decide.plan.solver import Answer, Program, solve_program

Cancel = Callable[[], bool]


class SolverFailed(RuntimeError):  # noqa: N818 - an event the screens word
    """The solver gave neither a plan nor a reason: a fault of the programme, not of the farm."""


class Unfinished(RuntimeError):  # noqa: N818 - an event, not a fault
    """The time was up before an answer was proven."""


class Cancelled(Unfinished):
    """The person who waits has stopped the search."""


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
        """Solve within the time left: here, or aside where a cancel can call it off; raises Cancelled then."""
        return self._answer(partial(solve_program, program, gap))

    def branch(self, pieces: Pieces, gap: float, least: float, rough_gap: float = 0.0) -> Answer:
        """Branch on the pieces within the time left; least: the value of a plan that is known."""
        program, switches, weights = pieces.model.program, pieces.switches, pieces.weights
        return self._answer(
            partial(branch, program, switches, weights, pieces.pool, gap, least=least, rough_gap=rough_gap)
        )

    def at_once(self, problem: PlanProblem, pieces: Pieces, gap: float) -> Answer:
        """A whole point near the relaxation within the time left."""
        return self._answer(partial(at_once, problem, pieces, gap))

    def _answer(self, ask: Callable[..., Answer]) -> Answer:
        if self.cancel is None:
            return ask(time_limit_seconds=self.left)
        try:
            answer: Answer = aside.do(partial(_solve, partial(ask, time_limit_seconds=self.left)), self.cancel)
        except aside.CalledOff:
            raise Cancelled from None
        except aside.Died as error:
            raise SolverFailed(str(error)) from None
        return answer


def _solve(ask: Callable[[], Answer], asker: aside.Asker) -> Answer:  # noqa: ARG001
    """A programme solved as a task."""
    return ask()
