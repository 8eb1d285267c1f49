"""Which guesses move an answer most: each alone at its low and at its high end, all else as it is."""

from renovation.decide.compare import Comparison
from renovation.decide.drivers import Driver, stated
from renovation.decide.ends import plain
from renovation.decide.ranges import Swing
from renovation.farm import by_year, farm_flows, farm_left_alone
from renovation.inputs import Scenario
from renovation.money import net_present_value


def of_guesses(scenario: Scenario, stand: str) -> tuple[tuple[str, Driver], ...]:
    """The guesses of a farm that can be moved for one stand: the path of each, and its driver."""
    place = next(i for i, one in enumerate(scenario.stands) if one.name == stand)
    found = ((path_of(driver.name, place), driver) for driver in stated(scenario, stand))
    return tuple((path, driver) for path, driver in found if path in scenario.guessed)


def path_of(driver: str, stand: int) -> str:
    """Where a figure that the family states stands in its file.

    Example:
        >>> path_of("old_upkeep_days", 2), path_of("wage_per_day", 0)
        ('stands.2.upkeep_days', 'household.wage_per_day')
    """
    if driver in ("price_per_kg", "deductions_per_kg", "harvest_days_per_kg"):
        return f"market.{driver}"
    if driver in ("crop_per_tree", "decline_per_year", "old_upkeep_days", "old_upkeep_inputs"):
        return f"stands.{stand}.{driver.removeprefix('old_')}"
    return f"{'appraisal' if driver == 'discount_rate' else 'household'}.{driver}"


def telling(comparison: Comparison, technique: str) -> tuple[tuple[str, Swing], ...]:
    """The guesses by how far each alone moves the NPV of all compared trees, the furthest first: path and swing.

    Raises KeyError for a technique that is not among the outcomes.
    """
    scenario, treatment = comparison.scenario, comparison.outcomes[technique].treatment

    def npv(farm: Scenario) -> float:
        flow = by_year(farm_flows(farm, [treatment], farm_left_alone(farm)).economic_change)
        return float(net_present_value(flow, farm.appraisal.discount_rate))

    swings = [
        (path, Swing(d.name, plain(d.low), plain(d.high), npv(d.put(scenario, d.low)), npv(d.put(scenario, d.high))))
        for path, d in of_guesses(scenario, treatment.stand)
    ]
    return tuple(sorted(swings, key=lambda pair: pair[1].width, reverse=True))
