"""What the searches of the pages do: tasks for a worker, which loads no Streamlit."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from renovation.aside import Asker
from renovation.decide.happened import Happened
from renovation.decide.plan import (
    CautionPoint,
    LearnedPlan,
    Limit,
    Repair,
    Sheet,
    Yardstick,
    learned_plan,
    price_of_caution,
    repairs,
    sheet,
    why_not_more,
    yardsticks,
)
from renovation.decide.plan.yardsticks import floors_of
from renovation.decide.risk import RiskResult, Strategy, risk
from renovation.decide.risk.careful import CarefulPlan, careful_plan
from renovation.inputs import Scenario
from renovation.words import Words


@dataclass(frozen=True, eq=False)
class Found:
    """A plan and what is said of it; farm: whose plan it is. limits: None where the search for them was stopped.

    repairs: of a plan that breaks a promise, what would make one possible; None where that search was stopped.
    """

    farm: Scenario
    learned: LearnedPlan
    rules: tuple[Yardstick, ...]
    limits: tuple[Limit, ...] | None
    laid_out: Sheet
    repairs: tuple[Repair, ...] | None = None


def find(farm: Scenario, asker: Asker) -> Found:
    """Search the plan, then what stands beside it."""
    learned = learned_plan(farm, cancel=asker.over)
    asker.tell(step="beside")
    plan = learned.plan
    limits = None if asker.over() else why_not_more(plan, cancel=asker.over)
    mending = None
    if plan.broken and not asker.over():
        asker.tell(step="repairs", done=0.0)
        mending = repairs(plan, on_change=lambda share: asker.tell(done=share), cancel=asker.over)
    return Found(farm, learned, yardsticks(plan), limits, sheet(plan), None if asker.over() else mending)


def caution(found: Found, asker: Asker) -> tuple[CautionPoint, ...]:
    """What each floor costs, floor by floor; those not asked any more when the person who waits stops are left out."""
    problem = found.learned.plan.problem
    floors = floors_of(problem)
    points: list[CautionPoint] = []
    for place, floor in enumerate(floors):
        if asker.over():
            break
        points += price_of_caution(problem, [floor], asker.over)
        asker.tell(done=(place + 1) / len(floors))
    return tuple(points)


def careful(found: Found, farm: Scenario, asker: Asker) -> CarefulPlan:
    """The careful plan, on the futures of the farm in hand."""

    def count(rounds: int) -> None:
        asker.tell(tried=rounds)

    return careful_plan(found.learned.plan, risk=farm.risk, on_round=count, cancel=asker.over)


def futures(farm: Scenario, strategies: Sequence[Strategy], asker: Asker) -> RiskResult:
    """Every strategy on the farm's futures."""
    return risk(farm, strategies, on_progress=lambda share: asker.tell(done=share))


def report_file(
    farm: Scenario,
    today: date,
    careful: CarefulPlan | None,
    happened: Happened | None,
    language: str,
    asker: Asker,  # noqa: ARG001
) -> str:
    """The printed report: some seconds of drawing."""
    from renovation.show.report import report

    return report(farm, Words(language), today, careful=careful, happened=happened)


def workbook_file(farm: Scenario, language: str, asker: Asker) -> bytes:  # noqa: ARG001
    """The lender's workbook."""
    from renovation.show.workbook import workbook

    return workbook(farm, Words(language))
