"""Why not more: what holds the plan back, month by month, and what one more unit of it would be worth.

The worth of a unit comes from the duals of the relaxation in which the techniques and starts of the plan are kept and
trees may be fractions. A start in another month of the same year is open too where it needs no tool beside or before
those of the plan; for a plan that starts nothing, every start is open. It holds for small changes; where asked, it is
confirmed by solving again with one unit more, the starts again kept (or open), both times to a gap of a millionth.
"""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from renovation.decide.plan.clock import Cancel
from renovation.decide.plan.exact import tool_pieces, trees_in_batches
from renovation.decide.plan.plan import Plan
from renovation.decide.plan.question import PlanProblem, build
from renovation.decide.plan.rows import Held, Model, formulate
from renovation.decide.plan.search import solve
from renovation.decide.plan.solver import Relaxation, relax
from renovation.inputs import Scenario
from renovation.inputs.planning import Planning

if TYPE_CHECKING:
    import pandas as pd

What = Literal["savings", "hands", "scions", "plants", "money", "share", "trees", "places", "loan", "take"]

SAVINGS_STEP = 100.0
"""One more unit of money is 100 of the currency."""
TAKE_STEP = 0.01
"""One more unit of take is one point of a hundred."""
RELAX_SECONDS = 15.0
"""For each relaxation at most: it takes minutes where thirty years of many stands are planned."""
TIGHT_GAP = 1e-6
SMALL = 1e-7
"""A dual below this share of the largest is rounding."""


@dataclass(frozen=True)
class Limit:
    """One thing that holds the plan back.

    what: its kind. month: project month (hands); months: those in which the balance is at the floor (savings).
    year: project year of a yearly limit. name: stand (trees, places) or technique (take). unit: how much more one unit
    is. worth: what one unit more is worth by the relaxation, money of the objective. confirmed: the same by
    solving again; None where that was not asked or could not be proven in time.
    """

    what: What
    unit: float
    worth: float
    month: int | None = None
    months: tuple[int, ...] = ()
    year: int | None = None
    name: str | None = None
    confirmed: float | None = None

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "what": self.what,
            "unit": self.unit,
            "worth": self.worth,
            "confirmed": self.confirmed,
            "month": self.month,
            "months": list(self.months),
            "year": self.year,
            "name": self.name,
        }


def why_not_more(
    plan: Plan, confirm: int = 4, time_limit_seconds: float = 3.0, cancel: Cancel | None = None
) -> tuple[Limit, ...] | None:
    """The limits that bind, worth most first, and what one point more of take is worth.

    confirm: how many of them to confirm by solving again, each within the time limit. A stand without trees left
    and a year with its most trees are listed but not confirmed: nobody can have one tree more. None: the relaxation
    took too long.
    """
    problem = plan.problem
    held = held_by(plan)
    model = formulate(problem, np.arange(problem.months), held=held)
    relaxed = relax(model.program, RELAX_SECONDS)
    if relaxed.point is None:
        return None if relaxed.status == "stopped" else ()
    found = [*_by_rows(problem, model, relaxed), *_by_bounds(problem, model, relaxed)]
    found += _by_take(plan, held, relaxed.value or 0.0)
    found.sort(key=lambda limit: -limit.worth)
    return _confirmed(problem, held, found, confirm, time_limit_seconds, cancel)


def limits_table(plan: Plan, limits: tuple[Limit, ...]) -> "pd.DataFrame":
    """One row per limit: the fields of `Limit`, its month by name."""
    import pandas as pd

    named = plan.problem.months_named
    rows = [{**limit.as_dict(), "month_name": None if limit.month is None else named[limit.month]} for limit in limits]
    return pd.DataFrame(rows, columns=[*Limit("take", 0, 0).as_dict(), "month_name"])


def held_by(plan: Plan) -> Held | None:
    """What a plan uses, and other months of the same technique and year that need no other tools; None for nothing."""
    problem = plan.problem
    used = np.bincount(problem.group, weights=plan.account.trees, minlength=len(problem.groups)) > 0
    if not used.any():
        return None
    used |= problem.always
    years = {(group.technique, group.start // 12) for group, on in zip(problem.groups, used, strict=True) if on}
    needed = [tool_pieces(tool, used).tolist() for tool in problem.tools]
    for place, group in enumerate(problem.groups):
        if not used[place] and (group.technique, group.start // 12) in years:
            used[place] = True
            used[place] = [tool_pieces(tool, used).tolist() for tool in problem.tools] == needed
    return Held(used, trees_in_batches(problem, plan.account.trees) > 0)


def _by_rows(problem: PlanProblem, model: Model, relaxed: Relaxation) -> list[Limit]:
    """Limits that are rows of the programme."""
    found = []
    for (promise, index), row in model.row_of.items():
        dual = float(relaxed.worth_of_high[row])
        worth = dual * (SAVINGS_STEP if promise == "money" else model.scale)
        if worth <= SMALL * model.scale:
            continue
        if promise == "trees":
            plot = problem.scenario.plots[index]
            what: What = "trees" if plot.works_on == "trees" else "places"
            found.append(Limit(what, 1.0, worth, name=plot.name))
        elif promise == "hands":
            found.append(Limit("hands", 1.0, worth, month=index))
        elif promise == "money":
            found.append(Limit("money", SAVINGS_STEP, worth, year=index))
        elif promise in ("scions", "plants", "share"):
            found.append(Limit(promise, 1.0, worth, year=index))
    return found


def _by_bounds(problem: PlanProblem, model: Model, relaxed: Relaxation) -> list[Limit]:
    """Limits that are bounds of columns: hands of a month, the floor, the loan."""
    found = []
    small = SMALL * model.scale
    if problem.hired_limit is not None:
        for place, month in enumerate(model.hired_months):
            worth = float(relaxed.worth_of_upper[model.hired.start + place]) * model.scale
            if month < problem.months and worth > small:
                found.append(Limit("hands", 1.0, worth, month=int(month)))
    floor = -relaxed.worth_of_lower[model.balance]
    if floor.sum() * SAVINGS_STEP > small:
        binding = model.floor_months[floor > SMALL * floor.max()]
        found.append(
            Limit("savings", SAVINGS_STEP, float(floor.sum()) * SAVINGS_STEP, months=tuple(int(m) for m in binding))
        )
    if model.loan is not None:
        worth = float(relaxed.worth_of_upper[model.loan]) * SAVINGS_STEP
        if worth > small:
            found.append(Limit("loan", SAVINGS_STEP, worth))
    return found


def _by_take(plan: Plan, held: Held | None, before: float) -> list[Limit]:
    """What one point more of take is worth, for each technique of the plan that can fail."""
    found = []
    for key in dict.fromkeys(start.technique for start in plan.starts):
        better = take_raised(plan.scenario, key, TAKE_STEP)
        if better is None:
            continue
        problem = _rebuilt(plan.problem, better)
        model = formulate(problem, np.arange(problem.months), held=held)
        after = relax(model.program, RELAX_SECONDS).value
        if after is not None and (after - before) * model.scale > SMALL * model.scale:
            found.append(Limit("take", TAKE_STEP, (after - before) * model.scale, name=key))
    return found


def _rebuilt(problem: PlanProblem, scenario: Scenario) -> PlanProblem:
    """The problem of a changed scenario, eased and asking for practice as the one before."""
    return replace(
        build(scenario, problem.planning),
        eased=problem.eased,
        practice=problem.practice,
        practice_needed=problem.practice_needed,
    )


def take_raised(scenario: Scenario, key: str, step: float) -> Scenario | None:
    """The scenario with a technique's take higher by a step in every year; None where that would pass 1."""
    technique = scenario.techniques[key]
    take = tuple(share + step for share in technique.take.value)
    if max(take) * max(1.0, technique.highest_factor[0]) > 1:
        return None
    return with_take(scenario, key, take)


def with_take(scenario: Scenario, key: str, take: tuple[float, ...]) -> Scenario:
    """The scenario with a technique's take by project year replaced, its range left as it is."""
    technique = scenario.techniques[key]
    figure = technique.take.model_copy(update={"value": take, "source": "own"})
    techniques = {**scenario.techniques, key: technique.model_copy(update={"take": figure})}
    return scenario.model_copy(update={"techniques": type(scenario.techniques)(techniques)})


def _confirmed(
    problem: PlanProblem,
    held: Held | None,
    limits: list[Limit],
    confirm: int,
    seconds: float,
    cancel: Cancel | None,
) -> tuple[Limit, ...]:
    """Solve again with one unit more of the first few limits that anybody could have more of."""
    if confirm <= 0 or not limits:
        return tuple(limits)
    base = solve(problem, TIGHT_GAP, seconds, cancel, held)
    if base is None or base.status != "proven":
        return tuple(limits)
    result = []
    for limit in limits:
        more = one_unit_more(problem, limit) if confirm > 0 else None
        if more is None:
            result.append(limit)
            continue
        confirm -= 1
        again = solve(more, TIGHT_GAP, seconds, cancel, held)
        proven = again is not None and again.status == "proven"
        # more of anything cannot make a plan worse: what is below 0 is the gap
        gain = max(0.0, again.account.aim - base.account.aim) if again is not None and proven else None
        result.append(replace(limit, confirmed=gain))
    return tuple(result)


def one_unit_more(problem: PlanProblem, limit: Limit) -> PlanProblem | None:
    """The problem with one unit more of what a limit speaks of; None for trees, of a stand or of a year."""
    scenario, planning = problem.scenario, problem.planning
    if limit.what == "hands" and limit.month is not None and problem.stated_hired_limit is not None:
        hands = problem.stated_hired_limit.copy()
        hands[limit.month] += limit.unit
        return replace(problem, stated_hired_limit=hands)
    if limit.what == "savings":
        household = scenario.household.model_copy(update={"savings": scenario.household.savings + limit.unit})
        return replace(problem, scenario=scenario.model_copy(update={"household": household}))
    if limit.what == "take" and limit.name is not None:
        better = take_raised(scenario, limit.name, limit.unit)
        return None if better is None else _rebuilt(problem, better)
    if limit.what == "loan" and planning.loan is not None:
        offer = planning.loan.model_copy(update={"limit": planning.loan.limit + limit.unit})
        return replace(problem, planning=planning.model_copy(update={"loan": offer}))
    if limit.what in ("scions", "plants", "money") and limit.year is not None:
        return replace(problem, planning=_more_in_year(problem, planning, limit))
    return None


def _more_in_year(problem: PlanProblem, planning: Planning, limit: Limit) -> Planning:
    """The planning with one unit more in one project year."""
    field = f"{limit.what}_per_year"
    yearly = problem.yearly(getattr(planning, field))
    assert yearly is not None
    assert limit.year is not None
    yearly[limit.year - 1] += limit.unit
    return planning.model_copy(update={field: tuple(yearly.tolist())})
