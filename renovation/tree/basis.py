"""What a technique's curves and calendar alone make of a tree: the vectors that all farms share (method §13).

No number of a farm is in a basis. A farm enters by the chances of its attempts, by its crop and by its money:

    share of the old crown    Σ_j q_j·o(t − a_j) + m_{J+1},  or o(t − s)
    share of the new one      Σ_j q_j·n(t − a_j)·(1 − κ·min(1, o))
    trees touched             Σ_j m_j·E_j(t) and the like, by the anchor of the operation

`profile` adds these up for one farm. `vectors` gives each addend by itself, for whoever multiplies them by the chances
of many farms at once.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from renovation.inputs import Operation, Technique
from renovation.tree.beside import crown_upkeep, payments
from renovation.tree.crowns import Attempts, new_crown_share, old_crown_share
from renovation.types import FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class Basis:
    """A technique from S rows of J attempts over T months.

    tries: the attempts; their months make the basis, their chances are not used. old_crown: (S, J, T) share borne by
    attempt where it is anchored at establishment, (S, 1, T) where at the start; None on an empty place.
    """

    technique: Technique
    tries: Attempts
    months: int
    old_crown: FloatArray | None

    @cached_property
    def age(self) -> IntArray:
        """(S, J, T) months since each attempt."""
        return np.arange(self.months) - self.tries.month[:, :, None]

    @cached_property
    def born(self) -> FloatArray:
        """(S, J, T) share of its mature crop that a crown established by each attempt bears."""
        return new_crown_share(self.technique.new_crown.value, self.age)

    @cached_property
    def shading(self) -> FloatArray:
        """(S, J or 1, T) share of the old crown that shades the new one, and costs upkeep: min(1, o)."""
        if self.old_crown is None:
            return np.zeros((len(self.tries.start), 1, self.months))
        return np.minimum(1.0, self.old_crown)

    @property
    def by_attempt(self) -> bool:
        """Whether what the old crown bears depends on which attempt succeeds."""
        crown = self.technique.old_crown
        return crown is not None and crown.anchor == "established"

    def old_shares(self, tries: Attempts) -> tuple[FloatArray, FloatArray]:
        """Share that the old crown bears, and share of it that stands for upkeep, (S, T) each."""
        if self.old_crown is None:
            none = np.zeros((len(self.tries.start), self.months))
            return none, none
        if not self.by_attempt:
            return self.old_crown[:, 0], self.shading[:, 0]
        chance, never = tries.succeeds[:, :, None], tries.never[:, None]
        return (chance * self.old_crown).sum(axis=1) + never, (chance * self.shading).sum(axis=1) + never

    def new_share(self, tries: Attempts, loss: float) -> FloatArray:
        """Share of its mature crop that the new crown bears, (S, T). loss: κ, under a whole old crown."""
        return np.asarray((tries.succeeds[:, :, None] * self.born * (1 - loss * self.shading)).sum(axis=1))

    def touched(self, tries: Attempts) -> FloatArray:
        """Trees touched by each operation in each month, (O, S, T): events at the anchor, moved to their month."""
        events = {
            "start": (tries.start[:, None], np.ones((len(tries.start), 1))),
            "attempt": (tries.month, tries.made),
            "established": (tries.month, tries.succeeds),
            "never": (tries.last[:, None], tries.never[:, None]),
        }
        touched = np.zeros((len(self.technique.operations), len(tries.start), self.months))
        rows = np.arange(len(tries.start))[:, None]
        for layer, operation in zip(touched, self.technique.operations.values(), strict=True):
            at, trees = events[operation.anchor]
            for offset in _offsets(operation, self.months - int(at.min(initial=0))):
                when = at + offset
                # an attempt that is not made carries 0 trees, so its months may safely be moved inside the array;
                # what fell before month 0 is done and paid
                inside = (when >= 0) & (when < self.months) & (trees > 0)
                np.add.at(layer, (rows, np.where(inside, when, 0)), np.where(inside, trees, 0.0))
        return touched

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
        old, shading = self.old_crown, self.shading
        if old is not None and self.by_attempt:
            old, shading = np.concatenate([old, whole], axis=1), np.concatenate([shading, whole], axis=1)
        return Vectors(
            new=self.born,
            shaded=self.born * self.shading,
            old=np.zeros((rows, 1, self.months)) if old is None else old,
            standing=shading,
            touched=touched,
            paid=paid,
            crown_days=crown_upkeep(self.age, self.technique.upkeep_days.value) / 12,
            crown_cost=crown_upkeep(self.age, self.technique.upkeep_inputs.value) / 12,
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
        >>> basis.born.shape == (1, way.attempts.value, 300)
        True
    """
    crown = technique.old_crown
    if crown is None:
        return Basis(technique, tries, months, None)
    at = tries.month if crown.anchor == "established" else tries.start[:, None]
    age = np.arange(months) - at[:, :, None]
    old = old_crown_share(crown.curve.value, age, from_establishment=crown.anchor == "established")
    return Basis(technique, tries, months, old)


def _offsets(operation: Operation, months: int) -> range:
    """Months from the anchor at which an operation falls, the first counted; to the end without `times`."""
    if operation.every is None:
        return range(operation.month, operation.month + 1)
    stop = months if operation.times is None else operation.month + operation.every * operation.times
    return range(operation.month, max(stop, operation.month + 1), operation.every)
