"""Learning: a take updated from one's own trees (Beta), and curves of getting better with practice.

Sources: Gelman et al., Bayesian Data Analysis, 3rd ed., p. 37 (Beta updating); the unit-time (Crawford) and
cumulative-average (Wright) learning curves of operations-management manuals.
"""

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from renovation.types import FloatArray

Form = Literal["wright", "crawford"]


@dataclass(frozen=True)
class Belief:
    """What is held about a share: Beta(α, β), α and β counting successes and failures.

    Example (uniform prior, 437 of 980; Bayesian Data Analysis, p. 37):
        >>> belief = Belief().after(made=980, taken=437)
        >>> belief.alpha, belief.beta, round(belief.mean, 10)
        (438.0, 544.0, 0.4460285132)
    """

    alpha: float = 1.0
    beta: float = 1.0

    def __post_init__(self) -> None:
        """Refuse counts that no distribution has."""
        if not (self.alpha > 0 and self.beta > 0 and math.isfinite(self.alpha + self.beta)):
            raise ValueError(f"alpha and beta must be above 0, not {self.alpha} and {self.beta}")

    def after(self, made: float, taken: float) -> "Belief":
        """The belief once `made` more were tried and `taken` of them took: Beta(α + taken, β + made − taken).

        Raises ValueError where more took than were made.
        """
        if not 0 <= taken <= made:
            raise ValueError(f"{taken} taken of {made} made")
        return Belief(self.alpha + taken, self.beta + made - taken)

    @property
    def mean(self) -> float:
        """α / (α + β)."""
        return self.alpha / (self.alpha + self.beta)

    @property
    def sd(self) -> float:
        """√(αβ / ((α + β)² (α + β + 1)))."""
        total = self.alpha + self.beta
        return math.sqrt(self.alpha * self.beta / (total**2 * (total + 1)))

    def interval(self, coverage: float = 0.9) -> tuple[float, float]:
        """Equal-tailed interval that holds the share with this chance.

        Example:
            >>> [round(end, 6) for end in Belief(438, 544).interval(0.95)]
            [0.415065, 0.4772]
        """
        from scipy.special import betaincinv  # costs an import of its own: a take by curve does not pay for it

        tail = (1 - coverage) / 2
        low, high = betaincinv(self.alpha, self.beta, np.array([tail, 1 - tail]))
        return float(low), float(high)

    def as_dict(self) -> dict[str, Any]:
        """Parameters, mean and the equal-tailed 90 % interval."""
        low, high = self.interval()
        return {"alpha": self.alpha, "beta": self.beta, "mean": self.mean, "low": low, "high": high}


def exponent(rate: float) -> float:
    """Learning exponent b = log₂(rate): each doubling leaves `rate` of the cost. Raises ValueError outside (0, 1].

    Example:
        >>> round(exponent(0.8), 6)
        -0.321928
    """
    if not 0 < rate <= 1:
        raise ValueError(f"a learning rate lies above 0 and at most at 1, not {rate}")
    return math.log2(rate)


def unit_cost(first: float, rate: float, number: npt.ArrayLike, form: Form = "crawford") -> FloatArray:
    """Cost of unit number n, any shape of numbers ≥ 1.

    Crawford: first·n^b. Wright: the average of the first n is first·n^b, so unit n costs
    first·(n^(1+b) − (n−1)^(1+b)).

    Example (300 hours for the first at 80 %):
        >>> round(float(unit_cost(300.0, 0.8, 5)), 4)
        178.6912
        >>> round(float(unit_cost(300.0, 0.8, 2, "wright")), 4)
        180.0
    """
    n = np.asarray(number, dtype=np.float64)
    if n.size and n.min() < 1:
        raise ValueError("units are counted from 1")
    b = exponent(rate)
    if form == "crawford":
        return np.asarray(first * n**b)
    # the first unit has none before it; at a rate of a half 0^0 would say it had
    before = np.where(n > 1, (n - 1) ** (1 + b), 0.0)
    return np.asarray(first * (n ** (1 + b) - before))


def share_left(units_before: npt.ArrayLike, rate: npt.ArrayLike, form: Form = "crawford") -> FloatArray:
    """Cost of the unit after so many, as a share of the first's; units and rates (0 < rate ≤ 1) of any shapes together.

    Crawford: (1 + n)^b. Wright: (n + 1)^(1+b) − n^(1+b). A rate of 0 is not asked.

    Example:
        >>> share_left([0, 1, 3], 0.8).round(2).tolist()
        [1.0, 0.8, 0.64]
    """
    n, b = np.asarray(units_before, dtype=np.float64), np.log2(np.asarray(rate, dtype=np.float64))
    if form == "crawford":
        return np.asarray((1 + n) ** b)
    # before the first there is none; at a rate of a half 0^0 would say that there is one
    return np.asarray((n + 1) ** (1 + b) - np.where(n > 0, n ** (1 + b), 0.0))


def total_cost(first: float, rate: float, units: int, form: Form = "crawford") -> float:
    """Cost of the first `units` units together.

    Example (at 80 % eighteen units cost 9.716 times the first, so 2,914.8 hours where it took 300):
        >>> round(total_cost(1.0, 0.8, 18), 3)
        9.716
    """
    return math.fsum(unit_cost(first, rate, np.arange(1, units + 1), form))


def take_after(
    grafts_before: npt.ArrayLike, first_take: float, highest_take: float, rate: float, form: Form = "crawford"
) -> FloatArray:
    """Take of a season before which so many grafts were made, the same shape.

    The failure of a graft, 1 − take, is what practice wears down: take = min(highest, 1 − f(n + 1)) with
    f the unit cost of graft n + 1 and f(1) = 1 − first take.

    Example:
        >>> take_after([0, 1, 10_000], 0.25, 0.75, 0.8).round(4).tolist()
        [0.25, 0.4, 0.75]
    """
    done = np.asarray(grafts_before, dtype=np.float64)
    failure = unit_cost(1 - first_take, rate, done + 1, form)
    return np.asarray(np.minimum(max(first_take, highest_take), 1 - failure))


def take_from_table(grafts_before: npt.ArrayLike, table: tuple[tuple[float, float], ...]) -> FloatArray:
    """Take by a table of (grafts made before, take): linear between its points, flat outside them.

    Example:
        >>> take_from_table([0, 50, 500], ((0, 0.25), (100, 0.75))).tolist()
        [0.25, 0.5, 0.75]
    """
    points = np.asarray(table, dtype=np.float64)
    if points.ndim != 2 or points.shape[0] == 0 or (np.diff(points[:, 0]) <= 0).any():
        raise ValueError("a learning table needs points with rising numbers of grafts")
    return np.asarray(np.interp(np.asarray(grafts_before, dtype=np.float64), points[:, 0], points[:, 1]))
