"""How fast hands learn is a figure that answers rest on: worked out by hand on a farm of one page of paper."""

from math import log2

import pytest
from factories import figure, operation, scenario, technique_data

from renovation.decide import compare
from renovation.decide.risk import sensitivity
from renovation.inputs import Scenario, default_learning, demo_scenario

PRICE = 4.0
TREES = 10
RATE = "learning_rate"


def paper_farm(learning, take=(0.25, 0.75), days=0.0):
    """Trees of 1 kg, looked at for 10 years at no discount; a new crown bears nothing for a year, then 2 kg a year.

    Grafts in January, and once more a year later on the trees on which none lived.
    """
    way = technique_data(
        start_months=(1,),
        mature_crop=figure(2.0, "kg/tree/year"),
        new_crown=figure(((12.0, 1.0),), "months, share"),
        attempts=figure(2, "attempts"),
        gap_months=figure(12, "months"),
        take=figure(take, "share by project year"),
        operations={"work": operation("start", 0, days)},
    )
    appraisal = {"start": "2027-01", "horizon_years": 10, "discount_rate": 0.0, "currency": "USD"}
    farm = scenario({"way_a": way}, appraisal=appraisal)
    data = farm.model_dump()
    data["planning"]["learning"] = learning
    return Scenario.model_validate(data)


def by_hand(rate, first=0.25, highest=0.75, before=0):
    """Worth of ten trees: take after n grafts is 1 − (1 − f)(1 + n)^log₂ρ, at most the highest (method §10)."""
    now, then = (min(highest, 1 - (1 - first) * (1 + n) ** log2(rate)) for n in (before, before + TREES))
    live = now * 18 + (1 - now) * then * (1 + 16) + (1 - now) * (1 - then) * 10
    return PRICE * TREES * (live - 10)


def bars(farm, way="way_a"):
    return {bar.driver: bar for bar in sensitivity(compare(farm), way).bars}


@pytest.mark.parametrize(("stated", "before"), [({}, 0), ({"first_take": 0.3, "highest_take": 0.9}, 0), ({}, 40)])
def test_the_bar_of_the_learning_rate_is_the_curve_worked_out_by_hand(stated, before):
    learning = {"form": "crawford", "rate": 0.85, "grafts_before": before, **stated}
    bar = bars(paper_farm(learning))[RATE]
    shipped = default_learning().rate
    assert (bar.low, bar.value, bar.high) == (shipped.low, shipped.value, shipped.high)
    assert bar.source == shipped.source
    known = {name.removesuffix("_take"): share for name, share in stated.items()}
    for end, npv in ((bar.low, bar.npv_low), (bar.high, bar.npv_high)):
        assert npv == pytest.approx(by_hand(end, before=before, **known), rel=1e-9)
    slower = [by_hand(rate, before=before, **known) for rate in (0.85, 0.85 * 0.99)]
    npv = sensitivity(compare(paper_farm(learning)), "way_a").npv
    assert bar.elasticity == pytest.approx((slower[0] - slower[1]) / npv / 0.01, rel=1e-6)


def test_the_takes_stated_by_year_do_not_say_how_fast_hands_learn():
    """A take that is the same in every year rules the answer as stated, and not the bar of the learning rate."""
    learning = {"form": "crawford", "rate": 0.85}
    two = [bars(paper_farm(learning, take))[RATE] for take in ((0.25, 0.75), (0.6,))]
    assert (two[0].npv_low, two[0].npv_high) == (two[1].npv_low, two[1].npv_high)


def test_a_rate_of_the_farms_own_widens_the_range():
    bar = bars(paper_farm({"form": "crawford", "rate": 0.98}))[RATE]
    assert (bar.low, bar.value, bar.high, bar.source) == (default_learning().rate.low, 0.98, 0.98, "own")
    assert bar.npv_high == pytest.approx(by_hand(0.98), rel=1e-9)


def test_where_work_costs_what_hands_earn_at_a_rate_that_is_the_switching_rate():
    """Days at 8 a day at the start cost all that a rate of 0.9 brings."""
    farm = paper_farm({"form": "crawford", "rate": 0.85}, days=by_hand(0.9) / TREES / 8)
    bar = bars(farm)[RATE]
    assert bar.switching == (pytest.approx(0.9, abs=1e-9),)
    assert bar.npv_high < 0 < bar.npv_low


@pytest.mark.parametrize(
    "learning",
    [
        None,
        {"form": "crawford", "techniques": ()},
        {"form": "table", "table": ({"grafts_before": 0, "take": 0.3}, {"grafts_before": 90, "take": 0.66})},
    ],
)
def test_where_nothing_learns_by_a_curve_the_answer_does_not_rest_on_it(learning):
    assert RATE not in bars(paper_farm(learning))


def test_on_the_demo_farm_slow_hands_earn_less_and_planting_learns_nothing():
    farm = demo_scenario("first_grafters")
    found = sensitivity(compare(farm), "side_graft")
    bar = next(bar for bar in found.bars if bar.driver == RATE)
    assert bar.npv_high < found.npv - 1 < found.npv <= bar.npv_low
    assert RATE not in bars(farm, "rooted_cutting")
