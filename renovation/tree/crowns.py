"""Crown curves and attempts: when a tree is established, and what it then bears (method §3)."""

from dataclasses import dataclass, fields

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

    @property
    def months_alone(self) -> "Attempts":
        """One row where all fall in the same months; else these."""
        if (self.start != self.start[:1]).any() or (self.month != self.month[:1]).any():
            return self
        return Attempts(*(getattr(self, one.name)[:1] for one in fields(self)))


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
    return _takes(technique, month, horizon_months, take_by_year, start_calendar_month)


def _takes(
    technique: Technique,
    month: IntArray,
    horizon_months: int,
    take_by_year: FloatArray | None,
    start_calendar_month: int,
) -> FloatArray:
    """The chance of each attempt in the months given, (S, J); before month 0 the first year's take."""
    table = np.asarray(technique.take.value if take_by_year is None else take_by_year, dtype=np.float64)
    table = np.broadcast_to(table, (len(month), table.shape[-1]))
    year = np.minimum(np.maximum(month // 12, 0), table.shape[-1] - 1)
    take = table[np.arange(len(month))[:, None], year]
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
    take = _takes(technique, month, horizon_months, take_by_year, start_calendar_month)
    _refuse_impossible(take)
    still_without = np.cumprod(1 - take, axis=1)
    made = np.concatenate([np.ones((len(starts), 1)), still_without[:, :-1]], axis=1) * within
    never = np.asarray(still_without[:, -1], dtype=np.float64)
    last = np.where(within, month, -1).max(axis=1)
    return Attempts(starts, month, made, np.asarray(made * take, dtype=np.float64), never, last)


def attempts_under_way(
    technique: Technique,
    start: int,
    made_in: IntArray,
    horizon_months: int,
    take_by_year: FloatArray | None = None,
    *,
    start_calendar_month: int,
    now: int = 0,
) -> Attempts:
    """The attempts of trees on which work has begun, by what became of them: k + 2 rows (method §11).

    Row i < k: established by attempt i + 1, in month made_in[i]. Row k: still waiting; attempt k + 1 falls in
    a* = max(now, a_k + gap), or max(now, s) where none was made, those after it a gap apart. Row k + 1: given up.

    made_in: (k,) project months of the attempts made so far, rising, before `now`: month 0, or a later month up to
    which attempts were counted. start: s. Raises ValueError for an attempt made in `now` or later, for more attempts
    than the technique has and for a chance above 1.

    Example:
        >>> from renovation.inputs import default_technique
        >>> a = attempts_under_way(
        ...     default_technique("side_graft"), -3, np.array([-3]), 300, np.array([0.25]), start_calendar_month=7
        ... )
        >>> a.succeeds[1][:3].tolist(), a.month[1][1:].tolist()
        ([0.0, 0.25, 0.1875], [0, 3, 6, 9])
    """
    made_in = np.atleast_1d(np.asarray(made_in, dtype=np.int64))
    done, every, gap = made_in.size, technique.attempts.value, technique.gap_months.value
    if done > every or (done and made_in.max() >= now):
        raise ValueError(
            f"{done} of {every} attempts made, in months {made_in.tolist()}, all of which lie before {now}"
        )
    next_one = max(now, int(made_in[-1]) + gap if done else start)
    month = np.concatenate([made_in, next_one + gap * np.arange(every - done)])
    within = month < horizon_months
    take = _takes(technique, month[None, :], horizon_months, take_by_year, start_calendar_month)
    _refuse_impossible(take[:, done:])
    take[:, :done] = 0.0  # on a tree that waits they were in vain
    still_without = np.cumprod(1 - take[0])
    waiting = np.concatenate([[1.0], still_without[:-1]]) * within
    begun = np.arange(every) < done
    made = np.stack([*np.tri(done, every), waiting, begun.astype(np.float64)])
    succeeds = np.stack([*np.eye(done, every), waiting * take[0], np.zeros(every)])
    never = np.concatenate([np.zeros(done), still_without[-1:], [1.0]])
    given_up_in = int(made_in[-1]) if done else start
    last = np.array([given_up_in] * done + [int(month[within][-1]) if within.any() else given_up_in, given_up_in])
    rows = np.ones((done + 2, 1), dtype=np.int64)
    return Attempts(np.full(done + 2, start), rows * month, made, succeeds, never, last)


def _refuse_impossible(take: FloatArray) -> None:
    """Refuse a chance outside 0 to 1."""
    if take.size and (take.min() < 0 or take.max() > 1):
        raise ValueError(f"a take must lie between 0 and 1, not {take.min():g} to {take.max():g}")
