"""Time and patience: a limit that counts down, and a search that a person can stop."""

import os
import pickle
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

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
        """Solve within the time left: here, or in a process that a cancel can stop."""
        if self.cancel is None:
            return solve_program(program, gap, self.left)
        return _in_process(program, gap, self.left, self.cancel)


def _in_process(program: Program, gap: float, seconds: float, cancel: Cancel) -> Answer:
    """Solve in a process of its own, ended as soon as `cancel` says so or this one ends; raises Cancelled.

    A key that interrupts this process is none of the other's business: it is in a session of its own.
    """
    call = (solve_program.__module__, solve_program.__name__, (program, gap, seconds), list(sys.path))
    # the call waits in a file: through a pipe, a wait that is broken off would leave the rest of it unsent
    with tempfile.TemporaryFile() as waiting:
        waiting.write(pickle.dumps(call))
        waiting.seek(0)
        worker = subprocess.Popen(
            [sys.executable, "-P", str(Path(__file__).with_name("worker.py")), str(os.getpid())],
            stdin=waiting,
            stdout=subprocess.PIPE,
            start_new_session=True,
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
