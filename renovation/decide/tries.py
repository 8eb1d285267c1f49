"""Moving how many tries there are, or the months between them: those made on trees under way are facts (method §11)."""

from collections.abc import Callable
from typing import Any

from renovation.farm.standing import months_of_tries
from renovation.inputs import Scenario, UnderWay, month_count, year_month

Put = Callable[[Scenario, Any], Scenario]


def with_facts_kept(put: Put, key: str, field: str) -> Put:
    """A setter of a way's `attempts` or `gap_months` that keeps the tries made so far, in the months that they had."""

    def kept(scenario: Scenario, value: Any) -> Scenario:
        begun = [entry for entry in scenario.under_way if entry.technique == key and entry.taken]
        if not begun:
            return put(scenario, value)
        entries = tuple(_dated(scenario, entry) if entry in begun else entry for entry in scenario.under_way)
        least = max(len(entry.taken) for entry in begun) if field == "attempts" else value
        return put(scenario.model_copy(update={"under_way": entries}), max(value, least))

    return kept


def _dated(scenario: Scenario, entry: UnderWay) -> UnderWay:
    """Trees under way with the months of their tries written out."""
    first = month_count(scenario.appraisal.start)
    return entry.model_copy(update={"tried": tuple(year_month(first + m) for m in months_of_tries(scenario, entry))})
