"""What the searches of the pages do: tasks for a worker, which loads no Streamlit."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from renovation.aside import Asker
from renovation.decide.after_signing import AfterSigning
from renovation.decide.dossier import Dossier
from renovation.decide.happened import Happened
from renovation.decide.plan import (
    CautionPoint,
    LearnedPlan,
    Limit,
    Plan,
    Repair,
    Sheet,
    Yardstick,
    price_of_caution,
    quick_plan,
    repairs,
    sheet,
    why_not_more,
    yardsticks,
)
from renovation.decide.plan.yardsticks import floors_of
from renovation.decide.risk import RiskResult, Strategy, risk
from renovation.decide.risk.careful import CarefulPlan, bolder_plan, careful_plan
from renovation.decide.risk.family import family_plan
from renovation.inputs import Scenario
from renovation.words import Words


@dataclass(frozen=True, eq=False)
class Found:
    """A family's plan and what is said of it; farm: whose plan it is.

    learned: the plan on expected figures. plan: the one shown first: the careful one once it is found. rules, laid_out:
    of that plan. limits: of the one on expected figures; None where the search for them was stopped. repairs: of a plan
    that breaks a promise, what would make one possible; None where that search was stopped. careful: None where it was
    not sought or not found yet. checking: whether the search goes on.
    """

    farm: Scenario
    learned: LearnedPlan
    plan: Plan
    rules: tuple[Yardstick, ...]
    limits: tuple[Limit, ...] | None
    laid_out: Sheet
    repairs: tuple[Repair, ...] | None = None
    careful: CarefulPlan | None = None
    checking: bool = False


def find(farm: Scenario, asker: Asker) -> Found:
    """Search the family's plan, and tell of each that can be shown meanwhile: within seconds a first one, then the best
    on expected figures; then the careful one, and what stands beside it.

    Where no plan keeps every promise there is no careful one: the changes that would make a plan possible are tried.
    """

    def meanwhile(learned: LearnedPlan) -> None:
        if not learned.plan.broken and not asker.over():
            asker.tell(first=_shown(farm, learned, learned.plan, checking=True))

    if (first := quick_plan(farm, cancel=asker.over)) is not None:
        meanwhile(first)
    learned = bolder_plan(farm, cancel=asker.over)
    plan = learned.plan
    if plan.broken:
        asker.tell(step="repairs")
        mending = repairs(plan, on_change=lambda share: asker.tell(done=share), cancel=asker.over)
        return replace(_shown(farm, learned, plan), repairs=None if asker.over() else mending)
    if asker.over():
        return _shown(farm, learned, plan)
    meanwhile(learned)
    asker.tell(step="careful")
    checked = careful_plan(plan, risk=farm.risk, on_round=lambda rounds: asker.tell(tried=rounds), cancel=asker.over)
    asker.tell(step="beside")
    limits = None if asker.over() else why_not_more(plan, cancel=asker.over)
    return replace(_shown(farm, learned, family_plan(checked)), limits=limits, careful=checked)


def _shown(farm: Scenario, learned: LearnedPlan, plan: Plan, *, checking: bool = False) -> Found:
    """A plan with what takes no search."""
    return Found(farm, learned, plan, yardsticks(plan), None, sheet(plan), checking=checking)


def caution(found: Found, asker: Asker) -> tuple[CautionPoint, ...]:
    """What each floor costs, floor by floor; those not asked any more when the person who waits stops are left out."""
    problem = found.plan.problem
    floors = floors_of(problem)
    points: list[CautionPoint] = []
    for place, floor in enumerate(floors):
        if asker.over():
            break
        points += price_of_caution(problem, [floor], asker.over)
        asker.tell(done=(place + 1) / len(floors))
    return tuple(points)


def futures(farm: Scenario, strategies: Sequence[Strategy], asker: Asker) -> RiskResult:
    """Every strategy on the farm's futures."""
    return risk(farm, strategies, on_progress=lambda share: asker.tell(done=share))


def note_file(
    farm: Scenario,
    today: date,
    signed: AfterSigning | None,
    language: str,
    asker: Asker,  # noqa: ARG001
) -> str:
    """The credit note of two pages."""
    from renovation.show.note import note_of

    return note_of(Dossier(farm, signed=signed), Words(language, farm.about.country), today)


def report_file(
    farm: Scenario,
    today: date,
    found: Found | None,
    happened: Happened | None,
    signed: AfterSigning | None,
    language: str,
    asker: Asker,  # noqa: ARG001
) -> str:
    """The note and the report behind it: seconds of drawing. found: what the search for the family's plan found."""
    from renovation.show.note import with_appendix

    dossier = Dossier(farm, happened=happened, signed=signed)
    if found is not None and (found.careful is not None or found.repairs is not None):
        dossier = replace(
            dossier,
            prints_careful=True,
            learned_found=found.learned,
            careful_found=found.careful,
            repairs_found=found.repairs,
        )
    return with_appendix(dossier, Words(language, farm.about.country), today)


def workbook_file(farm: Scenario, signed: AfterSigning | None, language: str, asker: Asker) -> bytes:  # noqa: ARG001
    """The lender's workbook."""
    from renovation.show.workbook import workbook_of

    return workbook_of(Dossier(farm, signed=signed), Words(language, farm.about.country), date.today())
