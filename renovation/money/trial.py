"""Practise first: try a few, count, and decide on the rest (method §11).

One way of treating things alike, whose share of success p is not known: p ~ Beta(α, β). v(p) is what one is worth where
that share succeeds. Of N, n are tried now; what becomes of the others is decided after the count, one period later,
at the discount factor d:

    V(n) = n·E[v(p)] + d·(N − n)·Σ_{k=0..n} BetaBinomial(k; n, α, β)·max(0, E[v(p) | k of n])

Integrals over p by equal steps of z, the log odds of p sinh z: for any v that is not wild as exact as a Gauss rule
(`renovation.money.practice` says why). With M_n(k) = BetaBinomial(k; n)·E[v | k of n], the row n follows from the next,

    M_n(k) = M_{n+1}(k)·(n + 1 − k)/(n + 1) + M_{n+1}(k + 1)·(k + 1)/(n + 1),

for k of n are seen where the one left out of n + 1 did not succeed, or did: so one row of integrals gives all.
Sources: Raiffa & Schlaifer 1961, Applied Statistical Decision Theory (preposterior analysis; from memory).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from renovation.money.learning import Belief
from renovation.types import FloatArray, IndexArray

STEPS = 401
"""Equal steps over the stretch in which the belief counts."""
DEPTH = 40.0
"""Where the belief is below e^-DEPTH of its height it counts as nothing."""
LEAST = 1e-250
"""Counts of a belief below this reach further than numbers hold."""
FIRST_LOOK, MOST_TRIED = 64, 2048
"""Trials up to these are looked at: the first where no larger one can be better, at most the second."""
ALIKE = 1e-9
"""Worths nearer than this share of the largest are one; less than this share of the most that can be is nothing."""

Worth = Callable[[FloatArray], FloatArray]
"""What one is worth at each share of success."""


@dataclass(frozen=True, eq=False)
class Trial:
    """What trying some first is worth, each number from none up, M of them looked at.

    number: N. mean: E[v(p)]. worth: (M + 1,) V(n). going_on_from: (M + 1,) the fewest successes of n from which the
    rest is worth it; n + 1 where none is. chance: (M + 1,) that so many succeed.
    """

    number: int
    mean: float
    worth: FloatArray
    going_on_from: IndexArray
    chance: FloatArray

    @property
    def all_now(self) -> float:
        """V(N) = N·E[v(p)]: all at once, nothing counted first."""
        return self.number * self.mean

    @property
    def best(self) -> int:
        """The fewest to try first of those worth most; 0 decides at once against, N at once for all."""
        top = max(float(self.worth.max()), self.all_now)
        found = np.flatnonzero(self.worth >= top - ALIKE * max(1e-12, abs(top)))
        return int(found[0]) if found.size else self.number

    @property
    def value(self) -> float:
        """Value of practising: max V(n) − max(0, N·E[v(p)]), 0 where deciding at once is as good."""
        return max(0.0, float(self.worth.max()) - max(0.0, self.all_now))


def trial(worth: Worth, belief: Belief, number: int, discount_factor: float = 1.0) -> Trial:
    """Weigh trying n of `number` first, for n from 0 on until no more can be better, at most MOST_TRIED, and for all.

    No n is worth more than n·E[v] + d(N − n)·E[max(0, v)], as if the count told p itself: where that falls with n, none
    above a certain one need be looked at; where it does not, all at once is best.
    Raises ValueError for a discount factor outside (0, 1] or no number at all.

    Example (v = 10p − 6, a hundred, every share equally likely):
        >>> found = trial(lambda p: 10 * p - 6, Belief(), 100)
        >>> found.worth[[0, 1, 2, 4, 7]].round(6).tolist()
        [0.0, 32.0, 47.0, 53.6, 55.0]
        >>> found.best, int(found.going_on_from[7]), round(found.value, 6)
        (7, 5, 55.0)
    """
    if number < 1 or not 0 < discount_factor <= 1:
        raise ValueError(f"a trial of {number} at a discount factor of {discount_factor}")
    places = Places(belief)
    value = worth(places.share)
    mean, sure = float(places.weight @ value), float(places.weight @ np.maximum(0.0, value))
    most = min(number, FIRST_LOOK)
    while True:
        rest, from_k, chance = _decided(places, value, most)
        tried = np.arange(most + 1)
        found = Trial(number, mean, tried * mean + discount_factor * (number - tried) * rest, from_k, chance)
        best, falls = max(found.all_now, float(found.worth.max())), discount_factor * sure - mean
        if falls <= 0 or most in (number, MOST_TRIED):
            return found
        last = int((discount_factor * number * sure - best) / falls) + 1
        if last <= most:
            return found
        most = min(last, number, 4 * most, MOST_TRIED)


class Places:
    """Shares p that stand for a belief, (STEPS,), their weights, and the logarithms of p and 1 − p."""

    def __init__(self, belief: Belief) -> None:
        """Narrow the stretch to where the belief counts, then lay the steps over it."""
        alpha, beta = belief.alpha, belief.beta
        # a belief of next to nothing reaches beyond what numbers hold
        low, high = (sign * np.arcsinh(DEPTH / max(one, LEAST) + 20) for sign, one in ((-1, alpha), (1, beta)))
        for _ in range(4):
            z = np.linspace(low, high, STEPS)
            odds = np.sinh(z)
            self.log_share, self.log_rest = -np.logaddexp(0.0, -odds), -np.logaddexp(0.0, odds)
            log = alpha * self.log_share + beta * self.log_rest + np.log(np.cosh(z))
            counts = np.flatnonzero(log > log.max() - DEPTH)
            low, high = z[max(counts[0] - 1, 0)], z[min(counts[-1] + 1, STEPS - 1)]
        self.share = np.exp(self.log_share)
        self.weight: FloatArray = np.exp(log - log.max())
        self.weight /= self.weight.sum()


def _decided(places: Places, value: FloatArray, most: int) -> tuple[FloatArray, IndexArray, FloatArray]:
    """Σ_k max(0, M_n(k)), the least k with M_n(k) > 0, and the chance that so many succeed, for n = 0 … most."""
    worth, seen = joint_of(places, np.stack([value, np.ones_like(value)]), most)
    nothing = ALIKE * float(np.abs(value).max())
    rest, chance, from_k = np.empty(most + 1), np.empty(most + 1), np.empty(most + 1, dtype=np.intp)
    for n in range(most, -1, -1):
        good = worth > nothing * seen
        rest[n], chance[n] = worth @ good, seen @ good
        from_k[n] = int(np.argmax(good)) if good.any() else n + 1
        if n:
            succeeded = np.arange(1, n + 1) / n
            worth = worth[:-1] * succeeded[::-1] + worth[1:] * succeeded
            seen = seen[:-1] * succeeded[::-1] + seen[1:] * succeeded
    return rest, from_k, chance


def joint_of(places: Places, values: FloatArray, tried: int) -> FloatArray:
    """BetaBinomial(k; tried)·E[each value | k of tried], (V, tried + 1) from values (V, STEPS)."""
    k = np.arange(tried + 1)
    log_factorial = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1.0, tried + 1)))])
    ways = log_factorial[-1] - log_factorial - log_factorial[::-1]
    seen = ways[:, None] + k[:, None] * places.log_share + (tried - k)[:, None] * places.log_rest
    return np.asarray((values * places.weight) @ np.exp(seen).T)
