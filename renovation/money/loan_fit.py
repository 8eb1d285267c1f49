"""Does a loan fit the money there is: coverage, balance, the grace that works, the largest amount.

Cash is in constant prices; a loan's schedule is nominal and is brought to constant prices here. A balance at
the end of a month, a year's coverage: both are linear in an unrounded loan's amount, so the amounts that
fit form one range, found in closed form.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

from renovation.money.loans import (
    MOST_UNITS,
    LoanError,
    LoanTerms,
    Schedule,
    flows_by_grace,
    instalment_months,
    money_of_units,
    schedule,
    to_constant_prices,
    unit_schedule,
)
from renovation.types import BoolArray, FloatArray

if TYPE_CHECKING:
    import pandas as pd

ConditionKind = Literal["cover", "floor"]
CoverBand = Literal["good", "caution", "high_risk"]

GOOD_COVER_ABOVE = 1.50
CAUTION_COVER_FROM = 1.10
"""Lending practice: above 1.50 good, 1.10 to 1.50 caution, below 1.10 high risk (Kohl, 2023)."""

DUST = 1e-12
"""Money below this share of the largest figure of its series is rounding dust of binary numbers."""


@dataclass(frozen=True, eq=False)
class RepaymentMeans:
    """The money a loan would be repaid from, constant prices of month 0.

    flow_by_month: shape (T,), T whole years, or (n, T) for `largest_amounts`: farm cash + other income −
    living costs, before any loan. cover_cash_by_month: what coverage is measured on where that differs (farm
    cash alone); else flow_by_month. savings: balance before month 0. floor: lowest balance allowed.
    cover_target: lowest debt service coverage allowed, above 0. other_payout, other_service: loans already
    there, nominal, shape (T,), payout net of fee. savings_rate_per_year: effective, on a balance above 0.

    Raises LoanError for a figure out of range, ValueError for arrays that do not match.
    """

    flow_by_month: FloatArray
    savings: float
    floor: float
    cover_target: float
    cover_cash_by_month: FloatArray | None = None
    inflation_per_year: float = 0.0
    savings_rate_per_year: float = 0.0
    other_payout: FloatArray | None = None
    other_service: FloatArray | None = None

    def __post_init__(self) -> None:
        """Refuse targets, rates and arrays that cannot be meant."""
        if not (math.isfinite(self.cover_target) and self.cover_target > 0):
            raise LoanError("cover_target_not_positive", cover_target=self.cover_target)
        if not (math.isfinite(self.savings) and math.isfinite(self.floor)):
            raise LoanError("savings_or_floor_not_finite", savings=self.savings, floor=self.floor)
        _check_savings_rate(self.savings_rate_per_year)
        to_constant_prices([0.0], self.inflation_per_year)  # refuses an inflation that cannot be
        _check_months(self.flow_by_month)
        months = self.flow_by_month.shape[-1:]
        for other in (self.other_payout, self.other_service):
            if other is not None and (other.shape != months or not np.isfinite(other).all() or other.min() < 0):
                raise ValueError(f"other loans must be finite, not negative and of shape {months}")
        cover = self.cover_cash_by_month
        if cover is not None and (cover.shape != self.flow_by_month.shape or not np.isfinite(cover).all()):
            raise ValueError(f"cash for coverage must be finite and of shape {self.flow_by_month.shape}")

    @property
    def horizon_months(self) -> int:
        """T."""
        return int(self.flow_by_month.shape[-1])

    @property
    def cash_for_cover(self) -> FloatArray:
        """Cash by month on which coverage is measured."""
        return self.flow_by_month if self.cover_cash_by_month is None else self.cover_cash_by_month


@dataclass(frozen=True)
class Condition:
    """One condition: "cover" in a project year (`period` 1 ... H) or "floor" in a month (0 ... T−1).

    value: coverage of that year, or balance at the end of that month. bound: the least it may be.
    """

    kind: ConditionKind
    period: int
    value: float
    bound: float


@dataclass(frozen=True, eq=False)
class Fit:
    """How one loan sits on the money there is, constant prices.

    debt_service: all loans, shape (T,). balance: end of month, shape (T,). cover: by project year, shape
    (H,), nan where a year has no debt service. broken: every condition broken, years first. first_missed:
    first month with debt service and a balance below 0, or None.
    """

    means: RepaymentMeans
    debt_service: FloatArray
    balance: FloatArray
    cover: FloatArray
    broken: tuple[Condition, ...]
    first_missed: int | None

    @property
    def holds(self) -> bool:
        """Whether every condition is kept."""
        return not self.broken

    @property
    def lowest_cover(self) -> float | None:
        """Coverage of the tightest year; None without debt service."""
        return None if np.isnan(self.cover).all() else float(np.nanmin(self.cover))

    def by_month(self) -> pd.DataFrame:
        """One row a month: money available that month beside the debt service due in it."""
        import pandas as pd

        return pd.DataFrame(
            {
                "month": np.arange(self.balance.size),
                "available": self.means.flow_by_month,
                "debt_service": self.debt_service,
                "balance": self.balance,
            }
        )

    def by_year(self) -> pd.DataFrame:
        """One row a project year: cash for coverage, debt service, coverage and its band (blank is None)."""
        import pandas as pd

        cover = cover_by_year(self.cover)
        return pd.DataFrame(
            {
                "project_year": list(cover),
                "available": _by_year(self.means.cash_for_cover),
                "debt_service": _by_year(self.debt_service),
                "cover": pd.Series(list(cover.values()), dtype=object),
                "band": pd.Series([cover_band(value) for value in cover.values()], dtype=object),
            }
        )


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


@dataclass(frozen=True, eq=False)
class TermsComparison:
    """The same loan repaid level and in harvest months, side by side."""

    level: Schedule
    harvest: Schedule
    level_fit: Fit
    harvest_fit: Fit

    def table(self) -> pd.DataFrame:
        """One row a way of repaying."""
        import pandas as pd

        pairs = ((self.level, self.level_fit), (self.harvest, self.harvest_fit))
        return pd.DataFrame(
            [
                {
                    "repayment": plan.terms.repayment,
                    "instalments": len(plan.instalment_months),
                    "largest_payment": plan.debt_service.max(),
                    "total_interest": plan.total_interest,
                    "lowest_cover": fit.lowest_cover,
                    "lowest_balance": fit.balance.min(),
                    "first_missed": fit.first_missed,
                    "fits": fit.holds,
                }
                for plan, fit in pairs
            ]
        )


def balance(savings: float, net_flow_by_month: FloatArray, savings_rate_per_year: float = 0.0) -> FloatArray:
    """Balance at the end of each month, shape (..., T): B(t) = B(t−1) + i·max(0, B(t−1)) + flow(t).

    B(−1) = savings, i = (1 + rate)^(1/12) − 1. Raises LoanError for a negative rate.

    >>> balance(100.0, np.array([-150.0, 30.0])).tolist()
    [-50.0, -20.0]
    """
    _check_savings_rate(savings_rate_per_year)
    flow: FloatArray = np.asarray(net_flow_by_month, dtype=np.float64)
    if savings_rate_per_year == 0:
        return np.asarray(savings + np.cumsum(flow, axis=-1))
    monthly = math.expm1(math.log1p(savings_rate_per_year) / 12)
    out = np.empty_like(flow)
    held = np.full(flow.shape[:-1], savings, dtype=np.float64)
    for month in range(flow.shape[-1]):
        held = held + monthly * np.maximum(0.0, held) + flow[..., month]
        out[..., month] = held
    return out


def debt_cover(cash_by_year: npt.ArrayLike, debt_service_by_year: npt.ArrayLike) -> FloatArray:
    """Debt service coverage by year, shape (..., H): cash available / debt service, nan in a year without.

    Raises LoanError for a negative debt service, ValueError for figures that are not finite.

    >>> debt_cover([300.0, 90.0], [200.0, 0.0]).tolist()
    [1.5, nan]
    """
    cash, service = np.broadcast_arrays(
        np.asarray(cash_by_year, dtype=np.float64), np.asarray(debt_service_by_year, dtype=np.float64)
    )
    if not (np.isfinite(cash).all() and np.isfinite(service).all()):
        raise ValueError("cash and debt service must be finite")
    if (service < 0).any():
        raise LoanError("debt_service_negative", lowest=float(service.min()))
    cover: FloatArray = np.full(cash.shape, np.nan)
    np.divide(cash, service, out=cover, where=service > 0)
    return cover


def cover_by_year(cover: FloatArray) -> dict[int, float | None]:
    """Coverage keyed by project year from 1, None in a year without debt service.

    >>> cover_by_year(np.array([1.5, np.nan]))
    {1: 1.5, 2: None}
    """
    return {year: None if math.isnan(value) else value for year, value in enumerate(cover.tolist(), start=1)}


def cover_band(cover: float | None) -> CoverBand | None:
    """Band of a year's coverage: "good" above 1.50, "caution" from 1.10, else "high_risk" (Kohl, 2023).

    None for a blank. Differences below 1e-9 are none: 1.5 of whole cents is not always 1.5 in binary numbers.

    >>> cover_band(1.51), cover_band(1.5), cover_band(1.1), cover_band(1.09), cover_band(None)
    ('good', 'caution', 'caution', 'high_risk', None)
    """
    if cover is None or math.isnan(cover):
        return None
    if cover > GOOD_COVER_ABOVE + 1e-9:
        return "good"
    return "caution" if cover >= CAUTION_COVER_FROM - 1e-9 else "high_risk"


def missed(debt_service: FloatArray, balance_by_month: FloatArray) -> BoolArray:
    """Months of a missed instalment, shape (..., T): debt service in the month and a balance below 0.

    >>> missed(np.array([0.0, 5.0]), np.array([[-1.0, 2.0], [1.0, -2.0]])).tolist()
    [[False, False], [False, True]]
    """
    below = balance_by_month < -_dust(balance_by_month)
    return np.asarray((debt_service > 0) & below, dtype=np.bool_)


def first_missed(debt_service: FloatArray, balance_by_month: FloatArray) -> int | None:
    """First month with debt service in which the balance is below 0; None if there is none.

    >>> first_missed(np.array([0.0, 5.0, 5.0]), np.array([-1.0, 2.0, -3.0]))
    2
    """
    months = np.flatnonzero(missed(debt_service, balance_by_month))
    return int(months[0]) if months.size else None


def fits(loan: Schedule, means: RepaymentMeans) -> Fit:
    """Whether a loan keeps coverage ≥ target in every year with debt service and B ≥ floor in every month.

    `loan` as it stands, rounded or not; other loans of `means` count in both conditions.

    >>> means = RepaymentMeans(np.full(24, 15.0), savings=0.0, floor=0.0, cover_target=1.2)
    >>> loan = schedule(LoanTerms(120.0, ((0, 1.0),), 0.0, 12), 24, start_calendar_month=1)
    >>> fits(loan, means).cover.round(4).tolist(), fits(loan, means).holds
    ([1.6364, 18.0], True)
    """
    _check_single(means)
    payout, service = _other(means)
    service = service + to_constant_prices(loan.debt_service, means.inflation_per_year)
    payout = payout + to_constant_prices(loan.payout, means.inflation_per_year)
    held, short, low = _short_and_low(means, payout, service)
    cover = debt_cover(_by_year(means.cash_for_cover), _by_year(service))
    broken = [Condition("cover", int(y) + 1, float(cover[y]), means.cover_target) for y in np.flatnonzero(short)]
    broken += [Condition("floor", int(t), float(held[t]), means.floor) for t in np.flatnonzero(low)]
    return Fit(means, service, held, cover, tuple(broken), first_missed(service, held))


def _short_and_low(
    means: RepaymentMeans, payout: FloatArray, service: FloatArray
) -> tuple[FloatArray, BoolArray, BoolArray]:
    """Balance (..., T), years with too little coverage (..., H), months below the floor (..., T); constant prices."""
    held = balance(means.savings, means.flow_by_month + payout - service, means.savings_rate_per_year)
    cash_by_year, service_by_year = _by_year(means.cash_for_cover), _by_year(service)
    short = cash_by_year - means.cover_target * service_by_year < -_dust(cash_by_year)
    low = held - means.floor < -np.maximum(_dust(held), DUST * abs(means.floor))
    return held, short & (service_by_year > 0), low


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


def compare_terms(
    terms: LoanTerms, harvest_months: tuple[int, ...], means: RepaymentMeans, start_calendar_month: int
) -> TermsComparison:
    """The same amount, rate, grace and term repaid level and in the named calendar months.

    Raises LoanError where either loan cannot be.
    """
    level = replace(terms, repayment="level", harvest_months=())
    harvest = replace(terms, repayment="harvest", harvest_months=harvest_months)
    plans = [schedule(t, means.horizon_months, start_calendar_month) for t in (level, harvest)]
    return TermsComparison(plans[0], plans[1], fits(plans[0], means), fits(plans[1], means))


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
    _check_single(means)
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
        service = to_constant_prices(unit.debt_service, means.inflation_per_year)
        payout = to_constant_prices(unit.payout, means.inflation_per_year)
        other_payout, other_service = _other(means)
        cash, own, other = (_by_year(x) for x in (means.cash_for_cover, service, other_service))
        held = means.savings * _growth(means.horizon_months, rate) + _grown(
            means.flow_by_month + other_payout - other_service, rate
        )
        net = _grown(payout - service, rate)
        # A rate that inflation eats up leaves rounding dust after the last instalment: that is no slope.
        net[np.abs(net) < DUST * np.abs(net).max()] = 0.0
        blank = own + other == 0
        cover = np.where(blank, 0.0, cash - means.cover_target * other)
        const = np.concatenate([cover, held - means.floor], axis=-1)
        slope = np.concatenate([-means.cover_target * own, net])
        dust = np.concatenate(
            [
                np.broadcast_to(_dust(cash), cash.shape),
                np.broadcast_to(np.maximum(_dust(held), DUST * abs(means.floor)), held.shape),
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
        """Amounts at which the chosen lines cross zero, dust allowed for."""
        return np.asarray((self.const + self.dust)[..., which] / -self.slope[which])

    def _kept(self, units: FloatArray, unit: float, which: BoolArray) -> BoolArray:
        """Whether the chosen lines are kept at a number of whole units."""
        amount = money_of_units(np.asarray(units), unit)[..., None]
        return np.asarray(((self.const + self.dust)[..., which] + self.slope[which] * amount >= 0).all(axis=-1))


def _graces(
    terms: LoanTerms, means: RepaymentMeans, start_calendar_month: int, *, longest_first: bool
) -> Iterator[GraceFit]:
    """The graces that fit, from one end."""
    _check_single(means)
    likely = _likely_graces(terms, means, start_calendar_month)
    for grace in reversed(likely) if longest_first else likely:
        loan = schedule(replace(terms, grace_months=grace), means.horizon_months, start_calendar_month)
        fit = fits(loan, means)
        if fit.holds:
            yield GraceFit(grace, loan.first_instalment_month, loan, fit)


def _likely_graces(terms: LoanTerms, means: RepaymentMeans, start_calendar_month: int) -> list[int]:
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
    other_payout, other_service = _other(means)
    payout = other_payout + to_constant_prices(payout, means.inflation_per_year)
    service = other_service + to_constant_prices(service, means.inflation_per_year)
    _, short, low = _short_and_low(means, payout, service)
    kept = ~short.any(axis=-1) & ~low.any(axis=-1)
    return [grace for grace, likely in zip(graces, kept | (highest > MOST_UNITS), strict=True) if likely]


def _check_savings_rate(rate_per_year: float) -> None:
    """Refuse interest on savings below 0."""
    if not (math.isfinite(rate_per_year) and rate_per_year >= 0):
        raise LoanError("savings_rate_negative", savings_rate=rate_per_year)


def _check_months(flow: FloatArray) -> None:
    """Refuse cash that is not finite or not of whole years."""
    if flow.ndim < 1 or flow.shape[-1] == 0 or flow.shape[-1] % 12:
        raise ValueError(f"cash by month must cover whole years, got shape {flow.shape}")
    if not np.isfinite(flow).all():
        raise ValueError("cash by month must be finite")


def _check_single(means: RepaymentMeans) -> None:
    """Refuse many series where one is judged."""
    if means.flow_by_month.ndim != 1:
        raise ValueError(f"one cash series of shape (T,) is needed, got {means.flow_by_month.shape}")


def _other(means: RepaymentMeans) -> tuple[FloatArray, FloatArray]:
    """Payouts and debt service of the loans already there, constant prices."""
    none = np.zeros(means.horizon_months)
    payout = none if means.other_payout is None else means.other_payout
    service = none if means.other_service is None else means.other_service
    pi = means.inflation_per_year
    return to_constant_prices(payout, pi), to_constant_prices(service, pi)


def _by_year(by_month: FloatArray) -> FloatArray:
    """Sums by project year, shape (..., T) to (..., H)."""
    return np.asarray(by_month.reshape(*by_month.shape[:-1], -1, 12).sum(axis=-1))


def _growth(months: int, rate_per_year: float) -> FloatArray:
    """What 1 held before month 0 has grown to at the end of each month."""
    return np.asarray((1 + rate_per_year) ** ((np.arange(months) + 1) / 12))


def _grown(flow: FloatArray, rate_per_year: float) -> FloatArray:
    """Flows held from the end of their month on, with interest on whatever is held."""
    growth = _growth(flow.shape[-1], rate_per_year)
    return np.asarray(np.cumsum(flow / growth, axis=-1) * growth)


def _dust(series: FloatArray) -> FloatArray:
    """What counts as nothing beside a series' largest figure, one axis kept."""
    return np.asarray(DUST * np.abs(series).max(axis=-1, keepdims=True))
