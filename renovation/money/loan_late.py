"""What can be agreed where a loan under way does not fit any more: shift, stretch or top up, each changed least.

What is owed at the end of month −1 is agreed anew, at the contract's rate and in its kind of repayment:

- shift: every instalment k months later; until repayment begins nothing is paid and interest joins the debt, and the
  instalments are set on the balance then.
- stretch: a term n months longer, its instalments set on what is owed now.
- top up: a further loan paid out in month 0 and repaid in the same months; the loan itself stays as it is.

Where repayment falls in harvest months only, k and n are whole years: the months stay the harvest's. The least k, n and
sum that fit are found by trying each in turn (the sum from the closed form of `loan_search` on); that one fits is said
by `fits` of its own rounded schedule alone.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from renovation.money.loan_fit import RepaymentMeans, fits
from renovation.money.loan_near import LONGER, LONGEST_GRACE, MOST_SHARE, ROUNDINGS
from renovation.money.loan_search import largest_amount
from renovation.money.loan_terms import LoanError, LoanTerms
from renovation.money.loans import Schedule, schedule

AgreementKind = Literal["shift", "stretch", "top_up"]
MOST_TOP_UP = MOST_SHARE - 1
"""Share of the loan's own amount beyond which a further sum serves another purpose, and is not offered."""


@dataclass(frozen=True)
class Agreement:
    """One change that fits. months: k or n; 0 of a further sum. terms: of the loan agreed anew, or of that sum."""

    kind: AgreementKind
    months: int
    terms: LoanTerms


def agreements(
    plan: Schedule, means: RepaymentMeans, start_calendar_month: int, step: float | None = None
) -> tuple[Agreement, ...]:
    """The least shift, the least stretch and the least further sum that fit; none where the loan fits as it stands.

    plan: of a running loan. step: what a further sum is a whole number of, the smallest unit where None. Of a shift at
    most 36 months are tried, of a stretch 60, of a sum half the loan's amount; the last instalment falls within the
    horizon.

    Example (ten instalments of 12 are left and 8 a month come in: fifteen of 8, or ten that begin five months later):
        >>> means = RepaymentMeans(np.full(36, 8.0), savings=0.0, floor=0.0, cover_target=0.9)
        >>> terms = LoanTerms(120.0, ((-1, 1.0),), 0.0, 10, running=True)
        >>> [(one.kind, one.months) for one in agreements(schedule(terms, 36, 1), means, 1)]
        [('shift', 5), ('stretch', 5)]
    """
    if plan.owed_before < plan.terms.unit or fits(plan, means).holds:
        return ()
    search = _Search(plan, means, start_calendar_month, step or plan.terms.unit)
    found = (search.first(search.shifts()), search.first(search.stretches()), search.top_up())
    return tuple(one for one in found if one is not None)


def agreed_anew(plan: Schedule) -> LoanTerms:
    """What is owed at the end of month −1 as a loan paid out then, its months and payouts to come as they were.

    Its schedule is `plan`'s own where the instalments left were set on what is owed.
    """
    terms = plan.terms
    to_come = plan.payout + plan.fee
    amount = round((plan.owed_before + float(to_come.sum())) / terms.unit) * terms.unit
    later = tuple((int(month), float(to_come[month]) / amount) for month in np.flatnonzero(to_come > 0))
    return replace(
        terms,
        amount=amount,
        payouts=((-1, 1 - sum(share for _, share in later)), *later),
        grace_months=max(terms.end_of_grace, -1) + 1,
        term_months=terms.last_month + 1,
        owed=None,
    )


def shifted(anew: LoanTerms, months: int) -> LoanTerms:
    """The loan agreed anew, all its instalments so many months later; interest joins the debt until then."""
    grace, term = anew.grace_months + months, anew.term_months + months
    return replace(anew, grace_months=grace, term_months=term, grace_interest="added")


def stretched(anew: LoanTerms, months: int) -> LoanTerms:
    """The loan agreed anew over a term so many months longer."""
    return replace(anew, term_months=anew.term_months + months)


def further_sum(plan: Schedule, amount: float, unit: float | None = None) -> LoanTerms:
    """A loan of `amount` paid out in month 0 and repaid in the months that `plan` has left, on its conditions."""
    terms = plan.terms
    return replace(
        terms,
        amount=amount,
        payouts=((0, 1.0),),
        grace_months=max(0, terms.end_of_grace),
        term_months=terms.last_month,
        unit=unit or terms.unit,
        running=False,
        owed=None,
    )


def means_beside(plan: Schedule, means: RepaymentMeans) -> RepaymentMeans:
    """The money that a further sum is repaid from: the loan itself is there as the others are."""
    nothing = np.zeros(means.horizon_months)
    payout = nothing if means.other_payout is None else means.other_payout
    service = nothing if means.other_service is None else means.other_service
    return replace(means, other_payout=payout + plan.payout, other_service=service + plan.debt_service)


class _Search:
    """One search about a loan as it stands."""

    def __init__(self, plan: Schedule, means: RepaymentMeans, calendar_month: int, step: float) -> None:
        self.plan, self.means, self.calendar_month, self.step = plan, means, calendar_month, step
        self.anew = agreed_anew(plan)
        self.stride = 12 if plan.terms.repayment == "harvest" else 1

    def first(self, tried: Iterator[Agreement]) -> Agreement | None:
        """The first that fits."""
        return next((one for one in tried if self._holds(one.terms, self.means)), None)

    def shifts(self) -> Iterator[Agreement]:
        """Shifts, the shortest first."""
        for months in range(self.stride, LONGEST_GRACE + 1, self.stride):
            yield Agreement("shift", months, shifted(self.anew, months))

    def stretches(self) -> Iterator[Agreement]:
        """Longer terms, the shortest first."""
        for months in range(self.stride, LONGER + 1, self.stride):
            yield Agreement("stretch", months, stretched(self.anew, months))

    def top_up(self) -> Agreement | None:
        """The least further sum that fits, in whole steps."""
        beside, most = means_beside(self.plan, self.means), MOST_TOP_UP * self.plan.terms.amount
        try:
            found = largest_amount(further_sum(self.plan, self.step, self.step), beside, self.calendar_month)
        except LoanError:
            return None
        if found.amount is None:
            return None
        amount = max(self.step, found.lowest)
        for _ in range(ROUNDINGS):
            if amount > most:
                return None
            if self._holds(further_sum(self.plan, amount), beside):
                return Agreement("top_up", 0, further_sum(self.plan, self._back(amount, beside)))
            amount += self.step
        return None

    def _back(self, amount: float, beside: RepaymentMeans) -> float:
        """A sum moved down while a step less still fits: rounded instalments may ask for less than unrounded ones."""
        while amount > self.step and self._holds(further_sum(self.plan, amount - self.step), beside):
            amount -= self.step
        return amount

    def _holds(self, terms: LoanTerms, means: RepaymentMeans) -> bool:
        """Whether a loan can be and fits."""
        try:
            return fits(schedule(terms, means.horizon_months, self.calendar_month), means).holds
        except LoanError:
            return False
