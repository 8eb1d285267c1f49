"""Where no careful plan keeps the floor: the small changes with which the same trees do, each tried on fresh futures.

In a future k the balance of the plan is B_k(t), and what a unit of a change adds to it by month t is known beforehand:

    savings: 1        living costs, a month: t + 1        a loan: its payouts less its payments so far

so the amounts with which that future keeps its promise are one range, and the least with which enough futures do is
read off. It is rounded up to what people would say. A year later is the same trees begun twelve months later. Each is
then judged on futures that it was not made for, and offered only where the promise holds there too. That a smaller
change would not do is not claimed: other trees may be safer with it.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from renovation.decide.held import as_held
from renovation.decide.plan.exact import account
from renovation.decide.plan.question import PlanProblem, build
from renovation.decide.plan.repairs import CLOSE, MOST_LENT, MOST_OF_LIVING, MOST_OFFERED, offer_of, step_of, with_offer
from renovation.decide.risk.answers import Estimate, chance_of
from renovation.decide.risk.careful_rows import SHARE, strategy_of, trees_begun
from renovation.decide.risk.futures import Futures
from renovation.decide.risk.judge import farm_cash, stray_of
from renovation.decide.risk.strategy import Strategy, lay_out
from renovation.inputs import Scenario, Treatment, month_count, year_month
from renovation.inputs.loans import LoanOffer
from renovation.inputs.scenario import twelve
from renovation.money import balance as balance_by_month
from renovation.types import BoolArray, FloatArray
from renovation.words import smallest_unit


@dataclass(frozen=True, eq=False)
class Mend:
    """One change with which a plan keeps the floor, and no instalment is missed, in nine futures of ten.

    amount: money, or money a month; 0 of a later start. loan: the offer it is taken from, its limit what is taken.
    loan_cost: Σ (debt service − payouts)(t) / (1+r)^((t+1)/12) of what is borrowed more. scenario: the farm as changed.
    strategy: the plan with it. kept: how often, on fresh futures.
    """

    what: Literal["savings", "living_costs", "loan", "later"]
    amount: float
    loan: LoanOffer | None
    loan_cost: float
    scenario: Scenario
    strategy: Strategy
    kept: Estimate

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "change": self.what,
            "amount": self.amount,
            "loan": None if self.loan is None else self.loan.model_dump(mode="json"),
            "kept": self.kept.as_dict(),
        }


@dataclass(frozen=True, eq=False)
class _Change:
    """A kind of change before it is judged; size: its share of the largest that is offered."""

    what: Literal["savings", "living_costs", "loan", "later"]
    amount: float
    size: float
    scenario: Scenario
    strategy: Strategy
    loan: LoanOffer | None = None
    loan_cost: float = 0.0


def mends(
    problem: PlanProblem, strategy: Strategy, planned_on: Futures, fresh: Futures, margin: float
) -> tuple[Mend, ...]:
    """The changes that each alone let a plan keep its floor in nine futures of ten, the smallest first; at most three.

    problem: of the farm, unchanged. strategy: the careful plan. planned_on: futures from which amounts are read, and
    margin: what the share is raised by for their number. fresh: futures to judge on.

    Example (a first plan that was not tried on futures, and what lets it keep the floor in nine of ten):
        >>> from renovation.decide.plan.quick import quick_plan
        >>> from renovation.decide.risk.futures import draw_futures
        >>> from renovation.inputs import demo_scenario
        >>> plan = quick_plan(demo_scenario("old_stand_with_gaps")).plan
        >>> draws = [draw_futures(plan.scenario.risk, 25, 512, seed) for seed in (1, 2)]
        >>> found = mends(plan.problem, Strategy("it", plan.treatments), *draws, 0.0)
        >>> sorted(one.what for one in found)
        ['living_costs', 'loan', 'savings']
    """
    scenario = problem.scenario.model_copy(update={"planning": problem.planning})
    found = []
    for change in _changes(scenario, problem, strategy, planned_on, SHARE + margin):
        kept = _keeps(change.scenario, change.strategy, fresh)
        chance = chance_of(kept, fresh.replicates)
        if chance.value + chance.error >= SHARE:
            facts = {name: getattr(change, name) for name in ("what", "amount", "loan", "loan_cost")}
            found.append((change.size, Mend(**facts, scenario=change.scenario, strategy=change.strategy, kept=chance)))
    return tuple(mend for _, mend in sorted(found, key=lambda one: one[0])[:MOST_OFFERED])


def _changes(
    scenario: Scenario, problem: PlanProblem, strategy: Strategy, futures: Futures, share: float
) -> Iterator[_Change]:
    """Every change that may do, with the least amount of it."""
    balance, least = _balances(scenario, strategy, futures)
    short = least - balance
    living = np.array(twelve(scenario.household.living_costs))
    year = float(living.sum()) or float(np.maximum(0.0, problem.base_cash[:12]).sum()) or 1.0
    amount = _said(_least(short, np.ones(problem.months), share))
    if amount <= year:
        household = scenario.household.model_copy(update={"savings": scenario.household.savings + amount})
        yield _Change("savings", amount, amount / year, scenario.model_copy(update={"household": household}), strategy)
    most = min(float(living.min()), MOST_OF_LIVING * float(living.mean()))
    amount = _said(_least(short, np.arange(1.0, problem.months + 1), share))
    if amount <= most:
        costs = tuple((living - amount).tolist())
        household = scenario.household.model_copy(update={"living_costs": costs})
        changed = scenario.model_copy(update={"household": household})
        yield _Change("living_costs", amount, amount / most, changed, strategy)
    if (offer := offer_of(scenario)) is not None:
        yield from _lent(problem, strategy, offer, short, share, year)
    yield from _later(scenario, problem, strategy)


def _lent(
    problem: PlanProblem, strategy: Strategy, offer: LoanOffer, short: FloatArray, share: float, year: float
) -> Iterator[_Change]:
    """The least loan more, from an offer, with which enough futures keep their promise."""
    scenario = problem.scenario.model_copy(update={"planning": problem.planning})
    lending = with_offer(scenario, offer, offer.limit)
    wider = build(lending, lending.planning, problem.candidates)
    assert wider.loan_unit is not None
    amount, before = _least(short, np.cumsum(wider.loan_unit), share), sum(loan.amount for loan in strategy.loans)
    if not np.isfinite(amount):
        return
    whole = _said(before + amount)
    most = min(before + year, MOST_LENT)
    if whole > min(most, offer.limit):
        return
    taken = offer.model_copy(update={"limit": whole})
    trees = trees_begun(problem, strategy.treatments)
    if not account(wider, trees, whole).keeps_promises:
        return
    lent = strategy_of(replace(wider, planning=lending.planning), trees, whole)
    cost = -float(wider.discount[: wider.months] @ wider.loan_unit) * (whole - before)
    changed = with_offer(scenario, offer, whole)
    yield _Change("loan", whole, (whole - before) / year, changed, lent, taken, cost)


def _later(scenario: Scenario, problem: PlanProblem, strategy: Strategy) -> Iterator[_Change]:
    """The same trees begun twelve months later, where that keeps every other promise."""
    if problem.years >= min(30, scenario.appraisal.horizon_years) or not strategy.treatments:
        return
    planning = problem.planning.model_copy(update={"years": problem.years + 1})
    treatments = tuple(
        Treatment(stand=t.stand, technique=t.technique, trees=t.trees, start=year_month(month_count(t.start) + 12))
        for t in strategy.treatments
    )
    changed = scenario.model_copy(update={"planning": planning})
    later = build(changed, planning)
    trees = trees_begun(later, treatments)
    loan = sum(one.amount for one in strategy.loans)
    if trees.sum() == sum(t.trees for t in treatments) and account(later, trees, loan).keeps_promises:
        yield _Change("later", 0.0, 0.0, changed, Strategy(strategy.key, treatments, strategy.loans))


def _least(short: FloatArray, relief: FloatArray, share: float) -> float:
    """The least a ≥ 0 with short(k, t) ≤ a·relief(t) in every month of so many futures; ∞ where none is, (K, T), (T,).

    Example (half a unit is missing in one of two futures, and three in the other):
        >>> _least(np.array([[0.5, 0.0], [3.0, 1.0]]), np.ones(2), 0.5), _least(np.array([[3.0]]), np.ones(1), 1.0)
        (0.5, 3.0)
    """
    helps, costs = relief > 0, relief < 0
    low = (short[:, helps] / relief[helps]).max(axis=1, initial=0.0)
    high = (short[:, costs] / relief[costs]).min(axis=1, initial=np.inf)
    high = np.where((short[:, relief == 0] > 0).any(axis=1), -np.inf, high)
    low, high = np.where(low <= high, low, np.inf), np.where(low <= high, high, np.inf)
    needed = int(np.ceil(share * len(short) - 1e-9))
    amounts, ends = np.sort(low), np.sort(high)
    inside = np.searchsorted(amounts, amounts, side="right") - np.searchsorted(ends, amounts, side="left")
    enough = amounts[(inside >= needed) & np.isfinite(amounts)]
    return float(enough[0]) if enough.size else float("inf")


def _said(amount: float) -> float:
    """A sum rounded up to what people would say; ∞ stays."""
    step = step_of(amount) if np.isfinite(amount) else 1.0
    return max(1.0, float(np.ceil(amount / step - CLOSE))) * step


def _keeps(scenario: Scenario, strategy: Strategy, futures: Futures) -> BoolArray:
    """Whether each future keeps the floor and every instalment, to the cent, (K,)."""
    balance, least = _balances(scenario, strategy, futures)
    return np.asarray((balance >= least).all(axis=1))


def _balances(scenario: Scenario, strategy: Strategy, futures: Futures) -> tuple[FloatArray, FloatArray]:
    """The balance of each future and month, (K, T), and the least it may be, (T,)."""
    layout = lay_out(as_held(scenario, strategy.treatments), strategy)
    cash, _ = farm_cash(layout, futures, stray_of(layout, futures), slice(None))
    side = layout.cash
    flow = cash + side.other_income - side.money_out + side.loan_payout - side.loan_fee
    floor = scenario.household.floor
    cents = smallest_unit(scenario.appraisal.currency) / 2 * (1 + np.count_nonzero(side.debt_service))
    least = np.where(side.debt_service > 0, max(floor, 0.0), floor)
    return balance_by_month(side.savings, flow, side.savings_rate_per_year), least - cents
