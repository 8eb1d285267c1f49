"""Speed of tree, farm and comparison; run by the command in DEVELOPERS.md, never as a test."""

import numpy as np
import pytest

from renovation.decide import compare
from renovation.farm import farm_flows, setting_of
from renovation.inputs import demo_scenario
from renovation.tree import profile

SIX = ("side_graft", "basal_shoot_graft", "rooted_cutting", "grafted_seedling", "air_layer", "hard_pruning")


@pytest.fixture(scope="module")
def farm():
    """The demo farm over 25 years."""
    scenario = demo_scenario()
    assert scenario.appraisal.horizon_years == 25
    return scenario


def test_comparison_of_six_techniques_over_25_years(benchmark, farm):
    """Every measure, break-even value and tie; the aim is 20 ms."""
    result = benchmark(compare, farm, techniques=SIX)
    assert len(result.outcomes) == len(SIX)


def test_flows_of_the_whole_plan(benchmark, farm):
    """The demo farm with and without its stated plan."""
    assert benchmark(farm_flows, farm, farm.plan).treated


def test_one_tree_from_every_start_month(benchmark, farm):
    """The profile of a side graft from all 300 start months at once."""
    setting = setting_of(farm)
    technique = farm.techniques["side_graft"]
    starts = np.arange(setting.months)
    tree = benchmark(profile, technique, farm.stands[0], farm.supplies, setting, starts)
    assert tree.days.shape == (setting.months, setting.months)
