"""Ranges: each end worked out again through a changed scenario, and identities."""

import pytest
from factories import figure, scenario, some_plain, technique_data
from farm_files import MOST
from hypothesis import given, settings
from hypothesis import strategies as st

from renovation.decide import compare, ranges, weigh
from renovation.inputs import Scenario, demo_names, demo_scenario


def by_driver(comparison, technique):
    return {swing.driver: swing for swing in ranges(comparison, technique)}


def weighed(comparison, technique, farm):
    """NPV of the same trees from the same start on a changed farm, by the comparison's own road."""
    start = comparison.outcomes[technique].start
    return weigh(farm, comparison.stand, comparison.trees, technique, start).measures.npv


def with_figures(farm: Scenario, technique: str, **ends: str) -> Scenario:
    """The farm with figures of one technique at an end of their range, through plain data."""
    data = farm.model_dump()
    table = data["techniques"][technique]
    for name, end in ends.items():
        target = table["old_crown"]["curve"] if name == "old_crown" else table[name]
        target["value"] = target[end]
    return Scenario.model_validate(data)


@pytest.mark.parametrize("name", some_plain(demo_names(), MOST))
def test_each_end_is_the_answer_of_a_scenario_that_states_it(name):
    comparison = compare(demo_scenario(name))
    key = comparison.headline
    for driver, swing in by_driver(comparison, key).items():
        for end in ("low", "high"):
            npv = swing.npv_low if end == "low" else swing.npv_high
            if driver in ("take", "mature_crop", "new_crown", "old_crown"):
                farm = with_figures(comparison.scenario, key, **{driver: end})
                assert npv == pytest.approx(weighed(comparison, key, farm))


@settings(max_examples=25)
@given(st.floats(0.5, 9), st.floats(0.1, 3))
def test_the_price_moves_the_answer_as_far_up_as_down(price, crop):
    """NPV is linear in the price, so that a fifth less and a fifth more lie equally far from it."""
    market = {"price_per_kg": price, "season": {"shares": (1 / 12,) * 12}}
    comparison = compare(scenario({"way_a": technique_data(mature_crop=figure(crop, "kg/tree/year"))}, market=market))
    swing = by_driver(comparison, "way_a")["price_per_kg"]
    middle = comparison.outcomes["way_a"].measures.npv
    assert (swing.low, swing.high) == pytest.approx((0.8 * price, 1.2 * price))
    assert swing.npv_low + swing.npv_high == pytest.approx(2 * middle, abs=1e-9)


def test_a_price_of_wet_beans_moves_as_one_of_dry_beans():
    season = {"shares": (1 / 12,) * 12}
    dry = {"price_per_kg": 4.0, "season": season}
    wet = {"wet_beans": {"price_per_kg": 1.0, "dry_per_wet": 0.25}, "season": season}
    ways = {"way_a": technique_data(mature_crop=figure(2.0, "kg/tree/year"))}
    of_dry, of_wet = (
        by_driver(compare(scenario(ways, market=market)), "way_a")["price_per_kg"] for market in (dry, wet)
    )
    assert of_dry.as_dict() == pytest.approx(of_wet.as_dict())


def test_all_together_is_worse_than_any_alone_and_better_than_any_alone():
    comparison = compare(demo_scenario())
    for key in comparison.outcomes:
        *alone, together = ranges(comparison, key)
        assert together.driver == "together"
        assert together.npv_low <= min(swing.span[0] for swing in alone) + 1e-9
        assert together.npv_high >= max(swing.span[1] for swing in alone) - 1e-9


def test_a_driver_whose_low_is_the_good_end_joins_the_other_side():
    """Leaving the old crown longer (its high) loses money here, where the old tree costs more than it brings."""
    ways = {
        "way_a": technique_data(
            old_crown={
                "anchor": "established",
                "curve": figure(((24.0, 0.0),), "months, share", ((0.0, 0.0),), ((60.0, 0.0),)),
            }
        )
    }
    costly = {"name": "Lower field", "trees": 10, "crop_per_tree": 0.1, "decline_per_year": 0.0, "upkeep_days": 1.0}
    comparison = compare(scenario(ways, stands=(costly,)))
    swings = by_driver(comparison, "way_a")
    old = swings["old_crown"]
    assert old.npv_low > old.npv_high
    expected = with_figures(comparison.scenario, "way_a", old_crown="high").changed(market__price_per_kg=3.2)
    assert swings["together"].npv_low == pytest.approx(weighed(comparison, "way_a", expected))


def test_a_take_above_one_is_refused_and_not_clipped():
    ways = {
        "way_a": technique_data(
            take=figure((0.5,), "share by project year", (0.4,), (0.9,)),
            attempts=figure(2, "attempts"),
            attempt_factor=figure((1.0, 1.5), "factor by attempt"),
        )
    }
    swing = by_driver(compare(scenario(ways)), "way_a")["take"]
    assert swing.npv_low is not None
    assert swing.npv_high is None
    assert swing.span is None
    assert swing.width == 0


def test_what_cannot_move_is_left_out():
    fixed = scenario({"way_a": technique_data()})  # every low and high is its value
    assert list(by_driver(compare(fixed), "way_a")) == ["price_per_kg", "together"]
    pruned = compare(demo_scenario(), techniques=["hard_pruning"])
    assert "take" not in by_driver(pruned, "hard_pruning")
    assert "new_crown" not in by_driver(pruned, "hard_pruning")


def test_an_unknown_way_is_refused():
    with pytest.raises(KeyError):
        ranges(compare(demo_scenario()), "no_such_way")
