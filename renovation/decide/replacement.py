"""When to renovate at all: the year in which starting is worth most, and the age at which a tree should be renewed.

The mathematics is in `money/replacement.py`: land expectation values and the marginal rule.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from renovation.decide.drivers import LOSSES
from renovation.decide.hands import take_after_practice
from renovation.decide.held import as_held, takes_by_start
from renovation.decide.starts import techniques_for
from renovation.farm import by_project_month, by_year, expected_price_path
from renovation.inputs import Figure, Scenario, Stand, Technique, month_count, year_month
from renovation.money.replacement import land_expectation
from renovation.tree import Profile, Setting, profile, untouched
from renovation.types import FloatArray

if TYPE_CHECKING:
    import pandas as pd


OLDEST_YEARS = 50
"""Ages of renewal that are looked at."""
START_YEARS = 15
"""Start years that are looked at."""


@dataclass(frozen=True, eq=False)
class StartCurve:
    """One tree of a stand, one technique: what starting in each year is worth.

    years: (Y,) project years that have a start, from 1. months: (Y,) project month of the start. npv: (Y,)
    money per tree, incremental, every day charged, tools left out, each start seen for the whole horizon. calendar: the
    starts as `YYYY-MM`.
    """

    stand: str
    technique: str
    years: tuple[int, ...]
    months: tuple[int, ...]
    calendar: tuple[str, ...]
    npv: FloatArray

    @property
    def best(self) -> int | None:
        """Place of the start worth most; None where none is worth more than leaving the tree alone."""
        if self.npv.size == 0 or self.npv.max() <= 0:
            return None
        return int(np.argmax(self.npv))

    @property
    def best_year(self) -> int | None:
        """Project year of the start worth most; None where leaving the tree alone is worth more."""
        return None if self.best is None else self.years[self.best]

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "stand": self.stand,
            "technique": self.technique,
            "best_year": self.best_year,
            "best_start": None if self.best is None else self.calendar[self.best],
            "starts": [
                {"year": y, "start": c, "npv": float(v)}
                for y, c, v in zip(self.years, self.calendar, self.npv, strict=True)
            ],
        }


@dataclass(frozen=True, eq=False)
class RenewalCurve:
    """How often trees made by one technique should be renewed, for ever after.

    flows: (N,) money a year of a tree on a free place by year from its first work, every day charged. lev: (N,) land
    expectation value of renewing at each age.
    """

    technique: str
    flows: FloatArray
    lev: FloatArray
    rate_per_year: float

    @property
    def best_age(self) -> int | None:
        """Years after which renewing is worth most; None where it is the longest looked at: no sign of age yet."""
        age = int(np.argmax(self.lev)) + 1
        return None if age == self.lev.size else age

    @property
    def highest(self) -> float:
        """The land expectation value at the best age."""
        return float(self.lev.max())

    @property
    def rent(self) -> float:
        """What the place is worth a year: r · LEV."""
        return self.rate_per_year * self.highest

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "technique": self.technique,
            "best_age": self.best_age,
            "highest": self.highest,
            "rent": self.rent,
            "lev": self.lev.tolist(),
        }


@dataclass(frozen=True, eq=False)
class OldTreeRule:
    """The marginal rule for the trees that stand today: keep while the year's income exceeds the rent of the place.

    income: (H,) money per tree and project year, left alone, every day charged. rent: of the technique whose places
    are worth most, money per tree and year; technique: which. year: the first project year whose income is below it;
    None where none is.
    """

    stand: str
    income: FloatArray
    technique: str | None
    rent: float
    year: int | None

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "stand": self.stand,
            "technique": self.technique,
            "rent": self.rent,
            "year": self.year,
            "income": self.income.tolist(),
        }


@dataclass(frozen=True, eq=False)
class WhenToRenovate:
    """When to renovate: by start year, by age, and for the old trees."""

    starts: tuple[StartCurve, ...]
    renewals: tuple[RenewalCurve, ...]
    old_trees: tuple[OldTreeRule, ...]

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`."""
        return {
            "starts": [curve.as_dict() for curve in self.starts],
            "renewals": [curve.as_dict() for curve in self.renewals],
            "old_trees": [rule.as_dict() for rule in self.old_trees],
        }

    def starts_table(self) -> "pd.DataFrame":
        """One row per stand, technique and start year."""
        import pandas as pd

        rows = [
            {"stand": c.stand, "technique": c.technique, **point}
            for c in self.starts
            for point in c.as_dict()["starts"]
        ]
        return pd.DataFrame(rows, columns=["stand", "technique", "year", "start", "npv"])

    def renewals_table(self) -> "pd.DataFrame":
        """One row per technique and age."""
        import pandas as pd

        rows = [
            {"technique": c.technique, "age": age + 1, "lev": float(value), "flow": float(c.flows[age])}
            for c in self.renewals
            for age, value in enumerate(c.lev)
        ]
        return pd.DataFrame(rows, columns=["technique", "age", "lev", "flow"])


def when_to_renovate(scenario: Scenario, start_years: int = START_YEARS) -> WhenToRenovate:
    """When to renovate at all, stand by stand and technique by technique.

    start_years: how many project years of starts to look at; not above the horizon. A discount rate of 0 has no
    land expectation value: renewals and the rule for old trees are then empty.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> result = when_to_renovate(demo_scenario())
        >>> {curve.stand for curve in result.starts} <= {stand.name for stand in demo_scenario().stands}
        True
    """
    scenario = as_held(scenario)
    years = min(start_years, scenario.appraisal.horizon_years)
    open_stands = [stand for stand in scenario.stands if not stand.untouched]
    starts = tuple(curve for stand in open_stands for curve in start_curves(scenario, stand, years))
    if scenario.appraisal.discount_rate <= 0:
        return WhenToRenovate(starts, (), ())
    renewals = tuple(curve for key in scenario.techniques if (curve := renewal_curve(scenario, key)) is not None)
    rules = tuple(_old_tree_rule(scenario, stand, renewals) for stand in open_stands)
    return WhenToRenovate(starts, renewals, rules)


def start_curves(scenario: Scenario, stand: Stand, start_years: int) -> list[StartCurve]:
    """NPV per tree of starting each technique in each project year; the first month that suits, as in the plan.

    The horizon is lengthened by the start years, so that the last start is seen for as long as the first. Where hands
    learn, each start is that of all the stand's free trees.
    """
    years = scenario.appraisal.horizon_years + start_years - 1
    setting, path = _setting(scenario, years), expected_price_path(scenario, years)
    without = by_year(_economic(scenario, untouched(stand, setting), None, path))[0]
    factors = (1 + scenario.appraisal.discount_rate) ** -np.arange(1.0, setting.months // 12 + 1)
    horizon = scenario.appraisal.months
    curves = []
    for key in techniques_for(scenario, stand.name):
        months = _starts(scenario, key, start_years)
        technique = scenario.techniques[key]
        takes = takes_by_start(scenario, key, months, scenario.free_trees(stand.name))
        tree = profile(technique, stand, scenario.supplies, setting, months, takes)
        change = by_year(_economic(scenario, tree, technique.material, path)) - without
        # each start is seen for the horizon from its own year on, as the first one is
        first = np.array(months) // 12
        place = np.arange(change.shape[1])
        seen = place < first[:, None] + horizon // 12
        npv = (change * seen) @ factors if months else np.zeros(0)
        curves.append(
            StartCurve(
                stand.name,
                key,
                tuple(month // 12 + 1 for month in months),
                tuple(months),
                tuple(year_month(month_count(scenario.appraisal.start) + month) for month in months),
                npv,
            )
        )
    return curves


def _starts(scenario: Scenario, key: str, years: int) -> list[int]:
    """First month of each project year that suits a technique's calendar and nursery."""
    technique, calendar = scenario.techniques[key], scenario.appraisal.start_calendar_month
    found = []
    for year in range(years):
        suits = (
            month
            for month in range(12 * year, 12 * year + 12)
            if (calendar - 1 + month) % 12 + 1 in technique.start_months and month + technique.earliest_month >= 0
        )
        found += [month for month in [next(suits, None)] if month is not None]
    return found


def renewal_curve(scenario: Scenario, key: str, oldest_years: int = OLDEST_YEARS) -> RenewalCurve | None:
    """Land expectation value of one technique by age of renewal; None for one that makes no new crown or renews none.

    A tree on a free place: the crop of an old crown while it is renewed is left out, as are tools, and a failed
    place stays empty until the next renewal. The year is counted from the first work (of a nursery, its first month).
    For ever after the price is that of the horizon's last year, and the take that of practised hands, the table's last.
    A place whose tree is lost is renewed at the year's end; the chance is the way's, else the mean of the farm's trees.
    """
    technique = scenario.techniques[key]
    if technique.mature_crop.value <= 0 or technique.works_on != "trees":
        return None
    free = Stand(name="-", trees=1, crop_per_tree=0.0, decline_per_year=0.0, upkeep_days=0.0)
    technique = technique.model_copy(update={name: _mean_loss(scenario, technique, name) for name in LOSSES})
    setting = _setting(scenario, oldest_years + 1)
    lead = -technique.earliest_month
    start = next(
        month
        for month in range(lead, lead + 12)
        if (scenario.appraisal.start_calendar_month - 1 + month) % 12 + 1 in technique.start_months
    )
    tree = profile(technique, free, scenario.supplies, setting, [start], np.array([take_after_practice(scenario, key)]))
    economic = _economic(scenario, tree, technique.material, expected_price_path(scenario)[-1:])[0, start - lead :]
    flows = by_year(economic[: 12 * oldest_years])
    rate, loss = scenario.appraisal.discount_rate, technique.tree_loss_per_year
    standing = None
    if loss is not None:
        standing = (1 - loss.value) ** (np.maximum(0, 12 * np.arange(1, oldest_years + 1) - lead) / 12)
    return RenewalCurve(key, flows, land_expectation(flows, rate, standing), rate)


def _mean_loss(scenario: Scenario, technique: Technique, name: str) -> Figure[float] | None:
    """A loss as the way states it, else the mean of all trees of the farm; None where there is none."""
    own: Figure[float] | None = getattr(technique, name)
    trees = sum(stand.trees for stand in scenario.stands)
    mean = sum(getattr(stand, name) * stand.trees for stand in scenario.stands) / trees
    if own is not None or not mean:
        return own
    return Figure[float](value=mean, low=mean, high=mean, unit="share", source="own")


def _old_tree_rule(scenario: Scenario, stand: Stand, renewals: Sequence[RenewalCurve]) -> OldTreeRule:
    """Set the income of a stand's trees, left alone, against the rent of their places."""
    setting = _setting(scenario, scenario.appraisal.horizon_years)
    income = by_year(_economic(scenario, untouched(stand, setting), None, expected_price_path(scenario)))[0]
    allowed = techniques_for(scenario, stand.name)
    best = max(
        (curve for curve in renewals if curve.technique in allowed),
        key=lambda curve: curve.highest,
        default=None,
    )
    if best is None or best.highest <= 0:
        return OldTreeRule(stand.name, income, None, 0.0, None)
    below = np.flatnonzero(income < best.rent)
    return OldTreeRule(stand.name, income, best.technique, best.rent, int(below[0]) + 1 if below.size else None)


def _setting(scenario: Scenario, years: int) -> Setting:
    """The surroundings of a tree over any number of years."""
    appraisal, market = scenario.appraisal, scenario.market
    season = by_project_month(market.season.shares, appraisal.start_calendar_month, 12 * years)
    return Setting(12 * years, season, market.harvest_days_per_kg, appraisal.start_calendar_month)


def _economic(scenario: Scenario, tree: Profile, material: str | None, path: FloatArray) -> FloatArray:
    """Economic account of one tree by month, (S, T): every day charged at the wage × the labour value.

    path: the price as a share of today's, (T,) or (1,).
    """
    market, household = scenario.market, scenario.household
    premium = market.premium.get(material, 0.0) if material else 0.0
    price = market.dry_price_per_kg * path
    old = price - market.deductions_per_kg
    new = price * (1 + premium) - market.deductions_per_kg
    day = household.wage_per_day * household.labour_value
    return tree.old_kg * old + tree.new_kg * new + tree.other_income - tree.materials_cost - tree.days * day
