"""Quantiles of a Beta distribution at very many points: each a piece of a curve that is worked out once.

With z the normal quantile of u and p the Beta's, y = ln p/(1−p) bends little in z, and its slopes are known:

    y′ = B(α, β)·φ(z)·p^−α·(1−p)^−β          y″ = y′·(−z − α(1−p)·y′ + βp·y′)

Between two of the places where both are known stands the one polynomial of degree 5 that agrees with y, y′ and y″
at either end (Hermite). It differs from the quantile that scipy inverts by some 1e-14 where 998 of a thousand points
lie, by less than 1e-9 in the farthest tails, and takes a tenth of the time.
"""

from functools import lru_cache

import numpy as np
from scipy.special import betaincinv, betaln, expit, ndtr, ndtri

from renovation.types import FloatArray

REACH = 6.5
"""Normal quantiles between which curves are laid: beyond lie eight points of a hundred thousand million."""
PIECES = 256
"""Of one curve."""
LEAST = 0.05
"""α or β; below it the tails hold quantiles too small for a number."""


def beta_quantile(alpha: float, beta: float, shares: FloatArray) -> FloatArray:
    """The quantile of Beta(α, β) at shares u in [0, 1], any shape.

    Example (the median of Beta(2, 2)):
        >>> round(float(beta_quantile(2.0, 2.0, np.array([0.5]))[0]), 12)
        0.5
    """
    place = (ndtri(shares) + REACH) * (PIECES / (2 * REACH))
    if min(alpha, beta) < LEAST or not (np.abs(place - PIECES / 2) < PIECES / 2).all():
        return np.asarray(betaincinv(alpha, beta, shares))
    piece = place.astype(np.intp)
    place -= piece
    first, *rest = _curve(alpha, beta).take(piece, axis=1)
    odds = first * place
    for coefficient in rest[:-1]:
        odds += coefficient
        odds *= place
    odds += rest[-1]
    return np.asarray(expit(odds))


@lru_cache(maxsize=256)
def _curve(alpha: float, beta: float) -> FloatArray:
    """(6, PIECES) coefficients of each piece, the highest power first."""
    z = np.linspace(-REACH, REACH, PIECES + 1)
    low, high = betaincinv(alpha, beta, ndtr(z)), betaincinv(beta, alpha, ndtr(-z))
    log_low, log_high = np.log(low), np.log(high)
    y = log_low - log_high
    slope = np.exp(betaln(alpha, beta) - z**2 / 2 - np.log(2 * np.pi) / 2 - alpha * log_low - beta * log_high)
    bend = slope * (slope * (beta * low - alpha * high) - z)
    width = z[1] - z[0]
    slope, bend = slope * width, bend * width**2
    rise, (left, right), (from_, to) = np.diff(y), (slope[:-1], slope[1:]), (bend[:-1], bend[1:])
    return np.stack(
        [
            6 * rise - 3 * (left + right) + (to - from_) / 2,
            -15 * rise + 8 * left + 7 * right + 1.5 * from_ - to,
            10 * rise - 6 * left - 4 * right - 1.5 * from_ + to / 2,
            from_ / 2,
            left,
            y[:-1],
        ]
    )
