"""Which ways a stand allows, and the first month that suits one."""

from renovation.inputs import Scenario, Technique
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
