"""The map: what it says is what the program's own calls say, and the winner changes just where it says."""

import pytest
from factories import some_plain
from results import compared, mapped
from screens.visiting import choose, key, run, said, shown, visit

from renovation.decide import compare
from renovation.decide.risk import win_map
from renovation.inputs import demo_names
from renovation.screens.controls.text import plain
from renovation.screens.pages import map as map_page
from renovation.show.risk import map_charts
from renovation.words import Words

WORDS = Words("en")


NAMES = demo_names()


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


def test_a_way_without_a_new_crown_has_no_take_to_move():
    at = visit("map")
    way = next(box for box in at.selectbox if box.label == WORDS("screen.map.way"))
    way.set_value("hard_pruning")
    run(at)
    assert any(WORDS("risk.axis.take") in warning.value for warning in at.warning)
