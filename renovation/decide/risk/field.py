"""Worth at points: NPV and yearly flows of the compared ways wherever drivers are put, for the map and its tie lines.

Money drivers enter the yearly flow linearly and only the take and the months to bearing change the tree, so that any
number of points is array sums over one tree profile per value of those two.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from renovation.decide.compare import Comparison
from renovation.decide.drivers import BEARING, CROP, PRICE, RATE, TAKE, WAGE, months_to_bearing
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

Range = tuple[float, float]


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


class WorthField:
    """NPV and yearly flows of the compared ways at any points; profiles of trees are kept for the next call."""

    def __init__(self, comparison: Comparison, headline: str | None) -> None:
        """Open the field of a comparison; the take, crop and months to bearing that move are those of `headline`."""
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
        day = columns.get(WAGE, np.full(number, household.wage_per_day))[:, None] * household.labour_value
        mature = self.scenario.techniques[technique].mature_crop.value
        times = columns[CROP][:, None] / mature if own and CROP in columns else np.ones((number, 1))
        kg = trees.old[rows] + times * trees.new[rows]
        sales = price * (trees.worth_old[rows] + times * trees.worth_new[rows]) - market.deductions_per_kg * kg
        days = trees.days[rows] + market.harvest_days_per_kg * kg
        return np.asarray(sales - day * days - trees.cost[rows])

    def gap(self, pair: tuple[str, str | None], at: Mapping[str, npt.ArrayLike]) -> FloatArray:
        """NPV of the first less that of the second (None: leaving the farm as it is), (P,)."""
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
        moved = scenario if months is None else months_to_bearing(scenario.techniques[key], key).put(scenario, months)
        technique = moved.techniques[key]
        stand = scenario.found_by(key, outcome.treatment.stand)
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
            cost=by_year(cost + outcome.flows.with_plan.tools - outcome.flows.without.tools),
        )
