"""Promises that cannot be kept: the smallest change that makes a plan possible, and the problem with it made."""

from dataclasses import dataclass, replace

import numpy as np

from renovation.decide.plan.clock import Clock, SolverFailed, Unfinished
from renovation.decide.plan.exact import Account, Breach, Promise, account
from renovation.decide.plan.question import Eased, PlanProblem
from renovation.decide.plan.rows import EASED, formulate, minimising
from renovation.decide.plan.search import read_point
from renovation.types import FloatArray, IntArray


class OutOfReach(SolverFailed):
    """No plan keeps the promises that may not be eased: the practice that takes rest on cannot be had."""


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
