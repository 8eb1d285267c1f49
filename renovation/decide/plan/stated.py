"""The plan that the scenario itself states, read as a plan is, so that the same sheet can be laid out for it."""

from dataclasses import replace

import numpy as np

from renovation.decide.plan.columns import Candidate
from renovation.decide.plan.exact import account
from renovation.decide.plan.plan import Plan, Replay
from renovation.decide.plan.question import build
from renovation.decide.plan.search import Solution
from renovation.farm import FarmFlows, HouseholdCash
from renovation.inputs import Scenario


def stated_plan(scenario: Scenario, flows: FarmFlows, cash: HouseholdCash) -> tuple[Plan, Replay]:
    """The stated plan as a plan, unproven, and its replay; the balance and the loans are those of `cash`.

    flows: `farm_flows` of the scenario's own plan. cash: `household_cash` of these flows.

    Example:
        >>> from renovation.farm import farm_flows, household_cash
        >>> from renovation.inputs import demo_scenario
        >>> s = demo_scenario()
        >>> flows = farm_flows(s, s.plan)
        >>> plan, _ = stated_plan(s, flows, household_cash(s, flows))
        >>> set(plan.treatments) == set(s.plan)
        True
    """
    # no offer and no limit: what the scenario states is neither sought nor judged here
    problem = build(scenario, type(scenario.planning)(), stated_starts(scenario))
    trees = np.array([treatment.trees for treatment in scenario.plan], dtype=np.int64)
    nothing = account(problem, np.zeros_like(trees))
    side = cash.with_plan
    farm = flows.with_plan
    result = replace(
        account(problem, trees),
        tools=farm.tools,
        bought=dict(flows.bought),
        farm_cash=farm.cash,
        loan_flow=side.loan_payout - side.loan_fee - side.debt_service - problem.running,
        balance=side.balance,
    )
    solution = Solution(result, "given", None, 0, 0, 0.0)
    return Plan(problem, solution, nothing, None), Replay(flows, side.balance, 0.0)


def stated_starts(scenario: Scenario) -> tuple[Candidate, ...]:
    """Every treatment of the scenario's plan as a start.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> [start.start for start in stated_starts(demo_scenario())]
        [3, 15, 27, 16, 28, 20]
    """
    places, ways = [(plot.name, plot.works_on) for plot in scenario.plots], scenario.techniques
    return tuple(
        Candidate(
            places.index((treatment.stand, ways[treatment.technique].works_on)),
            treatment.technique,
            month // 12 + 1,
            month,
        )
        for treatment in scenario.plan
        for month in [scenario.month_of(treatment.start)]
    )
