"""The careful plan where hands learn: it chooses its own practice, as the plan on expected figures does.

A careful plan that grafts less has less practised hands, and so other takes. The search asks a plan for the practice
that the takes it is made for rest on (`plan.learned`). On the footing of the plan on expected figures it may thereby
ask for more grafts than care allows, and find nothing. Then it is begun again from the takes that there are without any
more practice, and repeated for the takes that the plan found brings about itself, until none better is found, or none
of these differs in the years in which a plan may begin trees: the same search would find the same. Each plan is judged
by its own takes, on the futures that were planned on; the best by that is given (method §§8, 10).
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from renovation.decide.belief import Practice, practice_of
from renovation.decide.cohorts import YEAR
from renovation.decide.held import as_held
from renovation.decide.plan.clock import Cancel
from renovation.decide.plan.exact import account, best_loan
from renovation.decide.plan.learned import all_take, own_takes, practice_needed, resting_on
from renovation.decide.plan.plan import Plan, plan_of
from renovation.decide.plan.question import build
from renovation.decide.plan.quick import liked_at_once
from renovation.decide.risk.careful_rows import Trees, Tried, strategy_of, trees_begun
from renovation.decide.risk.careful_search import CarefulSearch
from renovation.decide.risk.futures import Futures
from renovation.decide.risk.judge import judge
from renovation.decide.risk.strategy import Strategy, lay_out
from renovation.types import IntArray

MOST_FOOTINGS = 4
"""Searches at most after the first; each that helps asks for less caution than the one before."""
SHRINKINGS = 7
"""Halvings of the share of its trees that a plan keeps whose own takes break the promise."""
BINDS = 1.0
"""Grafts by which a plan may pass the practice that is asked for, and still be held back by it."""

Rank = tuple[bool, bool, float, float]
"""What makes one plan better than another: promises kept by its own takes, instalments promised, level, aim."""


@dataclass(frozen=True, eq=False)
class Sought:
    """A search that has ended, and its plan: trees of each candidate of the whole problem, and the loan.

    rounds: plans tried, those of all searches. stopped: whether any of them was stopped before its end.
    """

    search: CarefulSearch
    strategy: Strategy
    plan: Trees
    rank: Rank
    rounds: int
    stopped: bool


def seek_careful(
    expected: Plan, futures: Futures, on_round: Callable[[int], None] | None = None, cancel: Cancel | None = None
) -> Sought:
    """The careful plan found on the futures to plan on, whatever practice it takes.

    expected: the plan on expected figures; where it keeps the promise it is the answer.

    Example:
        >>> from renovation.decide.plan.quick import quick_plan
        >>> from renovation.decide.risk.futures import as_expected
        >>> from renovation.inputs import demo_scenario
        >>> first = quick_plan(demo_scenario("first_grafters")).plan
        >>> found = seek_careful(first, as_expected(first.scenario.appraisal.horizon_years))
        >>> found.rounds, int(found.plan[0].sum()) == first.trees
        (0, True)
    """
    practice = practice_of(expected.scenario, expected.problem.planning)
    first = CarefulSearch(expected, futures, on_round, cancel)
    found = [_searched(expected, first, practice)]
    if practice is None or first.rounds == 0 or not _held_back(expected, found[0].plan[0]):
        return found[0]
    asked: IntArray = np.zeros_like(found[0].plan[0])
    rested_on: set[tuple[float, ...]] = set()
    while len(found) <= MOST_FOOTINGS and not found[-1].stopped:
        takes = _takes_to_begin_by(expected, asked)
        if takes in rested_on:
            break
        rested_on.add(takes)
        footing = _footing(expected, practice, asked)
        start = liked_at_once(footing.problem)
        bold = expected.account.trees.astype(np.int64) if start is None else start
        before = sum(one.rounds for one in found)
        told = None if on_round is None else _after(on_round, before)
        search = CarefulSearch(
            footing,
            futures,
            told,
            cancel,
            start=(bold, best_loan(footing.problem, bold)),
            known=[one.plan for one in found if one.plan[0].any()],
        )
        found.append(_searched(expected, search, practice))
        asked = found[-1].plan[0]
        if any((asked == one.plan[0]).all() for one in found[:-1]):
            break
    best = max(found, key=lambda one: one.rank)
    return replace(best, rounds=sum(one.rounds for one in found), stopped=any(one.stopped for one in found))


def _after(on_round: Callable[[int], None], before: int) -> Callable[[int], None]:
    """Rounds told as those that follow others."""
    return lambda number: on_round(before + number)


def _held_back(expected: Plan, trees: IntArray) -> bool:
    """Whether a plan is held back by the practice it was asked for, or falls short of it."""
    practice, needed = expected.problem.practice, expected.problem.practice_needed
    if practice is None or needed is None:
        return True
    made = np.cumsum(trees @ practice) - trees @ practice
    return bool((made[needed > 0] < needed[needed > 0] + BINDS).any())


def _takes_to_begin_by(expected: Plan, trees: IntArray) -> tuple[float, ...]:
    """The takes that some trees bring about in each year in which a plan may begin others."""
    own, _ = own_takes(expected.problem, trees)
    last = max((candidate.start for candidate in expected.problem.candidates), default=0) // YEAR
    return tuple(own[min(year, len(own) - 1)] for year in range(last + 1))


def _footing(expected: Plan, practice: Practice, trees: IntArray) -> Plan:
    """Some trees as a plan for the takes that they bring about, whose problem asks for the practice behind these."""
    problem = expected.problem
    own, grafts = own_takes(problem, trees)
    built = build(all_take(problem.scenario, practice.learners, own), problem.planning, problem.candidates)
    asked = resting_on(replace(built, eased=problem.eased), practice.learners, practice_needed(practice, grafts))
    return plan_of(asked, trees, expected.impossible)


def _searched(expected: Plan, search: CarefulSearch, practice: Practice | None) -> Sought:
    """Run a search, and judge its plan by its own takes; one that these break is made smaller until they do not."""
    strategy = search.strategy(*search.run())
    plan = trees_begun(expected.problem, strategy.treatments), float(sum(loan.amount for loan in strategy.loans))
    if practice is None:
        return Sought(
            search, strategy, plan, (True, search.instalments, search.level, 0.0), search.rounds, search.stopped
        )
    best = _judged(expected, search, plan, practice)
    low, high = 0.0, 1.0
    for _ in range(0 if best.rank[0] else SHRINKINGS):
        share = (low + high) / 2
        smaller = _judged(expected, search, (np.floor(share * plan[0]).astype(np.int64), plan[1]), practice)
        low, high = (share, high) if smaller.rank[0] else (low, share)
        best = max(best, smaller, key=lambda one: one.rank)
    return best


def _judged(expected: Plan, search: CarefulSearch, plan: Trees, practice: Practice) -> Sought:
    """How good a plan is by its own takes."""
    problem = expected.problem
    strategy = strategy_of(problem, *plan)
    scenario = problem.scenario.model_copy(update={"planning": problem.planning})
    found = judge(lay_out(as_held(scenario, strategy.treatments), strategy), search.futures)
    own, _ = own_takes(problem, plan[0])
    built = build(all_take(scenario, practice.learners, own), problem.planning, problem.candidates)
    result = account(replace(built, eased=problem.eased), *plan)
    kept = search.keeps(Tried(plan, found.deepest, found.deepest_due, result.aim)) and result.keeps_promises
    rank = kept, search.instalments, search.level, result.aim
    return Sought(search, strategy, plan, rank, search.rounds, search.stopped)
