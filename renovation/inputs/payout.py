"""A payout of a loan: shared by the loans a family has and the loan that a plan may take."""

from typing import Annotated

from pydantic import Field

from renovation.inputs.quantities import Model, Quantity, YearMonth


class Payout(Model):
    """A share of a loan, paid out in one month."""

    month: YearMonth
    share: Annotated[float, Field(gt=0, le=1), Quantity("share of the amount")] = 1.0
