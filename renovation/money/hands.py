"""Hands that learn, and what is held of them before anything is counted (method §10).

A take that rises with practice is known by a curve: f, the first graft's take, and ρ, the share of failures left by
each doubling; or by a typed table times one factor λ. Before anything is counted

    f ~ Beta(8 f₀, 8 (1 − f₀)),   2ρ − 1 ~ Beta(10 m, 10 (1 − m)), m = 2ρ₀ − 1,   ln λ ~ Normal(−⅛, ½),

f₀ and ρ₀ as stated. `renovation.money.practice` tells what is held once grafts were counted.
"""

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from renovation.money.learning import Form, share_left, take_from_table
from renovation.types import FloatArray

FIRST_WEIGHT = 8.0
"""What the stated first take weighs before anything is counted, in grafts (method §10)."""
RATE_WEIGHT = 10.0
"""What the stated rate weighs before anything is counted."""
NEAREST = 0.01
"""A stated share nearer to 0 or 1 than this counts as this far from it: no count could move it otherwise."""
TABLE_SD = 0.5
"""Standard deviation of ln λ."""
WIDEST = 8.0
"""Standard deviations of ln λ that are looked at on each side."""
DEPTH = 24.0
"""Where the posterior is below e^-DEPTH of its height it counts as nothing."""
LEAST = 1e-300
"""The least share of failures that practice leaves: none at all would have no logarithm."""


@dataclass(frozen=True, order=True)
class Counted:
    """Grafts of one season: made before it (a fraction where they are expected ones), made in it, and taken of these.

    Raises ValueError where more took than were made.
    """

    before: float
    made: int
    taken: int

    def __post_init__(self) -> None:
        """Refuse counts that cannot be."""
        if not 0 <= self.taken <= self.made or not 0 <= self.before < math.inf:
            raise ValueError(f"{self.taken} taken of {self.made} made after {self.before}")


class Hands(Hashable, Protocol):
    """What is not known of the hands: a number z for each place of a row, and a number y for each row.

    ends, row_ends: the stretch of z and of y beyond which nothing counts; row_ends None where y is known. The take is
    min(highest, base + slope·own), own a function of z alone, and rises with z.
    """

    @property
    def highest(self) -> float:
        """The ceiling of the take."""

    @property
    def ends(self) -> tuple[float, float]:
        """Of z."""

    @property
    def row_ends(self) -> tuple[float, float] | None:
        """Of y."""

    def says_something(self, season: Counted) -> bool:
        """Whether a season's count tells anything of the hands."""

    def log_prior(self, z: FloatArray, y: FloatArray) -> FloatArray:
        """Logarithm of the prior density of (z, y), up to a constant, (R, F) from z (R, F) and y (R,)."""

    def log_shares(self, before: float, z: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Logarithms of the share that takes after so many grafts, and of the share that fails, (R, F) each."""

    def own(self, z: FloatArray) -> FloatArray:
        """What is each hand's own."""

    def place_of(self, own: FloatArray) -> FloatArray:
        """The z of which it is the own."""

    def line(self, before: npt.ArrayLike, y: FloatArray) -> tuple[float, FloatArray]:
        """Base, and slope by row (R,), after so many grafts, the same for all rows or each its own."""


@dataclass(frozen=True)
class CurveHands:
    """Hands that learn by a curve: sinh z is the log odds of f, sinh y that of 2ρ − 1.

    first: (α, β) of f. rate: (α, β) of 2ρ − 1, or ρ itself where it is known. highest: the ceiling of the take.
    """

    form: Form
    first: tuple[float, float]
    rate: tuple[float, float] | float
    highest: float = 1.0

    @property
    def ends(self) -> tuple[float, float]:
        """Of f."""
        return ends_of(self.first)

    @property
    def row_ends(self) -> tuple[float, float] | None:
        """Of 2ρ − 1."""
        return None if isinstance(self.rate, float) else ends_of(self.rate)

    def says_something(self, season: Counted) -> bool:
        """Any graft does."""
        return season.made > 0

    def log_prior(self, z: FloatArray, y: FloatArray) -> FloatArray:
        """ln Beta(f) + ln Beta(2ρ − 1), as densities of z and y."""
        prior = _log_beta(z, self.first)
        return prior if isinstance(self.rate, float) else prior + _log_beta(y, self.rate)[:, None]

    def _left(self, before: npt.ArrayLike, y: FloatArray) -> FloatArray:
        """Share of failures that so many grafts leave, (R, 1)."""
        from scipy.special import expit

        rate = np.full(y.shape, self.rate) if isinstance(self.rate, float) else (1 + expit(np.sinh(y))) / 2
        return np.maximum(LEAST, share_left(before, rate, self.form))[:, None]

    def log_shares(self, before: float, z: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """ln p and ln(1 − p), p = min(highest, 1 − (1 − f)·left)."""
        from scipy.special import log_expit

        ceiling = math.log1p(-self.highest) if self.highest < 1 else -math.inf
        with np.errstate(divide="ignore"):
            failing = log_expit(-np.sinh(z)) + np.log(self._left(before, y))  # above 0 by rounding alone
            fails = np.minimum(0.0, np.maximum(ceiling, failing))
            return np.log(-np.expm1(fails)), fails

    def own(self, z: FloatArray) -> FloatArray:
        """1 − f."""
        from scipy.special import expit

        return np.asarray(expit(-np.sinh(z)))

    def place_of(self, own: FloatArray) -> FloatArray:
        """Where 1 − f is so much; below every place for 1 and more."""
        from scipy.special import logit

        return np.asarray(np.arcsinh(-logit(np.minimum(own, 1.0))))

    def line(self, before: npt.ArrayLike, y: FloatArray) -> tuple[float, FloatArray]:
        """1 − (1 − f)·left."""
        return 1.0, np.asarray(-self._left(before, y)[:, 0])


@dataclass(frozen=True)
class TableHands:
    """Hands that take λ times what a table of (grafts made before, take) says, 1 at most: z is ln λ, in one row."""

    table: tuple[tuple[float, float], ...]
    highest: float = 1.0
    row_ends: None = None

    @property
    def ends(self) -> tuple[float, float]:
        """Eight standard deviations on each side."""
        middle = -(TABLE_SD**2) / 2
        return middle - WIDEST * TABLE_SD, middle + WIDEST * TABLE_SD

    def says_something(self, season: Counted) -> bool:
        """A season in which the table lets no graft take tells nothing of a factor on it."""
        return season.made > 0 and self._stated(season.before) > 0

    def log_prior(self, z: FloatArray, y: FloatArray) -> FloatArray:  # noqa: ARG002 - one row
        """The normal density of ln λ, whose mean makes λ 1 on average."""
        return np.asarray(-(((z + TABLE_SD**2 / 2) / TABLE_SD) ** 2) / 2)

    def log_shares(self, before: float, z: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:  # noqa: ARG002
        """ln p and ln(1 − p), p = min(1, λ·table)."""
        take = np.minimum(0.0, z + math.log(self._stated(before)))
        with np.errstate(divide="ignore"):
            return take, np.log(-np.expm1(take))

    def own(self, z: FloatArray) -> FloatArray:
        """λ."""
        return np.asarray(np.exp(z))

    def place_of(self, own: FloatArray) -> FloatArray:
        """ln λ."""
        return np.log(own)

    def line(self, before: npt.ArrayLike, y: FloatArray) -> tuple[float, FloatArray]:
        """λ·table."""
        return 0.0, np.broadcast_to(take_from_table(before, self.table), y.shape)

    def _stated(self, before: float) -> float:
        """The table's take."""
        return float(take_from_table(before, self.table))


def curve_hands(form: Form, first_take: float, highest_take: float, rate: float) -> CurveHands:
    """What is held of hands that learn by a stated curve, before anything is counted.

    Example:
        >>> hands = curve_hands("crawford", 0.25, 0.75, 0.85)
        >>> hands.first, [round(shape, 9) for shape in hands.rate]
        ((2.0, 6.0), [7.0, 3.0])
    """
    first, slow = _inside(first_take), _inside(2 * rate - 1)
    return CurveHands(
        form,
        (FIRST_WEIGHT * first, FIRST_WEIGHT * (1 - first)),
        (RATE_WEIGHT * slow, RATE_WEIGHT * (1 - slow)),
        max(first, highest_take),
    )


def table_hands(table: Iterable[tuple[float, float]]) -> TableHands:
    """What is held of hands that learn by a typed table, before anything is counted."""
    return TableHands(tuple((float(before), float(take)) for before, take in table))


def _inside(share: float) -> float:
    """A share no nearer to 0 or 1 than NEAREST."""
    return min(max(share, NEAREST), 1 - NEAREST)


def ends_of(shape: tuple[float, float]) -> tuple[float, float]:
    """Places beyond which Beta(α, β) is nothing, whatever was counted: it falls as odds^α and odds^−β."""
    alpha, beta = shape
    return math.asinh(-(DEPTH + 8) / alpha - 20), math.asinh((DEPTH + 8) / beta + 20)


def _log_beta(place: FloatArray, shape: tuple[float, float]) -> FloatArray:
    """Logarithm of a Beta's density at a place, the log odds of the share sinh(place); up to a constant."""
    from scipy.special import log_expit

    odds = np.sinh(place)
    return np.asarray(shape[0] * log_expit(odds) + shape[1] * log_expit(-odds) + np.log(np.cosh(place)))
