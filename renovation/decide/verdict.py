"""A loan on given terms against given money: schedule, coverage, missed payments, and what would fit (method §7)."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from renovation.farm import (
    by_year,
    month_labels,
)
from renovation.money.credit import CreditCost, contract_cost
from renovation.money.loan_cover import cover_band, cover_by_year, debt_cover, missed
from renovation.money.loan_fit import Condition, Fit, RepaymentMeans, fits
from renovation.money.loan_search import GraceFit, LargestAmount, largest_amount, latest_start, shortest_grace
from renovation.money.loan_terms import LoanTerms
from renovation.money.loans import Schedule, schedule
from renovation.types import BoolArray, FloatArray


@dataclass(frozen=True, eq=False)
class Verdict:
    """One loan, on given terms, against given money: everything that follows is worked out when asked for.

    means: the money it is repaid from, other loans beside it. farm_cash: shape (T,), before living costs.
    start: month 0 as `YYYY-MM`.
    """

    terms: LoanTerms
    means: RepaymentMeans
    farm_cash: FloatArray
    start: str

    @cached_property
    def schedule(self) -> Schedule:
        """The contract's schedule, nominal."""
        return schedule(self.terms, self.means.horizon_months, self._first_calendar_month)

    @cached_property
    def fit(self) -> Fit:
        """Balance, coverage and every broken condition."""
        return fits(self.schedule, self.means)

    @property
    def holds(self) -> bool:
        """Whether the loan fits."""
        return self.fit.holds

    @cached_property
    def breaks_first(self) -> Condition | None:
        """The condition broken earliest, a year's coverage being known at its end; None if all are kept."""
        return min(self.fit.broken, key=_known_in, default=None)

    @cached_property
    def cover_farm_only(self) -> FloatArray:
        """Coverage of all debt service by farm cash alone, (H,); nan in a year without any."""
        return debt_cover(by_year(self.farm_cash), by_year(self.fit.debt_service))

    @cached_property
    def cover_after_living(self) -> FloatArray:
        """Coverage by farm cash and other income less living costs, (H,); nan without debt service."""
        return debt_cover(by_year(self.means.flow_by_month), by_year(self.fit.debt_service))

    @cached_property
    def shortest_grace(self) -> GraceFit | None:
        """The shortest grace that fits, the term kept; None if none does, and of a running loan."""
        return None if self.terms.running else shortest_grace(self.terms, self.means, self._first_calendar_month)

    @cached_property
    def latest_start(self) -> GraceFit | None:
        """The latest start of repayment that fits, the term kept; None if none does, and of a running loan."""
        if self.shortest_grace is None:
            return None
        return latest_start(self.terms, self.means, self._first_calendar_month)

    @cached_property
    def largest(self) -> LargestAmount | None:
        """The largest loan that fits on these terms, and what stops a larger one; None of a running loan."""
        return None if self.terms.running else largest_amount(self.terms, self.means, self._first_calendar_month)

    @cached_property
    def credit_cost(self) -> CreditCost:
        """The full cost of the contract over its whole life, nominal."""
        return contract_cost(self.terms, self._first_calendar_month)

    @property
    def _first_calendar_month(self) -> int:
        return int(self.start[5:])

    def label(self, month: int) -> str:
        """`YYYY-MM` of a project month."""
        return month_labels(self.start, month + 1)[-1]

    def cover_rows(self) -> list[dict[str, Any]]:
        """One dict per project year: debt service of all loans, coverage both ways, each with its band."""
        service = by_year(self.fit.debt_service)
        farm, living = cover_by_year(self.cover_farm_only), cover_by_year(self.cover_after_living)
        return [
            {
                "year": year,
                "debt_service": float(service[year - 1]),
                "cover_farm_only": farm[year],
                "band_farm_only": cover_band(farm[year]),
                "cover_after_living": living[year],
                "band_after_living": cover_band(living[year]),
            }
            for year in farm
        ]

    def summary(self) -> dict[str, Any]:
        """What the terms come to, for `--json` and for setting verdicts side by side."""
        grace, latest, fit, largest = self.shortest_grace, self.latest_start, self.fit, self.largest
        return {
            "repayment": self.terms.repayment,
            "instalments": len(self.schedule.instalment_months),
            "first_instalment": self.label(self.schedule.first_instalment_month),
            "last_instalment": self.label(self.schedule.instalment_months[-1]),
            "largest_payment_nominal": float(self.schedule.debt_service.max()),
            "total_interest_nominal": float(self.schedule.total_interest),
            "full_cost_per_year": self.credit_cost.effective_per_year,
            "full_cost_nominal_per_year": self.credit_cost.nominal_per_year,
            "paid_less_received_nominal": self.credit_cost.more_than_received,
            "fits": self.holds,
            "breaks_first": self.told(self.breaks_first),
            "first_missed": None if fit.first_missed is None else self.label(fit.first_missed),
            "missed": int(self.missed_own.sum()),
            "lowest_cover_farm_only": _lowest(self.cover_farm_only),
            "lowest_cover_after_living": _lowest(self.cover_after_living),
            "lowest_balance": float(fit.balance.min()),
            "shortest_grace_months": None if grace is None else grace.grace_months,
            "latest_first_instalment": None if latest is None else self.label(latest.first_instalment_month),
            "largest_loan": None if largest is None else largest.amount,
            "largest_loan_limit": None if largest is None else self.told(largest.limit),
            "least_loan": None if largest is None else largest.lowest,
        }

    @cached_property
    def missed_own(self) -> BoolArray:
        """Months in which a payment of this very loan is due and the balance ends below 0, (T,)."""
        return missed(self.schedule.debt_service, self.fit.balance)

    def told(self, condition: Condition | None) -> dict[str, Any] | None:
        """A condition with stable keys; None stays None."""
        if condition is None:
            return None
        year = condition.period if condition.kind == "cover" else condition.period // 12 + 1
        month = None if condition.kind == "cover" else self.label(condition.period)
        return {
            "kind": condition.kind,
            "year": year,
            "month": month,
            "value": condition.value,
            "bound": condition.bound,
        }


def _known_in(condition: Condition) -> int:
    """Project month at whose end a condition is known to be broken."""
    return 12 * condition.period - 1 if condition.kind == "cover" else condition.period


def _lowest(cover: FloatArray) -> float | None:
    """The tightest year's coverage; None without debt service."""
    return None if np.isnan(cover).all() else float(np.nanmin(cover))
