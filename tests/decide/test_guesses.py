"""Guesses in the answer: their own range moves it, the two that move it most come first, grafts that took better it."""

import pytest

from renovation.decide import compare
from renovation.decide.drivers import stated
from renovation.decide.guesses import of_guesses, path_of, telling
from renovation.inputs.notebook import QUESTIONS, answered, new_farm

NAMED = {question.name: question for question in QUESTIONS}


def begun():
    return new_farm("2027-01", "My farm", "Field 1").changed(comparison__trees=100)


def test_a_guess_moves_over_its_own_range_and_a_stated_figure_by_a_fifth():
    farm = begun()
    for path, driver in of_guesses(farm, "Field 1"):
        assert (driver.low, driver.high) == (farm.guessed[path].low, farm.guessed[path].high)
    told = farm.changed(household__wage_per_day=10.0)
    wage = next(driver for driver in stated(told, "Field 1") if driver.name == "wage_per_day")
    assert (wage.low, wage.high) == pytest.approx((8.0, 12.0))
    assert path_of("wage_per_day", 0) not in dict(of_guesses(told, "Field 1"))


def test_the_guess_that_moves_the_answer_furthest_comes_first_and_its_ends_are_the_farm_so_changed():
    farm = begun()
    comparison = compare(farm, techniques=["side_graft"])
    found = telling(comparison, "side_graft")
    assert [swing.width for _, swing in found] == sorted((swing.width for _, swing in found), reverse=True)
    path, swing = next(pair for pair in found if pair[0] == "market.price_per_kg")
    cheap = compare(farm.changed(market__price_per_kg=farm.guessed[path].low), techniques=["side_graft"])
    assert swing.npv_low == pytest.approx(cheap.outcomes["side_graft"].measures.npv)


def test_twenty_grafts_of_which_none_five_and_twenty_took_are_three_answers_in_that_order():
    worth = []
    for taken in (0, 5, 20):
        farm = answered(begun(), NAMED["grafts"], [{"made": 20, "taken": taken, "season": "2026-04"}])
        worth.append(compare(farm, techniques=["side_graft"]).outcomes["side_graft"].measures.npv)
    assert worth[0] < worth[1] < worth[2]
