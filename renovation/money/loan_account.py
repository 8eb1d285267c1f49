"""The account of a loan after signing: due, paid, late by month, beside the contract's schedule, in nominal money."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from renovation.money.loans import Schedule, half_up, money_of_units
from renovation.types import FloatArray

_LINES = ("paid", "interest", "late_charge", "to_interest", "to_principal", "balance", "late", "ahead")


@dataclass(frozen=True, eq=False)
class LoanAccount:
    """A loan as it was paid, nominal money, every array of shape (N,), N the months accounted for, and read-only.

    due: by the contract. paid: as recorded, less `overpaid`. interest: that comes up. late_charge: what the contract
    charges beside it on what is late. to_interest, to_principal: the parts of `paid`. balance: owed at the end of the
    month. late: how much more that is than the contract's balance; ahead: how much less. owed_before: at the end of
    month −1. overpaid: paid when nothing was owed any more. In every month

        balance(t) = balance(t−1) + payout + fee + interest + late_charge − paid.
    """

    due: FloatArray
    paid: FloatArray
    interest: FloatArray
    late_charge: FloatArray
    to_interest: FloatArray
    to_principal: FloatArray
    balance: FloatArray
    late: FloatArray
    ahead: FloatArray
    owed_before: float
    overpaid: float


def loan_account(plan: Schedule, paid: npt.ArrayLike, late_rate_per_year: float = 0.0) -> LoanAccount:
    """Keep the account of a loan whose contract is `plan` and on which `paid` (N,) was paid, N ≤ T months.

        interest(t)    = j/12 · balance(t−1)
        late_charge(t) = late_rate_per_year/12 · late(t−1)
        late(t)        = max(0, balance(t) − contract's balance(t))

    Each is rounded half up to the smallest unit. A payment first pays the interest that has come up and is not paid
    (the late charge with it), and what is left of it comes off the balance, to which what is short is added: the
    actuarial method, 15 U.S.C. 1615(d)(1). So what is late bears the contract's own rate. Interest added during grace
    is principal; what was paid ahead counts towards what falls due (common practice, no source). late_rate_per_year:
    nominal, charged only where the contract states it. Of a debt that the lender states otherwise than the contract
    does, the contract's balance is that of the instalments set anew on it: nothing is late in month 0.

    Paid as due, interest, parts and balance are the schedule's own to the last digit, and nothing is late. Raises
    ValueError for amounts below 0 or not finite, and for more months than the schedule has.

    120 without interest in twelve parts of 10, the second not paid and the third paid twice over but for 4:

    >>> from renovation.money.loan_terms import LoanTerms
    >>> from renovation.money.loans import schedule
    >>> plan = schedule(LoanTerms(120.0, ((0, 1.0),), 0.0, 12), 24, start_calendar_month=1)
    >>> loan_account(plan, [0.0, 10.0, 0.0, 16.0]).late.tolist()
    [0.0, 0.0, 10.0, 4.0]
    """
    given = np.asarray(paid, dtype=np.float64)
    if given.ndim != 1 or given.size > plan.balance.size or not np.isfinite(given).all() or (given < 0).any():
        raise ValueError(f"payments must be finite, 0 or more, and of at most {plan.balance.size} months")
    terms, months = plan.terms, given.size
    rows = np.zeros((len(_LINES), months))
    gross, contract = _units(plan.payout + plan.fee, terms.unit), _units(plan.balance, terms.unit)
    owed, unpaid = (round(money / terms.unit) for money in (plan.owed_before, plan.unpaid_before))
    late = over = 0
    for month in range(months):
        interest, charge = half_up(owed * terms.rate_per_month), half_up(late * late_rate_per_year / 12)
        owed += gross[month] + interest + charge
        joins = month <= terms.end_of_grace and terms.grace_interest == "added"
        unpaid += charge + (0 if joins else interest)
        sum_ = half_up(float(given[month]) / terms.unit)
        over, sum_ = over + max(0, sum_ - owed), min(sum_, owed)
        to_interest = min(unpaid, sum_)
        owed, unpaid = owed - sum_, unpaid - to_interest
        more = owed - contract[month]
        late = max(0, more)
        rows[:, month] = sum_, interest, charge, to_interest, sum_ - to_interest, owed, late, max(0, -more)
    lines = {name: money_of_units(row, terms.unit) for name, row in zip(_LINES, rows, strict=True)}
    lines["due"] = plan.debt_service[:months].copy()
    for line in lines.values():
        line.setflags(write=False)
    overpaid = float(money_of_units(np.array(float(over)), terms.unit))
    return LoanAccount(**lines, owed_before=plan.owed_before, overpaid=overpaid)


def paid_in_turn(due: npt.ArrayLike, whole: float) -> FloatArray:
    """A sum known only as a whole, laid on what was due (N,), the earliest first; what is more, in the last month.

    >>> paid_in_turn([0.0, 10.0, 10.0, 10.0], 15.0).tolist(), paid_in_turn([5.0, 0.0], 6.0).tolist()
    ([0.0, 10.0, 5.0, 0.0], [5.0, 1.0])
    """
    owed = np.asarray(due, dtype=np.float64)
    before = np.concatenate([[0.0], np.cumsum(owed)[:-1]])
    paid = np.clip(whole - before, 0.0, owed)
    paid[-1] += max(0.0, whole - float(owed.sum()))
    return paid


def _units(money: FloatArray, unit: float) -> list[int]:
    """Money as whole smallest units."""
    return [round(float(sum_) / unit) for sum_ in money]
