"""The map: which way wins over two drivers, with the farm's own point and the lines on which two ways tie.

A driver is the farm's (price, wage, discount rate) or the headline technique's own (take, crop of its clone, months
until it bears); the other ways stay as they are.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from renovation.decide.compare import Comparison, Outcome
from renovation.decide.drivers import BEARING, CROP, ON_A_MAP, PRICE, TAKE, Driver, on_a_map
from renovation.decide.risk.field import Range, WorthField
from renovation.types import FloatArray, IntArray

if TYPE_CHECKING:
    import pandas as pd

NO_WAY = -1
"""In `WinMap.best`: leaving the farm as it is wins."""
POINTS = 41


@dataclass(frozen=True, eq=False)
class Axis:
    """One driver of a map: its values, places (N,), and the farm's own.

    own: None where no constant take is worth what the stated ones are.
    """

    driver: str
    unit: str
    places: FloatArray
    own: float | None

    @property
    def limits(self) -> Range:
        """The lowest and the highest value."""
        return float(self.places.min()), float(self.places.max())

    @property
    def at(self) -> dict[str, FloatArray]:
        """The driver at all its values."""
        return {self.driver: self.places}

    def listed(self) -> list[float]:
        """The values as plain numbers."""
        return [float(value) for value in self.places]


@dataclass(frozen=True, eq=False)
class TieLine:
    """Where two ways are worth the same and no other is worth more: points (P, 2) of x and y, by rising x.

    second: None for leaving the farm as it is.
    """

    first: str
    second: str | None
    points: FloatArray

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {"first": self.first, "second": self.second, "points": self.points.tolist()}


@dataclass(frozen=True, eq=False)
class WinMap:
    """Which way is worth most over two drivers.

    headline: the technique that take, clone's crop and months to bearing belong to. npv: (K, X, Y) of each of
    `techniques`. best: (X, Y) position of the way worth most in `techniques`, −1 for leaving the farm as it is.
    """

    comparison: Comparison
    headline: str
    x: Axis
    y: Axis
    techniques: tuple[str, ...]
    npv: FloatArray
    best: IntArray
    lines: tuple[TieLine, ...]

    @property
    def shares(self) -> dict[str | None, float]:
        """The share of the map on which each way wins; None stands for leaving the farm as it is."""
        found: dict[str | None, float] = {
            key: float((self.best == position).mean()) for position, key in enumerate(self.techniques)
        }
        return {**found, None: float((self.best == NO_WAY).mean())}

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`."""
        axes = {
            name: {"driver": axis.driver, "unit": axis.unit, "values": axis.listed(), "own": axis.own}
            for name, axis in (("x", self.x), ("y", self.y))
        }
        return {
            "headline": self.headline,
            **axes,
            "techniques": list(self.techniques),
            "best": self.best.tolist(),
            "npv": self.npv.tolist(),
            "lines": [line.as_dict() for line in self.lines],
        }

    def table(self) -> "pd.DataFrame":
        """One row per point: the two drivers, the way that wins (`leave` for none), its NPV."""
        import pandas as pd

        x, y = np.meshgrid(self.x.places, self.y.places, indexing="ij")
        top = np.maximum(self.npv.max(axis=0), 0.0)
        names = np.array([*self.techniques, "leave"])
        return pd.DataFrame(
            {
                self.x.driver: x.ravel(),
                self.y.driver: y.ravel(),
                "wins": names[self.best.ravel()],
                "npv": top.ravel(),
            }
        )


def win_map(
    comparison: Comparison,
    x: str = PRICE,
    y: str = TAKE,
    *,
    headline: str | None = None,
    x_range: Range | None = None,
    y_range: Range | None = None,
    points: int = POINTS,
) -> WinMap:
    """Work out which of the compared ways wins over two drivers.

    x, y: two of `ON_A_MAP`. headline: the technique that the take, the clone's crop and the months to bearing are
    those of; the comparison's where None. Ranges: from around the farm's own point where None. Raises
    KeyError for an unknown driver or technique; ValueError for one driver twice, a range that does not run upward or
    leaves the driver's bounds, fewer than 2 points, or a driver that the technique does not have.

    Example:
        >>> from renovation.decide import compare
        >>> from renovation.inputs import demo_scenario
        >>> found = win_map(compare(demo_scenario()), "price_per_kg", "take", points=11)
        >>> found.npv.shape[1:], round(sum(found.shares.values()), 9)
        ((11, 11), 1.0)
    """
    key = headline or comparison.headline
    if key is None:
        raise KeyError("no technique can be compared")
    if x == y:
        raise ValueError(f"a map needs two drivers, not {x} twice")
    axes = [_axis(comparison, key, name, limits, points) for name, limits in ((x, x_range), (y, y_range))]
    across, along = axes
    grid_x, grid_y = (g.ravel() for g in np.meshgrid(across.places, along.places, indexing="ij"))
    techniques = tuple(comparison.outcomes)
    at = {x: grid_x, y: grid_y}
    field = WorthField(comparison, key)
    npv = np.stack([field.npv(one, at) for one in techniques]).reshape(-1, points, points)
    best = np.where(npv.max(axis=0) > 0, npv.argmax(axis=0), NO_WAY)
    winners = [one for position, one in enumerate(techniques) if (best == position).any()]
    lines = _lines(field, across, along, (*winners, None) if (best == NO_WAY).any() else winners)
    return WinMap(comparison, key, across, along, techniques, npv, best, lines)


def npv_at(
    comparison: Comparison, technique: str, at: Mapping[str, npt.ArrayLike], headline: str | None = None
) -> FloatArray:
    """NPV of one compared technique at P points, each driver stated or as it is in the scenario, (P,).

    at: driver to (P,) values. headline: as in `win_map`.
    """
    return WorthField(comparison, headline or comparison.headline).npv(technique, at)


def values_where_equal(
    comparison: Comparison,
    driver: str,
    first: str,
    second: str | None = None,
    *,
    limits: Range,
    at: Mapping[str, float] | None = None,
    headline: str | None = None,
) -> tuple[float, ...]:
    """Every value of a driver within limits at which two techniques are worth the same, ascending.

    second: None for leaving the farm as it is, which is the break-even value. at: other drivers' values.
    Price, wage and crop in closed form, the take as the root of a polynomial, the rate as a root of the
    difference of the flows; months to bearing between whole months, where the NPV is straight if the curve's ages are
    whole and it begins at 0, and searched if not. Empty where there is none, or where the two are always equal.

    Example:
        >>> from renovation.decide import compare
        >>> from renovation.inputs import demo_scenario
        >>> found = compare(demo_scenario())
        >>> price = values_where_equal(found, "price_per_kg", "side_graft", limits=(0.0, 10.0))[0]
        >>> abs(price - found.outcomes["side_graft"].break_even.price_per_kg) < 1e-9
        True
    """
    others = {name: np.array([value]) for name, value in (at or {}).items()}
    field = WorthField(comparison, headline or comparison.headline)
    return tuple(sorted(value for _, value in field.ties((first, second), driver, limits, others)))


def _lines(field: "WorthField", across: Axis, along: Axis, ways: Sequence[str | None]) -> tuple[TieLine, ...]:
    """Where two of the ways that win somewhere tie and no third is worth more.

    Solved for y at each x of the map and for x at each y, so that no line is too steep or too flat to be found.
    """
    lines = []
    for position, first in enumerate(ways):
        for second in ways[position + 1 :]:
            if first is None:
                continue
            pair = (first, second)
            points = [(across.places[row], y) for row, y in field.ties(pair, along.driver, along.limits, across.at)]
            points += [(x, along.places[row]) for row, x in field.ties(pair, across.driver, across.limits, along.at)]
            kept = _on_top(field, across.driver, along.driver, first, np.array(sorted(points)).reshape(-1, 2))
            if len(kept):
                lines.append(TieLine(first, second, kept))
    return tuple(lines)


def _on_top(field: "WorthField", x: str, y: str, first: str, points: FloatArray) -> FloatArray:
    """The points at which no way, leaving the trees among them, is worth more than the first of the tie."""
    if not len(points):
        return points
    at = {x: points[:, 0], y: points[:, 1]}
    worth = {one: field.npv(one, at) for one in field.comparison.outcomes}
    every = np.stack([*worth.values(), np.zeros(len(points))])
    keep = worth[first] >= every.max(axis=0) - 1e-6 * (1 + np.abs(every).max(axis=0))
    return np.asarray(points[keep])


# The axes


def _axis(comparison: Comparison, headline: str, driver: str, limits: Range | None, points: int) -> Axis:
    """The values of a driver: over its limits, or around what the farm states."""
    if driver not in ON_A_MAP:
        raise KeyError(driver)
    outcome, technique = comparison.outcomes[headline], comparison.scenario.techniques[headline]
    if driver == CROP and technique.mature_crop.value <= 0:
        raise ValueError(f"{headline} makes no new crown: it has no crop of a clone")
    if driver == BEARING and not technique.new_crown.value:
        raise ValueError(f"{headline} makes no new crown: it has no months to bearing")
    if driver == TAKE and outcome.take_curve is None:
        raise ValueError(f"{headline} has nothing to take")
    moved = on_a_map(comparison.scenario, headline)[driver]
    low, high = limits or moved.wide
    most = moved.bounds[1]
    if points < 2 or not 0 <= low < high <= most:
        raise ValueError(f"{points} points of {driver} from {low:g} to {high:g}, which may be 0 to {most:g}")
    return Axis(driver, moved.unit, np.linspace(low, high, points), _own(outcome, moved))


def _own(outcome: Outcome, driver: Driver) -> float | None:
    """The farm's own value of a driver; of the take the constant one that is worth what the stated table is."""
    if driver.name != TAKE:
        return float(driver.value)
    curve = outcome.take_curve
    takes = curve.equals(outcome.npv) if curve else ()
    return min(takes, key=lambda take: abs(take - driver.value), default=None)
