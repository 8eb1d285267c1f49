"""The loans that a family has or was offered, and the loan that a plan may take: one base of conditions."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from renovation.inputs.quantities import (
    MOST,
    CalendarMonth,
    Keys,
    Model,
    Name,
    Quantity,
    ShareBelowOne,
    YearMonth,
    problem,
    refuse_all,
)

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


USUAL_LOWER_PRICES = (0.1, 0.2, 0.33)
"""A tenth, a fifth and a third."""


class LoanTest(Model):
    """What a loan must keep to be called fitting."""

    cover: Annotated[
        float,
        Field(gt=0, le=10),
        Quantity("ratio", "published", "Kohl 2023: coverage above 1.50 good, 1.10–1.50 caution"),
    ] = 1.5
    farm_only: bool = False
    lower_prices: Annotated[
        tuple[Annotated[float, Field(ge=0.01, le=0.9)], ...],
        Field(min_length=1, max_length=6),
        Quantity("share", "common practice"),
    ] = USUAL_LOWER_PRICES
    """By how much lower each price is at which a loan is tried too."""

    @model_validator(mode="after")
    def _each_price_once(self) -> Self:
        shares = [round(share, 4) for share in self.lower_prices]
        twice = sorted({share for share in shares if shares.count(share) > 1})
        refuse_all("LoanTest", [(("lower_prices",), problem("listed_twice", found=f"{share:g}")) for share in twice])
        return self

    @property
    def price_factors(self) -> tuple[float, ...]:
        """Those prices as shares of the farm's price.

        Example:
            >>> LoanTest().price_factors
            (0.9, 0.8, 0.67)
        """
        return tuple(round(1 - share, 9) for share in self.lower_prices)
