"""Which ways a stand allows, the first month that suits one, and the trees that are weighed."""

from renovation.inputs import Scenario, Technique, Treatment, month_count, year_month
from renovation.inputs.techniques import WorksOn


class NoStart(ValueError):  # noqa: N818 - the name says what is wrong
    """No month within the horizon suits a technique's calendar and nursery."""


def earliest_start(scenario: Scenario, technique: Technique, not_before: int = 0) -> int:
    """First project month in which work on a tree may start: in its calendar months, no nursery before month 0.

    Raises NoStart where the horizon ends before.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> s = demo_scenario()
        >>> t = s.techniques["side_graft"]
        >>> (s.appraisal.start_calendar_month - 1 + earliest_start(s, t)) % 12 + 1 in t.start_months
        True
    """
    first = max(not_before, -technique.earliest_month)
    for month in range(first, min(first + 12, scenario.appraisal.months)):
        if (scenario.appraisal.start_calendar_month - 1 + month) % 12 + 1 in technique.start_months:
            return month
    raise NoStart(str(first))


def techniques_for(scenario: Scenario, stand_name: str, works_on: WorksOn = "trees") -> tuple[str, ...]:
    """Techniques that the scenario considers and the stand allows on its trees, in the scenario's order.

    works_on: or on its empty places.
    """
    allowed = scenario.stand(stand_name).techniques
    ways = scenario.techniques.items()
    return tuple(key for key, way in ways if way.works_on == works_on and (allowed is None or key in allowed))


def one_treatment(scenario: Scenario, stand: str, trees: int, technique: str, start: int) -> Treatment:
    """Trees of one stand treated by one technique from a project month on."""
    month = year_month(month_count(scenario.appraisal.start) + start)
    return Treatment(stand=stand, technique=technique, trees=trees, start=month)


def number_of_trees(scenario: Scenario, stand: str, trees: int | None, works_on: WorksOn) -> int:
    """The trees compared: as asked, else as the scenario says, never more than the stand has; or its empty places."""
    has = scenario.free_trees(stand) if works_on == "trees" else scenario.free_places(stand)
    if trees is None and works_on != "trees":
        return has
    if trees is None:
        stated = scenario.comparison.trees
        return has if stated is None else min(stated, has)
    if not 1 <= trees <= has:
        raise ValueError(f"{trees} trees to compare in a stand of {has}")
    return trees
