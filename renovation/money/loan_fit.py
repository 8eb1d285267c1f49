"""Does a loan fit the money there is: coverage in every year, balance in every month.

Cash is in constant prices; a loan's schedule is nominal and is brought to constant prices here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from renovation.money.loan_cover import (
    DUST,
    balance,
    by_year,
    check_savings_rate,
    cover_band,
    cover_by_year,
    debt_cover,
    dust_of,
    first_missed,
)
from renovation.money.loan_terms import LoanError, LoanTerms
from renovation.money.loans import Schedule, schedule, to_constant_prices
from renovation.types import BoolArray, FloatArray

if TYPE_CHECKING:
    import pandas as pd

ConditionKind = Literal["cover", "floor"]


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
        check_savings_rate(self.savings_rate_per_year)
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
                "available": by_year(self.means.cash_for_cover),
                "debt_service": by_year(self.debt_service),
                "cover": pd.Series(list(cover.values()), dtype=object),
                "band": pd.Series([cover_band(value) for value in cover.values()], dtype=object),
            }
        )


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


def fits(loan: Schedule, means: RepaymentMeans) -> Fit:
    """Whether a loan keeps coverage ≥ target in every year with debt service and B ≥ floor in every month.

    `loan` as it stands, rounded or not; other loans of `means` count in both conditions.

    >>> means = RepaymentMeans(np.full(24, 15.0), savings=0.0, floor=0.0, cover_target=1.2)
    >>> loan = schedule(LoanTerms(120.0, ((0, 1.0),), 0.0, 12), 24, start_calendar_month=1)
    >>> fits(loan, means).cover.round(4).tolist(), fits(loan, means).holds
    ([1.6364, 18.0], True)
    """
    check_single(means)
    payout, service = other_loans(means)
    service = service + to_constant_prices(loan.debt_service, means.inflation_per_year)
    payout = payout + to_constant_prices(loan.payout, means.inflation_per_year)
    held, short, low = short_and_low(means, payout, service)
    cover = debt_cover(by_year(means.cash_for_cover), by_year(service))
    broken = [Condition("cover", int(y) + 1, float(cover[y]), means.cover_target) for y in np.flatnonzero(short)]
    broken += [Condition("floor", int(t), float(held[t]), means.floor) for t in np.flatnonzero(low)]
    return Fit(means, service, held, cover, tuple(broken), first_missed(service, held))


def short_and_low(
    means: RepaymentMeans, payout: FloatArray, service: FloatArray
) -> tuple[FloatArray, BoolArray, BoolArray]:
    """Balance (..., T), years with too little coverage (..., H), months below the floor (..., T); constant prices."""
    held = balance(means.savings, means.flow_by_month + payout - service, means.savings_rate_per_year)
    cash_by_year, service_by_year = by_year(means.cash_for_cover), by_year(service)
    short = cash_by_year - means.cover_target * service_by_year < -dust_of(cash_by_year)
    low = held - means.floor < -np.maximum(dust_of(held), DUST * abs(means.floor))
    return held, short & (service_by_year > 0), low


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


def _check_months(flow: FloatArray) -> None:
    """Refuse cash that is not finite or not of whole years."""
    if flow.ndim < 1 or flow.shape[-1] == 0 or flow.shape[-1] % 12:
        raise ValueError(f"cash by month must cover whole years, got shape {flow.shape}")
    if not np.isfinite(flow).all():
        raise ValueError("cash by month must be finite")


def check_single(means: RepaymentMeans) -> None:
    """Refuse many series where one is judged."""
    if means.flow_by_month.ndim != 1:
        raise ValueError(f"one cash series of shape (T,) is needed, got {means.flow_by_month.shape}")


def other_loans(means: RepaymentMeans) -> tuple[FloatArray, FloatArray]:
    """Payouts and debt service of the loans already there, constant prices."""
    none = np.zeros(means.horizon_months)
    payout = none if means.other_payout is None else means.other_payout
    service = none if means.other_service is None else means.other_service
    pi = means.inflation_per_year
    return to_constant_prices(payout, pi), to_constant_prices(service, pi)
