"""Judge strategies on futures: every strategy on the same ones, on whole arrays (method §9)."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from renovation.decide.risk.attempts import outcome_shares
from renovation.decide.risk.futures import Futures
from renovation.decide.risk.hands import shares_by_hands
from renovation.decide.risk.products import product
from renovation.decide.risk.strategy import Layout, Parts
from renovation.farm import cash_gaps
from renovation.money import balance as balance_by_month
from renovation.money import discount_factors, missed
from renovation.types import BoolArray, FloatArray

BLOCK = 128
"""Futures whose months are worked out at once: enough to fill the processor's cache, not more."""


@dataclass(frozen=True, eq=False)
class Judged:
    """What one strategy comes to in each of n futures over H years.

    npv: (n,) of the incremental economic account. deepest: (n,) lowest balance at the end of a month. deepest_due: (n,)
    of a month with an instalment, infinite where there is none. gap: (n, H) cash-gap years. missed: (n, H) years with a
    missed instalment. year_end: (n, H) balance at the end of each year.
    """

    npv: FloatArray
    deepest: FloatArray
    deepest_due: FloatArray
    gap: BoolArray
    missed: BoolArray
    year_end: FloatArray


def judge(layout: Layout, futures: Futures) -> Judged:
    """Judge one strategy, laid out by `lay_out`, on any futures; raises ValueError where their years differ.

    Example:
        >>> from renovation.decide.risk.futures import as_expected
        >>> from renovation.decide.risk.strategy import lay_out, strategies_of
        >>> from renovation.inputs import demo_scenario
        >>> s = demo_scenario()
        >>> layout = lay_out(s, strategies_of(s)[0])
        >>> judged = judge(layout, as_expected(s.appraisal.horizon_years))
        >>> bool(judged.npv[0] == layout.expected_npv), bool(judged.deepest[0] == layout.cash.balance.min())
        (True, True)
    """
    years = layout.scenario.appraisal.horizon_years
    if futures.years != years:
        raise ValueError(f"futures of {futures.years} years for a horizon of {years}")
    stray = stray_of(layout, futures)
    npv = _npv(layout, futures, stray)
    number = futures.number
    deepest, due, year_end = np.empty(number), np.full(number, np.inf), np.empty((number, years))
    gap, late = np.empty((number, years), dtype=bool), np.empty((number, years), dtype=bool)
    cash = layout.cash
    flow = cash.loan_payout - cash.loan_fee
    owes = np.flatnonzero(cash.debt_service)
    for first in range(0, number, BLOCK):
        rows = slice(first, min(first + BLOCK, number))
        money_in = farm_cash(layout, futures, stray, rows)[0] + cash.other_income
        gap[rows] = cash_gaps(money_in, cash.money_out)
        money_in -= cash.money_out
        money_in += flow
        balance = balance_by_month(cash.savings, money_in, cash.savings_rate_per_year)
        late[rows] = _any_in_year(missed(cash.debt_service, balance)) if owes.size else False
        due[rows] = balance[:, owes].min(axis=1, initial=np.inf)
        year_end[rows] = balance[:, 11::12]
        deepest[rows] = balance.min(axis=1)
    return Judged(npv, deepest, due, gap, late, year_end)


def judge_all(layouts: Sequence[Layout], futures: Futures) -> tuple[Judged, ...]:
    """Judge several strategies on the same futures."""
    return tuple(judge(layout, futures) for layout in layouts)


def npv_in(layout: Layout, futures: Futures) -> FloatArray:
    """NPV alone in each future, (n,): a hundred times quicker than the months of a household's balance."""
    return _npv(layout, futures, stray_of(layout, futures))


def _any_in_year(months: BoolArray) -> BoolArray:
    """Whether anything happens in each year, (..., T) to (..., H)."""
    return np.asarray(months.reshape(*months.shape[:-1], -1, 12).any(axis=-1))


def stray_of(layout: Layout, futures: Futures) -> FloatArray | None:
    """How far the share of trees that each attempt establishes strays from what is expected, (n, ΣJ)."""
    drawn = shares_by_hands(layout, futures)
    if not layout.outcomes or (futures.luck is None and not drawn):
        return None
    stray = []
    for place, outcome in enumerate(layout.outcomes):
        expected = outcome_shares(outcome.takes, outcome.seasons, None, 0.0, 1)
        found = drawn.get(place)
        if found is None:
            found = outcome_shares(
                outcome.takes, outcome.seasons, futures.luck, futures.spread, futures.number, futures.known
            )
        stray.append(found - expected)
    return np.concatenate(stray, axis=1)


def _npv(layout: Layout, futures: Futures, stray: FloatArray | None) -> FloatArray:
    """NPV of the incremental economic account, (n,): the expected one, and what each future adds to it.

    Of year y: price·crop on gross sales, crop on deductions and harvest work, wage on work, inputs on supplies and
    tools. The economic account is linear, so the farm as it is is taken off beforehand.
    """
    scenario, change, tools = layout.scenario, layout.change, layout.tools
    market, household = scenario.market, scenario.household
    sales, kg, days, materials, *paid = strayed(change, layout.outcomes_by_year, stray)
    crop, wage, inputs = futures.crop, futures.wage, futures.inputs
    earned = sales * (futures.price * crop)
    earned += (futures.price - 1) * crop * market.deductions_per_kg * kg
    earned -= change.sales
    work = days + (crop - 1) * market.harvest_days_per_kg * kg
    work *= wage
    work -= change.days
    earned -= household.wage_per_day * household.labour_value * work
    spent = (materials + tools) * inputs
    spent -= change.materials + tools
    earned -= spent
    if change.payments is not None:
        earned += paid[0] - change.payments
    rate = scenario.appraisal.discount_rate
    earned *= discount_factors(rate, futures.years)
    return np.asarray(layout.expected_npv + earned.sum(axis=1))


def strayed(expected: Parts, outcomes: FloatArray, stray: FloatArray | None) -> tuple[FloatArray, ...]:
    """The parts in each future, sales first: as expected, moved by trees that went another way."""
    whole = expected.each
    if stray is None:
        return whole
    moved = product(stray, outcomes)
    moved += np.concatenate(whole)
    return tuple(np.split(moved, len(whole), axis=1))


def farm_cash(layout: Layout, futures: Futures, stray: FloatArray | None, rows: slice) -> tuple[FloatArray, FloatArray]:
    """The farm's cash account and its hired days by month in some futures, (n, T) each, as `Flows.cash` sums it."""
    scenario, side = layout.scenario, layout.flows.with_plan
    market = scenario.market
    part = Parts.of(scenario, side)
    some = None if stray is None else stray[rows]
    sales, kg, days, materials, *paid = strayed(part, layout.outcomes_by_month, some)
    price, crop = futures.price[rows], futures.crop[rows]
    cash = _monthly(price * crop, sales)
    cash += _monthly((price - 1) * crop * market.deductions_per_kg, kg)
    cash += side.other_income
    if paid:
        cash += paid[0] - side.payments
    spent = futures.inputs[rows]
    cash -= _monthly(spent, materials)
    bought = np.flatnonzero(side.tools)
    cash[:, bought] -= side.tools[bought] * spent[:, bought // 12]
    hired = _monthly((crop - 1) * market.harvest_days_per_kg, kg)
    hired += days
    hired -= side.family_days_available
    np.maximum(hired, 0.0, out=hired)
    cash -= _monthly(futures.wage[rows] * side.wage_per_day, hired)
    return cash, hired


def _monthly(yearly: FloatArray, months: FloatArray) -> FloatArray:
    """Each year's factor times each of its months, (n, H) and (n, T) or (T,) to (n, T)."""
    product = np.repeat(yearly, 12, axis=1)
    product *= months
    return product
