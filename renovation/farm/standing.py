"""What stands already: trees under way, on both sides of every comparison (method §11).

    Σ_i n_i·E_i(t) + w·R(t) + g·G(t),   t ≥ 0

for each entry of the scenario; the profiles are those of `renovation.tree.under_way`. Tools owned spare their purchase.
"""

from dataclasses import dataclass

from renovation.inputs import Scenario, Technique, UnderWay
from renovation.tree import Profile, Setting, under_way, weighted


@dataclass(frozen=True)
class Begun:
    """Trees under way of one entry: `tree` is all of them together, one row."""

    entry: UnderWay
    technique: Technique
    tree: Profile


def months_of_tries(scenario: Scenario, entry: UnderWay) -> list[int]:
    """Project months of the tries made so far, before 0: as stated, else a gap apart from the start on.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> entry = UnderWay(stand="A", technique="side_graft", trees=9, start="2026-03", taken=(2, 1))
        >>> months_of_tries(demo_scenario().changed(appraisal__start="2027-01"), entry)
        [-10, -7]
    """
    if entry.tried:
        return [scenario.month_of(month) for month in entry.tried]
    start, gap = scenario.month_of(entry.start), scenario.techniques[entry.technique].gap_months.value
    return [start + number * gap for number in range(len(entry.taken))]


def trees_under_way(scenario: Scenario, setting: Setting, now: int = 0) -> tuple[Begun, ...]:
    """Every entry of trees under way with its trees by month; the numbers of trees need not be whole.

    now: the month up to which their tries were counted.

    Example:
        >>> from renovation.farm import setting_of
        >>> from renovation.inputs import demo_scenario
        >>> trees_under_way(demo_scenario(), setting_of(demo_scenario()))
        ()
    """
    found = []
    for entry in scenario.under_way:
        technique = scenario.techniques[entry.technique]
        rows = under_way(
            technique,
            scenario.stand(entry.stand),
            scenario.supplies,
            setting,
            scenario.month_of(entry.start),
            months_of_tries(scenario, entry),
            now=now,
        )
        found.append(Begun(entry, technique, weighted(rows, entry.counts)))
    return tuple(found)
