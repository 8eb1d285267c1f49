"""The work of the plan month by month: which operation, how many days, and whether the hands are there."""

import numpy as np

from renovation.farm import Labour
from renovation.inputs import Scenario
from renovation.show.grid import Table, columns, month_cell
from renovation.show.voice import LEAST_DAYS, Voice
from renovation.words import Words

FIRST_YEARS = 3
"""Years of the plan whose work is laid out month by month."""
EVERY_YEAR = ("upkeep", "harvest")
"""Work that the farm has without a plan."""


def first_work(labour: Labour) -> int:
    """Project month of the plan's first work; 0 where there is none.

    Example:
        >>> from renovation.farm import farm_flows, labour_by_month
        >>> from renovation.inputs import demo_scenario
        >>> s = demo_scenario()
        >>> labour = labour_by_month(s, farm_flows(s, s.plan))
        >>> labour.months[first_work(labour)]
        '2027-04'
    """
    begins = [int(np.argmax(days > 0)) for kind, days in labour.work.items() if kind not in EVERY_YEAR and days.any()]
    return min(begins, default=0)


def planned_kinds(labour: Labour, first: int, months: int) -> list[str]:
    """Kinds of work that come with the plan and fall in these months, in the order in which they begin."""
    span = {kind: days[first : first + months] for kind, days in labour.work.items() if kind not in EVERY_YEAR}
    begun = {kind: int(np.argmax(days > 0)) for kind, days in span.items() if days.max(initial=0.0) > 0}
    return sorted(begun, key=lambda kind: (begun[kind], kind))


def planned_years(labour: Labour) -> list[int]:
    """Project years, from 1, in which the plan brings work of its own."""
    years = range(1, labour.days.size // 12 + 1)
    return [year for year in years if planned_kinds(labour, 12 * (year - 1), 12)]


def work_calendar(labour: Labour, scenario: Scenario, year: int, words: Words) -> Table:
    """Each month of a project year with work of the plan: what is done, all days, family days, hired, too few."""
    voice = Voice.of(scenario, words)
    first = 12 * (year - 1)
    until = first + 12
    kinds = planned_kinds(labour, first, until - first)
    rows = []
    for month in range(first, until):
        done = {kind: float(labour.work[kind][month]) for kind in kinds if labour.work[kind][month] >= LEAST_DAYS}
        if not done:
            continue
        told = [
            words("cash.calendar.work", work=voice.work(kind), days=voice.days(days)) for kind, days in done.items()
        ]
        hands = (labour.days, labour.family_days_available, labour.hired_days, labour.short_days)
        rows.append(
            (
                month_cell(labour.months[month], words),
                "; ".join(told),
                *(words.number(float(series[month]), 1) for series in hands[:3]),
                words("cash.calendar.short", days=voice.days(float(labour.short_days[month])))
                if labour.short_days[month] > 0
                else "",
            )
        )
    names = ["month", "done", "all_days", "family", "hired", "note"]
    if not any(row[-1] for row in rows):
        names.pop()
    headed = columns("cash.calendar.column", names, words, ("all_days", "family", "hired"))
    return Table(words("cash.calendar.title"), headed, tuple(row[: len(names)] for row in rows))


__all__ = ["FIRST_YEARS", "first_work", "planned_kinds", "planned_years", "work_calendar"]
