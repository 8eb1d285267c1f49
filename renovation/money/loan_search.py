"""The loans that fit the money there is: the grace that works, the largest amount.

A balance at the end of a month, a year's coverage: both are linear in an unrounded loan's amount, so the
amounts that fit form one range, found in closed form.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from renovation.money.loan_cover import DUST, by_year, dust_of, grown, growth_by_month
from renovation.money.loan_fit import Condition, Fit, RepaymentMeans, check_single, fits, other_loans, short_and_low
from renovation.money.loan_terms import MOST_UNITS, LoanError, LoanTerms, instalment_months
from renovation.money.loans import (
    Schedule,
    flows_by_grace,
    money_of_units,
    schedule,
    to_constant_prices,
    unit_schedule,
)
from renovation.types import BoolArray, FloatArray

FAR = 1e16
"""An amount beyond all that can be reckoned to the unit: where lines that are next to level cross."""


@dataclass(frozen=True, eq=False)
class GraceFit:
    """A grace that fits: its length, the project month of the first instalment, its schedule and fit."""

    grace_months: int
    first_instalment_month: int
    schedule: Schedule
    fit: Fit


@dataclass(frozen=True)
class LargestAmount:
    """The largest loan that fits, nominal money, or what stands in the way.

    amount: top of the range of fitting amounts, rounded down to the unit; None if no amount fits.
    lowest: the least that keeps every balance at its floor, rounded up to the unit, one unit at least.
    limit: the condition that forbids more, with its value at one unit more than `amount` (at `lowest` if none
    fits). need: the condition that asks for `lowest`, with its value at one unit less; None if one unit is
    enough.
    """

    amount: float | None
    lowest: float
    limit: Condition
    need: Condition | None


def shortest_grace(terms: LoanTerms, means: RepaymentMeans, start_calendar_month: int) -> GraceFit | None:
    """The shortest grace with which the loan fits, its term kept; None if no grace does.

    The rounded schedule is judged. `terms.grace_months` is not used; the last payout must fall within grace.
    """
    return next(_graces(terms, means, start_calendar_month, longest_first=False), None)


def latest_start(terms: LoanTerms, means: RepaymentMeans, start_calendar_month: int) -> GraceFit | None:
    """The latest start of repayment (month of the first instalment) that fits, the term kept; None if none.

    The same search as `shortest_grace` from the other end: the longest grace that fits.
    """
    return next(_graces(terms, means, start_calendar_month, longest_first=True), None)


def largest_amount(terms: LoanTerms, means: RepaymentMeans, start_calendar_month: int) -> LargestAmount:
    """The largest loan on these terms that fits, rounded down to the unit, and what one unit more breaks.

    `terms.amount` is not used. Unrounded, each condition is linear in the amount a:
        cash_y − target·(service_y·a + other_y) ≥ 0   and   B(t) at a = 0, plus a·Σ(payout − service) ≥ floor,
    so what fits is a range [lowest, top], which need not begin at 0. With interest on savings this holds
    where no balance in the range is below 0; so a floor (or savings) below 0 is then refused.

    Raises LoanError as `schedule` does, and for savings interest with a floor or savings below 0.

    >>> means = RepaymentMeans(np.full(12, 11.0), savings=0.0, floor=0.0, cover_target=1.1)
    >>> terms = LoanTerms(1.0, ((0, 1.0),), 0.0, term_months=11, unit=1.0)
    >>> largest_amount(terms, means, start_calendar_month=1).amount
    120.0
    """
    check_single(means)
    lines = _Lines.of(terms, means, start_calendar_month)
    lowest, top = (int(units) for units in lines.range_in_units(terms.unit))
    some_fits = lines.fixed_kept().item() and lowest <= top
    amount, least, beyond, short_of = money_of_units(
        np.array([top, lowest, top + 1 if some_fits else lowest, lowest - 1], dtype=np.float64), terms.unit
    ).tolist()
    need = lines.condition(lines.need_at(), short_of) if lowest > 1 else None
    limit = lines.condition(lines.limit_at(), beyond)
    return LargestAmount(amount if some_fits else None, least, limit, need)


def largest_amounts(terms: LoanTerms, means: RepaymentMeans, start_calendar_month: int) -> FloatArray:
    """`largest_amount` for many cash series at once: flows (n, T) give amounts (n,), nan where none fits.

    >>> means = RepaymentMeans(np.array([[11.0], [-1.0]]) * np.ones(12), 0.0, 0.0, cover_target=1.1)
    >>> largest_amounts(LoanTerms(1.0, ((0, 1.0),), 0.0, 11, unit=1.0), means, 1).tolist()
    [120.0, nan]
    """
    lines = _Lines.of(terms, means, start_calendar_month)
    lowest, top = lines.range_in_units(terms.unit)
    return np.where(lines.fixed_kept() & (lowest <= top), money_of_units(top, terms.unit), np.nan)


@dataclass(frozen=True, eq=False)
class _Lines:
    """Every condition of fitting as a line in the amount a: const + slope·a ≥ 0, coverage first, then floors.

    const and dust: shape (..., H+T); slope: shape (H+T,).
    """

    means: RepaymentMeans
    cash_by_year: FloatArray
    other_service_by_year: FloatArray
    service_by_year: FloatArray
    const: FloatArray
    slope: FloatArray
    dust: FloatArray

    @classmethod
    def of(cls, terms: LoanTerms, means: RepaymentMeans, start_calendar_month: int) -> _Lines:
        """The lines of a loan of 1 on these terms."""
        rate = means.savings_rate_per_year
        if rate > 0 and min(means.floor, means.savings) < 0:
            raise LoanError("savings_interest_below_zero", floor=means.floor, savings=means.savings, lowest=0.0)
        unit = unit_schedule(terms, means.horizon_months, start_calendar_month)
        paid = np.where(unit.debt_service * MOST_UNITS < 0.5, 0.0, unit.debt_service)  # never a unit, whatever is lent
        service = to_constant_prices(paid, means.inflation_per_year)
        payout = to_constant_prices(unit.payout, means.inflation_per_year)
        other_payout, other_service = other_loans(means)
        cash, own, other = (by_year(x) for x in (means.cash_for_cover, service, other_service))
        held = means.savings * growth_by_month(means.horizon_months, rate) + grown(
            means.flow_by_month + other_payout - other_service, rate
        )
        net = grown(payout - service, rate)
        # A rate that inflation eats up leaves rounding dust after the last instalment: that is no slope.
        net[np.abs(net) < DUST * np.abs(net).max()] = 0.0
        blank = own + other == 0
        cover = np.where(blank, 0.0, cash - means.cover_target * other)
        const = np.concatenate([cover, held - means.floor], axis=-1)
        slope = np.concatenate([-means.cover_target * own, net])
        dust = np.concatenate(
            [
                np.broadcast_to(dust_of(cash), cash.shape),
                np.broadcast_to(np.maximum(dust_of(held), DUST * abs(means.floor)), held.shape),
            ],
            axis=-1,
        )
        return cls(means, cash, other, own, const, slope, dust)

    def fixed_kept(self) -> BoolArray:
        """Whether the conditions that no amount can change are kept."""
        return np.asarray((self.const >= -self.dust)[..., self.slope == 0].all(axis=-1))

    def range_in_units(self, unit: float) -> tuple[FloatArray, FloatArray]:
        """Least and most whole units that keep the conditions with a slope; none fits where least > most."""
        rises, falls = self.slope > 0, self.slope < 0
        least = np.maximum(np.ceil(self._crossings(rises).max(axis=-1, initial=0.0) / unit), 1.0)
        most = np.floor(self._crossings(falls).min(axis=-1, initial=np.inf) / unit)
        # The division may be off in its last digit: the line itself decides between neighbours.
        most = np.where(self._kept(most + 1, unit, falls), most + 1, most)
        most = np.where(self._kept(most, unit, falls), most, most - 1)
        least = np.where((least > 1) & self._kept(least - 1, unit, rises), least - 1, least)
        least = np.where(self._kept(least, unit, rises), least, least + 1)
        return least, most

    def limit_at(self) -> int:
        """Place of what forbids more: a broken condition that no amount can change, else the tightest."""
        fixed = np.flatnonzero((self.slope == 0) & (self.const < -self.dust))
        if fixed.size:
            return int(fixed[0])
        falls = np.flatnonzero(self.slope < 0)
        return int(falls[np.argmin(self._crossings(self.slope < 0))])

    def need_at(self) -> int:
        """Place of the condition that asks for most."""
        rises = np.flatnonzero(self.slope > 0)
        return int(rises[np.argmax(self._crossings(self.slope > 0))])

    def condition(self, at: int, amount: float) -> Condition:
        """The condition at a place, with its value at an amount."""
        years = self.cash_by_year.shape[-1]
        if at < years:
            service = self.service_by_year[at] * amount + self.other_service_by_year[at]
            return Condition("cover", at + 1, float(self.cash_by_year[at] / service), self.means.cover_target)
        value = float(self.const[at] + self.slope[at] * amount) + self.means.floor
        return Condition("floor", at - years, value, self.means.floor)

    def _crossings(self, which: BoolArray) -> FloatArray:
        """Amounts at which the chosen lines cross zero, dust allowed for; lines next to level cross at `FAR`."""
        with np.errstate(over="ignore"):
            return np.clip((self.const + self.dust)[..., which] / -self.slope[which], -FAR, FAR)

    def _kept(self, units: FloatArray, unit: float, which: BoolArray) -> BoolArray:
        """Whether the chosen lines are kept at a number of whole units."""
        amount = money_of_units(np.asarray(units), unit)[..., None]
        return np.asarray(((self.const + self.dust)[..., which] + self.slope[which] * amount >= 0).all(axis=-1))


def _graces(
    terms: LoanTerms, means: RepaymentMeans, start_calendar_month: int, *, longest_first: bool
) -> Iterator[GraceFit]:
    """The graces that fit, from one end."""
    check_single(means)
    likely = likely_graces(terms, means, start_calendar_month)
    for grace in reversed(likely) if longest_first else likely:
        loan = schedule(replace(terms, grace_months=grace), means.horizon_months, start_calendar_month)
        fit = fits(loan, means)
        if fit.holds:
            yield GraceFit(grace, loan.first_instalment_month, loan, fit)


def likely_graces(terms: LoanTerms, means: RepaymentMeans, start_calendar_month: int) -> list[int]:
    """The graces that fit, found all at once, and those whose debt grows so large that `schedule` refuses them."""
    shortest = terms.payouts[-1][0] - terms.first_month
    if shortest >= terms.term_months:
        return []
    try:
        due = instalment_months(replace(terms, grace_months=shortest), start_calendar_month)
    except LoanError as error:
        if error.code == "no_harvest_month_to_repay_in":
            return []
        raise
    graces = range(shortest, due[-1] - terms.first_month)  # a longer grace outlasts the last instalment
    payout, service, highest = flows_by_grace(terms, graces, means.horizon_months, start_calendar_month)
    other_payout, other_service = other_loans(means)
    payout = other_payout + to_constant_prices(payout, means.inflation_per_year)
    service = other_service + to_constant_prices(service, means.inflation_per_year)
    _, short, low = short_and_low(means, payout, service)
    kept = ~short.any(axis=-1) & ~low.any(axis=-1)
    return [grace for grace, likely in zip(graces, kept | (highest > MOST_UNITS), strict=True) if likely]
