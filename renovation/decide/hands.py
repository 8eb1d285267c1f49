"""Beginning and practised hands: the comparison after practice, and the take at which its answer turns (method §§3, 5).

A way's take by project year begins with hands that begin and ends with practised ones, its last entry holding from
then on. What begins with few living grafts in its first seasons is weighed too low beside what practised hands would
make of it, and a family that has never grafted is told too much by these alone: so both are asked.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import Any

import numpy as np

from renovation.decide.belief import practice_of
from renovation.decide.plain import fields_of
from renovation.decide.switching import TakeCurve
from renovation.inputs import FrozenDict, Scenario, Technique
from renovation.money import sample_points
from renovation.money.switching import switching_values_many

NEAR = 1e-9
"""Takes nearer than this are one."""
MANY_GRAFTS = 10_000_000
"""The most grafts that may be stated as made before a season: what practice comes to after them it comes to."""


@dataclass(frozen=True)
class Turn:
    """A take of all grafts at which another way becomes the one worth most.

    take: share, the same in every season and every try. below, above: the way worth most on either side; None where
    leaving the farm as it is is.
    """

    take: float
    below: str | None
    above: str | None

    def as_dict(self) -> dict[str, Any]:
        """Stable keys; None stands for leaving the farm as it is."""
        return fields_of(self)


def practised(scenario: Scenario) -> Scenario:
    """The scenario with hands that have practised: one take of each way from the first year on, `take_after_practice`.

    The scenario itself where no take changes by it.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> farm = demo_scenario("first_grafters")
        >>> farm.techniques["side_graft"].take.value, practised(farm).techniques["side_graft"].take.value
        ((0.25, 0.75), (0.75,))
    """
    techniques = dict(scenario.techniques)
    for key, technique in scenario.techniques.items():
        take, after = technique.take, take_after_practice(scenario, key)
        if set(take.value) != {after}:
            ends = {"low": (min(take.low[-1], after),), "value": (after,), "high": (max(take.high[-1], after),)}
            techniques[key] = technique.model_copy(update={"take": take.model_copy(update=ends)})
    if all(techniques[key] is technique for key, technique in scenario.techniques.items()):
        return scenario
    return scenario.model_copy(update={"techniques": FrozenDict(techniques)})


def take_after_practice(scenario: Scenario, key: str) -> float:
    """The take of a way by practised hands: the last of its takes by project year, whose defaults are published.

    Where the scenario states how hands learn it is, for the ways that learn, what the curve or the table comes to, by
    what is held of it once grafts were counted.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> take_after_practice(demo_scenario("cooperative_nursery"), "side_graft")
        0.72
    """
    practice = practice_of(scenario, scenario.planning)
    if practice is not None and key in practice.learners:
        return practice.take(MANY_GRAFTS)
    return scenario.techniques[key].take.value[-1]


def months_tried(technique: Technique, start: int, horizon_months: int) -> tuple[int, ...]:
    """Project months of the tries on a tree begun in month `start`, those within the horizon (method §3).

    a_j = s + (j − 1)·gap: only the start keeps to the way's calendar months. A later try falls a gap after the one
    before, in whatever month that is, and with the take of the project year it falls in.

    Example:
        >>> from renovation.inputs import default_technique
        >>> months_tried(default_technique("side_graft"), 2, 300)
        (2, 5, 8, 11, 14)
    """
    gap = technique.gap_months.value
    return tuple(range(start, min(horizon_months, start + gap * technique.attempts.value), gap))


def turns(worth: Mapping[str, float], curves: Mapping[str, TakeCurve]) -> tuple[Turn, ...]:
    """The takes at which another way becomes the one worth most, ascending; all grafts take alike (method §5).

    worth: NPV of each way as stated, beside leaving the farm as it is, which is worth 0. curves: NPV by take of
    the ways whose take moves; the others stay as they are. Each NPV is a polynomial in the take: the ways that are
    worth most can change only where two of them tie, so the ties are found and what lies between them is looked at.

    Example (a way that stays at 2, and one whose worth rises from −1 by 4 with the take):
        >>> curve = TakeCurve(1.0, np.array([0.0, 1.0]), np.array([-1.0, 3.0]))
        >>> [turn] = turns({"plant": 2.0, "graft": 0.0}, {"graft": curve})
        >>> round(turn.take, 9), turn.below, turn.above
        (0.75, 'plant', 'graft')
    """
    if not curves:
        return ()
    ways = _worth_by_take(worth, curves)
    highest = min(curve.highest for curve in curves.values())
    at = sample_points(0.0, highest, max(curve.takes.size - 1 for curve in curves.values()))
    takes = [take for take in _ties(list(ways.values()), at) if NEAR < take < highest - NEAR]
    borders = [0.0, *_apart(sorted(takes)), highest]
    most = [worth_most(worth, curves, (low + high) / 2) for low, high in pairwise(borders)]
    return tuple(
        Turn(take, below, above)
        for take, (below, above) in zip(borders[1:-1], pairwise(most), strict=True)
        if below != above
    )


def worth_most(worth: Mapping[str, float], curves: Mapping[str, TakeCurve], take: float) -> str | None:
    """The way worth most where all grafts take alike; None where leaving the farm as it is is.

    Example:
        >>> worth_most({"plant": -2.0, "graft": 0.0}, {}, 0.5) is None
        True
    """
    ways = _worth_by_take(worth, curves)
    return max(ways, key=lambda way: ways[way](take))


def _worth_by_take(
    worth: Mapping[str, float], curves: Mapping[str, TakeCurve]
) -> dict[str | None, Callable[[float], float]]:
    """The worth of each way whose take moves, by take, and of the best of those that stay as they are."""
    still, way = max([(0.0, None), *((npv, key) for key, npv in worth.items() if key not in curves)], key=_first)
    return {way: lambda _: still, **{key: curve.at for key, curve in curves.items()}}


def _first(pair: tuple[float, str | None]) -> float:
    return pair[0]


def _ties(ways: Sequence[Callable[[float], float]], at: Any) -> list[float]:
    """Every take at which two of the worths are the same; none of two that are the same at every take."""
    worth = np.array([[way(take) for take in at] for way in ways])
    apart = [one for one in (first - second for first, second in combinations(worth, 2)) if one.any()]
    found = switching_values_many(at, apart, 0.0, float(at.max())) if apart else []
    return [take for takes in found for take in takes]


def _apart(takes: Iterable[float]) -> list[float]:
    """Takes, those that are one given once."""
    kept: list[float] = []
    for take in takes:
        if not kept or take - kept[-1] > NEAR:
            kept.append(take)
    return kept
