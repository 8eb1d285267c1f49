"""Balance of the money at hand and debt service coverage: what a loan is judged by, constant prices."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
import numpy.typing as npt

from renovation.money.loan_terms import LoanError
from renovation.types import BoolArray, FloatArray

CoverBand = Literal["good", "caution", "high_risk"]

GOOD_COVER_ABOVE = 1.50
CAUTION_COVER_FROM = 1.10
"""Lending practice: above 1.50 good, 1.10 to 1.50 caution, below 1.10 high risk (Kohl, 2023)."""

DUST = 1e-12
"""Money below this share of the largest figure of its series is rounding dust of binary numbers."""


def balance(savings: float, net_flow_by_month: FloatArray, savings_rate_per_year: float = 0.0) -> FloatArray:
    """Balance at the end of each month, shape (..., T): B(t) = B(t−1) + i·max(0, B(t−1)) + flow(t).

    B(−1) = savings, i = (1 + rate)^(1/12) − 1. Raises LoanError for a negative rate.

    >>> balance(100.0, np.array([-150.0, 30.0])).tolist()
    [-50.0, -20.0]
    """
    check_savings_rate(savings_rate_per_year)
    flow: FloatArray = np.asarray(net_flow_by_month, dtype=np.float64)
    if savings_rate_per_year == 0:
        return np.asarray(savings + np.cumsum(flow, axis=-1))
    monthly = math.expm1(math.log1p(savings_rate_per_year) / 12)
    out = np.empty_like(flow)
    held = np.full(flow.shape[:-1], savings, dtype=np.float64)
    for month in range(flow.shape[-1]):
        held = held + monthly * np.maximum(0.0, held) + flow[..., month]
        out[..., month] = held
    return out


def debt_cover(cash_by_year: npt.ArrayLike, debt_service_by_year: npt.ArrayLike) -> FloatArray:
    """Debt service coverage by year, shape (..., H): cash available / debt service, nan in a year without.

    Raises LoanError for a negative debt service, ValueError for figures that are not finite.

    >>> debt_cover([300.0, 90.0], [200.0, 0.0]).tolist()
    [1.5, nan]
    """
    cash, service = np.broadcast_arrays(
        np.asarray(cash_by_year, dtype=np.float64), np.asarray(debt_service_by_year, dtype=np.float64)
    )
    if not (np.isfinite(cash).all() and np.isfinite(service).all()):
        raise ValueError("cash and debt service must be finite")
    if (service < 0).any():
        raise LoanError("debt_service_negative", lowest=float(service.min()))
    cover: FloatArray = np.full(cash.shape, np.nan)
    np.divide(cash, service, out=cover, where=service > 0)
    return cover


def cover_by_year(cover: FloatArray) -> dict[int, float | None]:
    """Coverage keyed by project year from 1, None in a year without debt service.

    >>> cover_by_year(np.array([1.5, np.nan]))
    {1: 1.5, 2: None}
    """
    return {year: None if math.isnan(value) else value for year, value in enumerate(cover.tolist(), start=1)}


def cover_band(cover: float | None) -> CoverBand | None:
    """Band of a year's coverage: "good" above 1.50, "caution" from 1.10, else "high_risk" (Kohl, 2023).

    None for a blank. Differences below 1e-9 are none: 1.5 of whole cents is not always 1.5 in binary numbers.

    >>> cover_band(1.51), cover_band(1.5), cover_band(1.1), cover_band(1.09), cover_band(None)
    ('good', 'caution', 'caution', 'high_risk', None)
    """
    if cover is None or math.isnan(cover):
        return None
    if cover > GOOD_COVER_ABOVE + 1e-9:
        return "good"
    return "caution" if cover >= CAUTION_COVER_FROM - 1e-9 else "high_risk"


def missed(debt_service: FloatArray, balance_by_month: FloatArray) -> BoolArray:
    """Months of a missed instalment, shape (..., T): debt service in the month and a balance below 0.

    >>> missed(np.array([0.0, 5.0]), np.array([[-1.0, 2.0], [1.0, -2.0]])).tolist()
    [[False, False], [False, True]]
    """
    below = balance_by_month < -dust_of(balance_by_month)
    return np.asarray((debt_service > 0) & below, dtype=np.bool_)


def first_missed(debt_service: FloatArray, balance_by_month: FloatArray) -> int | None:
    """First month with debt service in which the balance is below 0; None if there is none.

    >>> first_missed(np.array([0.0, 5.0, 5.0]), np.array([-1.0, 2.0, -3.0]))
    2
    """
    months = np.flatnonzero(missed(debt_service, balance_by_month))
    return int(months[0]) if months.size else None


def check_savings_rate(rate_per_year: float) -> None:
    """Refuse interest on savings below 0."""
    if not (math.isfinite(rate_per_year) and rate_per_year >= 0):
        raise LoanError("savings_rate_negative", savings_rate=rate_per_year)


def by_year(by_month: FloatArray) -> FloatArray:
    """Sums by project year, shape (..., T) to (..., H)."""
    return np.asarray(by_month.reshape(*by_month.shape[:-1], -1, 12).sum(axis=-1))


def growth_by_month(months: int, rate_per_year: float) -> FloatArray:
    """What 1 held before month 0 has grown to at the end of each month."""
    return np.asarray((1 + rate_per_year) ** ((np.arange(months) + 1) / 12))


def grown(flow: FloatArray, rate_per_year: float) -> FloatArray:
    """Flows held from the end of their month on, with interest on whatever is held."""
    growth = growth_by_month(flow.shape[-1], rate_per_year)
    return np.asarray(np.cumsum(flow / growth, axis=-1) * growth)


def dust_of(series: FloatArray) -> FloatArray:
    """What counts as nothing beside a series' largest figure, one axis kept."""
    return np.asarray(DUST * np.abs(series).max(axis=-1, keepdims=True))
