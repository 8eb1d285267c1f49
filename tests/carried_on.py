"""A farm whose plan was followed for a year just as expected, carried on by the product: the identity of method §11."""

from collections import defaultdict
from typing import Any

import numpy as np

from renovation.decide.next_year import carry_on
from renovation.farm.standing import months_of_tries
from renovation.inputs import Cohort, Scenario, SeasonRecord, Try, UnderWay
from renovation.tree import Attempts, attempts, attempts_under_way

YEAR = 12


def a_year_on(scenario: Scenario) -> Scenario:
    """The scenario that starts twelve months later, with expected counts of trees under way (not whole).

    Its plan was followed, nothing else was recorded.
    """
    carried = carry_on(scenario, as_expected(scenario))
    tables = {**carried.tables, "planning": scenario.planning.model_dump()}  # whose records are of whole grafts
    new = Scenario.model_validate({**tables, "plan": (), "under_way": ()})
    household = new.household.model_copy(update={"savings": carried.savings})
    found = new.model_copy(update={"plan": carried.plan, "under_way": carried.under_way, "household": household})
    vars(found)["digest"] = "of no file"  # which holds whole trees
    return found


def as_expected(scenario: Scenario) -> SeasonRecord:
    """The record of a season in which every planned start was made and every try took as expected."""
    begun: dict[tuple[str, str, str], int] = defaultdict(int)
    for entry in scenario.plan:
        first = min(0, scenario.techniques[entry.technique].earliest_month)
        if entry.trees and scenario.month_of(entry.start) + first < YEAR:
            begun[entry.stand, entry.technique, entry.start] += entry.trees
    cohorts = [_cohort(scenario, *names, trees) for names, trees in begun.items()]
    cohorts += [_tried_on(scenario, entry) for entry in scenario.under_way if entry.waiting]
    return SeasonRecord.model_construct(season=scenario.appraisal.start, cohorts=tuple(cohorts))


def _cohort(scenario: Scenario, stand: str, key: str, start: str, trees: int) -> Cohort:
    """Expected counts by try, of the tries made within the year."""
    names: dict[str, Any] = {"stand": stand, "technique": key, "start": start}
    month, appraisal = scenario.month_of(start), scenario.appraisal
    if month >= YEAR:
        return Cohort.model_construct(**names, prepared=trees)
    first, calendar = np.array([month]), appraisal.start_calendar_month
    tries = attempts(scenario.techniques[key], first, appraisal.months, start_calendar_month=calendar)
    return Cohort.model_construct(**names, tries=_tries(tries, 0, 0, trees))


def _tried_on(scenario: Scenario, entry: UnderWay) -> Cohort:
    """Expected counts of the tries made within the year on trees that wait."""
    appraisal, made_in = scenario.appraisal, months_of_tries(scenario, entry)
    tries = attempts_under_way(
        scenario.techniques[entry.technique],
        scenario.month_of(entry.start),
        np.array(made_in, dtype=np.int64),
        appraisal.months,
        start_calendar_month=appraisal.start_calendar_month,
    )
    done = len(made_in)
    names: dict[str, Any] = {"stand": entry.stand, "technique": entry.technique, "start": entry.start}
    return Cohort.model_construct(**names, tries=_tries(tries, done, done, entry.waiting))


def _tries(tries: Attempts, row: int, done: int, trees: float) -> tuple[Try, ...]:
    """Tries of one row of attempts, those made so far left out."""
    counts = zip(tries.month[row].tolist(), tries.made[row].tolist(), tries.succeeds[row].tolist(), strict=True)
    return tuple(
        Try.model_construct(number=number, made=trees * made, taken=trees * took)
        for number, (when, made, took) in enumerate(counts, start=1)
        if number > done and when < YEAR
    )
