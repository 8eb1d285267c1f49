"""Takes at which a way just pays, of many rows at once (method §5): roots of a polynomial in a constant take.

The NPV of a tree is a sum over the weights of its attempts (1, m_j, q_j, m_{J+1}), and these are polynomials of degree
J or less in a take that is the same in every season: J + 1 takes fix it. Their weights are the same for all rows, so
that each vector of the basis is discounted once, and a row enters by its scalars alone.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from renovation.decide.drivers import highest_take
from renovation.farms.takes import Compared, chances, months_of
from renovation.farms.ways import Trees, Way, product
from renovation.inputs import Technique
from renovation.money import sample_points
from renovation.money.switching import bernstein_terms, bernstein_zeros
from renovation.tree import Attempts
from renovation.types import BoolArray, FloatArray

Takes = tuple[float, ...]


class Prices(NamedTuple):
    """Money of N rows, (N, 1) each.

    old, new: price of a kg of either crown. deductions: from each of them. day: what one costs in the economic account.
    picking: days to harvest a kg. path: (H,) expected price by project year, as a share of today's.
    """

    old: FloatArray
    new: FloatArray
    deductions: FloatArray
    day: FloatArray
    picking: FloatArray
    path: FloatArray


@dataclass(frozen=True, eq=False)
class ConstantTakes:
    """J + 1 constant takes of a technique from 0 to its highest, and the weights of a tree's attempts under each."""

    compared: Compared
    technique: Technique
    tries: Attempts

    @cached_property
    def highest(self) -> float:
        """The highest take that is the same in every season."""
        return highest_take(self.technique)

    @cached_property
    def points(self) -> FloatArray:
        """(K,) the takes, K = J + 1."""
        return sample_points(0.0, self.highest, self.technique.attempts.value)

    @cached_property
    def weights(self) -> FloatArray:
        """(K, V) weights under each take."""
        appraisal, month = self.compared.group.shared.appraisal, self.tries.month[0]
        every_year = np.broadcast_to(self.points[:, None], (self.points.size, appraisal.horizon_years))
        return chances(self.compared.chance(self.technique, every_year, month), month < appraisal.months)

    @cached_property
    def above(self) -> BoolArray:
        """(V,) weights that are above 0 under some take: what is done then needs its tools."""
        return np.asarray((self.weights > 0).any(axis=0))

    def worth(self, way: Way, rows: Trees, untouched: FloatArray, prices: Prices, discount: FloatArray) -> FloatArray:
        """(N, K) what a tree is worth under each take, as `_Rows` has it under its own.

        untouched: (N, T) crop of trees left alone, nothing lost. discount: (H,).
        """
        number = len(self.points)
        once = np.ones(number)
        unit = way.addends(Trees(self.weights[:, None], once, once, once, once, once, once))
        yearly, path = way.yearly, prices.path
        tries = yearly["new"].shape[0] // 2
        every, kept = unit["other"].shape[1], unit["old"].shape[1]
        mature, shade = rows.mature[:, None], rows.shade[:, None]

        def summed(name: str, by_year: FloatArray, *columns: slice) -> list[FloatArray]:
            """(K,) present values of some addends each."""
            worth = yearly[name] @ by_year
            return [(unit[name][:, some] * worth[some]).sum(axis=1) for some in columns]

        def new_kg(by_year: FloatArray) -> FloatArray:
            whole, shaded = summed("new", by_year, slice(tries), slice(tries, None))
            return mature * (whole + shade * shaded)

        old = np.concatenate([way.old_by_month * np.repeat(by_year, 12) for by_year in (discount, discount * path)])
        by_weight = product(untouched, np.ascontiguousarray(old.T))
        old_kg, old_priced = (product(part, unit["old"].T) for part in (by_weight[:, :kept], by_weight[:, kept:]))
        kg, alive = old_kg + new_kg(discount), rows.mature[:, None] > 0
        parts = slice(every), slice(every, -kept), slice(-kept, None)
        (other,) = summed("other", discount, slice(None))
        benefits = prices.old * old_priced + prices.new * new_kg(discount * path) - prices.deductions * kg + other
        touched, crowned, upkept = summed("days", discount, *parts)
        days = touched + alive * crowned + rows.upkeep_days[:, None] * upkept + prices.picking * kg
        touched, crowned, upkept = summed("materials", discount, *parts)
        materials = touched + alive * crowned + rows.upkeep_inputs[:, None] * upkept
        return np.asarray(benefits - materials - prices.day * days)

    def pays(self, npv: FloatArray) -> list[Takes]:
        """Takes at which the NPV of each row is 0, ascending; npv: (N, K) under each take; none where all is 0."""
        found: list[Takes] = [()] * len(npv)
        moved = np.flatnonzero(npv.any(axis=1))
        inverse = np.linalg.inv(bernstein_terms(self.points / self.highest))
        # term by term: no row's sum depends on its neighbours
        coefs = np.asarray(sum(column[:, None] * npv[moved, k] for k, column in enumerate(inverse.T)))
        for place, takes in zip(moved.tolist(), bernstein_zeros(coefs, 0.0, self.highest), strict=True):
            found[place] = takes
        return found


def constant_takes(compared: Compared, key: str) -> ConstantTakes | None:
    """The constant takes of a technique from its start; None where nothing has to take (a pruning)."""
    technique, appraisal = compared.group.shared.techniques[key], compared.group.shared.appraisal
    if technique.family == "prune":
        return None
    tries = months_of(technique, compared.starts[key], appraisal.months, appraisal.start_calendar_month)
    return ConstantTakes(compared, technique, tries)
