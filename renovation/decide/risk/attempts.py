"""How good a season is for grafts and young plants, and what becomes of attempts that share one (method §9).

One draw per season (project year) serves every attempt made in it, on every stand and by every technique: with luck u
the take of an attempt is the u-quantile of a Beta distribution with the attempt's mean and
α + β = 1/spread − 1.

**What is the mean?** The share of trees that attempt j establishes is q_j = Π_{i<j} (1 − p_i) · p_j. Where all its
attempts fall in different seasons its factors are independent, and E[q_j] is the expected run's q_j. Where two fall
in one season they share a draw, and E[(1 − p) p] = (1 − E p) E p − Var p: a second attempt in a bad season fails too.
Read naively, a mean future would then lie below the expected run. But a stated take of a second attempt is the
share that takes *among the trees still waiting for one*, and those wait mostly where the season is bad. So the
means of later attempts in a season are set a little higher, μ_j > p_j, until

    E[ Π_{i<j} (1 − p_i(u)) · p_j(u) ] = Π_{i<j} (1 − p_i) · p_j        for every attempt j of the season.

Then every q_j has the mean of the expected run (to the 1e-7 of the quadrature), seasons being independent, and so has
everything that is linear in them: crop, work, cost, NPV. Not so the cash account, in which hired days are
max(0, days − family days).
"""

from collections.abc import Callable, Hashable
from functools import lru_cache
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq
from scipy.special import betaincinv

from renovation.decide.risk.quantiles import beta_quantile
from renovation.types import FloatArray

NODES = 400
"""Points of the quadrature over luck."""
FEWER_NODES, TAKES, BISECTIONS = 60, 33, 26
"""The same, takes between which is interpolated, and halvings, where each future has a take of its own."""
SLIGHT = 1e-12
"""A spread below this moves a take by less than a millionth; the quantile has no number for it."""


def season_take(
    luck: FloatArray, mean: float | FloatArray, spread: float, quantile: Callable[..., FloatArray] = betaincinv
) -> FloatArray:
    """The take at given luck, any shape: the quantile of Beta(ν·mean, ν·(1 − mean)), ν = 1/spread − 1.

    mean: one for all, or of the shape of the luck. A sure thing or an impossible one stays so, and a spread of next to
    nothing is none. quantile: of a Beta, for one mean; `beta_quantile` where many are asked for.

    Example:
        >>> round(float(season_take(np.array(0.5), 0.5, 0.04)), 6)
        0.5
    """
    if spread < SLIGHT or (np.ndim(mean) == 0 and not 0 < mean < 1):
        return np.array(np.broadcast_to(mean, luck.shape))
    size = 1 / spread - 1
    if np.ndim(mean) == 0:
        return np.asarray(quantile(size * mean, size * (1 - mean), luck))
    uncertain = (mean > 0) & (mean < 1)
    inside = np.where(uncertain, mean, 0.5)
    return np.where(uncertain, betaincinv(size * inside, size * (1 - inside), luck), mean)


@lru_cache(maxsize=4096)
def means_in_season(takes: tuple[float, ...], spread: float) -> tuple[float, ...]:
    """The means μ_j of a season's attempts in turn that leave the expected shares as stated (see the module).

    Example:
        >>> first, second = means_in_season((0.25, 0.25), 0.04)
        >>> first, 0.25 < second < 0.27
        (0.25, True)
    """
    if spread == 0 or len(takes) == 1:
        return takes
    luck, weight = _quadrature()
    means: list[float] = []
    waiting, expected_waiting = np.ones_like(luck), 1.0
    for take in takes:
        mean = take
        if means and 0 < take < 1:
            wanted = expected_waiting * take

            def missing(mean: float, waiting: FloatArray = waiting, wanted: float = wanted) -> float:
                return float(weight @ (waiting * season_take(luck, mean, spread))) - wanted

            if missing(SLIGHT) < 0 < missing(1.0):  # else the take is sure or impossible but for rounding
                mean = brentq(missing, SLIGHT, 1.0, xtol=1e-13)
        means.append(mean)
        waiting = waiting * (1 - season_take(luck, mean, spread))
        expected_waiting *= 1 - take
    return tuple(means)


@lru_cache(maxsize=256)
def means_by_take(factors: tuple[float, ...], spread: float) -> PchipInterpolator:
    """The mean μ_k of a season's last attempt by its take, where attempt i has the mean take · factor_i, 1 at most.

    What `means_in_season` gives of one take, interpolated between TAKES of them, so that each future may have its own.

    Example:
        >>> last = means_by_take((1.0, 1.0), 0.04)
        >>> abs(float(last(0.25)) - means_in_season((0.25, 0.25), 0.04)[1]) < 1e-5
        True
    """
    takes = (1 - np.cos(np.pi * np.arange(TAKES) / (TAKES - 1))) / 2
    stated = [np.minimum(1.0, takes * factor) for factor in factors]
    luck, weight = _quadrature(FEWER_NODES)
    waiting, wanted = np.ones((TAKES, luck.size)), stated[-1].copy()

    def takes_of(means: FloatArray) -> FloatArray:
        return season_take(np.broadcast_to(luck, waiting.shape), np.repeat(means[:, None], luck.size, axis=1), spread)

    for place, mean in enumerate(stated[:-1]):
        waiting *= 1 - takes_of(means_by_take(factors[: place + 1], spread)(takes))
        wanted *= 1 - mean
    low, high = stated[-1], np.where(wanted > 0, 1.0, stated[-1])
    for _ in range(BISECTIONS if len(factors) > 1 and spread > 0 else 0):
        middle = (low + high) / 2
        short = (waiting * takes_of(middle)) @ weight < wanted
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return PchipInterpolator(takes, low)


@lru_cache(maxsize=2)
def _quadrature(nodes: int = NODES) -> tuple[FloatArray, FloatArray]:
    """Nodes u and weights on (0, 1), crowded at both ends, where quantiles bend: u = (1 − cos πv) / 2."""
    place, weight = np.polynomial.legendre.leggauss(nodes)
    angle = np.pi * (place + 1) / 2
    return (1 - np.cos(angle)) / 2, weight * np.sin(angle) * np.pi / 4


def outcome_shares(
    takes: tuple[float, ...],
    seasons: tuple[int, ...],
    luck: FloatArray | None,
    spread: float,
    number: int,
    known: dict[Hashable, Any] | None = None,
) -> FloatArray:
    """Share of trees that each attempt establishes in each future, (n, J): q_j = Π_{i<j} (1 − p_i) · p_j.

    takes, seasons: (J,) expected take and project year of each attempt. luck: (n, H); None gives the expected
    shares in all `number` futures. known: takes by season and mean, kept for other strategies of the same futures.

    Example:
        >>> outcome_shares((0.25, 0.75), (0, 1), None, 0.0, 1).tolist()
        [[0.25, 0.5625]]
    """
    waiting = np.ones(number)
    shares = np.empty((number, len(takes)))
    known = {} if known is None else known
    means = _means(takes, seasons, spread if luck is not None else 0.0)
    for j, (mean, season) in enumerate(zip(means, seasons, strict=True)):
        if (season, mean) not in known:
            known[season, mean] = _take(mean, season, luck, spread, number)
        take = known[season, mean]
        shares[:, j] = waiting * take
        waiting = waiting * (1 - take)
    return shares


def _take(mean: float, season: int, luck: FloatArray | None, spread: float, number: int) -> FloatArray:
    """The take of a season in each future, (n,)."""
    return np.full(number, mean) if luck is None else season_take(luck[:, season], mean, spread, beta_quantile)


def _means(takes: tuple[float, ...], seasons: tuple[int, ...], spread: float) -> list[float]:
    """The means of all attempts, season by season; attempts are in order of time."""
    means: list[float] = []
    for season in dict.fromkeys(seasons):
        members = tuple(take for take, s in zip(takes, seasons, strict=True) if s == season)
        means += means_in_season(members, spread)
    return means
