"""Hands that begin and practised hands on a farm of one page of paper, and what stands for practised hands."""

from math import sqrt

import pytest
from factories import figure, scenario, technique_data

from renovation.decide import compare
from renovation.decide.hands import months_tried, practised, take_after_practice
from renovation.inputs import Scenario, default_technique, demo_scenario

PRICE = 4.0
TREES = 10


def paper_farm(tries, take=(0.5, 1.0)):
    """Trees of 1 kg, looked at for 10 years at no discount; a new crown bears nothing for a year, then 2 kg a year.

    way_a grafts in January, and a failed tree again a year later; way_b fells and plants, of ten plants nine live.
    """
    common = {
        "start_months": (1,),
        "mature_crop": figure(2.0, "kg/tree/year"),
        "new_crown": figure(((12.0, 1.0),), "months, share"),
    }
    grafting = common | {
        "attempts": figure(tries, "attempts"),
        "gap_months": figure(12, "months"),
        "take": figure(take, "share by project year"),
    }
    planting = common | {
        "family": "replant",
        "take": figure((0.9,), "share by project year"),
        "old_crown": {"anchor": "start", "curve": figure(((-1.0, 1.0), (0.0, 0.0)), "months, share")},
    }
    appraisal = {"start": "2027-01", "horizon_years": 10, "discount_rate": 0.0, "currency": "USD"}
    ways = {"way_a": technique_data(**grafting), "way_b": technique_data(**planting)}
    return scenario(ways, appraisal=appraisal)


def kg_more(comparison, way):
    return comparison.outcomes[way].measures.npv / PRICE / TREES


def test_a_failed_tree_is_grafted_again_in_the_next_season_on_paper():
    """Half live at once: 9 years of 2 kg. The others bear 1 kg, are grafted again, and bear 8 years of 2 kg."""
    assert kg_more(compare(paper_farm(2)), "way_a") == pytest.approx(0.5 * 18 + 0.5 * (1 + 16) - 10)
    # tried once, a failed tree stays as it is
    assert kg_more(compare(paper_farm(1)), "way_a") == pytest.approx(0.5 * 18 + 0.5 * 10 - 10)
    assert kg_more(compare(paper_farm(1)), "way_b") == pytest.approx(0.9 * 18 - 10)


def test_the_two_answers_differ_where_failed_trees_are_given_up_and_agree_where_they_are_tried_again():
    once, again = compare(paper_farm(1)), compare(paper_farm(2))
    assert (once.best, once.after_practice.best) == ("way_b", "way_a")
    assert (again.best, again.after_practice.best) == ("way_a", "way_a")
    for comparison in (once, again):
        assert kg_more(comparison.after_practice, "way_a") == pytest.approx(18 - 10)
        assert kg_more(comparison.after_practice, "way_b") == pytest.approx(kg_more(comparison, "way_b"))


def test_the_take_at_which_the_answer_turns_on_paper():
    """18 p + 17 (1 − p) p + 10 (1 − p)² = 16.2 for two tries, 18 p + 10 (1 − p) = 16.2 for one."""
    (turn,) = compare(paper_farm(2)).turns
    assert turn.take == pytest.approx((15 - sqrt(15**2 - 4 * 7 * 6.2)) / 14)
    assert (turn.below, turn.above) == ("way_b", "way_a")
    (turn,) = compare(paper_farm(1)).turns
    assert turn.take == pytest.approx(6.2 / 8)


LEARNING = {"form": "crawford", "first_take": 0.2, "highest_take": 0.6, "rate": 0.85}


@pytest.mark.parametrize(
    ("learning", "after"),
    [
        (None, 0.75),  # the last of the takes stated
        (LEARNING, 0.6),  # the ceiling of the curve
        (LEARNING | {"rate": 1.0}, 0.2),  # hands that never learn
        (LEARNING | {"techniques": ("bud_graft",)}, 0.75),  # practice that serves another way
        (
            {"form": "table", "table": ({"grafts_before": 0, "take": 0.3}, {"grafts_before": 90, "take": 0.66})},
            0.66,
        ),
    ],
)
def test_the_take_that_stands_for_practised_hands(learning, after):
    data = demo_scenario("first_grafters").model_dump()
    data["planning"]["learning"] = learning
    farm = Scenario.model_validate(data)
    assert take_after_practice(farm, "side_graft") == pytest.approx(after)
    assert take_after_practice(farm, "grafted_seedling") == 0.8
    take = practised(farm).techniques["side_graft"].take
    assert take.value == (pytest.approx(after),)
    assert take.low <= take.value <= take.high


def test_tries_after_the_horizon_are_not_made():
    assert months_tried(default_technique("side_graft"), 50, 60) == (50, 53, 56, 59)
