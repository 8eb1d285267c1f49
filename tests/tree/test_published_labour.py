"""The published labour of a replanting, carried through one tree's profile by month."""

import csv
from importlib import resources
from typing import Any

import numpy as np
import pytest
from factories import figure, operation

from renovation.farm import by_year
from renovation.inputs import Stand, Technique, default_supplies, default_technique
from renovation.tree import Setting, profile

TREES_A_HECTARE = 1050
WAGE_COP = 30_000
# Growers' federation technical unit, Santander, Colombia: days a hectare and wage bills, years 1–5 and 6–15
PRINTED_DAYS = [211, 82, 77, 75, 74] + [70] * 10
PRINTED_COP = [6_330_000, 2_460_000, 2_310_000, 2_250_000, 2_220_000] + [2_100_000] * 10
HARVEST_DAYS = [0, 8, 14, 20, 28]  # cocoa harvest and processing, the last holding
PLANTAIN_DAYS_AFTER_YEAR_4 = 8  # plantain crop protection goes on
REPLACING_DAYS = [10, 2, 1]


def as_published() -> Technique:
    """The default grafted seedling with what the table has and the default does otherwise.

    The table has no felling; it counts the days of replacing dead plants, where the default plants anew those
    that failed; it goes on with plantain; it counts harvest by the year, the default by the kg (here 1 kg a tree).
    """
    data: dict[str, Any] = default_technique("grafted_seedling").model_dump()
    operations = {key: op for key, op in data["operations"].items() if key != "fell_old_tree"}
    for year, days in enumerate(REPLACING_DAYS):
        operations[f"replace_{year + 1}"] = operation(month=12 * year + 6, days=days / TREES_A_HECTARE)
    plantain = {
        "first_month": 48,
        "last_month": 179,
        "income": figure(0.0, "USD/place/month"),
        "days": figure(PLANTAIN_DAYS_AFTER_YEAR_4 / 12 / TREES_A_HECTARE, "person-days/place/month"),
    }
    by_year_of_age = [(12 * y + m, days / 28) for y, days in enumerate(HARVEST_DAYS) for m in (0, 11)]
    changes = {
        "operations": operations,
        "intercrop": (*data["intercrop"], plantain),
        "attempts": figure(1, "attempts"),
        "take": figure((1.0,), "share by project year"),
        "mature_crop": figure(1.0, "kg/tree/year"),
        "new_crown": figure(tuple(by_year_of_age), "months, share"),
    }
    return Technique.model_validate(data | changes)


def test_one_tree_times_a_hectare_works_the_printed_days() -> None:
    bare = Stand(name="Bare", trees=1, crop_per_tree=0.0, decline_per_year=0.0, upkeep_days=0.0)
    setting = Setting(180, np.full(180, 1 / 12), harvest_days_per_kg=28 / TREES_A_HECTARE, start_calendar_month=1)
    tree = profile(as_published(), bare, default_supplies(), setting, [0])
    days = by_year(tree.days[0]) * TREES_A_HECTARE
    assert days == pytest.approx(PRINTED_DAYS, abs=1e-3)
    assert days * WAGE_COP == pytest.approx(PRINTED_COP, abs=30)  # a thousandth of a day


def test_the_lines_written_here_are_those_of_the_table() -> None:
    path = resources.files("renovation.defaults").joinpath("labour_replanting_santander.csv")
    with path.open(encoding="utf-8") as file:
        rows = {row["operation"]: row for row in csv.DictReader(file)}

    def line(name: str) -> list[int]:
        return [int(rows[name][f"year_{y}"]) for y in range(1, 7)]

    assert line("cocoa harvest and processing") == [*HARVEST_DAYS, HARVEST_DAYS[-1]]
    assert line("replacing dead plants") == [*REPLACING_DAYS, 0, 0, 0]
    assert line("plantain crop protection")[4:] == [PLANTAIN_DAYS_AFTER_YEAR_4] * 2
