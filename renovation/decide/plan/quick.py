"""A first plan within seconds, to be shown while the search for the best one goes on (method §8).

It keeps every promise as expected, by its own takes where hands learn; nothing is claimed of how good it is.
"""

import numpy as np

from renovation.decide.belief import held_of, practice_of
from renovation.decide.held import with_records
from renovation.decide.plan.clock import Cancel
from renovation.decide.plan.exact import account, best_loan
from renovation.decide.plan.learned import LearnedPlan, all_take, own_takes
from renovation.decide.plan.pieces import at_once, in_pieces
from renovation.decide.plan.plan import plan_of
from renovation.decide.plan.question import PlanProblem, build
from renovation.decide.plan.search import read_point, solve
from renovation.inputs import Scenario
from renovation.inputs.planning import Planning
from renovation.types import IntArray

QUICK_GAP = 0.05
"""Gap at which a first plan is good enough."""
QUICK_SECONDS = 2.5
"""What a search for it may spend, where rounding the relaxation gives none."""
AT_ONCE_SECONDS = 10.0
"""What rounding may spend. Alone on the machine it needs less than one; with others there the plan stays the same."""
ENOUGH = 0.5
"""What it must be worth above doing nothing, as a share of what no plan passes."""


def quick_plan(
    scenario: Scenario, planning: Planning | None = None, *, cancel: Cancel | None = None
) -> LearnedPlan | None:
    """A plan that keeps every promise as expected, unproven; None where none is found at once.

    Where hands learn it is made for the take there is without more practice, and judged by the takes that it brings.
    Raises as `build` does.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> first = quick_plan(demo_scenario("old_stand_with_gaps"))
        >>> first.plan.breaches, first.plan.standing, first.settled
        ((), 'unproven', False)
    """
    planning = scenario.planning if planning is None else planning
    scenario = with_records(scenario, planning)
    practice = practice_of(scenario, planning)
    learners = () if practice is None else practice.learners
    if practice is not None:
        scenario = all_take(scenario, learners, (practice.take(practice.before),))
    problem = build(scenario, planning)
    trees = liked_at_once(problem)
    if trees is None:
        solution = solve(problem, QUICK_GAP, QUICK_SECONDS, cancel)
        if solution is None or (solution.status == "stopped" and not solution.account.trees.any()):
            return None
        trees = solution.account.trees.astype(np.int64)
    takes, grafts = ((), ()) if practice is None else own_takes(problem, trees)
    if practice is not None:
        problem = build(all_take(scenario, learners, takes), planning)
    if not account(problem, trees, best_loan(problem, trees)).keeps_promises:
        return None
    plan = plan_of(problem, trees)
    return LearnedPlan(plan, False, takes, learners, grafts, (), held_of(scenario, planning), None)


def liked_at_once(problem: PlanProblem) -> IntArray | None:
    """Trees of a plan: those the relaxation likes, with whole tools for them; None where it is none worth showing.

    (n,), of each candidate; the loan that suits them is another question.
    """
    pieces = in_pieces(problem)
    model = pieces.model
    answer = at_once(problem, pieces, QUICK_GAP, AT_ONCE_SECONDS)
    if answer.point is None or answer.value is None or answer.bound is None:
        return None
    found, nothing = read_point(problem, model, answer.point), account(problem, np.zeros(len(problem.candidates)))
    enough = nothing.aim + ENOUGH * (answer.bound * model.scale - nothing.aim)
    return found.trees.astype(np.int64) if found.keeps_promises and found.aim >= enough else None
