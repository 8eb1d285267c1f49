"""The farm as its records and its practice have it: what comparison, money, plan and futures are asked of.

A figure of the file gives way to what was counted. The take of a way that learns follows, year by year, from the grafts
made: those on record, and those of the trees that a question begins. The take of another way on record is the mean of
what is held of it; days per tree are those of the file, corrected by the days worked (method §10).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from renovation.decide.belief import Practice, Takes, beliefs_of, practice_of, takes_of_practice
from renovation.decide.learners import learners_of
from renovation.inputs import FrozenDict, Scenario, Technique, Treatment
from renovation.inputs.planning import Planning
from renovation.types import FloatArray

OF_BEFORE = 30
"""Trees that the days per tree held before anything was counted are worth."""


def as_held(scenario: Scenario, treatments: Iterable[Treatment] = ()) -> Scenario:
    """The scenario with the takes and the days that are held when these trees are begun; itself where they are its own.

    Asked again it changes nothing more. It keeps the digest of what was stated. Raises as `takes_of_practice` does.

    Example (of 20 grafts 11 lived, and one of each was held before):
        >>> from renovation.inputs import GraftRecord, demo_scenario
        >>> farm = demo_scenario("few_hands")
        >>> records = (GraftRecord(technique="side_graft", made=20, taken=11),)
        >>> counted = farm.model_copy(update={"planning": farm.planning.model_copy(update={"records": records})})
        >>> [round(share, 3) for share in as_held(counted).techniques["side_graft"].take.value]
        [0.545]
    """
    planning = scenario.planning
    held, practice = with_records(scenario, planning), practice_of(scenario, planning)
    if practice is not None:
        for key, technique in _learned(held, practice, practice.learners, treatments).items():
            held = _with(held, key, technique)
    return _of_the_same_file(held, scenario)


def as_each_begins(scenario: Scenario, treatments: Iterable[Treatment]) -> Scenario:
    """The scenario with the take of each way as these trees of it alone bring it about; else `as_held`."""
    stated, practice = with_records(scenario, scenario.planning), practice_of(scenario, scenario.planning)
    held = as_held(scenario)
    for one in treatments:
        if practice is not None and one.technique in practice.learners:
            held = _with(held, one.technique, _learned(stated, practice, (one.technique,), [one])[one.technique])
    return _of_the_same_file(held, scenario)


def _learned(
    scenario: Scenario, practice: Practice, keys: Iterable[str], treatments: Iterable[Treatment]
) -> dict[str, Technique]:
    """Ways that learn, with the takes that these trees bring about."""
    takes, grafts = takes_of_practice(scenario, practice, begun_of(scenario, practice, treatments))
    before = practice.before + np.concatenate([[0.0], np.cumsum(grafts)[:-1]])[: len(takes)]
    return {key: _taking(scenario.techniques[key], takes, practice, before) for key in keys}


def takes_by_start(scenario: Scenario, key: str, starts: Sequence[int], trees: float) -> FloatArray | None:
    """The takes by project year, (S, H), that so many trees begun in each of these months alone bring about.

    None for a way that does not learn.
    """
    practice = practice_of(scenario, scenario.planning)
    if practice is None or key not in practice.learners:
        return None
    years = scenario.appraisal.horizon_years
    found = [takes_of_practice(scenario, practice, {key: [(start, trees)]})[0] for start in starts]
    return np.array([[*takes, *(takes[-1],) * (years - len(takes))] for takes in found]).reshape(-1, years)


def with_records(scenario: Scenario, planning: Planning) -> Scenario:
    """The scenario with what its records say by themselves: days, and takes of ways that do not learn.

    The equal-tailed 90 % interval becomes the range of a take. Those of ways that learn follow from their practice.
    """
    for one in worked_of(scenario, planning):
        scenario = _with(scenario, one.technique, _working(scenario.techniques[one.technique], one))
    learners = learners_of(scenario, planning.learning)
    for key, belief in beliefs_of(planning).items():
        technique = scenario.techniques.get(key)
        if key in learners or technique is None or technique.family == "prune":
            continue
        low, high = belief.interval()
        counted = {"value": (belief.mean,), "low": (low,), "high": (high,), "source": "counted", "citation": ""}
        scenario = _with(scenario, key, _changed(technique, take=technique.take.model_copy(update=counted)))
    return scenario


@dataclass(frozen=True)
class WorkCounted:
    """Days counted of one operation: on so many trees, held before and now, days per tree."""

    technique: str
    operation: str
    days: float
    trees: int
    before: float

    def corrected(self, days_per_tree: float) -> float:
        """(30·d₀ + Σ days) / (30 + Σ trees)."""
        return (OF_BEFORE * days_per_tree + self.days) / (OF_BEFORE + self.trees)

    @property
    def now(self) -> float:
        """Days per tree held now."""
        return self.corrected(self.before)


def worked_of(scenario: Scenario, planning: Planning) -> tuple[WorkCounted, ...]:
    """Days worked on record, operation by operation of each way.

    Example (d₀ = 0.04 days; 6 days on 60 trees):
        >>> WorkCounted("side_graft", "graft", 6.0, 60, 0.04).now
        0.08
    """
    counted: dict[tuple[str, str], tuple[float, int]] = {}
    for record in planning.records:
        operations = scenario.techniques[record.technique].operations if record.technique in scenario.techniques else {}
        for name, worked in record.work.items():
            if name in operations:
                days, trees = counted.get((record.technique, name), (0.0, 0))
                more = record.worked_on(name, operations[name].anchor)
                counted[record.technique, name] = days + worked.days, trees + more
    return tuple(
        WorkCounted(key, name, *sums, scenario.techniques[key].operations[name].days.value)
        for (key, name), sums in counted.items()
    )


def begun_of(
    scenario: Scenario, practice: Practice, treatments: Iterable[Treatment]
) -> dict[str, list[tuple[int, float]]]:
    """Trees begun with the ways that learn: project month and number."""
    begun: dict[str, list[tuple[int, float]]] = {}
    for one in treatments:
        if one.trees and one.technique in practice.learners:
            begun.setdefault(one.technique, []).append((scenario.month_of(one.start), float(one.trees)))
    return begun


def _taking(technique: Technique, takes: Takes, practice: Practice, before: FloatArray) -> Technique:
    """A way with the takes of its practice, after so many grafts; the range is the counted hands', else widened."""
    take = technique.take
    if takes == take.value:
        return technique
    if practice.held is None:
        last = max(len(takes), len(take.low), len(take.high))
        rows = [(*row, *(row[-1],) * (last - len(row))) for row in (takes, take.low, take.high)]
        low, high = (tuple(map(end, zip(*rows, strict=True))) for end in (min, max))
    else:
        low, high = zip(*(practice.held.belief(float(grafts)).interval() for grafts in before), strict=True)
    update = {"value": takes, "low": low, "high": high, "source": "own", "citation": ""}
    return _changed(technique, take=take.model_copy(update=update))


def _working(technique: Technique, counted: WorkCounted) -> Technique:
    """A way with the days that were counted; what is counted already stays as it is."""
    operation = technique.operations[counted.operation]
    days = operation.days
    if days.source == "counted":
        return technique
    ends = {end: counted.corrected(getattr(days, end)) for end in ("low", "value", "high")}
    figure = days.model_copy(update={**ends, "source": "counted", "citation": ""})
    changed = operation.model_copy(update={"days": figure})
    return _changed(technique, operations=FrozenDict({**technique.operations, counted.operation: changed}))


def _with(scenario: Scenario, key: str, technique: Technique) -> Scenario:
    """The scenario with one way changed; itself where it is not."""
    if technique is scenario.techniques[key]:
        return scenario
    return scenario.model_copy(update={"techniques": FrozenDict({**scenario.techniques, key: technique})})


def _changed(technique: Technique, **update: Any) -> Technique:
    return technique.model_copy(update=update)


def _of_the_same_file(held: Scenario, stated: Scenario) -> Scenario:
    """A scenario that follows from what was stated carries its digest."""
    return held if held is stated else held.known_as(stated)
