"""Time and rates of a run."""

from typing import Annotated

from pydantic import Field

from renovation.inputs.quantities import Model, Quantity, YearMonth

LONGEST_YEARS = 40
"""The most years that anything is looked at."""


class Appraisal(Model):
    """Time and rates (method §1)."""

    start: YearMonth
    horizon_years: Annotated[int, Field(ge=1, le=LONGEST_YEARS), Quantity("years")]
    discount_rate: Annotated[float, Field(ge=0, le=1), Quantity("share/year", "common practice")] = 0.10
    finance_rate: Annotated[float | None, Field(ge=0, le=1), Quantity("share/year")] = None
    reinvestment_rate: Annotated[float | None, Field(ge=0, le=1), Quantity("share/year")] = None
    inflation: Annotated[float, Field(ge=-0.05, le=1), Quantity("share/year", "common practice")] = 0.0
    currency: Annotated[str, Field(pattern=r"^[A-Z]{3}$"), Quantity("ISO 4217 code")]
    currency_per_usd: Annotated[float | None, Field(gt=0, le=1e7), Quantity("money/US dollar")] = None
    """Turns the default costs, which are in US dollars, into the scenario's currency."""

    @property
    def months(self) -> int:
        """The horizon T in months."""
        return 12 * self.horizon_years

    @property
    def start_calendar_month(self) -> int:
        """Calendar month (1–12) of month 0."""
        return int(self.start[5:])
