"""What a loan contract says, in the contract's own (nominal) money, and the arithmetic of one instalment.

Months are project months counted from 0; a running loan was paid out before. A payout in month m bears interest
from month m + 1; grace and term are counted from the first payout, grace within the term; instalments begin the month
after grace.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from numbers import Integral
from typing import Literal

Repayment = Literal["level", "equal_principal", "harvest"]
GraceInterest = Literal["paid", "added"]

REPAYMENTS: tuple[Repayment, ...] = ("level", "equal_principal", "harvest")
GRACE_INTERESTS: tuple[GraceInterest, ...] = ("paid", "added")

HIGHEST_RATE_PER_YEAR = 10.0
"""A nominal rate above this (1,000 % a year) is taken for a slip of the pen."""

MOST_UNITS = 2**53
"""Above this many smallest units a float no longer holds every whole number."""


class LoanError(ValueError):
    """A loan that cannot be: `code` names the rule, `facts` what was found and what is accepted."""

    def __init__(self, code: str, **facts: object) -> None:
        """Keep the code and the facts for whoever words them; str() is plain English for programmers."""
        self.code = code
        self.facts = facts
        told = ", ".join(f"{name} = {value!r}" for name, value in facts.items())
        super().__init__(f"{code.replace('_', ' ')}{': ' if told else ''}{told}")


@dataclass(frozen=True)
class LoanTerms:
    """What a loan contract says, in nominal money.

    amount: the full debt, whole units. payouts: (project month, share of the amount), months rising, shares
    summing to 1. nominal_rate_per_year: j, charged at j/12 a month. grace_months and term_months count from
    the first payout, grace within the term, so the term ends `term_months` after it. grace_interest: "paid"
    monthly, or "added" to the debt. repayment: "level", "equal_principal", or "harvest" (equal instalments in
    `harvest_months`, calendar months 1 to 12, only). fee_share: kept back from each payout; the debt is the
    full amount. unit: the currency's smallest unit. running: paid out, in part at least, before month 0. owed: what
    the lender says is owed at the end of month −1, of a running loan.

    A payout is the cumulative share of the amount rounded to the unit, less what was paid out before, and the
    last is the rest: payouts add up to the amount exactly.

    Raises LoanError where the terms contradict themselves.

    >>> LoanTerms(1000.0, ((0, 1.0),), 0.12, term_months=12).last_month
    12
    """

    amount: float
    payouts: tuple[tuple[int, float], ...]
    nominal_rate_per_year: float
    term_months: int
    grace_months: int = 0
    grace_interest: GraceInterest = "paid"
    repayment: Repayment = "level"
    harvest_months: tuple[int, ...] = ()
    fee_share: float = 0.0
    unit: float = 0.01
    running: bool = False
    owed: float | None = None

    def __post_init__(self) -> None:
        """Refuse terms that contradict themselves."""
        _check_money(self)
        _check_choices(self)
        _check_times(self)

    @property
    def first_month(self) -> int:
        """Project month of the first payout."""
        return self.payouts[0][0]

    @property
    def end_of_grace(self) -> int:
        """Last project month of grace; instalments are set on the balance at its end."""
        return self.first_month + self.grace_months

    @property
    def last_month(self) -> int:
        """Project month in which the term ends."""
        return self.first_month + self.term_months

    @property
    def rate_per_month(self) -> float:
        """The nominal rate over twelve."""
        return self.nominal_rate_per_year / 12


def _check_money(terms: LoanTerms) -> None:
    """Refuse an amount, rate, fee or unit that no contract could state."""
    if not (1e-6 <= terms.unit <= 1e9 and _whole(max(terms.unit, 1 / terms.unit))):
        raise LoanError("unit_not_a_currency_unit", unit=terms.unit)  # whole, or one over a whole number
    if not (math.isfinite(terms.amount) and terms.amount > 0):
        raise LoanError("amount_not_positive", amount=terms.amount)
    if terms.amount / terms.unit > MOST_UNITS:
        raise LoanError("amount_too_large", amount=terms.amount, largest=MOST_UNITS * terms.unit)
    if not is_whole_units(terms.amount, terms.unit):
        raise LoanError("amount_not_whole_units", amount=terms.amount, unit=terms.unit)
    if terms.owed is not None and not (terms.running and math.isfinite(terms.owed) and terms.owed > 0):
        raise LoanError("owed_not_running", owed=terms.owed)
    if not 0 <= terms.nominal_rate_per_year <= HIGHEST_RATE_PER_YEAR:
        raise LoanError(
            "rate_out_of_range", rate=terms.nominal_rate_per_year, lowest=0.0, highest=HIGHEST_RATE_PER_YEAR
        )
    if not 0 <= terms.fee_share < 1:
        raise LoanError("fee_out_of_range", fee_share=terms.fee_share, lowest=0.0, below=1.0)


def is_whole_units(amount: float, unit: float) -> bool:
    """Tell whether an amount is a whole number of units, and one at least, but for binary dust.

    >>> is_whole_units(0.07, 0.01), is_whole_units(0.075, 0.01), is_whole_units(1e-9, 0.01)
    (True, False, False)
    """
    units = amount / unit
    return round(units) >= 1 and abs(units - round(units)) <= max(1e-6, 1e-12 * units)


def _check_choices(terms: LoanTerms) -> None:
    """Refuse an unknown way of repaying and harvest months that are missing, wrong or of no use."""
    if terms.repayment not in REPAYMENTS:
        raise LoanError("repayment_unknown", repayment=terms.repayment, accepted=REPAYMENTS)
    if terms.grace_interest not in GRACE_INTERESTS:
        raise LoanError("grace_interest_unknown", grace_interest=terms.grace_interest, accepted=GRACE_INTERESTS)
    months = terms.harvest_months
    if terms.repayment != "harvest" and months:
        raise LoanError("harvest_months_not_used", repayment=terms.repayment, harvest_months=months)
    if terms.repayment == "harvest" and not months:
        raise LoanError("harvest_months_missing")
    if len(set(months)) != len(months) or not all(_is_int(m) and 1 <= m <= 12 for m in months):
        raise LoanError("harvest_months_wrong", harvest_months=months, lowest=1, highest=12)


def _check_times(terms: LoanTerms) -> None:
    """Refuse payouts out of order, shares that do not sum to 1, and grace that leaves no time to repay."""
    if not terms.payouts:
        raise LoanError("payouts_missing")
    months = [month for month, _ in terms.payouts]
    shares = [share for _, share in terms.payouts]
    if not all(_is_int(m) and (terms.running or m >= 0) for m in months) or sorted(set(months)) != months:
        raise LoanError("payout_months_not_rising", months=tuple(months))
    if terms.running and months[0] >= 0:
        raise LoanError("running_not_paid_out", month=months[0])
    if not all(0 < share <= 1 for share in shares) or abs(math.fsum(shares) - 1) > 1e-9:
        raise LoanError("payout_shares_not_one", shares=tuple(shares), total=math.fsum(shares))
    if not _is_int(terms.grace_months) or terms.grace_months < 0:
        raise LoanError("grace_not_whole_months", grace_months=terms.grace_months, lowest=0)
    if not _is_int(terms.term_months):
        raise LoanError("term_not_whole_months", term_months=terms.term_months)
    if terms.term_months <= terms.grace_months:
        raise LoanError("term_within_grace", term_months=terms.term_months, grace_months=terms.grace_months)
    if months[-1] > terms.end_of_grace:
        raise LoanError("payout_after_grace", month=months[-1], last_allowed=terms.end_of_grace)


def _is_int(value: object) -> bool:
    """Tell a whole number from True, which Python also counts as one."""
    return isinstance(value, Integral) and not isinstance(value, bool)


def _whole(value: float) -> bool:
    """Tell whether a number is whole but for binary dust."""
    return abs(value - round(value)) <= 1e-9 * value


def instalment(balance: float, rate_per_period: float, periods_due: Iterable[int]) -> float:
    """Equal instalment that brings a balance to 0 when paid in the named periods only.

    A = balance / Σ (1+i)^−k over the periods k = 1, 2, ... after the balance was struck. With every period
    from 1 to n named it is the level payment PMT of OASIS OpenFormula; at rate 0 it is balance / number.
    Raises LoanError without any period, or for a period below 1.

    8 % a year by quarters, twelve quarters of interest added, sixteen level quarters (terms as in a published
    Philippine cacao loan):

    >>> round(instalment(1000 * 1.02**12, 0.02, range(1, 17)), 10)
    93.4061678009
    """
    periods = tuple(periods_due)
    if not periods or min(periods) < 1:
        raise LoanError("no_period_to_repay_in", periods=periods)
    log_growth = math.log1p(rate_per_period)
    return balance / math.fsum(math.exp(-k * log_growth) for k in periods)


def balance_after_grace(amount: float, rate_per_period: float, periods: int, grace_interest: GraceInterest) -> float:
    """Balance at the end of grace: amount·(1+i)^periods if interest is added, the amount if it is paid.

    >>> round(balance_after_grace(1000, 0.08, 4, "added"), 5)
    1360.48896
    """
    return amount * (1 + rate_per_period) ** periods if grace_interest == "added" else float(amount)


def instalment_months(terms: LoanTerms, start_calendar_month: int) -> tuple[int, ...]:
    """Project months of the instalments: every month after grace, or the named calendar months among them.

    Raises LoanError where no named month falls between the end of grace and the end of the term.

    >>> terms = LoanTerms(100.0, ((0, 1.0),), 0.1, 12, repayment="harvest", harvest_months=(9, 10, 11, 12))
    >>> instalment_months(terms, start_calendar_month=1)
    (8, 9, 10, 11)
    """
    if not (_is_int(start_calendar_month) and 1 <= start_calendar_month <= 12):
        raise LoanError("calendar_month_out_of_range", month=start_calendar_month, lowest=1, highest=12)
    named = terms.harvest_months if terms.repayment == "harvest" else None
    due = months_due(terms.end_of_grace, terms.last_month, start_calendar_month, named)
    if not due:
        raise LoanError(
            "no_harvest_month_to_repay_in",
            harvest_months=terms.harvest_months,
            first=terms.end_of_grace + 1,
            last=terms.last_month,
        )
    return due


def months_due(
    end_of_grace: int, end: int, start_calendar_month: int, named: Collection[int] | None = None
) -> tuple[int, ...]:
    """The months after grace, up to the end of the term, in which an instalment falls.

    named: the calendar months of repayment; every month where None. start_calendar_month: that of month 0.

    >>> months_due(0, 12, start_calendar_month=1, named=(9, 10, 11, 12))
    (8, 9, 10, 11)
    """
    months = range(end_of_grace + 1, end + 1)
    return tuple(m for m in months if named is None or (start_calendar_month - 1 + m) % 12 + 1 in named)
