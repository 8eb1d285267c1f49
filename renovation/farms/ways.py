"""A technique on the trees of many stands at once: the vectors of its basis times the numbers of each (method §13).

By year no months are needed: with g = 1 − δ and W[y, m] the season's share times what the old crown bears,

    Σ_{t∈y} season·o·old  =  today·g^(y−1)·Σ_m g^(m/12)·W[y, m]

By month, for days, hired hands and cash, the same vectors stand for themselves. Where trees or pods are lost to chance
the vectors carry what is left, so that stands with equal losses share them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from renovation.inputs import Scenario, Technique
from renovation.tree import Attempts, Setting, basis_of
from renovation.tree.beside import grown_beside
from renovation.tree.losses import left_alone_shares, worked_shares
from renovation.tree.profile import per_touch
from renovation.types import BoolArray, FloatArray

ONE_THREAD = 260_000
"""Multiplications; above 262,144 OpenBLAS starts a second thread, and a sum's last digit may depend on it."""
STEP = 8
"""Rows of a product: always as many, so that no row's sum depends on its neighbours."""


def product(rows: FloatArray, matrix: FloatArray) -> FloatArray:
    """`rows @ matrix`, (N, K) by (K, M), on one thread and the same to the last digit wherever a row stands.

    Example:
        >>> product(np.ones((3, 2)), np.array([[1.0, 2.0], [3.0, 4.0]])).tolist()
        [[4.0, 6.0], [4.0, 6.0], [4.0, 6.0]]
    """
    number, step = len(rows), STEP * max(1, min(14, ONE_THREAD // (STEP * max(1, matrix.size))))
    if STEP * matrix.size > ONE_THREAD and matrix.shape[1] > STEP:
        half = matrix.shape[1] // (2 * STEP) * STEP or STEP
        return np.concatenate([product(rows, matrix[:, :half]), product(rows, matrix[:, half:])], axis=1)
    whole = -(-number // step) * step
    padded = rows if whole == number else np.concatenate([rows, np.zeros((whole - number, rows.shape[1]))])
    result = np.empty((whole, matrix.shape[1]))
    for first in range(0, whole, step):
        np.matmul(padded[first : first + step], matrix, out=result[first : first + step])
    return result[:number]


class Loss(NamedTuple):
    """What chance takes of a stand: yearly share of trees, and share of pods."""

    trees: float
    pods: float


class Trees(NamedTuple):
    """Numbers of N rows, a stand and a way each.

    weights: (N, S, V) of the basis, V = 2J + 2: 1, m_j, q_j, m_{J+1}; times trees where they are counted. mature: M,
    shade: κ. today: kg, growth: g = 1 − δ, upkeep_days, upkeep_inputs: those of the stand. All (N,).
    """

    weights: FloatArray
    mature: FloatArray
    shade: FloatArray
    today: FloatArray
    growth: FloatArray
    upkeep_days: FloatArray
    upkeep_inputs: FloatArray


class Yields(NamedTuple):
    """What trees bear, ask for and bring, (N, H) by year or (N, T) by month.

    days: without the harvest's. other: income beside the crop. materials: money for supplies. By month `other` is less
    materials, and these are not told apart.
    """

    old_kg: FloatArray
    new_kg: FloatArray
    days: FloatArray
    other: FloatArray
    materials: FloatArray


class Money(NamedTuple):
    """What the new crop of N rows brings: price of a kg with its premium, deductions, days of picking, (N,) each.

    path: (H,) expected price by project year, as a share of today's.
    """

    price: FloatArray
    deductions: FloatArray
    picking: FloatArray
    path: FloatArray


class Change(NamedTuple):
    """What trees change by month, (N, T): kg of the old crown, and of all else person-days and money less materials."""

    old_kg: FloatArray
    days: FloatArray
    money: FloatArray


def powers(growth: FloatArray, years: int) -> tuple[FloatArray, FloatArray]:
    """g^y for the years 0 … H − 1, (N, H), and g^(m/12) for the months of a year, (N, 12)."""
    return growth[:, None] ** np.arange(years), growth[:, None] ** (np.arange(12) / 12)


def untouched_kg(today: FloatArray, growth: FloatArray, season: FloatArray) -> FloatArray:
    """Crop of trees left alone by month, nothing lost, (N, T)."""
    by_year, by_month = powers(growth, season.size // 12)
    rate = (today[:, None] * by_year)[:, :, None] * by_month[:, None, :]
    return np.asarray(rate.reshape(len(today), -1) * season)


def _years(monthly: FloatArray) -> FloatArray:
    return np.asarray(monthly.reshape(*monthly.shape[:-1], -1, 12).sum(axis=-1))


@dataclass(frozen=True, eq=False)
class Way:
    """A technique from S rows of attempts in a setting, on stands with equal losses.

    emptied: whether it works on empty places. tries: months of its attempts.
    """

    scenario: Scenario
    technique: Technique
    setting: Setting
    tries: Attempts
    loss: Loss

    @cached_property
    def _months(self) -> dict[str, FloatArray]:
        """The vectors by month, (addends, T), what is lost taken off."""
        technique, setting, rows = self.technique, self.setting, len(self.tries.start)
        stand = self.scenario.stands[0].model_copy(
            update={"tree_loss_per_year": self.loss.trees, "pods_lost": self.loss.pods}
        )
        shares = worked_shares(technique, stand, self.tries.start, setting.months, setting.spared)
        stands = np.ones((rows, setting.months)) if shares is None else shares.standing
        bears = stands if shares is None else stands * shares.kept
        parts = basis_of(technique, self.tries, setting.months).vectors(None if shares is None else shares.standing)
        days_each, cost_each = per_touch(technique, self.scenario.supplies)
        days = np.tensordot(days_each, parts.touched, axes=1)
        cost = np.tensordot(cost_each, parts.touched, axes=1)
        income, income_days = grown_beside(technique, self.tries.start, np.arange(setting.months))
        days[:, 0] += income_days
        other = parts.paid.copy()
        other[:, 0] += income
        crop, upkeep = (setting.season * bears)[:, None], stands[:, None]
        found = {
            "new": parts.new * crop,
            "shaded": parts.shaded * crop,
            "old": parts.old * bears[:, None],
            "standing": parts.standing * upkeep / 12,
            "days": days,
            "cost": cost,
            "other": other,
            "crown_days": parts.crown_days * upkeep,
            "crown_cost": parts.crown_cost * upkeep,
        }
        return {name: part.reshape(-1, setting.months) for name, part in found.items()}

    @cached_property
    def at_work(self) -> BoolArray:
        """(S, V, T) whether an operation touches trees of this weight in a month: then tools are needed."""
        touched = basis_of(self.technique, self.tries, self.setting.months).vectors().touched
        return np.asarray((touched > 0).any(axis=0))

    def _stacked(self, months: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
        """The vectors set one under the other as `addends` sets the weights side by side."""
        return {
            "new": np.vstack([months["new"], months["shaded"]]),
            "days": np.vstack([months["days"], months["crown_days"], months["standing"]]),
            "other": months["other"],
            "materials": np.vstack([months["cost"], months["crown_cost"], months["standing"]]),
        }

    @cached_property
    def _by_month(self) -> dict[str, FloatArray]:
        found = self._stacked(self._months)
        cost = np.vstack([self._months["other"] - self._months["cost"], -found["materials"][len(found["other"]) :]])
        return {"new": found["new"], "days": found["days"], "other": cost, "old": self._months["old"]}

    def change(self, rows: Trees, alone: "Alone", untouched: FloatArray, money: "Money") -> Change:
        """What the trees change by month beside trees left alone, their numbers in the weights.

        untouched: as in `months`.
        """
        weights, vectors = self.addends(rows), self._changes(alone, tuple(money.path.tolist()))
        bears = weights["new"]
        days = [weights["days"], money.picking[:, None] * bears]
        other = [weights["materials"], money.price[:, None] * bears, -money.deductions[:, None] * bears]
        return Change(
            old_kg=untouched * product(weights["old"], vectors["old"]),
            days=product(np.concatenate(days, axis=1), vectors["days"]),
            money=product(np.concatenate(other, axis=1), vectors["money"]),
        )

    def _changes(self, alone: "Alone", path: tuple[float, ...]) -> dict[str, FloatArray]:
        """The vectors of `change`, one under the other.

        The weights of the old crown sum to 1, so that a tree left alone is taken off each of its vectors: where the
        work changes nothing, exactly nothing is left.
        """
        if path not in self._changed:
            left, standing = alone.shares
            months, kept = self._by_month, len(self._months["standing"])
            days, money = months["days"].copy(), months["other"].copy()
            days[-kept:] -= standing / 12
            money[-kept:] += standing / 12
            priced = months["new"] * np.repeat(path, 12)
            self._changed[path] = {
                "old": months["old"] - left,
                "days": np.vstack([days, months["new"]]),
                "money": np.vstack([money, priced, months["new"]]),
            }
        return self._changed[path]

    @property
    def old_by_month(self) -> FloatArray:
        """(addends, T) what the old crown bears, as a share of what trees left alone would without any loss."""
        return self._months["old"]

    @cached_property
    def _changed(self) -> dict[tuple[float, ...], dict[str, FloatArray]]:
        return {}

    @cached_property
    def yearly(self) -> dict[str, FloatArray]:
        """The stacked vectors by year, (addends, H); of the old crown by month of each year, (addends · 12, H)."""
        found = {name: _years(part) for name, part in self._stacked(self._months).items()}
        old = (self._months["old"] * self.setting.season).reshape(len(self._months["old"]), -1, 12)
        return {**found, "old": old.transpose(0, 2, 1).reshape(-1, self.setting.months // 12)}

    def addends(self, rows: Trees) -> dict[str, FloatArray]:
        """The weights of the stacked vectors, (N, addends) each."""
        number, tries = len(rows.mature), self.tries.month.shape[1]
        succeeds = rows.weights[:, :, tries + 1 : -1].reshape(number, -1)
        crown = self.technique.old_crown
        by_attempt = crown is not None and crown.anchor == "established"
        kept = rows.weights[:, :, tries + 1 :] if by_attempt else rows.weights[:, :, :1]
        kept = kept.reshape(number, -1)
        every = rows.weights.reshape(number, -1)
        bears, alive = rows.mature[:, None] * succeeds, (rows.mature > 0)[:, None] * succeeds
        return {
            "new": np.concatenate([bears, -rows.shade[:, None] * bears], axis=1),
            "days": np.concatenate([every, alive, rows.upkeep_days[:, None] * kept], axis=1),
            "other": every,
            "materials": np.concatenate([every, alive, rows.upkeep_inputs[:, None] * kept], axis=1),
            "old": kept,
        }

    def years(self, rows: Trees) -> Yields:
        """The trees by project year, without months."""
        weights, vectors = self.addends(rows), self.yearly
        by_year, by_month = powers(rows.growth, self.setting.months // 12)
        spread = (weights["old"][:, :, None] * by_month[:, None, :]).reshape(len(rows.mature), -1)
        return Yields(
            old_kg=rows.today[:, None] * by_year * product(spread, vectors["old"]),
            new_kg=product(weights["new"], vectors["new"]),
            days=product(weights["days"], vectors["days"]),
            other=product(weights["other"], vectors["other"]),
            materials=product(weights["materials"], vectors["materials"]),
        )

    def months(self, rows: Trees, untouched: FloatArray) -> Yields:
        """The trees by month. untouched: (N, T) `untouched_kg` of their stands."""
        weights, vectors = self.addends(rows), self._by_month
        return Yields(
            old_kg=untouched * product(weights["old"], vectors["old"]),
            new_kg=product(weights["new"], vectors["new"]),
            days=product(weights["days"], vectors["days"]),
            other=product(weights["materials"], vectors["other"]),
            materials=np.zeros((1, 1)),
        )


@dataclass(frozen=True, eq=False)
class Alone:
    """Trees left as they are, on stands with equal losses: share of the crop that is left, and that stands, (T,)."""

    scenario: Scenario
    setting: Setting
    loss: Loss

    @cached_property
    def shares(self) -> tuple[FloatArray, FloatArray]:
        """Share of the crop left, and of the trees that stand, (T,) each."""
        stand = self.scenario.stands[0].model_copy(
            update={"tree_loss_per_year": self.loss.trees, "pods_lost": self.loss.pods}
        )
        found = left_alone_shares(stand, self.setting.months, self.setting.spared)
        if found is None:
            return np.ones(self.setting.months), np.ones(self.setting.months)
        return (found.standing * found.kept)[0], found.standing[0]

    @cached_property
    def _crop_by_year(self) -> FloatArray:
        """(12, H) the season's share times what is left."""
        return np.asarray((self.setting.season * self.shares[0]).reshape(-1, 12).T.copy())

    def years(self, rows: Trees) -> Yields:
        """Trees left alone by project year."""
        by_year, by_month = powers(rows.growth, self.setting.months // 12)
        standing = _years(self.shares[1]) / 12
        kg = rows.today[:, None] * by_year * product(by_month, self._crop_by_year)
        nothing = np.zeros((1, 1))
        return Yields(
            kg, nothing, rows.upkeep_days[:, None] * standing, nothing, rows.upkeep_inputs[:, None] * standing
        )

    def months(self, rows: Trees, untouched: FloatArray) -> Yields:
        """Trees left alone by month."""
        left, standing = self.shares
        nothing = np.zeros((1, 1))
        days, inputs = (column[:, None] * (standing / 12) for column in (rows.upkeep_days, rows.upkeep_inputs))
        return Yields(untouched * left, nothing, days, -inputs, nothing)
