"""The plan that a family is shown first: the careful one, as a plan that can be laid out, printed and adopted."""

from dataclasses import replace

import numpy as np

from renovation.decide.belief import practice_of
from renovation.decide.plan.exact import account
from renovation.decide.plan.learned import all_take, own_takes
from renovation.decide.plan.plan import Plan
from renovation.decide.plan.question import build
from renovation.decide.plan.search import Solution
from renovation.decide.risk.careful import CarefulPlan
from renovation.decide.risk.careful_rows import trees_begun


def family_plan(found: CarefulPlan) -> Plan:
    """The careful trees and loan as a plan on expected figures, unproven; the expected plan itself where they agree.

    Where hands learn, it is worked out by the takes that its own practice brings.

    Example:
        >>> from renovation.decide.plan import make_plan
        >>> from renovation.decide.risk.careful import careful_plan
        >>> from renovation.inputs import demo_scenario
        >>> found = careful_plan(make_plan(demo_scenario("old_stand_with_gaps")))
        >>> family_plan(found) is found.expected
        True
    """
    if found.same:
        return found.expected
    problem = found.expected.problem
    trees = trees_begun(problem, found.careful.treatments)
    if (practice := practice_of(problem.scenario, problem.planning)) is not None:
        own, _ = own_takes(problem, trees)
        taught = all_take(problem.scenario, practice.learners, own)
        problem = replace(build(taught, problem.planning, problem.candidates), eased=problem.eased)
    result = account(problem, trees, float(sum(loan.amount for loan in found.careful.loans)))
    nothing = account(problem, np.zeros_like(trees))
    return Plan(problem, Solution(result, "given", None, 0, 0, 0.0), nothing, found.expected.impossible)
