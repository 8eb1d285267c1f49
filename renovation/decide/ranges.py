"""What an answer rests on: the same technique again with chosen figures at the ends of their ranges.

One figure at a time, then all together at their bad and at their good ends (ADB Guidelines for the Economic
Analysis of Projects: adverse changes, one at a time and combined).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

from pydantic import ValidationError

from renovation.decide.appraise import worth_of_change
from renovation.decide.compare import Comparison
from renovation.decide.drivers import CROP, NEW_CROWN, OLD_CROWN, TAKE, Change, Driver, of_technique, price
from renovation.decide.ends import plain
from renovation.decide.plain import fields_of
from renovation.farm import Flows, farm_flows, farm_left_alone
from renovation.inputs import Market, Scenario, Technique

FIGURES = (TAKE, CROP, NEW_CROWN, OLD_CROWN)
"""The technique's figures that are moved, each to its own low and high."""


def moved(npv_low: float | None, npv_high: float | None) -> float:
    """How far the NPV moves between two ends, 0 where one is refused.

    Example:
        >>> moved(120.0, -30.0), moved(None, 80.0)
        (150.0, 0.0)
    """
    return 0.0 if npv_low is None or npv_high is None else abs(npv_high - npv_low)


@dataclass(frozen=True)
class Swing:
    """NPV of all compared trees with one driver at its low and at its high end.

    driver: `take`, `mature_crop`, `new_crown`, `old_crown`, `price_per_kg`, or `together` for all of them. low,
    high: the driver's own ends in its unit (shares by project year, kg/tree/year, money/kg dry); None for a
    curve and for `together`, whose ends are the bad and the good ones. npv_low, npv_high: money; None where the
    figures refuse that end (a take times its factor above 1).
    """

    driver: str
    low: float | tuple[float, ...] | None
    high: float | tuple[float, ...] | None
    npv_low: float | None
    npv_high: float | None

    @property
    def width(self) -> float:
        """How far the NPV moves between the two ends, 0 where one is refused."""
        return moved(self.npv_low, self.npv_high)

    @property
    def span(self) -> tuple[float, float] | None:
        """The lower and the higher NPV, whichever end gives them; None where one is refused."""
        if self.npv_low is None or self.npv_high is None:
            return None
        return min(self.npv_low, self.npv_high), max(self.npv_low, self.npv_high)

    def as_dict(self) -> dict[str, Any]:
        """Stable keys, None for blank."""
        return fields_of(self)


def ranges(comparison: Comparison, technique: str) -> tuple[Swing, ...]:
    """NPV of one compared technique over the range of each figure that it rests on, and of all together.

    The take, the mature crop and both crown curves go to their `low` and `high`; the price moves 20 % down
    and up; trees and start stay. A figure whose low and high are its value is left out. The last swing,
    `together`, takes the figures in turn to whichever end lowers the NPV, then to whichever raises it. Raises
    KeyError for a technique that is not among the outcomes.

    Example:
        >>> from renovation.decide import compare
        >>> from renovation.inputs import demo_scenario
        >>> swings = ranges(compare(demo_scenario(), techniques=["side_graft"]), "side_graft")
        >>> [swing.driver for swing in swings]
        ['take', 'mature_crop', 'new_crown', 'old_crown', 'price_per_kg', 'together']
        >>> swings[-1].npv_low < min(swing.span[0] for swing in swings[:-1])
        True
    """
    treatment = comparison.outcomes[technique].treatment
    scenario = comparison.scenario
    left_alone: dict[Market, Flows] = {}

    @cache
    def npv(*changes: Change | None) -> float | None:
        changed = scenario
        for change in changes:
            if change is None:
                return None
            changed = change(changed)
        # a figure of the way moves nothing of the farm without it, unless trees under way were treated so
        if scenario.under_way or changed.market not in left_alone:
            left_alone[changed.market] = farm_left_alone(changed)
        flows = farm_flows(changed, [treatment], left_alone[changed.market])
        return float(worth_of_change(scenario, flows.with_plan.economic, flows.without.economic))

    moves = _moves(scenario, technique)
    swings = [
        Swing(driver.name, plain(driver.low), plain(driver.high), npv(to_low), npv(to_high))
        for driver, to_low, to_high in moves
    ]
    ends = [(swing, changes) for swing, (_, *changes) in zip(swings, moves, strict=True)]
    return (*swings, Swing("together", None, None, _furthest(npv, ends, -1), _furthest(npv, ends, 1)))


def _furthest(
    npv: Callable[..., float | None], ends: Sequence[tuple[Swing, Sequence[Change | None]]], sign: int
) -> float | None:
    """The lowest (sign −1) or highest (sign 1) NPV that the figures reach together; None where none is sound.

    They are taken in turn, the one that alone moves the NPV furthest first. Each goes to its low or its high, or
    stays, whichever moves it further from where the ones before have brought it: what is good alone may be bad
    beside others.
    """

    def far(value: float | None) -> float:
        return -math.inf if value is None else sign * value

    def alone(end: tuple[Swing, Sequence[Change | None]]) -> float:
        return max(far(end[0].npv_low), far(end[0].npv_high))

    chosen: tuple[Change | None, ...] = ()
    reached = npv()
    for _, changes in sorted(ends, key=alone, reverse=True):
        for tried in [(*chosen, change) for change in changes]:
            value = npv(*tried)
            if far(value) > far(reached):
                chosen, reached = tried, value
    return reached


Move = tuple[Driver, Change | None, Change | None]


def _moves(scenario: Scenario, key: str) -> list[Move]:
    """Each driver with the two changes that bring it to its ends."""
    technique = scenario.techniques[key]
    own = {driver.name: driver for driver in of_technique(technique, key)}
    moved = [own[name] for name in FIGURES if name in own]
    kept = [driver for driver in moved if not driver.fixed and not _without_effect(technique, driver.name)]
    moves = [
        (driver, to_end(scenario, key, driver, driver.low), to_end(scenario, key, driver, driver.high))
        for driver in kept
    ]
    farm = price(scenario)
    return [*moves, (farm, farm.to(farm.low), farm.to(farm.high))]


def _without_effect(technique: Technique, name: str) -> bool:
    """Without a mature crop the new crown's curve moves nothing."""
    return name == NEW_CROWN and technique.mature_crop.high == 0


def to_end(scenario: Scenario, key: str, driver: Driver, end: Any) -> Change | None:
    """The change that puts a figure of one technique at an end; None where the technique refuses it."""
    return driver.to(end) if _sound(driver.put(scenario, end).techniques[key]) else None


@lru_cache(maxsize=512)
def _sound(technique: Technique) -> bool:
    """Whether a technique with a figure moved is one that a file could state."""
    try:
        Technique.model_validate(technique.model_dump())
    except ValidationError:
        return False
    return True
