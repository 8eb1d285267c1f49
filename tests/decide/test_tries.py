"""Tries made on trees under way stay where they are when their number, or their gap, is moved for trees to come."""

import pytest

from renovation.decide import compare
from renovation.decide.drivers import of_technique
from renovation.decide.risk import sensitivity
from renovation.inputs import demo_scenario

FARM = demo_scenario("third_year")


def test_tries_made_are_facts_whatever_number_or_gap_is_tried():
    puts = {one.name: one.put for one in of_technique(FARM.techniques["side_graft"], "side_graft")}
    fewer, wider = puts["attempts"](FARM, 3), puts["gap_months"](FARM, 6)
    assert fewer.techniques["side_graft"].attempts.value == 5  # as many as were made on the first 72 trees
    assert wider.techniques["side_graft"].gap_months.value == 6
    for moved in (fewer, wider):
        assert moved.under_way[0].tried == ("2025-04", "2025-07", "2025-10", "2026-01", "2026-04")
        assert moved.under_way[2] == FARM.under_way[2]


def test_every_figure_of_a_farm_with_trees_under_way_can_be_moved():
    comparison = compare(FARM)
    bars = {bar.driver: bar for bar in sensitivity(comparison, "side_graft").bars}
    assert bars["attempts"].npv_low == pytest.approx(comparison.outcomes["side_graft"].measures.npv)
    assert bars["gap_months"].npv_low != bars["gap_months"].npv_high
