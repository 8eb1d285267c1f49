"""The shipped record of world cocoa prices, and the price process fitted to it (evidence: World Bank, 1960–2024)."""

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np

from renovation.money.prices import PriceProcess, fit_price_process, worst_run
from renovation.types import FloatArray, IntArray

RECORD = "cocoa_price_annual_1960_2024.csv"


@dataclass(frozen=True, eq=False)
class PriceRecord:
    """Yearly world prices: years (Y,), real: US dollars of 2010 a kg (Y,)."""

    years: IntArray
    real: FloatArray

    def window(self, first: int, last: int) -> FloatArray:
        """Real prices of the years first … last; ValueError where the record does not hold them all."""
        inside = (self.years >= first) & (self.years <= last)
        if first > last or inside.sum() != last - first + 1:
            raise ValueError(f"the record holds {self.years[0]} to {self.years[-1]}, not {first} to {last}")
        return self.real[inside]


@cache
def price_record() -> PriceRecord:
    """Read the shipped record, once.

    Example:
        >>> record = price_record()
        >>> int(record.years[0]), int(record.years[-1])
        (1960, 2024)
    """
    text = resources.files("renovation.defaults").joinpath(RECORD).read_text("utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    years = np.array([int(row["year"]) for row in rows])
    real = np.array([float(row["real2010_usd_per_kg"]) for row in rows])
    years.flags.writeable = real.flags.writeable = False
    return PriceRecord(years, real)


def calibrate(first: int = 1960, last: int = 2023) -> PriceProcess:
    """Fit the price process to the real prices of the years first … last.

    Example:
        >>> fit = calibrate()
        >>> round(fit.persistence, 3), round(fit.sd, 3), round(fit.half_life_years, 1)
        (0.834, 0.218, 3.8)
    """
    return fit_price_process(price_record().window(first, last))


def worst_years(years: int = 5) -> tuple[int, FloatArray]:
    """The worst years on end of the record: the first of them, and the prices as shares of the year before, (years,).

    Example:
        >>> first, shares = worst_years()
        >>> first, shares.round(2).tolist()
        (1978, [0.77, 0.67, 0.48, 0.38, 0.33])
    """
    record = price_record()
    position, shares = worst_run(record.real, years)
    return int(record.years[position]), shares
