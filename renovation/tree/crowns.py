"""Crown curves and attempts: when a tree is established, and what it then bears (method §3)."""

from dataclasses import dataclass

import numpy as np

from renovation.inputs import Technique
from renovation.types import FloatArray, IntArray

Points = tuple[tuple[float, float], ...]


def new_crown_share(curve: Points, ages_months: FloatArray | IntArray) -> FloatArray:
    """Share of its mature crop that a new crown bears at each age.

    ages_months: any shape, months since establishment. Returns the same shape. Piecewise linear through the
    points, 0 before the first and at negative ages, the last share after the last; an empty table is 0.

    Example:
        >>> new_crown_share(((12, 0.0), (24, 0.5)), np.array([-1, 11, 18, 40])).tolist()
        [0.0, 0.0, 0.25, 0.5]
    """
    share = _along(curve, ages_months, before=0.0)
    return np.where(np.less(ages_months, 0), 0.0, share)


def old_crown_share(curve: Points, ages_months: FloatArray | IntArray, *, from_establishment: bool) -> FloatArray:
    """Share that an old crown still bears of what it would bear untouched, at each age from its anchor.

    Piecewise linear, 1 before the first point, the last share after the last. Counted from establishment it
    is 1 at negative ages: cutting back begins only once the graft lives. Counted from the start, a point at a
    negative age counts: (−1, 1), (0, 0) fells the tree in the month of the start.

    Example:
        >>> old_crown_share(((-1, 1.0), (0, 0.0)), np.array([-2, -1, 0, 5]), from_establishment=False).tolist()
        [1.0, 1.0, 0.0, 0.0]
    """
    share = _along(curve, ages_months, before=1.0)
    return np.where(np.less(ages_months, 0), 1.0, share) if from_establishment else share


def _along(curve: Points, ages_months: FloatArray | IntArray, *, before: float) -> FloatArray:
    """Share at each age: linear between the points, `before` ahead of the first and where there is none."""
    ages, points = np.asarray(ages_months, dtype=np.float64), np.asarray(curve, dtype=np.float64)
    return np.interp(ages, points[:, 0], points[:, 1], left=before) if curve else np.full_like(ages, before)


@dataclass(frozen=True)
class Attempts:
    """The attempts at establishing a tree, for S start months and J attempts.

    month: (S, J) project month a_j of each attempt. made: (S, J) chance m_j that it is made. succeeds: (S, J)
    chance q_j that it is the one to succeed. never: (S,) chance that none succeeds. last: (S,) month of the
    last attempt made. An attempt at or after the horizon is not made: both its chances are 0.
    """

    start: IntArray
    month: IntArray
    made: FloatArray
    succeeds: FloatArray
    never: FloatArray
    last: IntArray


def takes_of_attempts(
    technique: Technique,
    starts: IntArray,
    horizon_months: int,
    take_by_year: FloatArray | None = None,
    *,
    start_calendar_month: int,
) -> FloatArray:
    """The chance p_j of each attempt from each start month, (S, J); 0 for one that would fall after the horizon.

        p_j = take of the project year of a_j · factor of attempt j · factor of the calendar month of a_j

    Takes as for `attempts`. A product above 1 is given as it is: such a start cannot be, and whoever offers starts
    leaves it out.

    Example:
        >>> from renovation.inputs import default_technique
        >>> way = default_technique("side_graft")
        >>> takes_of_attempts(way, np.array([0]), 300, np.array([0.25]), start_calendar_month=1)[0].tolist()
        [0.25, 0.25, 0.25, 0.25, 0.25]
    """
    starts = np.atleast_1d(np.asarray(starts, dtype=np.int64))
    month = _months_of_attempts(technique, starts)
    table = np.asarray(technique.take.value if take_by_year is None else take_by_year, dtype=np.float64)
    table = np.broadcast_to(table, (len(starts), table.shape[-1]))
    take = np.take_along_axis(table, np.minimum(month // 12, table.shape[-1] - 1), axis=1)
    by_month = np.asarray(technique.factors_by_month)[(start_calendar_month - 1 + month) % 12]
    return np.where(month < horizon_months, take * (np.asarray(technique.factors_by_attempt) * by_month), 0.0)


def _months_of_attempts(technique: Technique, starts: IntArray) -> IntArray:
    """Project month of each attempt from each start month, (S, J): a_j = s + (j − 1)·gap."""
    months: IntArray = starts[:, None] + np.arange(technique.attempts.value) * technique.gap_months.value
    return months


def attempts(
    technique: Technique,
    starts: IntArray,
    horizon_months: int,
    take_by_year: FloatArray | None = None,
    *,
    start_calendar_month: int,
) -> Attempts:
    """Work out the attempts of a technique from each start month (method §3, Attempts).

        a_j = s + (j − 1)·gap,  p_j as `takes_of_attempts` gives it,  m_j = Π_{i<j}(1 − p_i),  q_j = m_j·p_j

    starts: (S,) project months, 0 ≤ s < horizon. take_by_year: shares by project year in place of the
    technique's own, the last holding from then on; (Y,) for all starts or (S, Y) for each its own.
    start_calendar_month: that of project month 0. Raises ValueError for a start outside the horizon and for a
    chance above 1.

    Example:
        >>> from renovation.inputs import default_technique
        >>> a = attempts(default_technique("side_graft"), np.array([0]), 300, np.array([0.25]), start_calendar_month=1)
        >>> [round(float(q), 4) for q in a.succeeds[0][:2]]
        [0.25, 0.1875]
    """
    starts = np.atleast_1d(np.asarray(starts, dtype=np.int64))
    if starts.size and (starts.min() < 0 or starts.max() >= horizon_months):
        raise ValueError(f"a start must lie in months 0 to {horizon_months - 1}, not {starts.tolist()}")
    month = _months_of_attempts(technique, starts)
    within = month < horizon_months
    take = takes_of_attempts(technique, starts, horizon_months, take_by_year, start_calendar_month=start_calendar_month)
    if take.size and (take.min() < 0 or take.max() > 1):
        raise ValueError(f"a take must lie between 0 and 1, not {take.min():g} to {take.max():g}")
    still_without = np.cumprod(1 - take, axis=1)
    made = np.concatenate([np.ones((len(starts), 1)), still_without[:, :-1]], axis=1) * within
    never = np.asarray(still_without[:, -1], dtype=np.float64)
    last = np.where(within, month, -1).max(axis=1)
    return Attempts(starts, month, made, np.asarray(made * take, dtype=np.float64), never, last)
