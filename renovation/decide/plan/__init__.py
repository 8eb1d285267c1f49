"""How many trees this year: the plan, found, explained and laid out for the family (method §8)."""

from renovation.decide.plan.clock import SolverFailed
from renovation.decide.plan.columns import Candidate, LeftOut
from renovation.decide.plan.ease import Impossible, ease
from renovation.decide.plan.exact import Account, Breach, account, best_loan
from renovation.decide.plan.learned import LearnedPlan, Round, learned_plan
from renovation.decide.plan.plan import Plan, Replay, Start, make_plan, plan_for, replay
from renovation.decide.plan.question import PlanProblem, build
from renovation.decide.plan.quick import quick_plan
from renovation.decide.plan.repairs import Repair, repairs
from renovation.decide.plan.search import Solution, solve
from renovation.decide.plan.sheet import Look, MonthOfWork, Sheet, ToBuy, sheet
from renovation.decide.plan.solver import Answer, Program, Relaxation, relax, solve_program
from renovation.decide.plan.stated import stated_plan
from renovation.decide.plan.why_not_more import Limit, limits_table, why_not_more
from renovation.decide.plan.yardsticks import (
    CautionPoint,
    Yardstick,
    price_of_caution,
    yardsticks,
    yardsticks_table,
)

__all__ = [
    "Account",
    "Answer",
    "Breach",
    "Candidate",
    "CautionPoint",
    "Impossible",
    "LearnedPlan",
    "LeftOut",
    "Limit",
    "Look",
    "MonthOfWork",
    "Plan",
    "PlanProblem",
    "Program",
    "Relaxation",
    "Repair",
    "Replay",
    "Round",
    "Sheet",
    "Solution",
    "SolverFailed",
    "Start",
    "ToBuy",
    "Yardstick",
    "account",
    "best_loan",
    "build",
    "ease",
    "learned_plan",
    "limits_table",
    "make_plan",
    "plan_for",
    "price_of_caution",
    "quick_plan",
    "relax",
    "repairs",
    "replay",
    "sheet",
    "solve",
    "solve_program",
    "stated_plan",
    "why_not_more",
    "yardsticks",
    "yardsticks_table",
]
