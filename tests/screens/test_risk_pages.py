"""The risk page and the map: what they say is what the program's own calls say, on every farm; pictures draw it."""

import functools

import numpy as np
import pytest
import vl_convert
from factories import some_plain
from hypothesis import given
from hypothesis import strategies as st
from screens.looking import PAGES
from screens.looking import visit as look
from screens.test_pages import choose, farm, key, run, said, type_in, visit

from renovation.decide import compare
from renovation.decide.risk import Estimate, risk, sensitivity, strategies_of, stress_tests, win_map
from renovation.decide.risk.strategy import LEAVE, PLAN
from renovation.inputs import demo_names, demo_scenario
from renovation.screens.controls.text import plain
from renovation.screens.pages import map as map_page
from renovation.screens.pages import risk as risk_page
from renovation.show.compare import charts
from renovation.show.risk import answers as risk_answers
from renovation.show.risk import charts as risk_charts
from renovation.show.risk import map_charts
from renovation.show.risk import sentences as risk_sentences
from renovation.show.risk import tables as risk_tables
from renovation.show.voice import Voice
from renovation.words import Words

WORDS = Words("en")
NAMES = demo_names()
FEW = 512
"""Futures where only the wiring is tried."""


@functools.cache
def judged(name):
    """A demo farm's plan and ways on its own futures, once."""
    return risk(demo_scenario(name))


@functools.cache
def small():
    return risk(demo_scenario(), draws=FEW)


@functools.cache
def compared(name):
    return compare(demo_scenario(name))


@functools.cache
def mapped(name, pair="price_take"):
    return win_map(compared(name), *map_page.PAIRS[pair])


def with_few(at):
    """The same farm with few futures, as if that had been chosen on the page."""
    at.session_state["scenario"] = farm(at).changed(risk__draws=FEW)
    return run(at)


def answer_of(result):
    """What the page says first."""
    first = next(answer for answer in result.answers.values() if answer.key != LEAVE)
    return plain(risk_answers.worth(result, first, WORDS))


def shown(at):
    """Every word in running text."""
    return " ".join(block.value for block in (*at.header, *at.markdown, *at.caption))


def tables_of(at):
    """Every table on the page, cell by cell."""
    return [table.value.to_numpy().tolist() for table in at.table]


def cells(table):
    return [[plain(cell) for cell in row] for row in table.rows]


def rows(chart):
    """Every row of a chart's data."""
    return [row for table in chart.to_dict()["datasets"].values() for row in table]


# Every farm


@pytest.mark.parametrize("name", some_plain(NAMES, ["few_hands"]))
def test_every_part_opens_on_every_farm_and_says_what_the_program_says(name):
    at = visit("risk", farm=name)
    assert not said(at)
    result, scenario = judged(name), demo_scenario(name)
    assert at.header[0].value == answer_of(result)
    for answer in list(result.answers.values())[1:]:
        assert plain(risk_answers.worth(result, answer, WORDS)) in shown(at)
        assert plain(risk_answers.middle(result, answer, WORDS)) in shown(at)
        assert plain(risk_charts.fan_finding(result, answer, WORDS)) in shown(at)
    for section in risk_page.PARTS[1:]:
        choose(at, "risk", section)
        assert not said(at)
        if section == "chances":
            assert tables_of(at) == [cells(risk_tables.chances_by_year(result, WORDS))]
        if section == "hard":
            tests = stress_tests(scenario)
            assert tables_of(at) == [cells(risk_tables.stress(tests, one, WORDS)) for one in tests.rows]
        if section == "bars":
            found = sensitivity(compared(name))
            assert tables_of(at) == [cells(risk_tables.bars(found, WORDS, risk_charts.BARS_SHOWN))]
        if section == "table":
            assert tables_of(at) == [cells(risk_tables.answers(result, WORDS))]


@pytest.mark.parametrize("name", some_plain(NAMES, ["few_hands"]))
def test_the_map_opens_on_every_farm_and_says_what_the_program_says(name):
    at = visit("map", farm=name)
    for pair in map_page.PAIRS:
        choose(at, "map", pair)
        assert not said(at)
        first, *rest = map_charts.map_answer(mapped(name, pair), WORDS)
        assert at.header[0].value == plain(first)
        assert all(plain(sentence) in shown(at) for sentence in rest)
    choose(at, "map", "own")
    assert not said(at)
    at.selectbox(key=key(at, "map_x")).set_value("discount_rate")
    run(at)
    other = at.selectbox(key=key(at, "map_y|discount_rate"))
    assert "discount_rate" not in other.options
    other.set_value("wage_per_day")
    run(at)
    found = win_map(compared(name), "discount_rate", "wage_per_day")
    assert all(plain(sentence) in shown(at) for sentence in map_charts.map_answer(found, WORDS))


def test_the_map_says_in_what_each_number_is_counted():
    _, price, take, _ = map_charts.map_answer(mapped("first_grafters", "price_take"), WORDS)
    assert "Now it is 4 USD per kg of dry beans." in price
    assert "%" in take
    _, rate, months, _ = map_charts.map_answer(mapped("first_grafters", "rate_bearing"), WORDS)
    assert "Now it is 10%." in rate
    assert "Now it is 9 months." in months


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("driver", ["price_per_kg", "wage_per_day", "discount_rate"])
def test_the_winner_changes_just_where_the_map_says(name, driver):
    """The page's "while the price is above …" against the whole comparison run anew on both sides of that price."""
    comparison = compared(name)
    found = win_map(comparison, driver, "mature_crop", points=5)
    field = {"price_per_kg": "market", "wage_per_day": "household", "discount_rate": "appraisal"}[driver]
    low, high = map_charts.winning_range(found, found.x)

    def best(value):
        wet = {"market__wet_beans": None} if driver == "price_per_kg" else {}
        return compare(comparison.scenario.changed(**wet, **{f"{field}__{driver}": value})).best

    for edge, inside in ((low, 1 + 1e-5), (high, 1 - 1e-5)):
        if edge is not None:
            assert best(edge * inside) == comparison.best
            assert best(edge * (2 - inside)) != comparison.best
    for edge, end in ((low, 0), (high, 1)):
        if edge is None:
            assert best(found.x.limits[end]) == comparison.best


# Strategies side by side


def test_chosen_strategies_are_judged_on_the_same_futures_and_no_more_than_four_are_shown():
    at = with_few(visit("risk"))
    pills = next(group for group in at.button_group if group.label == WORDS("screen.risk.strategies", n=4))
    pills.set_value([PLAN, "hard_pruning"])
    run(at)
    chosen = {one.key: one for one in strategies_of(farm(at), ["hard_pruning"])}
    result = risk(farm(at), [chosen[PLAN], chosen["hard_pruning"]])
    assert all(plain(risk_answers.worth(result, result.answers[one], WORDS)) in shown(at) for one in chosen)
    assert WORDS("technique.side_graft") not in at.header[0].value
    every = [PLAN, "side_graft", "rooted_cutting", "hard_pruning", "air_layer"]
    next(group for group in at.button_group if group.label == pills.label).set_value(every)
    run(at)
    assert any(WORDS("technique.air_layer") in warning.value for warning in at.warning)
    assert plain(Voice.of(farm(at), WORDS).strategy("hard_pruning")) in shown(at)


def test_a_farm_without_plan_shows_the_ways_alone():
    at = visit("risk")
    at.session_state["scenario"] = farm(at).changed(plan=(), loans=(), risk__draws=FEW)
    run(at)
    result = risk(farm(at))
    assert list(result.answers) == [LEAVE, "side_graft", "rooted_cutting"]
    assert at.header[0].value == answer_of(result)
    for section in risk_page.PARTS:
        choose(at, "risk", section)
        assert not said(at)


def test_ways_on_the_same_trees_are_set_against_each_other_future_by_future():
    result = judged(NAMES[0])
    first, second = result.answers["side_graft"], result.answers["rooted_cutting"]
    share = np.mean(first.npvs > second.npvs)
    (sentence,) = risk_answers.side_by_side(result, WORDS)
    assert f"{round(100 * share)} of 100 futures" in sentence


# The figures of the futures


def test_another_seed_or_number_gives_other_futures_and_the_page_says_so():
    at = choose(with_few(visit("risk")), "risk", "figures")
    before = at.header[0].value
    type_in(at, "risk.seed", "7")
    assert farm(at).risk.seed == 7
    assert at.header[0].value == answer_of(risk(farm(at))) != before
    at.selectbox(key=key(at, "risk.draws")).set_value(1024)
    run(at)
    assert at.header[0].value == answer_of(risk(demo_scenario(), draws=1024, seed=7))
    assert WORDS("unit.futures", n=1024) in shown(at)


def test_without_any_uncertainty_every_future_is_as_expected():
    at = choose(with_few(visit("risk")), "risk", "figures")
    for field in ("price_sd", "crop_sd", "take_spread", "wage_drift_sd", "input_drift_sd"):
        type_in(at, f"risk.{field}", "0")
    expected = next(one for one in risk(farm(at)).answers.values() if one.key == PLAN).expected_npv
    money = plain(WORDS.round_money(expected, "USD"))
    assert at.header[0].value.startswith(f"In every future the plan is worth {money}")
    assert plain("none of 512 futures") in at.header[0].value


@pytest.mark.parametrize(("field", "text", "value"), [("price_sd", "0,3", 0.3), ("farm_gate_share", "62,5", 0.625)])
def test_a_decimal_comma_is_read_right(field, text, value):
    at = choose(with_few(visit("risk")), "risk", "figures")
    type_in(at, f"risk.{field}", text)
    assert getattr(farm(at).risk, field) == value
    assert at.header[0].value == answer_of(risk(farm(at)))


@pytest.mark.parametrize(("name", "text"), [("risk.price_sd", "3"), ("risk.stress.beginner_take", "120")])
def test_a_figure_beyond_its_bounds_is_refused_and_the_last_one_stays(name, text):
    at = choose(with_few(visit("risk")), "risk", "figures")
    before = farm(at)
    type_in(at, name, text)
    assert farm(at) == before
    assert len(at.error) == 1


def test_an_expected_price_can_be_typed_year_by_year():
    at = choose(with_few(visit("risk")), "risk", "figures")
    at.selectbox(key=key(at, "risk.price_path")).set_value("typed")
    run(at)
    at.button(key=key(at, "risk_more")).click()
    run(at)
    type_in(at, "risk.price_by_year.1", "80")
    assert farm(at).risk.price_by_year == (1.0, 0.8)
    assert at.header[0].value == answer_of(risk(farm(at)))
    at.button(key=key(at, "risk_fewer")).click()
    run(at)
    assert farm(at).risk.price_by_year == (1.0,)
    at.selectbox(key=key(at, "risk.price_path")).set_value("reverting")
    run(at)
    type_in(at, "risk.long_run_price", "70")
    assert farm(at).risk.long_run_price == 0.7


def test_a_way_without_a_new_crown_has_no_take_to_move():
    at = visit("map")
    way = next(box for box in at.selectbox if box.label == WORDS("screen.map.way"))
    way.set_value("hard_pruning")
    run(at)
    assert any(WORDS("risk.axis.take") in warning.value for warning in at.warning)


# The sentences


@given(st.floats(0.0, 1.0), st.floats(0.0, 0.02))
def test_how_often_is_told_to_half_of_one_future(share, error):
    text = risk_answers.often(Estimate(share, error), 8192, WORDS)
    head, _, rest = text.partition(" of ")
    if head in ("none", "all", "fewer than 1", "all but a few"):
        assert share < 0.0005 or share > 0.9995 or share in (0.0, 1.0)
        return
    base = float(rest.split(" ")[0].replace(",", ""))
    assert abs(float(head.replace(",", "")) / base - share) <= 0.5 / base + 1e-12


# The pictures


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
    pair = charts.styles(compared(NAMES[0]), ["side_graft", "rooted_cutting"])
    assert all(looks[one] == pair[one] for one in pair)
    with pytest.raises(ValueError, match="5 strategies > 4"):
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
    spec = drawn()[name].to_dict()
    assert len(spec["description"]) > 20
    svg = vl_convert.vegalite_to_svg({**spec, "width": 600})
    assert svg.startswith("<svg")
    assert "currentColor" in svg
    assert "undefined" not in svg
    assert "NaN" not in svg


# In a browser


@pytest.mark.browser
@pytest.mark.long
def test_a_change_in_the_sidebar_is_answered_while_you_wait(browser, dashboard):
    """Progress is shown while the futures are tried; then the answer is that of the changed farm."""
    with look(browser, dashboard) as seen:
        seen.open(f"{dashboard}/{PAGES['risk']}")
        entry = seen.page.get_by_label(WORDS("screen.sidebar.price"), exact=True)
        entry.fill("3,5")
        entry.press("Enter")
        seen.page.get_by_test_id("stProgress").wait_for(timeout=20_000)
        seen.settle()
        assert seen.page.get_by_test_id("stProgress").count() == 0
        result = risk(demo_scenario().changed(market__price_per_kg=3.5))
        answer = risk_answers.worth(result, result.answers[PLAN], WORDS)
        assert " ".join(
            seen.page.get_by_test_id("stMain").get_by_test_id("stHeading").nth(1).inner_text().split()
        ) == " ".join(answer.split())


@pytest.mark.browser
@pytest.mark.long
def test_every_page_stands_in_the_bar_of_a_laptop(browser, dashboard):
    with look(browser, dashboard, width=1280) as seen:
        seen.open(dashboard)
        bar = seen.page.get_by_test_id("stTopNav")
        assert [bar.get_by_text(WORDS(f"screen.page.{page}"), exact=True).is_visible() for page in PAGES] == [
            True
        ] * len(PAGES)
