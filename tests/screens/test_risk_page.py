"""The risk page: what it says is what the program's own calls say, on every farm, and after every change."""

import functools

import numpy as np
import pytest
from factories import some_plain
from results import compared
from screens.looking import PAGES
from screens.looking import visit as look
from screens.visiting import cells, choose, farm, key, run, said, shown, tables_of, type_in, visit

from renovation.decide.risk import risk, sensitivity, strategies_of, stress_tests
from renovation.decide.risk.strategy import LEAVE, PLAN
from renovation.inputs import demo_names, demo_scenario
from renovation.screens.controls.text import plain
from renovation.screens.pages import risk as risk_page
from renovation.show.risk import answers as risk_answers
from renovation.show.risk import charts as risk_charts
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


def with_few(at):
    """The same farm with few futures, as if that had been chosen on the page."""
    at.session_state["scenario"] = farm(at).changed(risk__draws=FEW)
    return run(at)


def answer_of(result):
    """What the page says first."""
    first = next(answer for answer in result.answers.values() if answer.key != LEAVE)
    return plain(risk_answers.worth(result, first, WORDS))


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
    assert 0 < share < 1
    often = f"{round(100 * share)} of 100" if 0.01 <= share <= 0.99 else f"{round(1000 * share)} of 1,000"
    assert f"{often} futures" in sentence


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


@pytest.mark.long
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


@pytest.mark.long
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
