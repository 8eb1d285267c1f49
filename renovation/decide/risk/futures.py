"""Futures: what prices, crops, seasons, wages and costs may do, year by year (method §9).

Each is a factor of mean 1 on the expected run, so that the mean future is the expected run. They are drawn from
scrambled Sobol points: `REPLICATES` independent scramblings (Owen 1997) of equal size, whose spread among
each other gives the sampling error of any figure. A point's first coordinates go to what moves the result most: the
slow swings of the price, the first seasons' take, the drift of wages.
"""

from collections.abc import Hashable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from scipy.special import ndtri
from scipy.stats import qmc

from renovation.decide.risk.products import product
from renovation.inputs import Risk
from renovation.money.prices import log_price_covariance, price_factors
from renovation.types import FloatArray, IntArray

REPLICATES = 16
"""Independent scramblings; a power of two, so that each still holds a power of two of points."""


@dataclass(frozen=True, eq=False)
class Futures:
    """n futures over H project years; every strategy is judged on the same ones.

    price, crop, wage, inputs: (n, H) factors of mean 1 on the expected price, crop, wage and cost of supplies
    and tools. luck: (n, H) evenly spread between 0 and 1, how good a season is for grafts and young plants;
    None where takes are as expected. hands: (n, 2) points of the unit square, which hands of those that there may
    be (method §10); None where they are as expected. spread: variance of a season's take p as a share of p(1 − p).
    replicates: the n futures are so many independent samples of equal size, one after the other.
    """

    price: FloatArray
    crop: FloatArray
    wage: FloatArray
    inputs: FloatArray
    luck: FloatArray | None
    spread: float
    replicates: int
    hands: FloatArray | None = None

    @cached_property
    def known(self) -> dict[Hashable, Any]:
        """Takes and hands worked out already, by what they were worked out from: strategies share them."""
        return {}

    @property
    def number(self) -> int:
        """n, the number of futures."""
        return len(self.price)

    @property
    def years(self) -> int:
        """H, the project years."""
        return int(self.price.shape[1])

    def part(self, rows: slice | IntArray) -> "Futures":
        """Some of the futures, as one sample."""
        luck, hands = (None if points is None else points[rows] for points in (self.luck, self.hands))
        arrays = (self.price[rows], self.crop[rows], self.wage[rows], self.inputs[rows])
        return Futures(*arrays, luck, self.spread, 1, hands)


def as_expected(years: int) -> Futures:
    """The one future in which everything is as expected."""
    ones = np.ones((1, years))
    return Futures(ones, ones, ones, ones, None, 0.0, 1)


def draw_futures(
    risk: Risk, years: int, draws: int | None = None, seed: int | None = None, *, hands: bool = False
) -> Futures:
    """Draw futures over `years` project years.

    draws, seed: the scenario's where None; draws a power of two, at least 2 · REPLICATES. Raises ValueError
    otherwise. hands: whether hands are drawn too; without them the futures are what they ever were.

    Example:
        >>> futures = draw_futures(Risk(), 10, draws=1024)
        >>> futures.price.shape, bool(abs(futures.price.mean(axis=0) - 1).max() < 0.01)
        ((1024, 10), True)
    """
    parts = list(future_samples(risk, years, draws, seed, hands=hands))
    return Futures(
        price=np.concatenate([part.price for part in parts]),
        crop=np.concatenate([part.crop for part in parts]),
        wage=np.concatenate([part.wage for part in parts]),
        inputs=np.concatenate([part.inputs for part in parts]),
        luck=np.concatenate([part.luck for part in parts if part.luck is not None]) if risk.take_spread > 0 else None,
        spread=risk.take_spread,
        replicates=REPLICATES,
        hands=np.concatenate([part.hands for part in parts if part.hands is not None]) if hands else None,
    )


def future_samples(
    risk: Risk, years: int, draws: int | None = None, seed: int | None = None, *, hands: bool = False
) -> Iterator[Futures]:
    """The same futures as `draw_futures`, one independent sample after the other, for runs too large to hold."""
    draws = risk.draws if draws is None else draws
    if draws < 2 * REPLICATES or draws & (draws - 1):
        raise ValueError(f"the number of futures must be a power of two of at least {2 * REPLICATES}, not {draws}")
    seeds = np.random.SeedSequence(risk.seed if seed is None else seed).spawn(REPLICATES)
    places = _places(years)
    turns = _turns(risk, years)
    own = 2 if hands else 0  # what hands there are moves every season: it has the first coordinates
    for one in seeds:
        sobol = qmc.Sobol(3 * years + 2 + own, scramble=True, rng=np.random.default_rng(one))
        points = sobol.random(draws // REPLICATES) + 2.0**-31  # on multiples of 2⁻³⁰, 0 among them, whose normal is −∞
        yield _future(risk, points[:, own:], places, turns, points[:, :own] if hands else None)


@dataclass(frozen=True, eq=False)
class _Places:
    """Which coordinates of a point go to what: price, crop and season (H,), wage and inputs one each."""

    price: IntArray
    crop: IntArray
    season: IntArray
    wage: int
    inputs: int


def _places(years: int) -> _Places:
    """Deal the coordinates: slow price swings and early seasons first, then drifts, then by turns."""
    first = [("price", 0), ("season", 0), ("price", 1), ("season", 1), ("crop", 0), ("wage", 0), ("inputs", 0)]
    rest = [(kind, k) for k in range(years) for kind in ("price", "season", "crop")]
    order = [place for place in dict.fromkeys([*first, *rest]) if place[1] < years]
    at = {place: i for i, place in enumerate(order)}
    price, crop, season = (np.array([at[kind, k] for k in range(years)]) for kind in ("price", "crop", "season"))
    return _Places(price, crop, season, at["wage", 0], at["inputs", 0])


def _turns(risk: Risk, years: int) -> tuple[FloatArray, FloatArray]:
    """Matrices (H, H) that turn independent normals, slowest swing first, into log prices and log crops by year.

    Prices: principal components of their covariance. Crops of different years are independent, so any rotation
    leaves their distribution as it is; the cosine basis puts the average over the years first.
    """
    variance, swings = np.linalg.eigh(log_price_covariance(risk.price_persistence, risk.price_sd, years))
    swings = swings[:, ::-1] * np.sign(swings[:, ::-1].sum(axis=0) + 1e-300)
    prices = np.sqrt(np.maximum(variance[::-1], 0.0)) * swings
    wave = np.cos(np.pi / years * (np.arange(years)[:, None] + 0.5) * np.arange(years))
    crops = risk.crop_sd * wave / np.linalg.norm(wave, axis=0)
    return prices.T, crops.T


def _future(
    risk: Risk, points: FloatArray, places: _Places, turns: tuple[FloatArray, FloatArray], hands: FloatArray | None
) -> Futures:
    """Turn points of the unit cube into futures."""
    years = len(places.price)
    prices, crops = turns
    price = np.ones((len(points), years))
    if risk.price_sd > 0 and risk.farm_gate_share > 0:
        world = price_factors(product(ndtri(points[:, places.price]), prices), risk.price_persistence, risk.price_sd)
        price = 1 + risk.farm_gate_share * (_set_by_board(world) - 1 if risk.price_setting == "board" else world - 1)
    crop = np.ones_like(price)
    if risk.crop_sd > 0:
        crop = np.exp(product(ndtri(points[:, places.crop]), crops) - risk.crop_sd**2 / 2)
    return Futures(
        price=price,
        crop=crop,
        wage=_drift(points[:, places.wage], risk.wage_drift_sd, years),
        inputs=_drift(points[:, places.inputs], risk.input_drift_sd, years),
        luck=points[:, places.season] if risk.take_spread > 0 else None,
        spread=risk.take_spread,
        replicates=1,
        hands=hands,
    )


def _set_by_board(world: FloatArray) -> FloatArray:
    """A board fixes the price of a year on the world price of the year before; year 1 is as expected."""
    return np.concatenate([np.ones((len(world), 1)), world[:, :-1]], axis=1)


def _drift(points: FloatArray, sd: float, years: int) -> FloatArray:
    """One yearly rate per future, compounded: exp(s·z·y − (s·y)²/2), of mean 1 in every year, (n, H)."""
    if sd == 0:
        return np.ones((len(points), years))
    far = sd * np.arange(1, years + 1)
    return np.asarray(np.exp(ndtri(points)[:, None] * far - far**2 / 2))
