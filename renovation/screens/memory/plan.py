"""The planner at work beside the page: one search at a time for each visitor, its result remembered."""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

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

_KEPT = 8
"""Plans remembered; each holds every month of every start that could be made."""


@dataclass(frozen=True, eq=False)
class Found:
    """A plan and what is said of it; farm: whose plan it is. limits: None where the search for them was stopped."""

    farm: Scenario
    learned: LearnedPlan
    rules: tuple[Yardstick, ...]
    limits: tuple[Limit, ...] | None
    laid_out: Sheet


Work = Callable[["Job"], Any]


@dataclass(eq=False)
class Job:
    """A search in a thread of its own: which question it answers and under what name its result is kept.

    step, done, tried: how far it is. stop: set by the person who waits.
    """

    key: str
    name: str
    work: Work
    step: str = "search"
    done: float = 0.0
    tried: int = 0
    result: Any = None
    error: Exception | None = None
    stop: threading.Event = field(default_factory=threading.Event)
    began: float = field(default_factory=time.monotonic)
    thread: threading.Thread | None = None

    def start(self) -> "Job":
        """Begin; the thread touches nothing but this job."""
        self.thread = threading.Thread(target=self._run, daemon=True)
        self.thread.start()
        return self

    @property
    def at_work(self) -> bool:
        """Whether it is still searching."""
        return self.thread is not None and self.thread.is_alive()

    @property
    def seconds(self) -> float:
        """Seconds since it began."""
        return time.monotonic() - self.began

    def _run(self) -> None:
        """Work, and keep the result or what went wrong for the page to say."""
        try:
            self.result = self.work(self)
        except Exception as error:
            self.error = error


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
    cancel = job.stop.is_set
    learned = learned_plan(farm, cancel=cancel)
    job.step = "beside"
    plan = learned.plan
    limits = None if job.stop.is_set() else why_not_more(plan, cancel=cancel)
    return Found(farm, learned, yardsticks(plan), limits, sheet(plan))


def caution(found: Found, job: Job) -> tuple[CautionPoint, ...]:
    """What each floor costs, floor by floor; those not asked any more when the person who waits stops are left out."""
    problem = found.learned.plan.problem
    floors = floors_of(problem)
    points: list[CautionPoint] = []
    for place, floor in enumerate(floors):
        if job.stop.is_set():
            break
        points += price_of_caution(problem, [floor], job.stop.is_set)
        job.done = (place + 1) / len(floors)
    return tuple(points)


def careful(found: Found, farm: Scenario, job: Job) -> CarefulPlan:
    """The careful plan, on the futures of the farm in hand."""

    def count(rounds: int) -> None:
        job.tried = rounds

    return careful_plan(found.learned.plan, risk=farm.risk, on_round=count, cancel=job.stop.is_set)


def remembered(key: str) -> dict[str, Any]:
    """What is remembered of a question: `found`, `caution` or `careful`, as far as they were worked out to the end."""
    found: dict[str, Any] = _kept(key)
    return found


def when(farm: Scenario) -> WhenToRenovate:
    """When to renovate at all, stand by stand and way by way."""
    return _when(farm.digest, farm)


# A name that begins with an underscore is not hashed: the digest alone is the key.


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _kept(key: str) -> dict[str, Any]:  # noqa: ARG001
    return {}


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _when(digest: str, _farm: Scenario) -> WhenToRenovate:  # noqa: ARG001
    return when_to_renovate(_farm)
