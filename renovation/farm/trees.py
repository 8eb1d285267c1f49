"""The trees of a farm, each worked out once for all who state the same: visitors, ways, ends of a range."""

from functools import lru_cache

import numpy as np

from renovation.inputs import Scenario, Stand, Supplies, Technique, twelve
from renovation.tree import Profile, Setting, profile, untouched
from renovation.types import FloatArray

_TREES_KEPT = 256
"""Trees remembered by what they follow from, each some 60 kB: a change of a price or a wage moves none of them."""


def by_project_month(monthly: float | tuple[float, ...], start_calendar_month: int, months: int) -> FloatArray:
    """Lay twelve calendar-month figures (or one for all) along the project months, (T,).

    Example:
        >>> by_project_month(tuple(float(m) for m in range(1, 13)), 11, 4).tolist()
        [11.0, 12.0, 1.0, 2.0]
    """
    calendar = (start_calendar_month - 1 + np.arange(months)) % 12
    return np.asarray(twelve(monthly), dtype=np.float64)[calendar]


def setting_of(scenario: Scenario) -> Setting:
    """The surroundings of every tree of a scenario: horizon, season by project month, harvest work.

    One object for all scenarios that state the same, as for the trees in them.
    """
    appraisal, market = scenario.appraisal, scenario.market
    shares = market.season.shares
    return _setting(appraisal.months, tuple(shares), market.harvest_days_per_kg, appraisal.start_calendar_month)


@lru_cache(maxsize=64)
def _setting(months: int, shares: tuple[float, ...], harvest_days_per_kg: float, start: int) -> Setting:
    season = _frozen(by_project_month(shares, start, months))
    return Setting(months, season, harvest_days_per_kg, start)


@lru_cache(maxsize=_TREES_KEPT)
def tree_left_alone(stand: Stand, setting: Setting) -> Profile:
    """`untouched`, one tree for all who state the same; its arrays are not to be written to."""
    return _all_frozen(untouched(stand, setting))


@lru_cache(maxsize=_TREES_KEPT)
def tree_treated(technique: Technique, stand: Stand, supplies: Supplies, setting: Setting, start: int) -> Profile:
    """`profile` of one start month, one tree for all who state the same; its arrays are not to be written to."""
    return _all_frozen(profile(technique, stand, supplies, setting, [start]))


def _all_frozen(tree: Profile) -> Profile:
    """The same tree, its arrays not to be written to."""
    for value in vars(tree).values():
        if isinstance(value, np.ndarray):
            _frozen(value)
    return tree


def _frozen(values: FloatArray) -> FloatArray:
    values.flags.writeable = False
    return values
