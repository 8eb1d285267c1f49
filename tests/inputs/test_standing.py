"""Trees under way and tools owned in a file: in and out again, and no trace where none are stated."""

import pytest
from farm_files import GRAFTED, SMALL

from renovation.inputs import ScenarioError, read_scenario, write_scenario

OWNED = """
[tools_owned]
grafting_knife = 8
"""
MORE = """\
tried = ["2026-05", "2026-09"]
given_up = 2
[[under_way]]
stand = "Lower field"
technique = "rooted_cutting"
trees = 9
start = "2027-05"
"""
BEGUN = OWNED + GRAFTED + MORE


def test_what_stands_comes_back_from_a_file_as_it_was_written():
    farm = read_scenario(SMALL + BEGUN, "begun.toml")
    assert read_scenario(write_scenario(farm), "again.toml") == farm
    assert [entry.waiting for entry in farm.under_way] == [20, 9]
    assert farm.under_way[0].counts == (10, 8, 20, 2)
    assert farm.free_trees("Lower field") == 51


def test_a_farm_at_its_beginning_keeps_its_digest():
    farm = read_scenario(SMALL, "small.toml")
    assert farm.digest == "eeb79367eef9"  # as printed before trees under way could be stated
    assert read_scenario(SMALL + BEGUN, "begun.toml").digest != farm.digest


@pytest.mark.parametrize("line", ["trees = 0", "trees = 9.5", "taken = [-1]", "tried = [2026]", "given_up = true"])
def test_counts_and_months_are_read_strictly(line):
    key = line.partition(" ")[0]
    lines = [line if old.partition(" ")[0] == key else old for old in BEGUN.splitlines()]
    with pytest.raises(ScenarioError):
        read_scenario(SMALL + "\n".join(lines), "begun.toml")
