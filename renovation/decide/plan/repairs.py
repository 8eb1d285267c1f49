"""Where no plan keeps every promise: the small changes that would each alone make one possible, each tried.

The least of a change is sought by the planner's own programme with one more column s ≥ 0, made as small as can be:

    B(t) + relief(t)·s ≥ floor        living costs: relief(t) = t + 1; savings, or a lower floor: relief(t) = 1
    hired(t) ≤ limit(t) + s           in one calendar month, or in all;   spending(y) ≤ limit(y) + s;   loan ≤ s

It is rounded up to a step that people would say, the farm is changed by it, and the planner makes a plan for the
changed farm. Only where that plan keeps every promise the change is offered. That a step less is not enough is claimed
only where the programme's bound proves it. A change as large as nobody would call small is not offered.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Literal

import numpy as np

from renovation.decide.plan.clock import Cancel, Cancelled, Clock
from renovation.decide.plan.exact import account, best_loan
from renovation.decide.plan.plan import Plan
from renovation.decide.plan.question import Eased, PlanProblem, build
from renovation.decide.plan.rows import Model, formulate, minimising
from renovation.decide.plan.search import solve
from renovation.decide.plan.solver import Program, solve_program
from renovation.inputs import Scenario, month_count
from renovation.inputs.loans import LoanOffer, Payout
from renovation.inputs.scenario import twelve
from renovation.inputs.shapes import bounds, fields
from renovation.types import FloatArray, IntArray

What = Literal["living_costs", "savings", "floor", "loan", "hands", "money", "later"]

MOST_OFFERED = 3
SECONDS = 4.0
"""For the least of a change, and as many again for its trial."""
TRIAL_GAP = 0.01
"""Gap to which a trial's plan is proven: whether one is possible is what counts."""
MOST_OF_LIVING = 0.5
"""Share of the living costs that a family might do without, at most (common practice, no source)."""
MOST_DAYS = 25.0
"""Days a month that might be hired beside those stated: one more pair of hands (common practice, no source)."""
USUAL_RATE, USUAL_MONTHS, USUAL_GRACE = 0.15, 60, 12
"""Of a loan where the farm speaks of none: nominal rate a year, term and grace (common practice, no source)."""
MOST_LENT = bounds(fields(LoanOffer)["limit"]).upper or np.inf
"""What an offer may state at most."""
CLOSE = 1e-6
"""Share of a least change that the solver may be wrong by."""


@dataclass(frozen=True, eq=False)
class Repair:
    """One change that alone makes a plan possible, and the plan made with it.

    amount: money, money a month or a year, days a month; 0 of a later start. step: what it is rounded up to; smallest:
    whether one step less is proven not to be enough. month: the calendar month of more hands, None for all.
    loan: the offer as changed. scenario: the farm as changed, its planning included. plan: keeps every promise.
    """

    what: What
    amount: float
    step: float
    smallest: bool
    month: int | None
    loan: LoanOffer | None
    scenario: Scenario
    plan: Plan

    @property
    def loan_cost(self) -> float:
        """What the loan of the plan costs beside its worth: Σ (debt service − payouts)(t) / (1+r)^((t+1)/12)."""
        return -self.plan.account.loan_adds

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "change": self.what,
            "amount": self.amount,
            "calendar_month": self.month,
            "smallest_step_proven": self.smallest,
            "loan": None if self.loan is None else self.loan.model_dump(mode="json"),
            "trees": self.plan.trees,
            "npv": self.plan.npv,
        }


@dataclass(frozen=True)
class _Kind:
    """A kind of change: the programme that seeks its least, money or days of a unit of it, and how a farm takes it.

    most: a larger one is not offered.
    """

    what: What
    most: float
    seek: Callable[[], tuple[Model, Program, int]] | None
    put: Callable[[float], Scenario]
    is_money: bool = True
    month: int | None = None


def repairs(
    plan: Plan, *, on_change: Callable[[float], None] | None = None, cancel: Cancel | None = None
) -> tuple[Repair, ...]:
    """The changes that each alone make a plan possible, the smallest of their kind first; at most three.

    plan: one that breaks a promise as it was stated; of another there is nothing to repair. on_change: told the share
    of the changes tried. cancel: True ends the search with what was found. A farm whose hands learn is tried with the
    takes that the plan was made for.

    Example:
        >>> from renovation.decide.plan import make_plan
        >>> from renovation.inputs import demo_scenario
        >>> repairs(make_plan(demo_scenario(), gap=0.01))
        ()
    """
    if not plan.broken:
        return ()
    problem = replace(plan.problem, eased=Eased())
    kinds = list(_kinds(problem, plan))
    known = [plan.account.trees.astype(np.int64), np.zeros(len(problem.candidates), dtype=np.int64)]
    found: list[tuple[float, Repair]] = []
    for place, kind in enumerate(kinds):
        if cancel is not None and cancel():
            break
        try:
            repair = _least(problem, kind, known, cancel)
        except Cancelled:
            break
        if repair is not None:
            found.append((repair.amount / kind.most, repair))
        if on_change is not None:
            on_change((place + 1) / len(kinds))
    own_month = any(repair.what == "hands" and repair.month for _, repair in found)
    kept = [one for one in found if not (own_month and one[1].what == "hands" and one[1].month is None)]
    return tuple(repair for _, repair in sorted(kept, key=lambda one: one[0])[:MOST_OFFERED])


def _kinds(problem: PlanProblem, plan: Plan) -> Iterator[_Kind]:
    """Every kind of change that this farm might make."""
    scenario = problem.scenario.model_copy(update={"planning": problem.planning})
    household, planning = scenario.household, problem.planning
    living = np.array(twelve(household.living_costs))
    crop = float(np.maximum(0.0, problem.base_cash[:12]).sum())
    year = float(living.sum()) or crop or 1.0
    if living.min() > 0:
        most = min(float(living.min()), MOST_OF_LIVING * float(living.mean()))
        seek = partial(_relieved, problem, np.arange(1.0, problem.months + 1))
        yield _Kind("living_costs", most, seek, partial(_spend_less, scenario))
    relief = partial(_relieved, problem, np.ones(problem.months))
    yield _Kind("savings", year, relief, partial(_save_more, scenario))
    offer = offer_of(scenario)
    if offer is not None:
        lent = planning.loan.limit if planning.loan else 0.0
        yield _Kind(
            "loan",
            min(lent + year, MOST_LENT),
            partial(_lent, scenario, problem, offer),
            partial(with_offer, scenario, offer),
        )
    if problem.stated_hired_limit is not None:
        short = next((breach.month for breach in plan.broken if breach.promise == "hands"), None)
        if short is not None:
            month = (scenario.appraisal.start_calendar_month - 1 + short) % 12 + 1
            for one in (month, None):
                seek = partial(_more_hands, problem, one)
                yield _Kind("hands", MOST_DAYS, seek, partial(_hire_more, scenario, one), is_money=False, month=one)
    if planning.money_per_year is not None:
        stated = max(np.atleast_1d(np.asarray(planning.money_per_year)).max(), year)
        yield _Kind("money", float(stated), partial(_more_money, problem), partial(_allow_more, scenario))
    if problem.years < min(30, scenario.appraisal.horizon_years):
        longer = planning.model_copy(update={"years": problem.years + 1})
        yield _Kind("later", 1.0, None, lambda _: scenario.model_copy(update={"planning": longer}), is_money=False)


# The least of each: its model, the programme that makes it small, and its column


def _relieved(problem: PlanProblem, relief: FloatArray) -> tuple[Model, Program, int]:
    """Money in hand of every month eased by relief(t) of the column's unit."""
    model = formulate(problem, np.arange(problem.months), ("floor",))
    return model, _with_column(minimising(model, "floor"), model.slack["floor"], relief), model.slack["floor"]


def _more_hands(problem: PlanProblem, month: int | None) -> tuple[Model, Program, int]:
    """Hired days eased in one calendar month of every year, or in all."""
    model = formulate(problem, np.arange(problem.months), ("hands",))
    always = [at for promise, at in model.row_of if promise == "hands"]
    at = np.array([*always, *model.hired_months[model.hired_months < problem.months]], dtype=np.int64)
    calendar = (problem.scenario.appraisal.start_calendar_month - 1 + at) % 12 + 1
    eased = np.where((calendar == month) | (month is None), -1.0, 0.0)
    return model, _with_column(minimising(model, "hands"), model.slack["hands"], eased), model.slack["hands"]


def _more_money(problem: PlanProblem) -> tuple[Model, Program, int]:
    """Money to spend eased in every year."""
    model = formulate(problem, np.arange(problem.months), ("money",))
    return model, minimising(model, "money"), model.slack["money"]


def _lent(scenario: Scenario, problem: PlanProblem, offer: LoanOffer) -> tuple[Model, Program, int]:
    """The loan of an offer without a limit to speak of."""
    lending = with_offer(scenario, offer, offer.limit)
    built = build(lending, lending.planning, problem.candidates)
    wider = replace(built, practice=problem.practice, practice_needed=problem.practice_needed)
    model = formulate(wider, np.arange(wider.months))
    assert model.loan is not None
    gain = np.zeros_like(model.program.gain)
    gain[model.loan] = -1.0
    return model, replace(model.program, gain=gain, constant=0.0), model.loan


def _with_column(program: Program, column: int, values: FloatArray) -> Program:
    """The programme with other values in the rows that a column has a part in."""
    rows = program.rows.copy()
    rows.data[rows.indices == column] = values
    return replace(program, rows=rows)


# What a farm is like with it


def _spend_less(scenario: Scenario, amount: float) -> Scenario:
    costs = tuple(cost - amount for cost in twelve(scenario.household.living_costs))
    return _household(scenario, living_costs=costs)


def _save_more(scenario: Scenario, amount: float) -> Scenario:
    return _household(scenario, savings=scenario.household.savings + amount)


def _hire_more(scenario: Scenario, month: int | None, amount: float) -> Scenario:
    stated = twelve(scenario.household.hired_days_limit or 0.0)
    more = (days + (amount if month in (None, place) else 0.0) for place, days in enumerate(stated, 1))
    return _household(scenario, hired_days_limit=tuple(more))


def _household(scenario: Scenario, **changes: Any) -> Scenario:
    return scenario.model_copy(update={"household": scenario.household.model_copy(update=changes)})


def _allow_more(scenario: Scenario, amount: float) -> Scenario:
    stated = scenario.planning.money_per_year
    more = tuple(one + amount for one in stated) if isinstance(stated, tuple) else (stated or 0.0) + amount
    return scenario.model_copy(update={"planning": scenario.planning.model_copy(update={"money_per_year": more})})


def with_offer(scenario: Scenario, offer: LoanOffer, amount: float) -> Scenario:
    """The farm with the offer, of so much at most."""
    lent = offer.model_copy(update={"limit": amount})
    return scenario.model_copy(update={"planning": scenario.planning.model_copy(update={"loan": lent})})


def offer_of(scenario: Scenario) -> LoanOffer | None:
    """What a farm might borrow by: its offer, else the terms of a loan it speaks of, else usual ones.

    With room for any amount. None where the instalments would not end within the horizon.
    """
    household = scenario.household
    room = min(MOST_LENT, household.savings + household.floor + 2 * sum(twelve(household.living_costs)) + 1.0)
    named = [loan for loan in scenario.loans if not loan.running]
    if scenario.planning.loan is not None:
        offer = scenario.planning.loan
        return offer.model_copy(update={"limit": min(MOST_LENT, offer.limit + room)})
    if named:
        terms = {name: value for name, value in named[0] if name in LoanOffer.model_fields}
        return LoanOffer(**{**terms, "limit": room})
    if scenario.appraisal.months <= USUAL_MONTHS:
        return None
    return LoanOffer(
        name="loan",
        payouts=(Payout(month=scenario.appraisal.start),),
        rate_per_year=USUAL_RATE,
        term_months=USUAL_MONTHS,
        grace_months=USUAL_GRACE,
        limit=room,
    )


# Rounded and tried


def _least(problem: PlanProblem, kind: _Kind, known: Sequence[IntArray], cancel: Cancel | None) -> Repair | None:
    """The least change of one kind, rounded up and tried; None where it is too large or no plan was found with it.

    known: trees of plans that may do with it as it is.
    """
    if kind.seek is None:
        tried = _tried(problem, kind, 0.0, None, cancel)
        return None if tried is None else _repair(kind, 0.0, 0.0, smallest=False, tried=tried)
    model, program, column = kind.seek()
    unit = model.scale if kind.is_money else 1.0
    relaxed = solve_program(program.relaxed, time_limit_seconds=SECONDS)
    if relaxed.point is None:
        return None
    least = max(0.0, float(relaxed.point[column])) * unit
    rounded, step = _rounded(kind, least)
    trees = next((one for one in known if _kept(_changed(problem, kind, rounded), one)), None)
    if trees is None:  # what whole trees and tools ask for is more
        answer = Clock(SECONDS, cancel).solve(program, 1e-6)
        if answer.point is None:
            return None
        least = max(least, -(answer.bound or 0.0) * unit)
        rounded, step = _rounded(kind, float(answer.point[column]) * unit)
        trees = np.round(answer.point[model.trees]).astype(np.int64)
    for amount in (rounded, rounded + step):  # the solver's tolerance may have made it a little too small
        tried = None if amount > kind.most else _tried(problem, kind, amount, trees, cancel)
        if tried is not None:
            too_little = amount - step < least - CLOSE * least - 2 * problem.money_unit
            return _repair(kind, amount, step, smallest=too_little, tried=tried)
    return None


def _rounded(kind: _Kind, amount: float) -> tuple[float, float]:
    """An amount rounded up to a step that people would say, and the step: whole days, two digits of money."""
    step = step_of(amount) if kind.is_money else 1.0
    return max(1.0, float(np.ceil(amount / step - CLOSE))) * step, step


def step_of(amount: float) -> float:
    """The step in which people would say a sum of money: two digits of it, 1 at least.

    Example:
        >>> step_of(3870.0), step_of(4.2)
        (100.0, 1.0)
    """
    return 1.0 if amount < 10 else float(10.0 ** (np.floor(np.log10(amount)) - 1))


def _repair(kind: _Kind, amount: float, step: float, *, smallest: bool, tried: Plan) -> Repair:
    floor = tried.scenario.household.floor
    what: What = "floor" if kind.what == "savings" and amount <= floor else kind.what
    loan = tried.problem.planning.loan if kind.what == "loan" else None
    return Repair(what, amount, step, smallest, kind.month, loan, tried.scenario, tried)


def _tried(
    problem: PlanProblem, kind: _Kind, amount: float, known: IntArray | None, cancel: Cancel | None
) -> Plan | None:
    """A plan for the farm with the change made that keeps every promise; None where none was found."""
    tried = _changed(problem, kind, amount)
    found = solve(tried, TRIAL_GAP, SECONDS, cancel, known=known)
    if found is None or not found.account.keeps_promises:
        return None
    return Plan(tried, found, account(tried, np.zeros(len(tried.candidates), dtype=np.int64)), None)


def _kept(problem: PlanProblem, trees: IntArray) -> bool:
    """Whether trees keep every promise with the loan that suits them; practice that takes rest on is a promise too."""
    made = 0.0 if problem.practice is None else np.cumsum(trees @ problem.practice) - trees @ problem.practice
    enough = problem.practice_needed is None or bool((made >= problem.practice_needed * (1 - 1e-9)).all())
    return enough and account(problem, trees, best_loan(problem, trees)).keeps_promises


def _changed(problem: PlanProblem, kind: _Kind, amount: float) -> PlanProblem:
    """The problem of the farm with the change made; the practice that its takes rest on is asked for as before."""
    changed = kind.put(amount)
    if kind.seek is None:
        return build(changed, changed.planning)
    built = build(changed, changed.planning, problem.candidates)
    return replace(built, practice=problem.practice, practice_needed=problem.practice_needed)


def first_payout(offer: LoanOffer) -> str:
    """The month in which a loan is first paid out."""
    return min((payout.month for payout in offer.payouts), key=month_count)
