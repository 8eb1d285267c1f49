"""What a kilogram brings by month: the expected price, premiums and deductions (method §§4, 9)."""

from functools import lru_cache

import numpy as np

from renovation.inputs import Scenario
from renovation.money.prices import reverting_path
from renovation.types import FloatArray


def net_prices(scenario: Scenario, material: str | None = None) -> FloatArray:
    """Farm-gate price less deductions by project month, (T,), money/kg dry.

    Old crop earns price − deductions; new crop of a planting material price · (1 + premium) − deductions; price
    is today's times its expected path.
    """
    market = scenario.market
    premium = market.premium.get(material, 0.0) if material else 0.0
    return expected_price_path(scenario) * market.dry_price_per_kg * (1 + premium) - market.deductions_per_kg


def expected_price_path(scenario: Scenario, years: int | None = None) -> FloatArray:
    """Expected price by project month as a share of today's, (T,), the same all through a year (method §9).

    Constant, typed by year with the last share holding, or on the way to a long-run level. years: the horizon
    where None.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> set(expected_price_path(demo_scenario()).tolist())
        {1.0}
    """
    risk, years = scenario.risk, years or scenario.appraisal.horizon_years
    return _path(risk.price_path, risk.price_by_year, risk.price_persistence, risk.long_run_price, years)


@lru_cache(maxsize=64)
def _path(kind: str, typed: tuple[float, ...], persistence: float, long_run: float, years: int) -> FloatArray:
    """A price path by month, one array for all who state the same; not to be written to."""
    path = np.ones(years)
    if kind == "typed":
        path = np.asarray(typed)[np.minimum(np.arange(years), len(typed) - 1)]
    elif kind == "reverting":
        path = reverting_path(persistence, long_run, years)
    path = np.repeat(path, 12)
    path.flags.writeable = False
    return path
