"""What counted grafts say of how well hands take, and of how fast they get better (method §10).

A season in which `made` grafts were tried and `taken` of them took weighs all hands there may be, (f, ρ) or λ of
`renovation.money.hands`, by Binomial(taken; made, take(n)), n the grafts made before it. What is held afterwards is
this posterior.

**How it is integrated.** By equal steps over the stretch in which the posterior is above e^-24 of its height: for each
ρ the stretch of f, and that of ρ. f and 2ρ − 1 are written as 1/(1 + e^(−sinh z)), so that the integrand falls to
nothing at both ends however it behaves at 0 and 1; of such functions equal steps give the integral as exactly as a
Gauss rule (the double exponential formula). Where a take reaches its ceiling it bends, and no fixed nodes are
exact; each row's integral is cut there. The method names 201 × 201 Gauss–Jacobi nodes of the prior. Where no ceiling
binds and up to some thousands of grafts are counted they give the same to 1e-6. With a ceiling they are up to 5e-5 off,
and with a hundred thousand grafts the posterior is narrower than their gaps; the steps taken here keep to 1e-6 in both.

Sources: Gelman et al., Bayesian Data Analysis, 3rd ed., chapters 2 and 10 (posteriors on a grid); learning curves as in
`renovation.money.learning`.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from renovation.money.hands import DEPTH, Counted, Hands
from renovation.money.learning import Belief
from renovation.types import FloatArray

ROWS, STEPS = 401, 401
"""Equal steps over the stretch of ρ, and over that of f for each ρ."""
STEPS_ALONE = 40_001
"""Equal steps where one number alone is not known."""
LOOKS, LOOK_ROWS, LOOK_STEPS = 4, 49, 65
"""How often a stretch is narrowed, and over how many steps: each look narrows it up to thirtyfold."""
GOLDEN = (math.sqrt(5) - 1) / 2
"""Multiples of it, less their whole parts, lie spread evenly."""
SUREST = 1e9
"""The most grafts that a belief is said to be worth."""


class Practised:
    """What is held of hands once seasons were counted; without any, the prior.

    Seasons in any order, as each says what came before it. Nodes are laid once; a mean is then one pass over them.
    y: (R,), z: (R, F) the nodes. weight: (R, F), summing to 1.

    Example (Beta–binomial: a flat curve, uniform f, 437 of 980; Bayesian Data Analysis, p. 37):
        >>> from renovation.money.hands import CurveHands
        >>> flat = CurveHands("crawford", first=(1.0, 1.0), rate=1.0)
        >>> round(float(Practised(flat, [Counted(0, 980, 437)]).mean(500)), 10)
        0.4460285132
    """

    def __init__(self, hands: Hands, seasons: Iterable[Counted] = ()) -> None:
        """Lay the nodes and weigh them."""
        self.hands = hands
        self.seasons = tuple(sorted(season for season in seasons if hands.says_something(season)))
        self.y = self._row_places()
        self.z, log = self._rows(self.y, STEPS if self.y.size > 1 else STEPS_ALONE)
        weight = np.exp(log - log.max()) * (self.z[:, 1:2] - self.z[:, :1])
        self.weight: FloatArray = weight / weight.sum()
        own = hands.own(self.z)
        self._parts = [_Integral(self.weight * own**power) for power in range(3)]

    def mean(self, before: npt.ArrayLike) -> FloatArray:
        """Mean of the take of a season before which so many grafts were made, the same shape."""
        return self._moments(before)[0]

    def variance(self, before: npt.ArrayLike) -> FloatArray:
        """Variance of that take, the same shape."""
        mean, square = self._moments(before)
        return np.maximum(0.0, square - mean**2)

    def belief(self, before: float) -> Belief:
        """The Beta with the mean and variance of the take after so many grafts: its interval is what is shown."""
        mean, variance = float(self.mean(before)), float(self.variance(before))
        mean = min(max(mean, 1 / SUREST), 1 - 1 / SUREST)
        size = SUREST if variance <= 0 else min(SUREST, mean * (1 - mean) / variance - 1)
        return Belief(size * mean, size * (1 - mean))

    def draw(self, number: int, generator: np.random.Generator) -> "Drawn":
        """So many hands drawn from what is held of them."""
        return self.at(generator.random((number, 2)))

    def at(self, points: FloatArray) -> "Drawn":
        """The hands at points of the unit square, (N, 2): points spread evenly give hands spread as is held.

        The second coordinate picks the row by its weight, the first the place in the row; between nodes the weight
        counts as spread evenly.
        """
        rows = self.weight.sum(axis=1)
        row = np.minimum(np.searchsorted(np.cumsum(rows), points[:, 1]), self.y.size - 1)
        into = (points[:, 1] - np.cumsum(rows)[row]) / rows[row] + 0.5
        y = self.y[row] + into * (self.y[1] - self.y[0] if self.y.size > 1 else 0.0)
        z = np.empty(len(points))
        for place in np.unique(row):
            mine = row == place
            middle = (np.cumsum(self.weight[place]) - self.weight[place] / 2) / rows[place]
            z[mine] = np.interp(points[mine, 0], middle, self.z[place])
        return Drawn(self.hands, z, y)

    def _moments(self, before: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """E[take] and E[take²]: below the ceiling from the integrals of own⁰, own¹ and own², above it the ceiling."""
        done = np.asarray(before, dtype=np.float64)
        first, second = np.empty(done.shape), np.empty(done.shape)
        highest = self.hands.highest
        for place, grafts in np.ndenumerate(done):
            base, slope = self.hands.line(float(grafts), self.y)
            with np.errstate(divide="ignore"):
                bend = self.hands.place_of((highest - base) / slope)
            at = (bend - self.z[:, 0]) / (self.z[:, 1] - self.z[:, 0])
            whole, own, square = (part.up_to(at) for part in self._parts)
            above = max(0.0, 1 - float(whole.sum()))
            first[place] = (base * whole + slope * own).sum() + highest * above
            second[place] = (base**2 * whole + 2 * base * slope * own + slope**2 * square).sum() + highest**2 * above
        return first, second

    def _row_places(self) -> FloatArray:
        """Equal steps of y over the stretch that counts, (R,)."""
        if self.hands.row_ends is None:
            return np.zeros(1)
        low, high = (np.array([end]) for end in self.hands.row_ends)
        for _ in range(LOOKS):
            y = np.linspace(low[0], high[0], LOOK_ROWS)
            z, log = self._rows(y, LOOK_STEPS)
            top = log.max(axis=1, keepdims=True)
            whole = np.log(np.exp(log - top).sum(axis=1) * (z[:, 1] - z[:, 0])) + top[:, 0]
            low, high = _stretch(y[None, :], whole[None, :])
        return np.linspace(low[0], high[0], ROWS)

    def _rows(self, y: FloatArray, steps: int) -> tuple[FloatArray, FloatArray]:
        """Equal steps of z over the stretch that counts in each row, and the posterior's logarithm, (R, steps) each.

        Each row begins a golden part of a step after the one before: where the likelihood bends at a ceiling, between
        two places, the rows then meet the bend evenly and their errors cancel.
        """
        low, high = (np.full(y.size, end) for end in self.hands.ends)
        for _ in range(LOOKS):
            z = np.linspace(low, high, LOOK_STEPS, axis=1)
            low, high = _stretch(z, self._log_posterior(z, y))
        begins = np.arange(y.size) * GOLDEN % 1 - 0.5
        z = low[:, None] + ((high - low) / (steps - 1))[:, None] * (np.arange(steps) + begins[:, None])
        return z, self._log_posterior(z, y)

    def _log_posterior(self, z: FloatArray, y: FloatArray) -> FloatArray:
        """Logarithm of prior × likelihood, up to a constant."""
        log = self.hands.log_prior(z, y)
        for season in self.seasons:
            takes, fails = self.hands.log_shares(season.before, z, y)
            # none of an impossible kind is no evidence; 0 · −∞ would be
            for number, chance in ((season.taken, takes), (season.made - season.taken, fails)):
                log = log + number * chance if number else log
        return log


class _Integral:
    """Integrals of rows (R, F) given at equal steps of 1, from the first place up to any other.

    Each step by the cubic through four places, so to the fourth power of the step.
    """

    def __init__(self, rows: FloatArray) -> None:
        """Sum the rows step by step."""
        self.rows = rows
        inner = np.pad(rows, ((0, 0), (1, 1)), mode="edge")
        steps = (13 * (rows[:, :-1] + rows[:, 1:]) - inner[:, :-3] - inner[:, 3:]) / 24
        self.sums = np.concatenate([np.zeros((len(rows), 1)), np.cumsum(steps, axis=1)], axis=1)

    def up_to(self, at: FloatArray) -> FloatArray:
        """Integral of each row from place 0 to place `at`, (R,) from (R,); outside of the row as at its end."""
        last = self.rows.shape[1] - 1
        at = np.clip(at, 0.0, last)
        left = np.minimum(at.astype(np.intp), last - 1)
        row, t = np.arange(len(self.rows)), at - left
        low, high = self.sums[row, left], self.sums[row, left + 1]
        rise, end = self.rows[row, left], self.rows[row, left + 1]
        # the cubic with these values and slopes at both ends
        return np.asarray(low + (high - low) * t * t * (3 - 2 * t) + rise * t * (1 - t) ** 2 - end * t * t * (1 - t))


@dataclass(frozen=True, eq=False)
class Drawn:
    """Hands drawn from what is held: z and y (N,) each, as `hands` reads them."""

    hands: Hands
    z: FloatArray
    y: FloatArray

    def take(self, before: npt.ArrayLike) -> FloatArray:
        """Each one's take after so many grafts, (N,): the same number for all, or (N,) each its own."""
        base, slope = self.hands.line(before, self.y)
        return np.minimum(self.hands.highest, base + slope * self.hands.own(self.z))


def _stretch(z: FloatArray, log: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The stretch of each row, (R, F), outside which it is below e^-DEPTH of its height, one step more at each end."""
    counts = log > log.max(axis=1, keepdims=True) - DEPTH
    counts[~counts.any(axis=1)] = True  # a row that cannot be: left as it is
    last = z.shape[1] - 1
    first = np.maximum(np.argmax(counts, axis=1) - 1, 0)
    end = np.minimum(last - np.argmax(counts[:, ::-1], axis=1) + 1, last)
    row = np.arange(z.shape[0])
    return z[row, first], z[row, end]
