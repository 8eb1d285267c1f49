"""What a technique's curves and calendar alone make of a tree: the vectors that all farms share (method §13).

No number of a farm is in a basis. A farm enters by the chances of its attempts, by its crop and by its money:

    share of the old crown    Σ_j q_j·o(t − a_j) + m_{J+1},  or o(t − s)
    share of the new one      Σ_j q_j·n(t − a_j)·(1 − κ·min(1, o))
    trees touched             Σ_j m_j·E_j(t) and the like, by the anchor of the operation

`profile` adds these up for one farm. `vectors` gives each addend by itself, for whoever multiplies them by the chances
of many farms at once.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np

from renovation.inputs import Operation, Technique
from renovation.tree.beside import crown_upkeep, payments
from renovation.tree.crowns import Attempts, new_crown_share, old_crown_share
from renovation.types import FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class Crowns:
    """What old and new crowns bear by month, from S rows of J attempts over T months; shared, not to be written to.

    age: (S, J, T) months since each attempt. born: (S, J, T) share of its mature crop that a crown established by each
    attempt bears. old: (S, J, T) share borne by attempt where the old crown is anchored at establishment, (S, 1, T)
    where at the start; None on an empty place. shading: (S, J or 1, T) share of the old crown that shades the new one,
    and costs upkeep: min(1, o).
    """

    age: IntArray
    born: FloatArray
    old: FloatArray | None
    shading: FloatArray


@dataclass(frozen=True, eq=False)
class Basis:
    """A technique from S rows of J attempts over T months; a single row serves any number with the same months.

    tries: the attempts; their months make the basis, their chances are not used.
    """

    technique: Technique
    tries: Attempts
    months: int

    @cached_property
    def crowns(self) -> Crowns:
        """What the crowns bear; of a single row it is remembered, for it is the same on every farm."""
        technique, start, month = self.technique, self.tries.start, self.tries.month
        old = (technique.old_crown.curve.value, self.by_attempt) if technique.old_crown else None
        if len(start) > 1:
            return _crowns(technique.new_crown.value, old, start, month, self.months)
        return _crowns_of_row(technique.new_crown.value, old, int(start[0]), tuple(month[0].tolist()), self.months)

    @cached_property
    def crown_upkeep(self) -> tuple[FloatArray, FloatArray]:
        """(S, J, T) days and inputs a year of the crown that each attempt establishes, by month."""
        month, figures = self.tries.month, (self.technique.upkeep_days.value, self.technique.upkeep_inputs.value)
        if len(month) > 1:
            return _crown_upkeep(self.crowns.age, *figures)
        return _crown_upkeep_of_row(tuple(month[0].tolist()), self.months, *figures)

    @property
    def by_attempt(self) -> bool:
        """Whether what the old crown bears depends on which attempt succeeds."""
        crown = self.technique.old_crown
        return crown is not None and crown.anchor == "established"

    def old_shares(self, tries: Attempts) -> tuple[FloatArray, FloatArray]:
        """Share that the old crown bears, and share of it that stands for upkeep, (S, T) each."""
        old, shading, shape = self.crowns.old, self.crowns.shading, (len(tries.start), self.months)
        if old is None:
            none = np.zeros(shape)
            return none, none
        if not self.by_attempt:
            return np.broadcast_to(old[:, 0], shape), np.broadcast_to(shading[:, 0], shape)
        chance, never = tries.succeeds[:, :, None], tries.never[:, None]
        return (chance * old).sum(axis=1) + never, (chance * shading).sum(axis=1) + never

    def new_share(self, tries: Attempts, loss: float) -> FloatArray:
        """Share of its mature crop that the new crown bears, (S, T). loss: κ, under a whole old crown."""
        crowns = self.crowns
        return np.asarray((tries.succeeds[:, :, None] * crowns.born * (1 - loss * crowns.shading)).sum(axis=1))

    def touched(self, tries: Attempts) -> FloatArray:
        """Trees touched by each operation in each month, (O, S, T): events at the anchor, moved to their month."""
        events = {
            "start": (tries.start[:, None], np.ones((len(tries.start), 1))),
            "attempt": (tries.month, tries.made),
            "established": (tries.month, tries.succeeds),
            "never": (tries.last[:, None], tries.never[:, None]),
        }
        rows, months, operations = len(tries.start), self.months, self.technique.operations.values()
        first = np.arange(rows)[:, None] * months
        places, weights = [np.empty(0, dtype=np.int64)], [np.empty(0)]
        for layer, operation in enumerate(operations):
            at, trees = events[operation.anchor]
            when = at + np.array(_offsets(operation, months - int(at.min(initial=0))))[:, None, None]
            # what fell before month 0 is done and paid
            inside = (when >= 0) & (when < months) & (trees > 0)
            places.append(np.where(inside, layer * rows * months + first + when, 0).ravel())
            weights.append(np.where(inside, trees, 0.0).ravel())
        size = len(operations) * rows * months
        touched = np.bincount(np.concatenate(places), np.concatenate(weights), size)
        return np.asarray(touched, dtype=np.float64).reshape(len(operations), rows, months)

    def vectors(self, standing: FloatArray | None = None) -> "Vectors":
        """Each addend by itself. standing: (S, T) share of trees that still stand, for yearly payments."""
        rows, tries = self.tries.month.shape
        unit = self._units()
        touched = self.touched(unit).reshape(-1, rows, 2 * tries + 2, self.months)
        alive = None if standing is None else np.repeat(standing, 2 * tries + 2, axis=0)
        paid = payments(self.technique, unit, self.months, alive).reshape(rows, 2 * tries + 2, self.months)
        # the payments at the start stand in every row: they belong to the weight that is always 1
        paid[:, 1:] -= paid[:, :1]
        starts = np.array([op.anchor == "start" for op in self.technique.operations.values()], dtype=bool)
        touched[starts, :, 1:] = 0.0
        whole = np.ones((rows, 1, self.months))
        crowns = self.crowns
        old, shading = crowns.old, crowns.shading
        if old is not None and self.by_attempt:
            old, shading = np.concatenate([old, whole], axis=1), np.concatenate([shading, whole], axis=1)
        return Vectors(
            new=crowns.born,
            shaded=crowns.born * crowns.shading,
            old=np.zeros((rows, 1, self.months)) if old is None else old,
            standing=shading,
            touched=touched,
            paid=paid,
            crown_days=self.crown_upkeep[0] / 12,
            crown_cost=self.crown_upkeep[1] / 12,
        )

    def _units(self) -> Attempts:
        """Each weight 1 by itself, the others 0: S·(2J + 2) rows."""
        rows, tries = self.tries.month.shape
        weights = np.tile(np.eye(2 * tries + 2), (rows, 1))
        start, month, last = (
            np.repeat(part, 2 * tries + 2, axis=0) for part in (self.tries.start, self.tries.month, self.tries.last)
        )
        return Attempts(start, month, weights[:, 1 : tries + 1], weights[:, tries + 1 : -1], weights[:, -1], last)


class Vectors(NamedTuple):
    """The addends of a tree's months; a tree is their sum, each times its weight.

    Of one row the V = 2J + 2 weights are 1, m_1 … m_J, q_1 … q_J and m_{J+1}.
    new, shaded: (S, J, T), weights q: n(t − a_j), and the same times min(1, o). old, standing: (S, J + 1, T), weights q
    and m_{J+1}; (S, 1, T), weight 1, where the old crown is anchored at the start. touched: (O, S, V, T). paid:
    (S, V, T) money. crown_days, crown_cost: (S, J, T), weights q: a month's upkeep of the new crown.
    """

    new: FloatArray
    shaded: FloatArray
    old: FloatArray
    standing: FloatArray
    touched: FloatArray
    paid: FloatArray
    crown_days: FloatArray
    crown_cost: FloatArray


def basis_of(technique: Technique, tries: Attempts, months: int) -> Basis:
    """The basis of a technique whose attempts fall in these months.

    Example:
        >>> from renovation.inputs import default_technique
        >>> from renovation.tree import attempts
        >>> way = default_technique("side_graft")
        >>> basis = basis_of(way, attempts(way, np.array([0]), 300, start_calendar_month=1), 300)
        >>> basis.crowns.born.shape == (1, way.attempts.value, 300)
        True
    """
    return Basis(technique, tries, months)


Curve = tuple[tuple[float, float], ...]


@lru_cache(maxsize=256)
def _crowns_of_row(
    new: Curve, old: tuple[Curve, bool] | None, start: int, month: tuple[int, ...], months: int
) -> Crowns:
    """The crowns of one row of attempts."""
    crowns = _crowns(new, old, np.array([start]), np.array([month]), months)
    for part in (crowns.age, crowns.born, crowns.shading):
        part.flags.writeable = False
    return crowns


@lru_cache(maxsize=256)
def _crown_upkeep_of_row(
    month: tuple[int, ...], months: int, days: tuple[float, ...], inputs: tuple[float, ...]
) -> tuple[FloatArray, FloatArray]:
    """Upkeep of the crowns of one row of attempts."""
    return _crown_upkeep(np.arange(months) - np.array([month])[:, :, None], days, inputs)


def _crown_upkeep(age: IntArray, days: tuple[float, ...], inputs: tuple[float, ...]) -> tuple[FloatArray, FloatArray]:
    """Days and inputs a year of a crown at each age in months."""
    return crown_upkeep(age, days), crown_upkeep(age, inputs)


def _crowns(new: Curve, old: tuple[Curve, bool] | None, start: IntArray, month: IntArray, months: int) -> Crowns:
    """The crowns of rows of attempts, (S,) and (S, J). old: curve, and whether it is anchored at establishment."""
    age = np.arange(months) - month[:, :, None]
    born = new_crown_share(new, age)
    if old is None:
        return Crowns(age, born, None, np.zeros((len(start), 1, months)))
    curve, by_attempt = old
    since = age if by_attempt else np.arange(months) - start[:, None, None]
    share = old_crown_share(curve, since, from_establishment=by_attempt)
    return Crowns(age, born, share, np.minimum(1.0, share))


def _offsets(operation: Operation, months: int) -> range:
    """Months from the anchor at which an operation falls, the first counted; to the end without `times`."""
    if operation.every is None:
        return range(operation.month, operation.month + 1)
    stop = months if operation.times is None else operation.month + operation.every * operation.times
    return range(operation.month, max(stop, operation.month + 1), operation.every)
