"""What the searches of the plan page do, what question each answers; when to renovate, remembered."""

from dataclasses import dataclass

import streamlit as st

from renovation.decide.plan import (
    CautionPoint,
    LearnedPlan,
    Limit,
    Sheet,
    Yardstick,
    learned_plan,
    price_of_caution,
    sheet,
    why_not_more,
    yardsticks,
)
from renovation.decide.plan.yardsticks import floors_of
from renovation.decide.replacement import WhenToRenovate, when_to_renovate
from renovation.decide.risk.careful import CarefulPlan, careful_plan
from renovation.farm import expected_price_path
from renovation.inputs import Risk, Scenario
from renovation.screens.jobs import Job

_KEPT = 8


@dataclass(frozen=True, eq=False)
class Found:
    """A plan and what is said of it; farm: whose plan it is. limits: None where the search for them was stopped."""

    farm: Scenario
    learned: LearnedPlan
    rules: tuple[Yardstick, ...]
    limits: tuple[Limit, ...] | None
    laid_out: Sheet


def question(farm: Scenario) -> str:
    """What a plan answers: the farm's digest without what the planner does not read.

    Of the risk it reads the expected price alone.
    """
    unread = {name: type(getattr(farm, name))() for name in ("comparison", "loan_test")}
    expected = Risk(price_path="typed", price_by_year=tuple(expected_price_path(farm)[::12].tolist()))
    return farm.model_copy(update={"plan": (), "loans": (), "risk": expected, **unread}).digest


def careful_question(farm: Scenario, risk: Risk | None = None) -> str:
    """What a careful plan answers: the plan's question, and the risk, the farm's own where None."""
    return f"{question(farm)} {(risk or farm.risk).model_dump_json()}"


def find(farm: Scenario, job: Job) -> Found:
    """Search the plan, then what stands beside it."""
    cancel = job.over
    learned = learned_plan(farm, cancel=cancel)
    job.step = "beside"
    plan = learned.plan
    limits = None if job.over() else why_not_more(plan, cancel=cancel)
    return Found(farm, learned, yardsticks(plan), limits, sheet(plan))


def caution(found: Found, job: Job) -> tuple[CautionPoint, ...]:
    """What each floor costs, floor by floor; those not asked any more when the person who waits stops are left out."""
    problem = found.learned.plan.problem
    floors = floors_of(problem)
    points: list[CautionPoint] = []
    for place, floor in enumerate(floors):
        if job.over():
            break
        points += price_of_caution(problem, [floor], job.over)
        job.done = (place + 1) / len(floors)
    return tuple(points)


def careful(found: Found, farm: Scenario, job: Job) -> CarefulPlan:
    """The careful plan, on the futures of the farm in hand."""

    def count(rounds: int) -> None:
        job.tried = rounds

    return careful_plan(found.learned.plan, risk=farm.risk, on_round=count, cancel=job.over)


def when(farm: Scenario) -> WhenToRenovate:
    """When to renovate at all, stand by stand and way by way."""
    return _when(farm.digest, farm)


# A name that begins with an underscore is not hashed: the digest alone is the key.


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _when(digest: str, _farm: Scenario) -> WhenToRenovate:  # noqa: ARG001
    return when_to_renovate(_farm)
