"""The map: which way wins over two drivers, with the farm's own point and the lines on which two ways tie.

A driver is the farm's (price, wage, discount rate) or the headline technique's own (take, crop of its clone, months
until it bears); the other ways stay as they are. Money drivers enter the yearly flow linearly and only the take and
the months to bearing change the tree, so the whole map is array sums over one tree profile per value of those.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from renovation.decide.compare import Comparison, Outcome
from renovation.farm import by_year, expected_price_path, setting_of
from renovation.inputs import Technique
from renovation.money import (
    discount_factors,
    incremental,
    irr_roots_many,
    sample_points,
    switching_value,
    switching_values,
)
from renovation.tree import profile
from renovation.types import FloatArray, IntArray

if TYPE_CHECKING:
    import pandas as pd

Range = tuple[float, float]

PRICE, WAGE, CROP, TAKE, RATE, BEARING = (
    "price_per_kg",
    "wage_per_day",
    "mature_crop",
    "take",
    "discount_rate",
    "months_to_bearing",
)
DRIVERS = {
    PRICE: "money/kg dry",
    WAGE: "money/person-day",
    CROP: "kg/tree/year",
    TAKE: "share",
    RATE: "share/year",
    BEARING: "months",
}
"""Drivers of a map and their units."""
NO_WAY = -1
"""In `WinMap.best`: leaving the trees as they are wins."""
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

    second: None for leaving the trees as they are.
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
    `techniques`. best: (X, Y) position of the way worth most in `techniques`, −1 for leaving the trees as they are.
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
        """The share of the map on which each way wins; None stands for leaving the trees as they are."""
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

    x, y: two of `DRIVERS`. headline: the technique that the take, the clone's crop and the months to bearing are
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
    field = _Field(comparison, key)
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
    return _Field(comparison, headline or comparison.headline).npv(technique, at)


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

    second: None for leaving the trees as they are, which is the break-even value. at: other drivers' values.
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
    field = _Field(comparison, headline or comparison.headline)
    return tuple(sorted(value for _, value in field.ties((first, second), driver, limits, others)))


def _lines(field: "_Field", across: Axis, along: Axis, ways: Sequence[str | None]) -> tuple[TieLine, ...]:
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


def _on_top(field: "_Field", x: str, y: str, first: str, points: FloatArray) -> FloatArray:
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
    if driver not in DRIVERS:
        raise KeyError(driver)
    outcome, technique = comparison.outcomes[headline], comparison.scenario.techniques[headline]
    if driver == CROP and technique.mature_crop.value <= 0:
        raise ValueError(f"{headline} makes no new crown: it has no crop of a clone")
    if driver == BEARING and not technique.new_crown.value:
        raise ValueError(f"{headline} makes no new crown: it has no months to bearing")
    if driver == TAKE and outcome.break_even.take_curve is None:
        raise ValueError(f"{headline} has nothing to take")
    own = _own(comparison, outcome, driver)
    low, high = limits or _around(comparison, outcome, driver, own)
    most = outcome.break_even.take_curve.highest if driver == TAKE and outcome.break_even.take_curve else np.inf
    if points < 2 or not 0 <= low < high <= most:
        raise ValueError(f"{points} points of {driver} from {low:g} to {high:g}, which may be 0 to {most:g}")
    return Axis(driver, DRIVERS[driver], np.linspace(low, high, points), own)


def _own(comparison: Comparison, outcome: Outcome, driver: str) -> float | None:
    """The farm's own value of a driver; of the take the constant one that is worth what the stated table is."""
    scenario = comparison.scenario
    technique = scenario.techniques[outcome.technique]
    if driver == TAKE:
        curve = outcome.break_even.take_curve
        takes = curve.equals(outcome.measures.npv) if curve else ()
        stated = float(np.mean(technique.take.value))
        return min(takes, key=lambda take: abs(take - stated), default=None)
    return {
        PRICE: scenario.market.dry_price_per_kg,
        WAGE: scenario.household.wage_per_day,
        CROP: technique.mature_crop.value,
        RATE: scenario.appraisal.discount_rate,
        BEARING: _bears_from(technique),
    }[driver]


def _around(comparison: Comparison, outcome: Outcome, driver: str, own: float | None) -> Range:
    """A range that shows the farm's own point with room on both sides."""
    technique = comparison.scenario.techniques[outcome.technique]
    curve = outcome.break_even.take_curve
    here = own or 0.0
    if driver == TAKE:
        return 0.0, curve.highest if curve else 1.0
    if driver == CROP:
        return min(technique.mature_crop.low, here / 2), max(technique.mature_crop.high, here * 1.5)
    if driver == BEARING:
        return max(0.0, here - 12), here + 36
    if driver == RATE:
        return 0.0, max(0.3, 2 * here)
    return (0.25 * here, 2 * here) if here else (0.0, 1.0)


def _bears_from(technique: Technique) -> float:
    """Months from establishment to the first entry of the new crown's table."""
    return float(technique.new_crown.value[0][0]) if technique.new_crown.value else 0.0


# Flows at points


@dataclass(frozen=True, eq=False)
class _Trees:
    """Yearly incremental parts of all compared trees for B physical settings, (B, H) each.

    old, new: kg of old crown (less the tree left alone) and of new. worth_old, worth_new: the same weighted by
    premium and expected price path. days: person-days but for the harvest. cost: supplies and tools less
    other income.
    """

    old: FloatArray
    new: FloatArray
    worth_old: FloatArray
    worth_new: FloatArray
    days: FloatArray
    cost: FloatArray


Physical = tuple[float | None, float | None]
"""What changes the tree: a constant take and the months to bearing; None for as stated."""


class _Field:
    """NPV and yearly flows of the compared ways at any points; profiles of trees are kept for the next call."""

    def __init__(self, comparison: Comparison, headline: str | None) -> None:
        self.comparison, self.headline = comparison, headline
        self.scenario = comparison.scenario
        self.known: dict[tuple[str, Physical], _Trees] = {}

    def npv(self, technique: str, at: Mapping[str, npt.ArrayLike]) -> FloatArray:
        """NPV at P points, (P,)."""
        flows = self.flows(technique, at)
        rate = np.asarray(at.get(RATE, self.scenario.appraisal.discount_rate), dtype=np.float64)
        factors = discount_factors(np.broadcast_to(rate, flows.shape[:1]), flows.shape[1])
        return np.asarray((flows * factors).sum(axis=1))

    def flows(self, technique: str, at: Mapping[str, npt.ArrayLike]) -> FloatArray:
        """Incremental economic account by project year at P points, (P, H)."""
        columns = {name: np.atleast_1d(np.asarray(values, dtype=np.float64)) for name, values in at.items()}
        number = max((values.size for values in columns.values()), default=1)
        columns = {name: np.broadcast_to(values, number) for name, values in columns.items()}
        own = technique == self.headline
        trees, rows = self._settings(technique, *((columns.get(name) if own else None) for name in (TAKE, BEARING)))
        market, household = self.scenario.market, self.scenario.household
        price = columns.get(PRICE, np.full(number, market.dry_price_per_kg))[:, None]
        wage = columns.get(WAGE, np.full(number, household.wage_per_day))[:, None] * household.labour_value
        mature = self.scenario.techniques[technique].mature_crop.value
        times = columns[CROP][:, None] / mature if own and CROP in columns else np.ones((number, 1))
        kg = trees.old[rows] + times * trees.new[rows]
        sales = price * (trees.worth_old[rows] + times * trees.worth_new[rows]) - market.deductions_per_kg * kg
        days = trees.days[rows] + market.harvest_days_per_kg * kg
        return np.asarray(sales - wage * days - trees.cost[rows])

    def gap(self, pair: tuple[str, str | None], at: Mapping[str, npt.ArrayLike]) -> FloatArray:
        """NPV of the first less that of the second (None: leaving the trees as they are), (P,)."""
        first = self.npv(pair[0], at)
        return first - self.npv(pair[1], at) if pair[1] else first

    def ties(
        self, pair: tuple[str, str | None], driver: str, limits: Range, others: Mapping[str, FloatArray]
    ) -> list[tuple[int, float]]:
        """Every (row of `others`, value of the driver within limits) at which a pair ties."""
        if driver == RATE:
            return self._equal_rates(pair, limits, others)
        places = self._places(driver, limits)
        rows = max((values.size for values in others.values()), default=1)
        at = {name: np.repeat(values, places.size) for name, values in others.items()}
        gaps = self.gap(pair, at | {driver: np.tile(places, rows)}).reshape(rows, places.size)
        found = []
        for row, gap in enumerate(gaps):
            here = {name: values[row : row + 1] for name, values in others.items()}
            found += [(row, value) for value in self._zeros(pair, driver, limits, places, gap, here)]
        return found

    def _places(self, driver: str, limits: Range) -> FloatArray:
        """Values of the driver at which NPV must be known to find its zeros."""
        low, high = limits
        if driver == TAKE:
            return sample_points(low, high, self._own.attempts.value)
        if driver == BEARING:
            return np.unique([low, *np.arange(np.ceil(low), np.floor(high) + 1), high])
        return np.array(limits)

    def _zeros(
        self,
        pair: tuple[str, str | None],
        driver: str,
        limits: Range,
        places: FloatArray,
        gap: FloatArray,
        others: Mapping[str, FloatArray],
    ) -> list[float]:
        """Values of the driver within limits at which the gap, known at `places`, is 0."""
        low, high = limits
        if driver == TAKE:
            return list(switching_values(places, gap, low, high)) if gap.any() else []
        if driver != BEARING:
            value = switching_value(low, float(gap[0]), high, float(gap[1]))
            return [value] if value is not None and low <= value <= high else []
        ages = [age for age, _ in self._own.new_crown.value]
        straight = all(float(age).is_integer() for age in ages) and self._own.new_crown.value[0][1] == 0
        found = [float(place) for place, value in zip(places, gap, strict=True) if value == 0]
        for i in np.flatnonzero(gap[:-1] * gap[1:] < 0):
            first, second = float(places[i]), float(places[i + 1])
            value = first + (second - first) * gap[i] / (gap[i] - gap[i + 1])
            if not straight:
                value = brentq(lambda m: float(self.gap(pair, {**others, BEARING: m})[0]), first, second, xtol=1e-12)
            found.append(float(value))
        return found

    def _equal_rates(
        self, pair: tuple[str, str | None], limits: Range, others: Mapping[str, FloatArray]
    ) -> list[tuple[int, float]]:
        """Discount rates at which a pair ties: the roots of the difference of the two flows."""
        first = self.flows(pair[0], others)
        second = self.flows(pair[1], others) if pair[1] else np.zeros_like(first)
        rates, counts = irr_roots_many(incremental(first, np.broadcast_to(second, first.shape)))
        return [
            (row, float(rate))
            for row, count in enumerate(counts)
            for rate in rates[row, :count]
            if limits[0] <= rate <= limits[1]
        ]

    @property
    def _own(self) -> Technique:
        """The headline technique."""
        if self.headline is None:
            raise KeyError("no technique can be compared")
        return self.scenario.techniques[self.headline]

    def _settings(
        self, technique: str, takes: FloatArray | None, bearing: FloatArray | None
    ) -> tuple[_Trees, IntArray]:
        """The trees of every distinct take and month of bearing among the points, and each point's row."""
        sizes = [one.size for one in (takes, bearing) if one is not None]
        if not sizes:
            return self._trees(technique, [(None, None)]), np.zeros(1, dtype=np.int64)
        wanted = np.stack([np.full(sizes[0], np.inf) if one is None else one for one in (takes, bearing)], axis=1)
        distinct, rows = np.unique(wanted, axis=0, return_inverse=True)
        settings: list[Physical] = []
        for take, months in distinct.tolist():
            settings.append((None if np.isinf(take) else take, None if np.isinf(months) else months))
        return self._trees(technique, settings), np.asarray(rows.reshape(-1), dtype=np.int64)

    def _trees(self, technique: str, settings: Sequence[Physical]) -> _Trees:
        """The parts of each setting, (B, H): profiled at once for all takes of one month of bearing."""
        new = [one for one in settings if (technique, one) not in self.known]
        for months in dict.fromkeys(bearing for _, bearing in new):
            takes = [take for take, bearing in new if bearing == months]
            made = self._profiled(technique, months, takes)
            for row, take in enumerate(takes):
                parts = {name: getattr(made, name)[row] for name in _Trees.__annotations__}
                self.known[technique, (take, months)] = _Trees(**parts)
        found = [self.known[technique, one] for one in settings]
        return _Trees(**{name: np.stack([getattr(one, name) for one in found]) for name in _Trees.__annotations__})

    def _profiled(self, key: str, months: float | None, takes: Sequence[float | None]) -> _Trees:
        """The parts at one month of bearing and several constant takes (None: the take as stated)."""
        scenario, outcome = self.scenario, self.comparison.outcomes[key]
        technique = _bearing_from(scenario.techniques[key], months)
        stand = scenario.stand(outcome.treatment.stand)
        starts = np.full(len(takes), outcome.start)
        constant = None if takes[0] is None else np.array(takes, dtype=np.float64)[:, None]
        tree = profile(technique, stand, scenario.supplies, setting_of(scenario), starts, constant)
        alone, trees = outcome.left_alone, outcome.treatment.trees
        path = expected_price_path(scenario)
        premium = scenario.market.premium.get(technique.material, 0.0)
        old, new = tree.old_kg - alone.old_kg, tree.new_kg
        rest = (tree.days - tree.harvest_days) - (alone.days - alone.harvest_days)
        cost = trees * (tree.materials_cost - alone.materials_cost - tree.other_income)
        return _Trees(
            old=trees * by_year(old),
            new=trees * by_year(new),
            worth_old=trees * by_year(old * path),
            worth_new=trees * by_year(new * path) * (1 + premium),
            days=trees * by_year(rest),
            cost=by_year(cost + outcome.flows.with_plan.tools),
        )


def _bearing_from(technique: Technique, months: float | None) -> Technique:
    """The technique with its new crown's curve moved so that it begins at that many months."""
    if months is None:
        return technique
    shift = months - _bears_from(technique)
    curve = tuple((age + shift, share) for age, share in technique.new_crown.value)
    return technique.model_copy(update={"new_crown": technique.new_crown.model_copy(update={"value": curve})})
