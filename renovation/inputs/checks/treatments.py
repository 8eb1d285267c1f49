"""The plan that a farm states: trees that are there, in months that suit."""

import itertools

from renovation.inputs.checks.farm import Farm, Findings
from renovation.inputs.quantities import month_count, problem, year_month
from renovation.inputs.techniques import Technique


def trees(farm: Farm) -> Findings:
    """More trees or empty places than a stand has, a stand to be left untouched, a technique that does not suit it."""
    asked = farm.asked("plan")
    total: dict[tuple[str, str], int] = {}
    for position, entry in farm.entries("plan"):
        name, place = str(entry.get("stand")), ("plan", position)
        stand = farm.stands.get(name)
        if stand is None:
            continue
        if stand.get("untouched") is True:
            yield (*place, "stand"), problem("untouched_in_plan", found=f'"{name}"')
        key, suited = entry.get("technique"), stand.get("techniques")
        if suited is not None and key in farm.techniques and key not in suited:
            facts = {"stand": name, "choices": tuple(map(str, suited))}
            yield (*place, "technique"), problem("technique_not_for_stand", found=f'"{key}"', **facts)
        works_on = farm.works_on(key)
        plot = name, works_on
        before, there = total.get(plot, 0), farm.free(name, works_on)
        total[plot] = before + (entry.get("trees") or 0)
        if there is not None and before <= there < total[plot]:
            most = {"stand": name, "most": there}
            code = "too_many_treated" if works_on == "trees" else "too_many_planted"
            code = f"{code}_beside" if farm.under_way.get(plot) else code
            yield (*place, "trees"), problem(code, found=str(asked[plot]), **most)


def starts(farm: Farm) -> Findings:
    """A start outside the years looked at, in a month that does not suit, or too early for its nursery."""
    for position, entry in farm.entries("plan"):
        key, written, place = entry.get("technique"), entry.get("start"), ("plan", position, "start")
        if written is None or farm.start is None or farm.end is None:
            continue
        start = month_count(written)
        if not farm.start <= start < farm.end:
            yield from farm.outside(place, start)
            continue
        technique = farm.technique(key) if key is not None and key in farm.techniques else None
        if technique is None:
            continue
        months = technique.start_months
        if start % 12 + 1 not in months:
            facts = {"technique": key, "months": tuple(sorted(set(months)))}
            yield place, problem("not_a_start_month", found=f'"{written}"', **facts)
        short = farm.start - start - technique.earliest_month
        if short > 0:
            facts = {"technique": key, "n": short, "first": year_month(_first_in_season(technique, start + short))}
            yield place, problem("nursery_before_start", found=f'"{written}"', **facts)


def _first_in_season(technique: Technique, month: int) -> int:
    """The first month from this one on in which work on a tree may start."""
    return next(later for later in itertools.count(month) if later % 12 + 1 in technique.start_months)


CHECKS = (trees, starts)
