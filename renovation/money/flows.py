"""Flows of money on bare arrays: checking, the difference of two, discounting, present values."""

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from renovation.types import FloatArray

SMALL = 1e-9
"""Amounts below this share of the largest figure of a series are zero."""


def checked_flows(flows: npt.ArrayLike) -> FloatArray:
    """Return `flows` as a float array of shape (..., Y), Y project years on the last axis.

    Raises ValueError if there is no year, or if a figure is missing or not finite.

    >>> checked_flows([1, 2])
    array([1., 2.])
    """
    array = _as_flows(flows)
    if not np.isfinite(array).all():
        where = tuple(int(i) for i in np.argwhere(~np.isfinite(array))[0])
        raise ValueError(f"a flow must hold finite numbers only; position {where} holds {array[where]}")
    return array


def _as_flows(flows: npt.ArrayLike) -> FloatArray:
    """Return flows as a float array with at least one period."""
    try:
        array = np.asarray(flows, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise ValueError(f"a flow must be numbers, one per period, in rows of one length: {error}") from error
    if array.ndim == 0 or array.shape[-1] == 0:
        raise ValueError("a flow needs at least one period on its last axis")
    return array


def checked_rate(rate: npt.ArrayLike, name: str = "rate") -> FloatArray:
    """Return yearly `rate` (decimal, scalar or array) as floats.

    Raises ValueError unless every rate is finite and above -1 (minus 100 %).

    >>> float(checked_rate(0.12))
    0.12
    """
    array = np.asarray(rate, dtype=np.float64)
    if not np.isfinite(array).all() or (array <= -1.0).any():
        raise ValueError(f"{name} must be a finite number above -1 (a decimal: 0.12 is 12 %), not {rate!r}")
    return array


def _zero_below(flows: FloatArray, largest: FloatArray) -> FloatArray:
    """Set figures of (..., Y) below `SMALL` of `largest` (..., 1) to zero; a copy only if any are."""
    small = (np.abs(flows) < SMALL * largest) & (flows != 0.0)
    return np.where(small, 0.0, flows) if small.any() else flows


def zero_small(flows: npt.ArrayLike) -> FloatArray:
    """Set amounts below 1e-9 of the largest figure of their series to zero.

    `flows` has shape (..., Y); each series of Y figures has its own largest figure. Such amounts are what
    rounding leaves of a zero, and would otherwise count as changes of sign. Raises ValueError for a missing
    or empty flow.

    >>> zero_small([1000.0, 1e-7, -5.0])
    array([1000.,    0.,   -5.])
    """
    array = checked_flows(flows)
    return _zero_below(array, np.abs(array).max(axis=-1, keepdims=True))


def incremental(with_plan: npt.ArrayLike, without_plan: npt.ArrayLike) -> FloatArray:
    """Return the flow with the plan less the flow without it, shape (..., Y).

    Differences below 1e-9 of the largest figure of the two series are zero. Raises ValueError for a missing
    figure or for series of different length. With and without project: Gittinger, Economic Analysis of
    Agricultural Projects.

    >>> incremental([100.0, 250.0], [100.0 + 1e-12, 150.0])
    array([  0., 100.])
    """
    first, second = checked_flows(with_plan), checked_flows(without_plan)
    if first.shape[-1] != second.shape[-1]:
        raise ValueError(
            f"the two flows must have one length; they have {first.shape[-1]} and {second.shape[-1]} periods"
        )
    largest = np.maximum(np.abs(first).max(axis=-1, keepdims=True), np.abs(second).max(axis=-1, keepdims=True))
    return _zero_below(first - second, largest)


def discount_factors(
    rate: npt.ArrayLike, periods: int, *, first_period: int = 1, periods_per_year: int = 1
) -> FloatArray:
    """Return what one unit of money at the end of each period is worth today, shape (..., periods).

    The factor of entry t = 0, 1, ... is (1 + rate)^-((t + first_period) / periods_per_year), `rate`
    effective per year, of any shape. `first_period` is 1 where the first figure comes one period from now
    (OpenFormula NPV), 0 where it comes now. Raises ValueError for a rate of -1 or less, or for no periods.

    >>> discount_factors(0.10, 2).round(6)
    array([0.909091, 0.826446])
    >>> discount_factors(0.10, 2, first_period=0).round(6)
    array([1.      , 0.909091])
    """
    if isinstance(rate, float):
        return _factors_at(rate, periods, first_period, periods_per_year).copy()
    return _factors(checked_rate(rate), periods, first_period, periods_per_year)


@lru_cache(maxsize=64)
def _factors_at(rate: float, periods: int, first_period: int, periods_per_year: int) -> FloatArray:
    """The factors at one rate, which is asked for again and again."""
    return _factors(checked_rate(rate), periods, first_period, periods_per_year)


def _factors(rates: FloatArray, periods: int, first_period: int, periods_per_year: int) -> FloatArray:
    """The factors at checked rates."""
    if periods < 1 or periods_per_year < 1:
        raise ValueError(f"periods and periods per year must be 1 or more, not {periods}, {periods_per_year}")
    years = (np.arange(periods) + first_period) / periods_per_year
    return np.asarray(np.exp(-np.log1p(rates)[..., None] * years), dtype=np.float64)


def net_present_value(
    flows: npt.ArrayLike, rate: npt.ArrayLike, *, first_period: int = 1, periods_per_year: int = 1
) -> FloatArray:
    """Return the net present value of `flows` (..., Y) as one matrix product.

    NPV = sum over t of flow(t) * (1 + rate)^-((t + first_period) / periods_per_year). With a scalar rate
    the shape is (...); with R rates it is (..., R). Monthly flows take the same effective yearly rate and
    periods_per_year=12. Raises ValueError for a bad flow or a rate of -1 or less. Source: OASIS
    OpenFormula, NPV.

    >>> round(float(net_present_value([10, 20, 30], 0.0875)), 6)
    49.432121
    >>> net_present_value([-100, 230, -132], [0.10, 0.20], first_period=0).round(9) + 0.0
    array([0., 0.])
    """
    array = _as_flows(flows)
    factors = discount_factors(rate, array.shape[-1], first_period=first_period, periods_per_year=periods_per_year)
    if factors.ndim > 2:
        raise ValueError(f"rate must be one number or a row of numbers, not an array of {factors.ndim - 1} axes")
    with np.errstate(invalid="ignore", over="ignore"):
        npv = np.asarray(array @ factors.T, dtype=np.float64)
    # A figure that is missing or not finite makes its NPV so: looking at the answer is far quicker than at
    # the flows.
    if not np.isfinite(npv).all():
        checked_flows(array)
        raise ValueError("the net present value is too large for a number")
    return npv


def present_value_split(
    flows: npt.ArrayLike, rate: npt.ArrayLike, *, first_period: int = 1
) -> tuple[FloatArray, FloatArray]:
    """Return the present value of the positive periods and that of the negative ones (both 0 or more).

    P = PV of max(flow, 0), N = PV of max(-flow, 0); NPV = P - N. Shapes as in `net_present_value`. Raises
    ValueError for a bad flow or rate. Source: Gittinger, on the net benefit-investment ratio.

    >>> positive, negative = present_value_split([-100.0, 0.0, 242.0], 0.10)
    >>> round(float(positive), 6), round(float(negative), 6)
    (181.818182, 90.909091)
    """
    array = checked_flows(flows)
    positive = net_present_value(np.maximum(array, 0.0), rate, first_period=first_period)
    negative = net_present_value(np.maximum(-array, 0.0), rate, first_period=first_period)
    return positive, negative
