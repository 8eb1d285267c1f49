"""The loans that a family has or was offered, and the loan that a plan may take: one base of conditions."""

from typing import Annotated, Literal

from pydantic import Field

from renovation.inputs.quantities import MOST, CalendarMonth, Keys, Model, Name, Quantity, ShareBelowOne, YearMonth

Sum = Annotated[float, Field(gt=0, le=MOST), Quantity("money")]
RatePerYear = Annotated[float, Field(ge=0, le=2), Quantity("share/year, nominal")]


class Payout(Model):
    """A share of a loan, paid out in one month."""

    month: YearMonth
    share: Annotated[float, Field(gt=0, le=1), Quantity("share of the amount")] = 1.0
    live_trees: Annotated[int | None, Field(ge=1, le=1_000_000), Quantity("trees")] = None
    """Released only when so many live trees of the loan's works are counted before that month; unconditional if absent.

    What is planned takes it as released; `decide.signed` holds it against what was counted.
    """


class LoanConditions(Model):
    """When a loan is paid out, what it costs and how it is repaid, in nominal money (method §7)."""

    payouts: Annotated[tuple[Payout, ...], Field(min_length=1, max_length=60)]
    rate_per_year: RatePerYear
    term_months: Annotated[int, Field(ge=1, le=480), Quantity("months")]
    grace_months: Annotated[int, Field(ge=0, le=240), Quantity("months")] = 0
    grace_interest: Literal["paid", "added"] = "paid"
    repayment: Literal["level", "equal_principal", "harvest"] = "level"
    harvest_months: Annotated[tuple[CalendarMonth, ...], Field(max_length=12), Quantity("months")] = ()
    fee_share: Annotated[ShareBelowOne, Quantity("share of the amount")] = 0.0


class LoanAmount(Model):
    """What a loan is called and the whole sum that is owed."""

    name: Name
    amount: Sum


class LoanLimit(Model):
    """What an offer is called and the most that it lends."""

    name: Name
    limit: Sum


class Loan(LoanConditions, LoanAmount):
    """A loan offer or contract, in nominal money (method §§7, 11)."""

    running: bool = False
    """Paid out, in part at least, before month 0: it is repaid with the plan and without."""
    owed: Annotated[float | None, Field(gt=0, le=MOST), Quantity("money")] = None
    """What the lender says is owed at the end of the month before month 0, of a running loan."""
    works: Keys = ()
    """The ways that it pays for, whose live trees are counted before a payout; every way of the farm if empty."""
    late_rate_per_year: RatePerYear = 0.0
    """Charged on what is late beside the contract's own rate, where the contract says so."""


class LoanOffer(LoanConditions, LoanLimit):
    """A loan the family may take, of any amount from 0 to a limit, in nominal money (method §§7, 8)."""

    rate_per_year: RatePerYear
    """Bounded as in every loan; said again for the sake of its own help: an offer is no contract yet."""
