"""What an answer rests on: the same technique again with chosen figures at the ends of their ranges.

One figure at a time, then all together at their bad and at their good ends (ADB Guidelines for the Economic
Analysis of Projects: adverse changes, one at a time and combined).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from renovation.decide.compare import Comparison
from renovation.farm import by_year, farm_flows
from renovation.inputs import Figure, FrozenDict, Scenario, Technique
from renovation.money import net_present_value

PRICE_SWING = 0.20
"""The price moves by this share of itself, down and up: common practice, no source."""

FIGURES = ("take", "mature_crop", "new_crown", "old_crown")
"""The technique's figures that are moved, each to its own low and high."""


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
        if self.npv_low is None or self.npv_high is None:
            return 0.0
        return abs(self.npv_high - self.npv_low)

    @property
    def span(self) -> tuple[float, float] | None:
        """The lower and the higher NPV, whichever end gives them; None where one is refused."""
        if self.npv_low is None or self.npv_high is None:
            return None
        return min(self.npv_low, self.npv_high), max(self.npv_low, self.npv_high)

    def as_dict(self) -> dict[str, Any]:
        """Stable keys, None for blank."""
        ends = {"low": self.low, "high": self.high}
        stated = {name: list(end) if isinstance(end, tuple) else end for name, end in ends.items()}
        return {"driver": self.driver, **stated, "npv_low": self.npv_low, "npv_high": self.npv_high}


Change = Callable[[Scenario], Scenario]


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

    def npv(*changes: Change | None) -> float | None:
        changed = scenario
        for change in changes:
            if change is None:
                return None
            changed = change(changed)
        flow = by_year(farm_flows(changed, [treatment]).economic_change)
        return float(net_present_value(flow, scenario.appraisal.discount_rate))

    moves = _moves(scenario, technique)
    swings = [Swing(name, low, high, npv(to_low), npv(to_high)) for name, low, high, to_low, to_high in moves]
    ends = [(swing, move[-2:]) for swing, move in zip(swings, moves, strict=True)]
    return (*swings, Swing("together", None, None, _furthest(npv, ends, -1), _furthest(npv, ends, 1)))


def _furthest(
    npv: Callable[..., float | None], ends: list[tuple[Swing, tuple[Change | None, Change | None]]], sign: int
) -> float | None:
    """The lowest (sign −1) or highest (sign 1) NPV that the figures reach together; None where none is sound.

    They are taken in turn, the one that alone moves the NPV furthest first. Each goes to its low or its high, or
    stays, whichever moves it further from where the ones before have brought it: what is good alone may be bad
    beside others.
    """

    def far(value: float | None) -> float:
        return -math.inf if value is None else sign * value

    def alone(end: tuple[Swing, tuple[Change | None, Change | None]]) -> float:
        return max(far(end[0].npv_low), far(end[0].npv_high))

    chosen: tuple[Change | None, ...] = ()
    reached = npv()
    for _, changes in sorted(ends, key=alone, reverse=True):
        for tried in [(*chosen, change) for change in changes]:
            value = npv(*tried)
            if far(value) > far(reached):
                chosen, reached = tried, value
    return reached


End = float | tuple[float, ...] | None
Move = tuple[str, End, End, Change | None, Change | None]


def _moves(scenario: Scenario, key: str) -> list[Move]:
    """Each driver with its two ends and the two changes that bring it there."""
    technique = scenario.techniques[key]
    moves: list[Move] = []
    for name in FIGURES:
        figure: Figure[Any] = technique.old_crown.curve if name == "old_crown" else getattr(technique, name)
        if figure.low == figure.value == figure.high or _without_effect(technique, name):
            continue
        is_curve = name in ("new_crown", "old_crown")
        low: End = None if is_curve else figure.low
        high: End = None if is_curve else figure.high
        to_low, to_high = (_to_end(technique, key, name, end) for end in ("low", "high"))
        moves.append((name, low, high, to_low, to_high))
    price = scenario.market.dry_price_per_kg
    low_price, high_price = price * (1 - PRICE_SWING), price * (1 + PRICE_SWING)
    moves.append(("price_per_kg", low_price, high_price, _price_times(1 - PRICE_SWING), _price_times(1 + PRICE_SWING)))
    return moves


def _without_effect(technique: Technique, name: str) -> bool:
    """A pruning has nothing to take, and without a mature crop the new crown's curve moves nothing."""
    if name == "take":
        return technique.family == "prune"
    return name == "new_crown" and technique.mature_crop.high == 0


def _to_end(technique: Technique, key: str, name: str, end: str) -> Change | None:
    """The change that puts one figure of one technique at its low or high; None where the technique refuses it."""
    if name == "old_crown":
        curve = _moved(technique.old_crown.curve, end)
        update: dict[str, Any] = {"old_crown": technique.old_crown.model_copy(update={"curve": curve})}
    else:
        update = {name: _moved(getattr(technique, name), end)}
    try:
        Technique.model_validate(technique.model_copy(update=update).model_dump())
    except ValidationError:
        return None

    def change(scenario: Scenario) -> Scenario:
        moved = scenario.techniques[key].model_copy(update=update)
        return scenario.model_copy(update={"techniques": FrozenDict({**scenario.techniques, key: moved})})

    return change


def _moved(figure: Figure[Any], end: str) -> Figure[Any]:
    """The figure with its low or high as its value."""
    return figure.model_copy(update={"value": getattr(figure, end)})


def _price_times(factor: float) -> Change:
    """The change that multiplies the price, of dry or of wet beans, as the scenario states it."""

    def change(scenario: Scenario) -> Scenario:
        market = scenario.market
        if market.wet_beans:
            wet = market.wet_beans.model_copy(update={"price_per_kg": market.wet_beans.price_per_kg * factor})
            update: dict[str, Any] = {"wet_beans": wet}
        else:
            update = {"price_per_kg": market.dry_price_per_kg * factor}
        return scenario.model_copy(update={"market": market.model_copy(update=update)})

    return change
