"""Rates of return: every internal rate, the modified rate, and conversions between kinds of rate."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from renovation.money.flows import SMALL, checked_flows, checked_rate, incremental, zero_small
from renovation.money.roots import positive_roots
from renovation.types import FloatArray, IndexArray

TURNED = 256
"""Flows that are laid on their side at once, so that they stay near the processor."""
SAME_ROOT = 1e-6
"""Roots at most this far apart are one."""
MEANINGLESS_BELOW = -0.90
"""A rate below this is listed but does not make the IRR "not unique" beside others."""

Verdict = Literal["one", "several", "none"]


@dataclass(frozen=True)
class Irr:
    """The internal rate of one flow: `value` if it is unique, every root, and the verdict.

    >>> Irr(0.25, (0.25,), "one").value
    0.25
    """

    value: float | None
    roots: tuple[float, ...]
    verdict: Verdict


@dataclass(frozen=True)
class IrrMany:
    """The internal rates of many flows: `rates` (..., k) ascending, nan beyond `counts` (...); `value` (...).

    `value` is nan where the rate is not unique or there is none: `counted` (...), the number of roots that
    count for the verdict, is then above 1 or 0.

    >>> irr_many([[-100.0, 110.0], [1.0, 2.0]]).value.round(9)
    array([0.1, nan])
    """

    rates: FloatArray
    counts: IndexArray
    counted: IndexArray
    value: FloatArray

    def single(self, *place: int) -> Irr:
        """Return the internal rate of the flow at one place, as `irr` gives it; no place where there was one flow.

        Raises IndexError for a place that is not there, TypeError for too few numbers in a place.

        >>> irr_many([-100.0, 110.0, 0.0]).single().verdict
        'one'
        >>> irr_many([[-100.0, 110.0], [1.0, 2.0]]).single(1).verdict
        'none'
        """
        counted = int(self.counted[place])
        verdict: Verdict = "none" if counted == 0 else "one" if counted == 1 else "several"
        roots = tuple(self.rates[place][: int(self.counts[place])].tolist())
        return Irr(float(self.value[place]) if verdict == "one" else None, roots, verdict)


def irr_roots_many(flows: npt.ArrayLike) -> tuple[FloatArray, IndexArray]:
    """Return every internal rate above -100 % of each flow (..., Y): rates (..., k), and counts (...).

    The roots r of sum over y of flow_y * (1 + r)^-y, ascending, nan beyond the count; a double root once,
    roots within 1e-6 as one; amounts below 1e-9 of the largest of their flow are zero. k is the largest
    count. No starting guess is involved: see `renovation.money.roots`. Raises ValueError for an empty flow
    or one that is not finite.

    >>> rates, counts = irr_roots_many([[-1600.0, 10000.0, -10000.0], [-100.0, 110.0, 0.0], [1.0, 2.0, 3.0]])
    >>> rates.round(9)
    array([[0.25, 4.  ],
           [0.1 ,  nan],
           [ nan,  nan]])
    >>> counts
    array([2, 1, 0])
    """
    array = checked_flows(flows)
    shape, count = array.shape[:-1], array.shape[-1]
    flat = array.reshape(-1, count)
    by_period = np.empty((count, len(flat)))
    for start in range(0, len(flat), TURNED):
        by_period[:, start : start + TURNED] = flat[start : start + TURNED].T
    largest = np.maximum(by_period.max(axis=0), -by_period.min(axis=0))
    by_period /= np.where(largest > 0.0, largest, 1.0)
    by_period = _zero_small_by_period(by_period)
    owner, x = positive_roots(by_period)
    rates, counts = _table(owner, 1.0 / x - 1.0, by_period.shape[1])
    return rates.reshape(*shape, rates.shape[1]), counts.reshape(shape)


def _zero_small_by_period(by_period: FloatArray) -> FloatArray:
    """Apply the 1e-9 rule to flows held time-major (Y, m) and scaled to a largest figure of 1."""
    small = (by_period < SMALL) & (by_period > -SMALL)
    return np.where(small, 0.0, by_period) if small.any() else by_period


def _table(owner: IndexArray, rates: FloatArray, flows: int) -> tuple[FloatArray, IndexArray]:
    """Set roots out as one row per flow, ascending, those within SAME_ROOT of the one before left out."""
    counts = np.bincount(owner, minlength=flows).astype(np.intp)
    table = np.full((flows, int(counts.max(initial=0))), np.nan)
    if not owner.size:
        return table, counts
    alone = counts[owner] == 1
    table[owner[alone], 0] = rates[alone]
    owner, rates = owner[~alone], rates[~alone]
    order = np.argsort(owner, kind="stable")  # a few sorted runs one after another: quick to merge
    owner, several = owner[order], np.flatnonzero(counts > 1)
    first = np.cumsum(counts[several]) - counts[several]
    place = np.searchsorted(several, owner)
    rows = np.full((several.size, table.shape[1]), np.nan)
    rows[place, np.arange(owner.size) - first[place]] = rates[order]
    rows.sort(axis=1)  # nan last
    same = np.diff(rows, axis=1) <= SAME_ROOT
    if same.any():
        rows[:, 1:][same] = np.nan
        rows.sort(axis=1)
        counts[several] = (~np.isnan(rows)).sum(axis=1)
    table[several] = rows
    return table[:, : int(counts.max())], counts


def irr_roots(flow: npt.ArrayLike) -> tuple[float, ...]:
    """Return every internal rate above -100 % of one flow (Y,), ascending; see `irr_roots_many`.

    Raises ValueError for an empty flow, one that is not finite, or an array of flows. Source of the example:
    numpy-financial documentation.

    >>> [round(r, 8) for r in irr_roots([-5, 10.5, 1, -8, 1])]
    [-0.87020125, 0.08859834, 0.70955953]
    """
    array = _one_flow(flow)
    rates, _ = irr_roots_many(array)
    return tuple(rates.tolist())


def irr(flow: npt.ArrayLike) -> Irr:
    """Return the internal rate of one flow (Y,): one root is the IRR; several are "not unique".

    A root below -90 % is listed but does not by itself make the IRR "not unique"; where all roots lie below
    it they count like any others. Raises ValueError as `irr_roots`. Source of the example: help text of a
    free office suite.

    >>> round(irr([-10000, 3500, 7600, 1000]).value, 12)
    0.113321028236
    >>> irr([-1600, 10000, -10000]).verdict
    'several'
    >>> irr([100, -200, 150])
    Irr(value=None, roots=(), verdict='none')
    """
    return irr_many(_one_flow(flow)).single()


def irr_many(flows: npt.ArrayLike) -> IrrMany:
    """Return the internal rates of many flows (..., Y) by the rule of `irr`.

    Raises ValueError for an empty flow or one that is not finite.

    >>> many = irr_many([[-100.0, 230.0, -132.0], [-100.0, 0.0, 121.0]])
    >>> many.value.round(9), many.counted
    (array([nan, 0.1]), array([2, 1]))
    """
    rates, counts = irr_roots_many(flows)
    if not rates.shape[-1]:
        return IrrMany(rates, counts, counts, np.full(counts.shape, np.nan))
    absurd = (rates < MEANINGLESS_BELOW).sum(axis=-1)
    skipped = np.where(absurd < counts, absurd, 0)  # ascending: the absurd ones come first
    counted = (counts - skipped).astype(np.intp)
    first = np.take_along_axis(rates, np.minimum(skipped, rates.shape[-1] - 1)[..., None], axis=-1)[..., 0]
    return IrrMany(rates, counts, counted, np.where(counted == 1, first, np.nan))


def crossover_rates(flow_a: npt.ArrayLike, flow_b: npt.ArrayLike) -> tuple[float, ...]:
    """Return every rate above -100 % at which two flows (Y,) have the same NPV, ascending.

    The roots of the difference of the two. Raises ValueError for a bad flow or for unequal lengths.

    >>> [round(r, 9) for r in crossover_rates([-100.0, 0.0, 121.0], [-50.0, 55.0, 0.0])]
    [0.1]
    """
    return irr_roots(incremental(_one_flow(flow_a), _one_flow(flow_b)))


def mirr_many(flows: npt.ArrayLike, finance_rate: float, reinvest_rate: float) -> FloatArray:
    """Return the modified internal rate of each flow (..., Y), shape (...); nan where it is blank.

    MIRR = (FV of the positive figures at the reinvestment rate / PV of the negative ones at the finance
    rate) ^ (1 / (Y - 1)) - 1, FV at the last figure, PV at the first. Blank where a flow has no positive or
    no negative figure, or only one figure. Raises ValueError for a bad flow or rate. Source: OASIS
    OpenFormula, MIRR.

    >>> mirr_many([[-5.0, 10.0, 15.0, 8.0], [1.0, 2.0, 3.0, 4.0]], 0.5, 0.1).round(10)
    array([0.94164738,        nan])
    """
    array = zero_small(flows)
    finance, reinvest = (
        checked_rate(finance_rate, "finance rate"),
        checked_rate(reinvest_rate, "reinvestment rate"),
    )
    if finance.ndim or reinvest.ndim:
        raise ValueError("finance rate and reinvestment rate must each be one number")
    steps = array.shape[-1] - 1
    years = np.arange(steps + 1)
    worth = np.maximum(array, 0.0) @ (1.0 + reinvest) ** years[::-1]
    paid = np.maximum(-array, 0.0) @ (1.0 + finance) ** -years.astype(np.float64)
    known = (worth > 0.0) & (paid > 0.0) & (steps > 0)
    ratio = np.where(known, worth, 1.0) / np.where(known, paid, 1.0)
    return np.where(known, ratio ** (1.0 / max(steps, 1)) - 1.0, np.nan)


def mirr(flow: npt.ArrayLike, finance_rate: float, reinvest_rate: float) -> float | None:
    """Return the modified internal rate of one flow (Y,), None where it is blank; see `mirr_many`.

    Raises ValueError for a bad flow or rate. Source of the example: help text of a free office suite.

    >>> round(mirr([-5, 10, 15, 8], 0.5, 0.1), 12)
    0.941647376707
    """
    return blank(mirr_many(_one_flow(flow), finance_rate, reinvest_rate))


def effective_rate(nominal_per_year: float, periods_per_year: int) -> float:
    """Return the effective yearly rate of a nominal one compounded `periods_per_year` times.

    (1 + j/m)^m - 1. Raises ValueError if m is below 1 or j/m is -1 or less. Source: OASIS OpenFormula,
    EFFECT.

    >>> round(effective_rate(0.0975, 4), 11)
    0.10112312546
    """
    _check_periods(periods_per_year)
    checked_rate(nominal_per_year / periods_per_year, "nominal rate over periods")
    return float(np.expm1(periods_per_year * np.log1p(nominal_per_year / periods_per_year)))


def nominal_rate(effective_per_year: float, periods_per_year: int) -> float:
    """Return the nominal yearly rate that compounds to an effective one.

    m ((1 + r)^(1/m) - 1). Raises ValueError if m is below 1 or r is -1 or less. Source: OASIS OpenFormula,
    NOMINAL.

    >>> round(nominal_rate(0.135, 12), 11)
    0.12730316696
    """
    _check_periods(periods_per_year)
    checked_rate(effective_per_year, "effective rate")
    return float(periods_per_year * np.expm1(np.log1p(effective_per_year) / periods_per_year))


def real_rate(nominal_per_year: float, inflation_per_year: float) -> float:
    """Return the rate in constant prices of a rate in current prices.

    (1 + nominal) / (1 + inflation) - 1. Raises ValueError for a rate of -1 or less. Source: Fisher, The
    Theory of Interest.

    >>> round(real_rate(0.20, 0.12), 9)
    0.071428571
    """
    checked_rate(nominal_per_year, "nominal rate")
    checked_rate(inflation_per_year, "inflation")
    return float((nominal_per_year - inflation_per_year) / (1.0 + inflation_per_year))


def blank(value: FloatArray | float) -> float | None:
    """Return one number, or None for the nan by which whole-array versions mark a blank.

    Raises nothing.

    >>> blank(float("nan")) is None, blank(2.0)
    (True, 2.0)
    """
    number = float(value)
    return None if np.isnan(number) else number


def _one_flow(flow: npt.ArrayLike) -> FloatArray:
    """Return one flow of shape (Y,), or refuse."""
    array = checked_flows(flow)
    if array.ndim != 1:
        raise ValueError(f"this takes one flow, one figure per period, not an array of shape {array.shape}")
    return array


def _check_periods(periods_per_year: int) -> None:
    if periods_per_year < 1:
        raise ValueError(f"periods per year must be 1 or more, not {periods_per_year}")
