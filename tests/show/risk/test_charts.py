"""The pictures of the futures and the map draw what the results hold; how often is told to half of one future."""

import functools

import numpy as np
import pytest
from drawings import prints, rows
from farm_files import stated
from hypothesis import given
from hypothesis import strategies as st
from results import compared, mapped

from renovation.decide import compare
from renovation.decide.drivers import on_a_map
from renovation.decide.risk import Estimate, risk, sensitivity, win_map
from renovation.decide.risk.strategy import LEAVE, PLAN
from renovation.inputs import demo_names, demo_scenario
from renovation.show.looks import styles
from renovation.show.risk import answers as risk_answers
from renovation.show.risk import charts as risk_charts
from renovation.show.risk import map_charts
from renovation.show.risk import sentences as risk_sentences
from renovation.show.voice import Voice
from renovation.words import Words

WORDS = Words("en")


NAMES = demo_names()


FEW = 512
"""Futures where only the wiring is tried."""


@functools.cache
def small():
    return risk(demo_scenario(), draws=FEW)


@given(st.floats(0.0, 1.0), st.floats(0.0, 0.02))
def test_how_often_is_told_to_half_of_one_future(share, error):
    text = risk_answers.often(Estimate(share, error), 8192, WORDS)
    head, _, rest = text.partition(" of ")
    if head in ("none", "all", "fewer than 1", "all but a few"):
        assert share < 0.0005 or share > 0.9995 or share in (0.0, 1.0)
        return
    base = float(rest.split(" ")[0].replace(",", ""))
    assert abs(float(head.replace(",", "")) / base - share) <= 0.5 / base + 1e-12


def test_the_worth_chart_draws_quantiles_of_the_futures_themselves():
    result = small()
    drawn = {row["way"]: row for row in rows(risk_charts.worth_chart(result, WORDS)) if "way" in row}
    assert len(drawn) == len(result.answers) - 1
    for one, answer in result.answers.items():
        if one != LEAVE:
            row = drawn[Voice.of(result.scenario, WORDS).strategy(one)]
            quantiles = np.quantile(answer.npvs, [0.1, 0.5, 0.9])
            assert [row["low"], row["middle"], row["high"]] == pytest.approx(quantiles)
            lowest = np.sort(answer.npvs)  # a tenth of 512 futures: 51 of them and a fifth of the next
            assert row["tenth"] == pytest.approx((lowest[:51].sum() + 0.2 * lowest[51]) / 51.2)


@pytest.mark.parametrize("one", [LEAVE, PLAN, "side_graft"])
def test_fans_and_chances_draw_every_year(one):
    result = small()
    answer = result.answers[one]
    fan = [row for row in rows(risk_charts.fan_chart(result, one, WORDS)) if "middle" in row]
    assert [[row["low"], row["middle"], row["high"]] for row in fan] == pytest.approx(answer.fan.T)
    assert [row["alone"] for row in fan] == pytest.approx(result.answers[LEAVE].fan[1])
    chances = [row for row in rows(risk_charts.chance_chart(result, one, WORDS)) if "gap" in row]
    by_year = {row["year"]: row for row in chances}
    assert [by_year[year]["gap"] for year in by_year] == [found.value for found in answer.gap_by_year]
    assert [by_year[year]["missed"] for year in by_year] == [found.value for found in answer.missed_by_year]


def test_fans_of_a_page_stand_on_one_scale_that_holds_all():
    span = risk_charts.fan_span(small())
    for answer in small().answers.values():
        assert span[0] < answer.fan.min() <= answer.fan.max() < span[1]


def test_the_ranking_draws_the_widest_first_and_marks_the_critical_ones():
    found = sensitivity(compared(NAMES[0]))
    bars = [row for row in rows(risk_charts.bars_chart(found, WORDS)) if row.get("driver")]
    drawn = list({row["driver"]: row for row in bars}.values())
    widths = [row["right"] - row["left"] for row in drawn]
    assert widths == sorted(widths, reverse=True)
    assert len(drawn) == risk_charts.BARS_SHOWN
    critical = [risk_sentences.driver_name(found, bar, WORDS) for bar in found.critical]
    assert {row["driver"] for row in drawn if row["driver"].startswith("! ")} == {f"! {name}" for name in critical}
    # what makes a figure critical: one percent of it moves the worth by one percent or more
    scenario = demo_scenario()
    price = scenario.market.price_per_kg
    moved = compare(scenario.changed(market__price_per_kg=price * 1.01)).outcomes["side_graft"].measures.npv
    assert moved / found.npv - 1 >= 0.01


def test_the_map_draws_who_wins_at_every_point_and_the_farm_s_own():
    found = mapped(NAMES[0])
    drawn = rows(map_charts.map_chart(found, WORDS))
    areas = [row for row in drawn if "way" in row]
    assert len(areas) == found.x.places.size * found.y.places.size
    names = {place: WORDS(f"technique.{one}") for place, one in enumerate(found.techniques)}
    winners = [names.get(place, WORDS("risk.strategy.leave")) for place in found.best.ravel().tolist()]
    assert [row["way"] for row in areas] == winners
    own = next(row for row in drawn if row.get("name") == WORDS("chart.risk.own_point"))
    assert (own["x"], own["y"]) == (found.x.own, found.y.own)
    # the areas cover the map without a gap
    covered = sum((row["x2"] - row["x"]) * (row["y2"] - row["y"]) for row in areas)
    (left, right), (low, high) = found.x.limits, found.y.limits
    assert covered == pytest.approx((right - left) * (high - low))


def test_strategies_shown_together_differ_in_colour_and_more_than_four_are_refused():
    scenario = demo_scenario()
    looks = risk_charts.strategy_styles(scenario, [LEAVE, PLAN, "side_graft", "rooted_cutting", "air_layer"])
    assert len({look.colour for look in looks.values()}) == 5
    pair = styles(scenario, ["side_graft", "rooted_cutting"])
    assert all(looks[one] == pair[one] for one in pair)
    with pytest.raises(ValueError, match="5 > 4"):
        risk_charts.strategy_styles(scenario, list(scenario.techniques)[:5])


def drawn():
    return {
        "worth": risk_charts.worth_chart(small(), WORDS),
        "fan": risk_charts.fan_chart(small(), PLAN, WORDS),
        "chances": risk_charts.chance_chart(small(), PLAN, WORDS),
        "bars": risk_charts.bars_chart(sensitivity(compared(NAMES[0])), WORDS),
        "map": map_charts.map_chart(mapped(NAMES[0]), WORDS),
    }


@pytest.mark.parametrize("name", ["worth", "fan", "chances", "bars", "map"])
def test_a_chart_prints_without_a_browser_in_the_page_s_own_ink(name):
    assert prints(drawn()[name])


@pytest.mark.long
@pytest.mark.parametrize("name", demo_names())
def test_between_the_values_that_are_said_the_winner_wins_and_beyond_them_another(name):
    """Each place is compared anew: the map's own sums are not asked."""
    comparison = compare(stated(name))
    # the takes that are held stand still: what hands learn would set a moved take anew
    planning = comparison.scenario.planning.model_copy(update={"learning": None, "records": ()})
    farm, ends = comparison.scenario.model_copy(update={"planning": planning}), 0
    for pair in (("price_per_kg", "mature_crop"), ("wage_per_day", "take")):
        found = win_map(comparison, *pair)
        movable = on_a_map(farm, found.headline)
        for axis in (found.x, found.y):
            if axis.own is None:
                continue
            low, high = map_charts.winning_range(found, axis)
            least, most = (limit if end is None else end for end, limit in zip((low, high), axis.limits, strict=True))
            for share in (0.02, 0.5, 0.98):
                moved = movable[axis.driver].put(farm, least + share * (most - least))
                assert compare(moved).best == comparison.best
            step = 0.02 * (most - least)
            for beyond in ([low - step] if low is not None else []) + ([high + step] if high is not None else []):
                ends += 1
                assert compare(movable[axis.driver].put(farm, beyond)).best != comparison.best
    assert ends
