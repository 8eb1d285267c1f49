"""The charts draw what the results say: their data against the results' own arrays, their findings against them too."""

import itertools
import re

import numpy as np
import pytest
import vl_convert
from drawings import prints, rows
from factories import scenario
from hypothesis import given
from hypothesis import strategies as st

from renovation.decide import compare, npv_per_tree, ranges
from renovation.decide.practise import practise_first
from renovation.inputs import demo_scenario
from renovation.show import drawing, figure_charts
from renovation.show.compare import charts
from renovation.show.compare.practise import practise_chart
from renovation.show.report import html
from renovation.show.vega import Layer
from renovation.words import Words

WORDS = Words("en")
RESULT = compare(demo_scenario())
PAIR = ["side_graft", "rooted_cutting"]
FOUR = [*PAIR, "air_layer", "hard_pruning"]


def named(key):
    return WORDS(f"technique.{key}")


@pytest.mark.parametrize("key", RESULT.outcomes)
def test_the_crop_chart_shows_both_crowns_and_the_tree_left_alone(key):
    found = rows(charts.crop_chart(RESULT, key, WORDS))
    outcome = RESULT.outcomes[key]
    drawn = {
        ("part", "old_crown"): outcome.tree.old_rate[0],
        ("part", "new_crown"): outcome.tree.new_rate[0],
        ("line", "left_alone"): outcome.left_alone.old_rate[0],
    }
    top = max(rate.max() for rate in drawn.values())
    for (kind, name), expected in drawn.items():
        points = [(row["year"] * 12, row["kg"]) for row in found if row.get(kind) == WORDS(f"chart.crop.{name}")]
        months, kg = zip(*points, strict=True)
        # few points are drawn, and every month lies on the line between them
        assert len(points) < 200
        assert (months[0], round(months[-1])) == (0, expected.size - 1)
        assert np.interp(np.arange(expected.size), months, kg) == pytest.approx(expected, abs=2e-3 * top)


def test_the_crop_charts_of_a_page_stand_on_one_scale_that_holds_all():
    outcomes = list(RESULT.outcomes.values())
    top = charts.most_kg(outcomes)
    assert all((o.tree.old_rate + o.tree.new_rate).max() <= top for o in outcomes)
    spec = charts.crop_chart(RESULT, "side_graft", WORDS, highest=top).to_dict()
    assert spec["layer"][0]["encoding"]["y"]["scale"]["domain"] == [0.0, top]


def test_the_cash_chart_reads_the_running_sum_at_each_year_s_end():
    found = rows(charts.cumulative_cash_chart(RESULT, FOUR, WORDS))
    for key in FOUR:
        line = {row["year"]: row["amount"] for row in found if row.get("way") == named(key) and "money" in row}
        monthly = RESULT.outcomes[key].flows.cash_change
        assert line[0] == 0
        for year in (1, 7, 25):
            assert line[year] == pytest.approx(monthly[: 12 * year].sum())


def test_each_line_s_end_bears_its_name():
    spec = str(charts.cumulative_cash_chart(RESULT, FOUR, WORDS).to_dict())
    for key in FOUR:
        assert all(word in spec for word in named(key).split())


def test_the_npv_chart_shows_one_mark_for_each_stand_and_way_that_suits():
    table = npv_per_tree(demo_scenario())
    marks = {
        (r["stand"], r["way"]): r["npv"] for r in rows(charts.npv_chart(RESULT, table, FOUR, WORDS)) if "stand" in r
    }
    expected = {(stand, named(key)): value for stand, row in table.items() for key, value in row.items() if key in FOUR}
    assert marks == pytest.approx(expected)


def test_the_ranges_chart_puts_the_widest_first_and_shows_its_ends():
    swings = ranges(RESULT, "side_graft")
    bars = [row for row in rows(charts.ranges_chart(RESULT, "side_graft", swings, WORDS)) if "driver" in row]
    assert (bars[0]["low"], bars[0]["high"]) == pytest.approx(swings[-1].span)
    widths = [bar["high"] - bar["low"] for bar in bars[1:]]
    assert widths == sorted(widths, reverse=True)


def test_the_findings_are_true():
    crop = charts.crop_finding(RESULT, "side_graft", WORDS)
    yearly = RESULT.outcomes["side_graft"].crop_by_year.sum(axis=1)
    assert f"{yearly.max():.2f}" in crop
    assert str(int(np.argmax(yearly)) + 1) in crop
    cash = charts.cash_finding(RESULT, PAIR, WORDS)
    assert WORDS.round_money(-RESULT.outcomes["rooted_cutting"].most_money_out[0], "USD") in cash
    free = compare(scenario())  # a way without cost, whose crown bears at once
    assert free.outcomes["way_a"].cumulative_cash.min() >= -1e-9
    assert "never money out" in charts.cash_finding(free, ["way_a"], WORDS)
    assert "never money out" not in cash
    best = charts.npv_finding(RESULT, {"Here": {"side_graft": 2.0, "rooted_cutting": 3.0}}, WORDS)
    assert "planting rooted cuttings is worth most" in best
    assert "$3.00" in best
    leave = charts.npv_finding(RESULT, {"Here": {"side_graft": -2.0}}, WORDS)
    assert leave == WORDS("chart.npv.finding_leave", stand="Here")


places = st.dictionaries(st.text("abcdef", min_size=1, max_size=3), st.floats(-50, 50), min_size=1, max_size=6)


@given(places, st.floats(0.1, 5))
def test_spread_labels_never_overlap_and_keep_their_order(ends, gap):
    placed = drawing.spread(ends, gap, -60.0, 60.0)
    assert set(placed) == set(ends)
    order = sorted(placed, key=lambda name: placed[name])
    assert all(placed[b] - placed[a] >= gap - 1e-6 for a, b in itertools.pairwise(order))
    assert all(ends[a] <= ends[b] + 1e-9 for a, b in itertools.pairwise(order))


@given(places)
def test_labels_far_enough_apart_stay_where_they_are(ends):
    apart = {name: 10.0 * turn for turn, name in enumerate(sorted(ends))}
    assert drawing.spread(apart, 5.0, -100.0, 100.0) == pytest.approx(apart)


def drawn():
    scenario = demo_scenario()
    crown = scenario.techniques["side_graft"].new_crown
    return {
        "crop": charts.crop_chart(RESULT, "side_graft", WORDS),
        "cash": charts.cumulative_cash_chart(RESULT, FOUR, WORDS),
        "npv": charts.npv_chart(RESULT, npv_per_tree(scenario), FOUR, WORDS),
        "practise": practise_chart(practise_first(RESULT), RESULT, WORDS),
        "ranges": charts.ranges_chart(RESULT, "side_graft", ranges(RESULT, "side_graft"), WORDS),
        "curve": figure_charts.curve_chart("Crown", crown.value, crown.low, crown.high, WORDS),
    }


@pytest.mark.parametrize("name", ["crop", "cash", "npv", "ranges", "curve"])
def test_a_chart_prints_without_a_browser_in_the_page_s_own_ink(name):
    assert prints(drawn()[name])


def test_an_axis_of_millions_says_nothing_as_0():
    found = compare(demo_scenario("few_hands"))
    drawn = vl_convert.vegalite_to_svg(charts.cumulative_cash_chart(found, list(found.outcomes)[:2], WORDS).to_dict())
    labels = set(re.findall(r"<text[^>]*>([^<]*)</text>", drawn))
    assert "1M" in labels
    assert "0" in labels
    assert "0M" not in labels


def test_an_axis_of_thousands_of_millions_keeps_counting_millions_and_is_printed_in_full():
    line = Layer([{"x": 0, "amount": 0.0}, {"x": 1, "amount": 2e9}]).mark("line")
    line = line.encode(x="x:Q", y=drawing.left_axis("amount:Q", [0, 2e9], drawing.money_axis(WORDS, [0, 2e9])))
    drawn = drawing.finish(WORDS, [line], "Money", "It grows.", 300)
    labels = re.findall(r"<text[^>]*>([^<]*)</text>", vl_convert.vegalite_to_svg({**drawn.to_dict(), "width": 500}))
    assert "2,000M" in labels
    assert not any("G" in label for label in labels)
    assert "2,000,000,000" in html.chart(drawn, "money", 500)
