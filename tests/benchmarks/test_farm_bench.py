"""Speed of tree, farm and comparison; run by the command in DEVELOPERS.md, never as a test."""

from statistics import median

import numpy as np
import pytest
from benchmarks.timing import processor_seconds

from renovation.decide import compare
from renovation.farm import farm_flows, setting_of
from renovation.inputs import demo_scenario
from renovation.tree import profile

SIX = ("side_graft", "basal_shoot_graft", "rooted_cutting", "grafted_seedling", "air_layer", "hard_pruning")
ROUNDS, WARM = 60, 3


@pytest.fixture(scope="module")
def farm():
    """The demo farm over 25 years."""
    scenario = demo_scenario()
    assert scenario.appraisal.horizon_years == 25
    return scenario


def everything(farm):
    """Six ways compared, and every number of each asked for."""
    result = compare(farm, techniques=SIX)
    for way in result.outcomes.values():
        assert way.measures.npv == way.npv
        assert way.per_tree.npv != way.npv
        assert len(way.crop_by_year) == farm.appraisal.horizon_years
        assert way.return_per_day is not None
        assert way.return_per_family_day is not None
        assert way.break_even.price_per_kg is not None
        assert way.break_even.take is not None
        assert way.most_money_out[0] <= 0
    assert result.ties is not None
    assert result.best in SIX
    return result


def others(farm, number):
    """The same farm with trees that nobody has asked about before."""
    for one in range(number):
        declining = farm.stands[0].model_copy(update={"decline_per_year": 0.02 + one / 10_000})
        yield farm.model_copy(update={"stands": (declining, *farm.stands[1:])})


def test_comparison_of_six_techniques_over_25_years(benchmark, farm):
    """Every measure, break-even value and tie of a farm never seen before; the aim is 10 ms of the processor.

    Beside it the same farm asked again, whose trees are remembered.
    """
    farms = others(farm, ROUNDS + WARM)
    for _ in range(WARM):
        everything(next(farms))
    times = []

    def timed(one):
        times.append(processor_seconds(lambda: everything(one)))

    benchmark.pedantic(timed, setup=lambda: ((next(farms),), {}), rounds=ROUNDS)
    again = [processor_seconds(lambda: everything(farm)) for _ in range(ROUNDS)]
    new, least, known = (1e3 * found for found in (median(times), min(times), median(again)))
    benchmark.extra_info.update(processor_ms=round(new, 1), least_ms=round(least, 1), again_ms=round(known, 1))
    print(f"\nsix ways of a new farm {new:.1f} ms of the processor ({least:.1f} at best), again {known:.1f} ms")
    assert known < new


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
