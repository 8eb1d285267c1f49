"""Prices that wander and come back: a first-order autoregression of their logarithm (method §9).

    ln g_y = φ ln g_(y−1) + σ e_y,   g_0 = 1,   f_y = g_y / E[g_y]

ln g_y is normal with mean 0 and variance v_y = σ² (1 − φ^(2y)) / (1 − φ²), so that E[g_y] = exp(v_y / 2).
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from renovation.types import FloatArray


@dataclass(frozen=True)
class PriceProcess:
    """A first-order autoregression of the log price, fitted by least squares with an intercept.

    persistence: φ. standard_error: of φ. sd: σ, the residual standard deviation on n − 2 degrees of freedom.
    long_run_median: exp(intercept / (1 − φ)), in the price's unit. pairs: n, the yearly steps it rests on.
    """

    persistence: float
    standard_error: float
    sd: float
    long_run_median: float
    pairs: int

    @property
    def half_life_years(self) -> float:
        """Years until half of a distance from the long-run level is gone: ln ½ / ln φ."""
        return math.log(0.5) / math.log(self.persistence)

    def as_dict(self) -> dict[str, float]:
        """Plain figures."""
        return {
            "persistence": self.persistence,
            "standard_error": self.standard_error,
            "sd": self.sd,
            "half_life_years": self.half_life_years,
            "long_run_median": self.long_run_median,
            "pairs": self.pairs,
        }


def fit_price_process(prices: npt.ArrayLike) -> PriceProcess:
    """Fit ln p_t = a + φ ln p_(t−1) + σ e_t to yearly prices (Y,) by ordinary least squares.

    Raises ValueError for fewer than five prices, a price that is not above 0, prices that never move, or a fit
    outside 0 < φ < 1, which does not come back to a level.

    Example:
        >>> fit = fit_price_process([1.0, 2.0, 2.2, 1.8, 1.2, 1.1])
        >>> round(fit.persistence, 3), fit.pairs
        (0.166, 5)
    """
    series = np.asarray(prices, dtype=np.float64)
    if series.ndim != 1 or series.size < 5:
        raise ValueError("a price process is fitted to five or more yearly prices")
    if not np.isfinite(series).all() or (series <= 0).any():
        raise ValueError("prices must be above 0")
    log = np.log(series)
    before, after = log[:-1] - log[:-1].mean(), log[1:] - log[1:].mean()
    spread = float(before @ before)
    if spread == 0:
        raise ValueError("the prices never move: there is nothing to fit")
    persistence = float(before @ after) / spread
    if not 0 < persistence < 1:
        raise ValueError(f"the prices do not come back to a level: φ would be {persistence:.3g}")
    residual = after - persistence * before
    variance = float(residual @ residual) / (residual.size - 2)
    intercept = float(log[1:].mean() - persistence * log[:-1].mean())
    return PriceProcess(
        persistence=persistence,
        standard_error=math.sqrt(variance / spread),
        sd=math.sqrt(variance),
        long_run_median=math.exp(intercept / (1 - persistence)),
        pairs=residual.size,
    )


def log_price_covariance(persistence: float, sd: float, years: int) -> FloatArray:
    """Covariance of ln g over years 1 … H, (H, H): Cov(y, s) = φ^|y−s| · v_min(y,s).

    Example:
        >>> log_price_covariance(0.5, 1.0, 2).tolist()
        [[1.0, 0.5], [0.5, 1.25]]
    """
    year = np.arange(1, years + 1)
    # v_y summed term by term holds for φ = 1 too, where the closed form divides by 0
    variance = sd**2 * np.cumsum(persistence ** (2 * np.arange(years)))
    lag = np.abs(year[:, None] - year)
    earlier = np.minimum(year[:, None], year) - 1
    return np.asarray(persistence ** lag.astype(np.float64) * variance[earlier])


def price_factors(log_prices: FloatArray, persistence: float, sd: float) -> FloatArray:
    """f_y = g_y / E[g_y] = exp(ln g_y − v_y / 2) of paths ln g (..., H): every year's mean is 1.

    Example:
        >>> price_factors(np.zeros((1, 2)), 0.5, 0.0).tolist()
        [[1.0, 1.0]]
    """
    variance = np.diag(log_price_covariance(persistence, sd, log_prices.shape[-1]))
    return np.asarray(np.exp(log_prices - variance / 2))


def reverting_path(persistence: float, long_run: float, years: int) -> FloatArray:
    """Expected prices on the way from today's to a long-run level, as shares of today's, (H,).

    long_run: the level as a share of today's price. The share of the logarithmic distance that is left after y
    years is φ^y: path_y = long_run^(1 − φ^y).

    Example:
        >>> reverting_path(0.5, 0.25, 2).round(6).tolist()
        [0.5, 0.353553]
    """
    return np.asarray(long_run ** (1 - persistence ** np.arange(1, years + 1)), dtype=np.float64)


def worst_run(prices: npt.ArrayLike, years: int = 5) -> tuple[int, FloatArray]:
    """The worst `years` years on end, as shares of the price just before them: (position of the first, shares).

    Worst is the lowest mean share: what a family feels that planned on the price of the year before. Raises
    ValueError where the record is too short.

    Example:
        >>> worst_run([2.0, 4.0, 1.0, 2.0, 5.0], 2)
        (2, array([0.25, 0.5 ]))
    """
    series = np.asarray(prices, dtype=np.float64)
    if years < 1 or series.size < years + 1:
        raise ValueError(f"a run of {years} years needs {years + 1} prices, not {series.size}")
    runs = np.lib.stride_tricks.sliding_window_view(series, years + 1)
    shares = runs[:, 1:] / runs[:, :1]
    worst = int(np.argmin(shares.mean(axis=1)))
    return worst + 1, shares[worst]
