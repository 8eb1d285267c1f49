"""Loan schedules by month, in the contract's own (nominal) money, rounded as a lender rounds them or not at all."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from renovation.money.loan_terms import MOST_UNITS, LoanError, LoanTerms, instalment, instalment_months
from renovation.types import FloatArray

if TYPE_CHECKING:
    import pandas as pd

ALMOST_HALF = 1e-9
"""A fraction this little below a half still rounds up: it is a half that binary numbers could not hold."""


def to_constant_prices(nominal_by_month: npt.ArrayLike, inflation_per_year: float) -> FloatArray:
    """Nominal amounts, shape (..., T), in prices of month 0: amount(t) / (1+π)^((t+1)/12).

    Raises LoanError for inflation of −100 % or below.

    >>> to_constant_prices([0.0] * 11 + [112.0], 0.12)[-1].round(10).item()
    100.0
    """
    if not (math.isfinite(inflation_per_year) and inflation_per_year > -1):
        raise LoanError("inflation_out_of_range", inflation=inflation_per_year, above=-1.0)
    nominal = np.asarray(nominal_by_month, dtype=np.float64)
    years = (np.arange(nominal.shape[-1]) + 1) / 12
    return np.asarray(nominal / (1 + inflation_per_year) ** years, dtype=np.float64)


@dataclass(frozen=True, eq=False)
class Schedule:
    """A loan month by month, nominal money, every array of shape (T,) and read-only.

    payout: received, net of fee. fee: kept back. interest: paid. interest_added: joined to the balance.
    principal: what the payment takes off the balance. debt_service: interest + principal, interest paid
    during grace among it. balance: owed at the end of the month. In every month

        balance(t) = balance(t−1) + payout + fee + interest_added − principal.

    With harvest-month repayment interest joins the balance every month after grace and every instalment is
    paid off that balance, so all of its interest stands under interest_added. interest_in_payment: the part of each
    payment that is interest, in every kind of schedule: a payment first pays the interest that has come up since the
    last one; interest added during grace is principal from its end on.
    instalment_months: the project months of the instalments. owed_before: owed at the end of month −1, 0 but for a
    running loan, whose earlier months are in no array; by_contract_before: the same by the contract alone.
    unpaid_before: the interest among it that came up after grace and since the last payment.
    """

    terms: LoanTerms
    start_calendar_month: int
    instalment_months: tuple[int, ...]
    payout: FloatArray
    fee: FloatArray
    interest: FloatArray
    interest_added: FloatArray
    principal: FloatArray
    debt_service: FloatArray
    balance: FloatArray
    interest_in_payment: FloatArray
    owed_before: float = 0.0
    by_contract_before: float = 0.0
    unpaid_before: float = 0.0

    @property
    def first_instalment_month(self) -> int:
        """Project month in which repayment starts."""
        return self.instalment_months[0]

    @property
    def net_flow(self) -> FloatArray:
        """Money into the household's hand less money out of it, by month: payout − debt service."""
        return self.payout - self.debt_service

    @property
    def interest_charged(self) -> FloatArray:
        """Interest that comes up, paid at once or added, (T,): balance = before + payout + fee + this − payment."""
        return self.interest + self.interest_added

    @property
    def principal_in_payment(self) -> FloatArray:
        """The part of each payment that is not interest, (T,)."""
        return self.debt_service - self.interest_in_payment

    @property
    def total_interest(self) -> float:
        """All interest from month 0 on, paid at once or added first."""
        return math.fsum(self.interest) + math.fsum(self.interest_added)

    @property
    def total_fee(self) -> float:
        """All fees kept back."""
        return math.fsum(self.fee)

    def table(self) -> pd.DataFrame:
        """One row a month over the whole horizon, nominal money."""
        import pandas as pd

        month = np.arange(self.balance.size)
        return pd.DataFrame(
            {
                "month": month,
                "project_year": month // 12 + 1,
                "calendar_month": (self.start_calendar_month - 1 + month) % 12 + 1,
                "payout": self.payout,
                "fee": self.fee,
                "interest": self.interest,
                "interest_added": self.interest_added,
                "principal": self.principal,
                "debt_service": self.debt_service,
                "interest_in_payment": self.interest_in_payment,
                "principal_in_payment": self.principal_in_payment,
                "balance": self.balance,
            }
        )


def schedule(terms: LoanTerms, horizon_months: int, start_calendar_month: int) -> Schedule:
    """The contract's schedule, rounded as a lender rounds it, in whole smallest units.

    Interest, instalments (for equal principal: their principal part) and each payout's fee are rounded half
    up to the unit, 1e-9 of a unit below a half counting as a half; the last instalment clears the balance to
    exactly 0. Rounding up can clear a tiny loan early; its remaining instalments are then 0.

    A running loan is worked out from its first payout on and cut at month 0. Where the lender's `owed` is more than a
    unit from the contract's own balance, the instalments left are set anew on it: at once, or at the end of grace.

    Raises LoanError where the last instalment would fall at or after `horizon_months`, or all of them before month 0,
    or where the debt grows beyond 2^53 units.

    2500 at 8.24 % over twelve months (numpy-financial's own example) costs 112.98 of interest unrounded,
    and a cent more or less with each month's interest rounded:

    >>> loan = schedule(LoanTerms(2500.0, ((0, 1.0),), 0.0824, 12), 24, start_calendar_month=1)
    >>> loan.debt_service[1].item(), loan.interest[1:4].tolist(), loan.balance[12].item()
    (217.75, [17.17, 15.79, 14.4], 0.0)
    """
    due = due_within(terms, horizon_months, start_calendar_month)
    units = round(terms.amount / terms.unit)
    lines, before = _run(terms, units, due, horizon_months, half_up)
    if lines["balance"].max() > MOST_UNITS:
        largest = terms.amount * MOST_UNITS / lines["balance"].max()
        raise LoanError("amount_too_large", amount=terms.amount, largest=largest)
    lines = {name: money_of_units(line, terms.unit) for name, line in lines.items()}
    return _frozen(terms, start_calendar_month, due, lines, money_of_units(np.array(before), terms.unit))


def unit_schedule(terms: LoanTerms, horizon_months: int, start_calendar_month: int) -> Schedule:
    """The schedule of a loan of 1, unrounded: `terms.amount`, `terms.unit` and `terms.owed` are not used.

    Unrounded, every line is linear in the amount: amounts (n,) give lines (n, T) by
    `amounts[:, None] * unit.debt_service`. Raises LoanError as `schedule` does.

    >>> unit = unit_schedule(LoanTerms(2500.0, ((0, 1.0),), 0.0824, 12), 24, start_calendar_month=1)
    >>> round(2500 * unit.total_interest, 8)
    112.98308424
    """
    due = due_within(terms, horizon_months, start_calendar_month)
    return _frozen(terms, start_calendar_month, due, *_run(terms, 1.0, due, horizon_months, float))


def flows_by_grace(
    terms: LoanTerms, graces: range, horizon_months: int, start_calendar_month: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """`schedule` with each grace at once: payout (T,), debt service (G, T), and the most owed in units (G,).

    graces: rising, each leaving an instalment; `terms.grace_months` is not used. The most owed is the balance of a
    month before its payment: where it passes 2^53 units the debt service means nothing, and `schedule` refuses the
    loan or counts on in whole numbers. Raises LoanError as `schedule` does else.

    >>> terms = LoanTerms(2500.0, ((0, 1.0),), 0.0824, 12)
    >>> _, service, _ = flows_by_grace(terms, range(0, 2), 24, start_calendar_month=1)
    >>> service[:, 1].tolist()
    [217.75, 17.17]
    """
    widest = replace(terms, grace_months=graces[0])
    due = due_within(widest, horizon_months, start_calendar_month)
    units = round(terms.amount / terms.unit)
    payouts = payouts_of(terms, units, half_up)
    payout = np.zeros(horizon_months)
    for month, gross in payouts.items():
        payout[month] = gross - half_up(gross * terms.fee_share)
    ends = terms.first_month + np.asarray(graces)
    owed, regular, highest = np.zeros(ends.size), np.zeros(ends.size), np.zeros(ends.size)
    service = np.zeros((ends.size, horizon_months))
    for month in range(terms.first_month, due[-1] + 1):
        in_grace = month <= ends
        charged = np.floor(owed * terms.rate_per_month + 0.5 + ALMOST_HALF)
        paid_at_once = np.where(in_grace, terms.grace_interest == "paid", terms.repayment != "harvest")
        interest = np.where(paid_at_once, charged, 0.0)
        owed = owed + payouts.get(month, 0) + (charged - interest)  # in this order no sum on the way is inexact
        for row in np.flatnonzero(ends == month):
            left = tuple(m for m in due if m > month)
            regular[row] = half_up(regular_of(terms, float(owed[row]), left, month))
        principal = np.zeros(ends.size)
        if month == due[-1]:
            principal = owed
        elif month in due:
            wanted = regular if terms.repayment == "equal_principal" else regular - interest
            principal = np.where(in_grace, 0.0, np.minimum(np.maximum(0.0, wanted), owed))
        highest = np.maximum(highest, owed)
        owed = owed - principal
        service[:, month] = interest + principal
    return money_of_units(payout, terms.unit), money_of_units(service, terms.unit), highest


def due_within(terms: LoanTerms, horizon_months: int, start_calendar_month: int) -> tuple[int, ...]:
    """Months of the instalments, none after the horizon and not all of them before it, or refused."""
    due = instalment_months(terms, start_calendar_month)
    if due[-1] >= horizon_months:
        raise LoanError("last_instalment_after_horizon", month=due[-1], last_allowed=horizon_months - 1)
    if due[-1] < 0:
        raise LoanError("loan_is_over", month=due[-1])
    return due


def half_up(value: float) -> int:
    """Round half up, a hair below a half counting as a half."""
    return math.floor(value + 0.5 + ALMOST_HALF)


def payouts_of(terms: LoanTerms, amount: Any, rounded: Callable[[Any], Any]) -> dict[int, Any]:
    """Full payouts by month, fee included: steps of the rounded cumulative share; the last is the rest."""
    paid: dict[int, Any] = {}
    so_far: Any = 0
    share_so_far = 0.0
    for month, share in terms.payouts[:-1]:
        share_so_far += share
        paid[month] = rounded(amount * share_so_far) - so_far
        so_far += paid[month]
    paid[terms.payouts[-1][0]] = amount - so_far
    return paid


def _run(
    terms: LoanTerms,
    amount: float,
    due: tuple[int, ...],
    horizon_months: int,
    rounded: Callable[[float], float],
) -> tuple[dict[str, FloatArray], FloatArray]:
    """Walk the loan's life once; with `rounded` = float unrounded, with `half_up` in whole units.

    Also gives, of the end of month −1, (3,): what is owed as reckoned with, by the contract alone, and the interest
    among it that came up after grace and since the last payment.
    """
    names = (
        "payout",
        "fee",
        "interest",
        "interest_added",
        "principal",
        "debt_service",
        "balance",
        "interest_in_payment",
    )
    lines = {name: np.zeros(horizon_months) for name in names}
    payouts = payouts_of(terms, amount, rounded)
    due_months = frozenset(due)
    stated = None if terms.owed is None or rounded is float else round(terms.owed / terms.unit)
    before = np.zeros(3)
    owed: float = 0
    regular: float = 0
    unpaid: float = 0  # interest that came up since the last payment, after grace
    for month in range(terms.first_month, due[-1] + 1):
        in_grace = month <= terms.end_of_grace
        charged = rounded(owed * terms.rate_per_month)
        paid_at_once = terms.grace_interest == "paid" if in_grace else terms.repayment != "harvest"
        interest = charged if paid_at_once else 0
        gross = payouts.get(month, 0)
        owed += gross + charged - interest
        if month == terms.end_of_grace:
            regular = rounded(regular_of(terms, owed, due, month))
        principal = _principal(terms, regular, interest, owed, month == due[-1]) if month in due_months else 0
        owed -= principal
        unpaid += 0 if in_grace else charged - interest
        late = min(unpaid, principal)
        unpaid -= late
        fee = rounded(gross * terms.fee_share)
        flows = (gross - fee, fee, interest, charged - interest, principal, interest + principal)
        values = (*flows, owed, interest + late)
        if month >= 0:
            for name, value in zip(names, values, strict=True):
                lines[name][month] = value
        if month == -1:
            by_contract = owed
            if stated is not None and abs(stated - owed) > 1:
                owed = stated
                if month >= terms.end_of_grace:
                    regular = rounded(regular_of(terms, owed, tuple(m for m in due if m >= 0), month))
            before = np.array([owed, by_contract, unpaid], dtype=np.float64)
    return lines, before


def regular_of(terms: LoanTerms, owed: Any, due: tuple[int, ...], end_of_grace: int) -> Any:
    """What each instalment is set to at the end of grace; of equal principal, its principal part."""
    if terms.repayment == "equal_principal":
        return owed / len(due)
    return instalment(owed, terms.rate_per_month, (month - end_of_grace for month in due))


def _principal(terms: LoanTerms, regular: float, interest: float, owed: float, is_last: bool) -> float:
    """Part of an instalment that comes off the balance: never below 0, never more than is owed."""
    if is_last:
        return owed
    wanted = regular if terms.repayment == "equal_principal" else regular - interest
    return min(max(0, wanted), owed)


def money_of_units(units: FloatArray, unit: float) -> FloatArray:
    """Whole smallest units as money; a unit below 1 by dividing, since 7 / 100 is 0.07 and 7 × 0.01 is not.

    >>> money_of_units(np.array([7.0]), 0.01).tolist()
    [0.07]
    """
    return units * round(unit) if unit >= 1 else units / round(1 / unit)


def _frozen(
    terms: LoanTerms, start_calendar_month: int, due: tuple[int, ...], lines: dict[str, FloatArray], before: FloatArray
) -> Schedule:
    """A schedule whose arrays nobody can change."""
    for line in lines.values():
        line.setflags(write=False)
    owed, by_contract, unpaid = before.tolist()
    left = tuple(month for month in due if month >= 0)
    return Schedule(
        terms,
        start_calendar_month,
        left,
        **lines,
        owed_before=owed,
        by_contract_before=by_contract,
        unpaid_before=unpaid,
    )
