"""Payback: the moment from which the money put in is never again outstanding."""

import numpy as np
import numpy.typing as npt

from renovation.money.flows import SMALL, checked_flows, discount_factors, zero_small
from renovation.money.rates import blank
from renovation.types import FloatArray


def payback_many(flows: npt.ArrayLike, *, first_period: int = 1) -> FloatArray:
    """Return the payback of each flow (..., Y) in years, shape (...); nan where there is none.

    C(y) is the flow added up to the end of year y, linear within each year. Payback is the earliest moment
    after which C is never negative again: y + -C(y) / (C(y+1) - C(y)), y the last year with C(y) < 0; 0 if
    no year is; nan if the last year still is. A flow that dips below zero a second time counts from its
    last recovery. `first_period` is 1 where the first figure is that of year 1, 0 where it is an outlay
    made now. Sums below 1e-9 of the largest figure are zero. Raises ValueError for an empty flow or one
    that is not finite.

    >>> payback_many([[-1100, 300, 310, 320, 330, 340], [-1, 0, 0, 0, 0, 0]], first_period=0).round(7)
    array([3.5151515,       nan])
    >>> payback_many([-100.0, 150.0, -100.0, 200.0])
    array(3.25)
    """
    array = zero_small(flows)
    total = np.cumsum(array, axis=-1)
    negative = total < -SMALL * np.abs(array).max(axis=-1, keepdims=True)
    count = array.shape[-1]
    last = count - 1 - np.argmax(negative[..., ::-1], axis=-1)
    after = np.minimum(last + 1, count - 1)[..., None]
    owed = -np.take_along_axis(total, last[..., None], axis=-1)[..., 0]
    gain = np.take_along_axis(array, after, axis=-1)[..., 0]
    recovers = negative.any(axis=-1) & ~negative[..., -1]
    # A sum that ends within rounding of zero is paid back at the year's end, not a hair after it.
    part = np.minimum(owed / np.where(recovers, gain, 1.0), 1.0)
    years = np.where(recovers, last + first_period + part, 0.0)
    return np.where(negative[..., -1], np.nan, years)


def discounted_payback_many(flows: npt.ArrayLike, rate: float, *, first_period: int = 1) -> FloatArray:
    """Return the discounted payback of each flow (..., Y) in years, shape (...); nan where there is none.

    As `payback_many`, of flow_y * (1 + rate)^-y. Raises ValueError for a bad flow or a rate of -1 or less.

    >>> discounted_payback_many([[-210, 85, 75, 85, 105]], 0.11, first_period=0).round(7)
    array([3.1503681])
    """
    array = zero_small(flows)
    factors = discount_factors(rate, array.shape[-1], first_period=first_period)
    if factors.ndim != 1:
        raise ValueError("rate must be one number")
    return payback_many(array * factors, first_period=first_period)


def payback(flow: npt.ArrayLike, *, first_period: int = 1) -> float | None:
    """Return the payback of one flow (Y,) in years, None if there is none; see `payback_many`.

    Raises ValueError for a bad flow.

    >>> payback([100.0, 50.0]), payback([-100.0, 50.0]), payback([-100.0, 50.0, 100.0])
    (0.0, None, 2.5)
    """
    return blank(payback_many(_one(flow), first_period=first_period))


def discounted_payback(flow: npt.ArrayLike, rate: float, *, first_period: int = 1) -> float | None:
    """Return the discounted payback of one flow (Y,), None if none; see `discounted_payback_many`.

    Raises ValueError for a bad flow or rate.

    >>> discounted_payback([-10000] + [2600] * 6, 0.15, first_period=0) is None
    True
    """
    return blank(discounted_payback_many(_one(flow), rate, first_period=first_period))


def _one(flow: npt.ArrayLike) -> FloatArray:
    """Return one flow of shape (Y,), or refuse."""
    array = checked_flows(flow)
    if array.ndim != 1:
        raise ValueError(f"this takes one flow, one figure per year, not an array of shape {array.shape}")
    return array
