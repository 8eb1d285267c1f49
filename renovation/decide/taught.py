"""A plan that was not sought by itself, with the takes that its own practice brings."""

from dataclasses import replace

import numpy as np

from renovation.decide.plan import LearnedPlan, Plan
from renovation.decide.plan.learned import own_takes


def taught(learned: LearnedPlan, plan: Plan) -> LearnedPlan:
    """Another plan of the same question with the takes that its own practice brings; the same where it is that plan.

    Nothing was sought for it, so it went through no rounds.
    """
    if plan is learned.plan:
        return learned
    takes, grafts = learned.takes, learned.grafts
    if learned.learners:
        takes, grafts = own_takes(plan.problem, plan.account.trees.astype(np.int64))
    return replace(learned, plan=plan, settled=True, takes=takes, grafts=grafts, rounds=(), better_seen=None)
