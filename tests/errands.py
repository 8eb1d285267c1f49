"""Tasks that the tests have done aside: a worker finds them by this module's name."""

import os
import threading
import time
from functools import partial

import numpy as np

from renovation import aside
from renovation.decide.plan.solver import Program, solve_program
from renovation.money.loan_terms import LoanError


def counted(most, asker):
    """Counts, tells so, and says how far it came when it is stopped."""
    for number in range(most):
        asker.tell(tried=number)
        if asker.over():
            return number
        time.sleep(0.01)
    return most


def refused(asker):
    raise LoanError("grace_not_below_term", grace=9, term=3)


class OddError(Exception):
    """An error that a pickle does not keep."""

    def __init__(self, one, other):
        super().__init__(f"{one} and {other}")


def odd(asker):
    raise OddError("one", "other")


def killed(*asked):
    os.kill(os.getpid(), 9)


def hard(size=400, rows=60):
    """A programme that the solver is at for minutes."""
    draw = np.random.default_rng(1)
    weights = draw.integers(1, 100, (rows, size)).astype(float)
    gain = draw.integers(1, 100, size).astype(float)
    whole = np.ones(size, bool)
    return Program(gain, weights, np.full(rows, -np.inf), weights.sum(1) / 2, np.zeros(size), np.ones(size), whole)


def solved(seconds, asker):
    """Solves for so long, and says how it ended."""
    asker.tell(step="solving")
    return solve_program(hard(), 0.0, seconds).status


def called_off(asker):
    """Solves aside, where it is aside already, until nobody wants the answer."""
    began = time.monotonic()
    try:
        aside.do(partial(solved, 50.0), gone=lambda: time.monotonic() - began > 0.3)
    except aside.CalledOff:
        return time.monotonic() - began


def looked_at(asker):
    """How far the process gives way, and its threads that are not Python's, after matrices and a programme."""
    big = np.random.default_rng(1).random((400, 400))
    big = big @ big
    solve_program(hard(20, 5), 0.0, 1.0)
    return os.nice(0), len(os.listdir("/proc/self/task")) - threading.active_count()
