"""Break-even (switching) values: the value of a driver at which NPV is zero, or at which two techniques tie.

Source: EC Guide to Cost-Benefit Analysis of Investment Projects, on switching values.
"""

from itertools import pairwise
from math import comb

import numpy as np
import numpy.typing as npt

from renovation.money.flows import SMALL
from renovation.money.rates import SAME_ROOT
from renovation.money.roots import positive_roots
from renovation.types import FloatArray


def switching_value(value_a: float, npv_a: float, value_b: float, npv_b: float) -> float | None:
    """Return the value of a driver at which NPV is 0, NPV being linear in it and known at two values.

    a - NPV(a) (b - a) / (NPV(b) - NPV(a)); None if NPV does not depend on the driver. Raises ValueError if
    the two values are the same, or a figure is not finite.

    >>> switching_value(2.0, -100.0, 3.0, 300.0)
    2.25
    """
    _check_finite(value_a, npv_a, value_b, npv_b)
    if value_a == value_b:
        raise ValueError(f"a switching value needs NPV at two different values; both are {value_a}")
    change = npv_b - npv_a
    if abs(change) <= SMALL * max(abs(npv_a), abs(npv_b)):
        return None
    return value_a - npv_a * (value_b - value_a) / change


def tie_value(value_a: float, npvs_a: tuple[float, float], value_b: float, npvs_b: tuple[float, float]) -> float | None:
    """Return the value of a driver at which two techniques have the same NPV, each linear in it.

    `npvs_a` are the NPVs of the first and the second technique at value a, `npvs_b` at value b. None if their
    difference does not depend on the driver. Raises ValueError as `switching_value`.

    >>> tie_value(0.0, (100.0, 0.0), 1.0, (200.0, 300.0))
    0.5
    """
    return switching_value(value_a, npvs_a[0] - npvs_a[1], value_b, npvs_b[0] - npvs_b[1])


def switching_change(npv: float, driver_present_value: float) -> float | None:
    """Return the change of a driver, as a share, that brings NPV to 0.

    -NPV / PV, PV the part of NPV proportional to the driver with its sign (costs negative); None if PV is
    0. Raises ValueError if a figure is not finite. Source of the example: bank training case ACA-TM-37.

    >>> round(switching_change(2238.820, 53780.746), 7)
    -0.0416287
    """
    _check_finite(npv, driver_present_value)
    return None if driver_present_value == 0.0 else -npv / driver_present_value


def sample_points(low: float, high: float, degree: int) -> FloatArray:
    """Return degree + 1 Chebyshev points in (low, high), at which to take NPV for `switching_values`.

    Raises ValueError unless low < high and degree is 1 or more.

    >>> sample_points(0.0, 1.0, 1).round(6)
    array([0.146447, 0.853553])
    """
    _check_interval(low, high)
    if degree < 1:
        raise ValueError(f"the degree must be 1 or more, not {degree}")
    angles = (np.arange(degree, -1, -1) + 0.5) * np.pi / (degree + 1)
    return np.asarray(0.5 * (low + high) + 0.5 * (high - low) * np.cos(angles), dtype=np.float64)


def switching_values(values: npt.ArrayLike, npvs: npt.ArrayLike, low: float, high: float) -> tuple[float, ...]:
    """Return every value of a driver in [low, high] at which NPV is 0, NPV being a polynomial in the driver.

    `values` (n+1,) and `npvs` (n+1,) give NPV at n + 1 different values (best those of `sample_points`), n
    at least its degree: with a constant take and J attempts NPV has degree J or less in the take.
    Ascending; a double root once. Raises ValueError for figures that are not finite, for a repeated value,
    or where NPV is zero everywhere.

    >>> points = sample_points(0.0, 1.0, 2)
    >>> [round(v, 9) for v in switching_values(points, (points - 0.25) * (points - 0.75), 0.0, 1.0)]
    [0.25, 0.75]
    """
    npv = np.asarray(npvs, dtype=np.float64)
    if npv.ndim != 1:
        raise ValueError("switching values need NPV at two or more values, one NPV for each")
    return switching_values_many(values, npv[None], low, high)[0]


def switching_values_many(
    values: npt.ArrayLike, npvs: npt.ArrayLike, low: float, high: float
) -> list[tuple[float, ...]]:
    """Return the switching values of many NPVs, (m, n+1) a row each, at the same values (n+1,); see `switching_values`.

    >>> points = sample_points(0.0, 1.0, 1)
    >>> [[round(v, 9) for v in found] for found in switching_values_many(points, [points - 0.25, points + 1], 0.0, 1.0)]
    [[0.25], []]
    """
    _check_interval(low, high)
    at, npv = np.asarray(values, dtype=np.float64), np.asarray(npvs, dtype=np.float64)
    if at.ndim != 1 or npv.ndim != 2 or at.shape != npv.shape[1:] or at.size < 2:
        raise ValueError("switching values need NPV at two or more values, one NPV for each")
    if not (np.isfinite(at).all() and np.isfinite(npv).all()):
        _check_finite(*at, *npv.ravel())
    if not np.diff(np.sort(at)).all():
        raise ValueError("switching values need NPV at different values; one is repeated")
    if not npv.any(axis=1).all():
        raise ValueError("NPV is zero at every value given: every value is a switching value")
    return bernstein_zeros(_bernstein((at - low) / (high - low), npv.T), low, high)


def bernstein_zeros(coefs: FloatArray, low: float, high: float) -> list[tuple[float, ...]]:
    """Return the zeros in [low, high] of polynomials by their Bernstein coefficients there, (n+1, m), ascending.

    Raises nothing; a column of zeros is not to be given.

    >>> bernstein_zeros(np.array([[-1.0, 0.0], [3.0, 1.0]]), 0.0, 2.0)
    [(0.5,), (0.0,)]
    """
    coefs = np.where(np.abs(coefs) < SMALL * np.abs(coefs).max(axis=0), 0.0, coefs)
    degree = len(coefs) - 1
    # In the odds s = (v - low) / (high - v) the interval is (0, inf) and the Bernstein form a plain
    # polynomial.
    owners, odds = positive_roots(coefs * np.array([comb(degree, k) for k in range(degree + 1)])[:, None])
    at_ends = [np.flatnonzero(coefs[end] == 0.0) for end in (0, -1)]
    owner = np.concatenate([owners, *at_ends])
    place = np.concatenate([odds / (1.0 + odds), np.zeros(at_ends[0].size), np.ones(at_ends[1].size)])
    order = np.lexsort((place, owner))
    owner, place = owner[order], place[order]
    apart = (np.diff(owner, prepend=-1) > 0) | (np.diff(place, prepend=0.0) > SAME_ROOT)
    values = (low + (high - low) * place[apart]).tolist()
    ends = np.searchsorted(owner[apart], np.arange(coefs.shape[1] + 1)).tolist()
    return [tuple(values[first:end]) for first, end in pairwise(ends)]


def _bernstein(places: FloatArray, values: FloatArray) -> FloatArray:
    """Bernstein coefficients on [0, 1], (n+1, m), of the polynomials through (places (n+1,), values (n+1, m))."""
    return np.asarray(np.linalg.solve(bernstein_terms(places), values), dtype=np.float64)


def bernstein_terms(places: FloatArray) -> FloatArray:
    """Return the n + 1 Bernstein polynomials of degree n at n + 1 places in [0, 1], (n+1, n+1), a row a place.

    Raises nothing.

    >>> bernstein_terms(np.array([0.25, 1.0])).tolist()
    [[0.75, 0.25], [0.0, 1.0]]
    """
    degree = places.size - 1
    columns = [comb(degree, k) * places**k * (1.0 - places) ** (degree - k) for k in range(degree + 1)]
    return np.column_stack(columns)


def _check_finite(*figures: float) -> None:
    if not np.isfinite(figures).all():
        raise ValueError(f"switching values need finite numbers, not {figures}")


def _check_interval(low: float, high: float) -> None:
    _check_finite(low, high)
    if not low < high:
        raise ValueError(f"the interval must run upward; it runs from {low} to {high}")
