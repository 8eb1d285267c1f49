"""Empty places (method §11): cases for paper, a stand of nothing beside them, and the comparison of their ways."""

import numpy as np
import pytest
from carried_on import YEAR, a_year_on
from factories import figure, operation, scenario, stand, technique_data, use

from renovation.decide import compare, npv_per_tree
from renovation.decide.risk.strategy import lay_out, one_way
from renovation.farm import farm_flows, farm_left_alone, setting_of, trees_under_way
from renovation.inputs import Scenario, Treatment, default_technique, demo_scenario
from renovation.money import net_present_value
from renovation.show.compare.answer import empty_places
from renovation.tree import profile
from renovation.words import Words

MONTHLY = 1 / 12


def planting(**changes):
    """A plant for 2 and a quarter of a day a try; two tries a year apart, half of them living, 2 kg at once."""
    dug = operation("attempt", 0, 0.25, materials={"plant": use(1.0)})
    return technique_data(
        family="replant",
        attempts=figure(2, "attempts"),
        gap_months=figure(12, "months"),
        take=figure((0.5,), "share by project year"),
        mature_crop=figure(2.0, "kg/tree/year"),
        operations={"plant": dug},
        **changes,
    )


def gap_planting():
    """The same where nothing stands."""
    way = planting(works_on="empty places")
    return {key: value for key, value in way.items() if key not in ("old_crown", "shade")}


def with_gaps(**changes) -> Scenario:
    """Ten trees at 1 kg and four empty places."""
    ways = {"way_a": technique_data(), "gaps": gap_planting()}
    return scenario(ways, stands=(stand(empty_places=4).model_dump(),), **changes)


def plants(trees, start="2027-01"):
    return Treatment(stand="Lower field", technique="gaps", trees=trees, start=start)


def test_four_empty_places_planted_by_hand():
    farm = with_gaps()
    flows = farm_flows(farm, [plants(4)])
    # half of the four live at once at 2 kg, half of the others a year later
    assert flows.with_plan.new_kg[[0, 11, 12, 119]] == pytest.approx([4 * MONTHLY] * 2 + [6 * MONTHLY] * 2)
    assert flows.with_plan.days[[0, 1, 12, 13]] == pytest.approx([1.0, 0.0, 0.5, 0.0])
    assert flows.with_plan.materials[[0, 1, 12]] == pytest.approx([8.0, 0.0, 4.0])
    # the ten trees go on, and what is not planted is nothing
    assert (flows.with_plan.old_kg == flows.without.old_kg).all()
    assert flows.without.old_kg[0] == pytest.approx(10 * MONTHLY)
    assert not flows.without.days.any()


def test_an_empty_place_is_a_place_of_a_stand_that_bears_nothing():
    bare = stand(name="Bare", trees=4, crop_per_tree=0.0).model_dump()
    beside = scenario({"way_a": technique_data(), "gaps": planting()}, stands=(stand().model_dump(), bare))
    expected = farm_flows(beside, [Treatment(stand="Bare", technique="gaps", trees=3, start="2028-03")])
    found = farm_flows(with_gaps(), [plants(3, "2028-03")])
    np.testing.assert_allclose(found.economic_change, expected.economic_change, atol=1e-12)
    np.testing.assert_allclose(found.with_plan.cash, expected.with_plan.cash, atol=1e-12)


def test_no_more_is_planted_than_is_empty():
    with pytest.raises(ValueError, match="5 empty places treated in Lower field, which has 4"):
        farm_flows(with_gaps(), [plants(5)])


def begun(taken=(1,), given_up=0):
    entry = {"stand": "Lower field", "technique": "gaps", "trees": 3, "start": "2026-11", "taken": taken}
    return with_gaps(under_way=({**entry, "given_up": given_up},))


def test_what_was_planted_counts_against_empty_places_and_stands_on_both_sides():
    farm = begun()
    assert (farm.free_trees("Lower field"), farm.free_places("Lower field")) == (10, 1)
    alone = farm_left_alone(farm)
    # one lives at 2 kg; the next try on the two others is in month 10, and half of them live
    assert alone.new_kg[[0, 9, 10]] == pytest.approx([2 * MONTHLY, 2 * MONTHLY, 4 * MONTHLY])
    assert alone.days[10] == pytest.approx(0.5)
    assert alone.old_kg[0] == pytest.approx(10 * MONTHLY)
    assert not farm_flows(farm, []).cash_change.any()
    with pytest.raises(ValueError, match="which has 1"):
        farm_flows(farm, [plants(2)])


def test_a_place_given_up_with_nothing_to_come_is_worth_an_empty_one():
    farm = begun(taken=(0,), given_up=3)
    tree = trees_under_way(farm, setting_of(farm))[0].tree
    for name in ("old_rate", "new_rate", "operation_days", "upkeep_days", "operation_cost", "upkeep_cost"):
        assert not getattr(tree, name).any()


def test_gaps_planted_and_written_down_after_a_year_go_on_as_they_would_have():
    plan = tuple(entry.model_dump() for entry in (plants(2), plants(1, "2028-02")))
    farm = with_gaps(plan=plan, appraisal={**with_gaps().appraisal.model_dump(), "inflation": 0.05})
    flows = farm_flows(farm, farm.plan)
    later = a_year_on(farm)
    rest = farm_flows(later, later.plan)
    np.testing.assert_allclose(rest.with_plan.cash, flows.with_plan.cash[YEAR:] * 1.05, rtol=1e-9)
    np.testing.assert_allclose(rest.with_plan.new_kg, flows.with_plan.new_kg[YEAR:], rtol=1e-9)


def test_the_default_way_bears_as_a_plant_with_its_figures_and_fells_nothing():
    demo = demo_scenario()
    way = default_technique("gap_planting")
    assert "fell_old_tree" not in way.operations
    tree = profile(way, demo.stands[0], demo.supplies, setting_of(demo), [12])
    assert not tree.old_kg.any()
    alive = 0.7 + 0.3 * 0.7  # 70 % live, and as many of those replaced a year later
    assert tree.new_rate[0, 12 + 66 + 12] == pytest.approx(alive * way.mature_crop.value)


# Beside nothing


def test_a_way_on_empty_places_is_weighed_against_nothing_and_moves_no_other():
    farm = with_gaps()
    whole = farm.changed(stands__0__empty_places=0)
    found, before = compare(farm), compare(whole)
    assert list(found.outcomes) == ["way_a"]
    assert found.outcomes["way_a"].measures == before.outcomes["way_a"].measures
    assert before.on_empty_places is None
    gaps = found.on_empty_places
    assert gaps is not None
    assert (gaps.trees, list(gaps.outcomes)) == (4, ["gaps"])
    # one place: 4 a kg on 1 kg, then 1.5; a plant and 2 of wages in year 1, half of that in year 2
    flow = np.array([4.0 - 4.0, 6.0 - 2.0, *(6.0,) * 8])
    assert gaps.outcomes["gaps"].per_tree.npv == pytest.approx(float(net_present_value(flow, 0.1)))
    assert gaps.outcomes["gaps"].measures.npv == pytest.approx(4 * gaps.outcomes["gaps"].per_tree.npv)
    assert npv_per_tree(farm)["Lower field"]["gaps"] == pytest.approx(gaps.outcomes["gaps"].per_tree.npv)
    assert "gaps" not in npv_per_tree(whole)["Lower field"]


def said(farm):
    return [sentence.replace("\xa0", " ") for sentence in empty_places(compare(farm), Words("en"))]


def test_the_ways_for_empty_places_are_said_under_their_name():
    farm = with_gaps()
    label = {"techniques__gaps__label": "Filling"}
    assert said(farm.changed(stands__0__empty_places=0)) == []
    gaps, left = "On 4 empty places of Lower field, Filling is worth", "in today's money than leaving them empty"
    assert said(farm.changed(**label)) == [f"{gaps} $119 more {left}. It is never behind."]
    # a plant and two of wages, then half of that: 4 · (4 / 1.1 + 2 / 1.21)
    assert said(farm.changed(**label, market__price_per_kg=0.0)) == [f"{gaps} $21.16 less {left}."]
    # 1 behind after the first year, 2.5 more in the second: 4 · (2.5 / 1.21 − 1 / 1.1 + 4.5 · Σ 1.1^−t, t = 3 … 10)
    span = Words("en").span(1.4).replace("\xa0", " ")
    assert said(farm.changed(**label, market__price_per_kg=3.0)) == [
        f"{gaps} $83.99 more {left}. It pays back in {span}."
    ]


def test_the_luck_of_plants_in_empty_places_is_drawn():
    farm = with_gaps()
    strategy = one_way(farm, "way_a")
    layout = lay_out(farm, type(strategy)("plan", (plants(4),)))
    first = layout.outcomes[0]
    assert (first.takes, first.trees) == ((0.5, 0.5), 4)
    # one more that lives is one more new crown, and nothing else is lost
    assert first.parts.kg[0, 0] == pytest.approx(4 * 2 * MONTHLY)
