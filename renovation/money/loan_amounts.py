"""One contract's schedule for many amounts at once: what each farm of a book receives and owes by month."""

import numpy as np
import numpy.typing as npt

from renovation.money.loan_terms import MOST_UNITS, LoanError, LoanTerms
from renovation.money.loans import ALMOST_HALF, due_within, money_of_units, payouts_of, regular_of
from renovation.types import FloatArray


def flows_by_amount(
    terms: LoanTerms,
    amounts: npt.ArrayLike,
    horizon_months: int,
    start_calendar_month: int,
    owed: npt.ArrayLike | None = None,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """`schedule` with each amount (N,) at once: payout, fee and debt service, (N, T) each.

    owed: (N,) what each lender says is owed at the end of month −1, NaN where nothing; `terms.amount` and `terms.owed`
    are not used. Raises LoanError as `schedule` does.

    >>> terms = LoanTerms(1.0, ((0, 1.0),), 0.0824, 12)
    >>> flows_by_amount(terms, [2500.0, 5000.0], 24, start_calendar_month=1)[2][:, 1].tolist()
    [217.75, 435.5]
    """
    due = due_within(terms, horizon_months, start_calendar_month)
    units = np.round(np.asarray(amounts, dtype=np.float64) / terms.unit)
    stated = np.full(units.size, np.nan) if owed is None else np.round(np.asarray(owed, dtype=np.float64) / terms.unit)
    payouts = payouts_of(terms, units, _half_up_each)
    lines = np.zeros((3, units.size, horizon_months))
    owes, level, highest = (np.zeros(units.size) for _ in range(3))
    due_months = frozenset(due)
    for month in range(terms.first_month, due[-1] + 1):
        in_grace = month <= terms.end_of_grace
        charged = _half_up_each(owes * terms.rate_per_month)
        paid_at_once = terms.grace_interest == "paid" if in_grace else terms.repayment != "harvest"
        interest = charged if paid_at_once else np.zeros(units.size)
        gross = payouts.get(month, np.zeros(units.size))
        owes = owes + gross + (charged - interest)  # in this order no sum on the way is inexact
        if month == terms.end_of_grace:
            level = _half_up_each(regular_of(terms, owes, due, month))
        principal = np.zeros(units.size)
        if month == due[-1]:
            principal = owes
        elif month in due_months:
            wanted = level if terms.repayment == "equal_principal" else level - interest
            principal = np.minimum(np.maximum(0.0, wanted), owes)
        owes = owes - principal
        highest = np.maximum(highest, owes)
        if month >= 0:
            fee = _half_up_each(gross * terms.fee_share)
            lines[:, :, month] = gross - fee, fee, interest + principal
        if month == -1:
            other = np.abs(stated - owes) > 1
            owes = np.where(other, stated, owes)
            if month >= terms.end_of_grace:
                left = tuple(m for m in due if m >= 0)
                level = np.where(other, _half_up_each(regular_of(terms, owes, left, month)), level)
    if units.size and highest.max() > MOST_UNITS:
        worst = int(highest.argmax())
        amount = float(units[worst] * terms.unit)
        raise LoanError("amount_too_large", amount=amount, largest=amount * MOST_UNITS / float(highest[worst]))
    payout, fee, service = money_of_units(lines, terms.unit)
    return payout, fee, service


def _half_up_each(values: FloatArray) -> FloatArray:
    """Round half up, a hair below a half counting as a half."""
    return np.floor(values + 0.5 + ALMOST_HALF)
