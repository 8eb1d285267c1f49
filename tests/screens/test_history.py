"""What was changed is taken back and done again: figures, answers, farms opened, a farm forgotten."""

import pytest
from screens.looking import visit as look
from screens.visiting import farm, key, run, said, type_in, upload, visit

from renovation.inputs import demo_names, demo_scenario, write_scenario
from renovation.screens.memory import history
from renovation.show.changes import change_said
from renovation.words import Words

WORDS = Words("en")
FARM = demo_scenario()
WAGE = "sidebar.wage.household.wage_per_day"
PRICE = "sidebar.price.market.price_per_kg"


def button(at, name):
    return at.button(key=f"history.{name}")


def press(at, name):
    button(at, name).click()
    return run(at)


def test_a_new_visitor_has_nothing_to_take_back():
    at = visit("mine")
    assert [(button(at, name).disabled, button(at, name).label) for name in ("back", "again")] == [
        (True, WORDS("change.back_nothing")),
        (True, WORDS("change.again_nothing")),
    ]


def test_figures_are_taken_back_and_done_again_one_by_one_and_named():
    at = type_in(visit("mine"), WAGE, "7")
    at = type_in(at, PRICE, "3,5")
    assert button(at, "back").label.endswith("from 4 to 3.5 USD per kg of dry beans")
    press(at, "back")
    assert (farm(at).household.wage_per_day, farm(at).market.price_per_kg) == (7.0, FARM.market.price_per_kg)
    assert at.text_input(key=key(at, PRICE)).value == "4"
    press(at, "back")
    assert farm(at) == FARM
    assert button(at, "back").disabled
    press(at, "again")
    press(at, "again")
    assert (farm(at).household.wage_per_day, farm(at).market.price_per_kg) == (7.0, 3.5)
    assert button(at, "again").disabled
    press(at, "back")
    at = type_in(at, PRICE, "5")  # a new change leaves nothing to be done again
    assert button(at, "again").disabled


def test_another_farm_opened_is_taken_back_with_what_could_be_gone_back_to():
    at = type_in(visit("mine"), WAGE, "7")
    mine = farm(at)
    other = demo_scenario(demo_names()[1])
    upload(at, "other.toml", write_scenario(other).encode())
    assert button(at, "back").label == WORDS("change.back", what=WORDS("change.opened", name=other.about.name))
    press(at, "back")
    assert farm(at) == mine
    assert at.session_state["left"] is None
    press(at, "again")
    assert (farm(at), at.session_state["left"].farm) == (other, mine)


def test_an_answer_of_my_farm_is_taken_back():
    at = visit("mine")
    at.button(key=key(at, "begin.mine")).click()
    run(at)
    begun = farm(at)
    at.session_state["question"] = "wage"
    run(at)
    at.text_input(key=key(at, "question.wage.0.wage_per_day")).set_value("60")
    next(line for line in at.button if line.label == WORDS("notebook.next")).click()
    run(at)
    assert farm(at).household.wage_per_day == 60.0
    assert "household.wage_per_day" not in farm(at).guessed
    assert button(at, "back").label.endswith("to 60 USD per day of work")
    press(at, "back")
    assert farm(at) == begun
    assert farm(at).guessed == begun.guessed
    press(at, "back")
    assert farm(at) == FARM


def forget(at):
    at.session_state["device"] = {"sent": "1"}
    run(at)
    next(line for line in at.button if line.label == WORDS("screen.device.forget")).click()
    return run(at)


def test_a_farm_that_was_forgotten_can_be_had_back_for_a_minute(monkeypatch):
    at = type_in(visit("mine"), WAGE, "7")
    mine = farm(at)
    forget(at)
    assert farm(at) == FARM
    press(at, "back")
    assert farm(at) == mine
    assert button(at, "again").disabled  # what would forget it again stands elsewhere
    forget(at)
    now = history.time.monotonic()
    monkeypatch.setattr(history.time, "monotonic", lambda: now + history.SECONDS + 1)
    press(at, "back")
    assert farm(at) == FARM
    assert WORDS("change.too_late") in said(at)
    assert button(at, "back").disabled


def test_only_so_many_changes_are_kept(monkeypatch):
    monkeypatch.setattr(history, "MOST", 2)
    at = visit("mine")
    for text in ("5", "6", "7"):
        at = type_in(at, WAGE, text)
    press(at, "back")
    press(at, "back")
    assert farm(at).household.wage_per_day == 5.0
    assert button(at, "back").disabled


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({}, ""),
        ({"household__wage_per_day": 7.0}, "Wage per day from 12 to 7 USD per day of work"),
        ({"appraisal__discount_rate": 0.12}, "Discount rate from 10% to 12%"),
        ({"appraisal__start": "2027-03"}, "First month from January 2027 to March 2027"),
        ({"plan": ()}, "Plan"),
        ({"about__note": "x" * 90}, "Note from"),
        ({"stands__1__trees": 290}, "Trees, House field from 400 to 290 trees"),
        (
            {"household__wage_per_day": 7.0, "household__savings": 1.0},
            "Wage per day from 12 to 7 USD per day of work, and 1",
        ),
        ({"techniques__side_graft__take__value": (0.5, 0.6, 0.7)}, "Take, Side graft"),
    ],
)
def test_a_change_is_said_by_its_name_and_values(changes, told):
    found = change_said(FARM, FARM.changed(**changes), WORDS)
    assert found.startswith(told) if told else not found
    assert len(found) < 130


def test_every_place_of_every_demo_farm_can_be_said():
    for one in demo_names():
        for other in demo_names():
            assert bool(change_said(demo_scenario(one), demo_scenario(other), WORDS)) is (one != other)


@pytest.mark.browser
def test_what_is_taken_back_is_taken_back_on_the_next_page_too_and_on_the_device(browser, dashboard):
    with look(browser, dashboard) as seen:
        seen.open(dashboard)
        wage = seen.page.get_by_label(WORDS("screen.sidebar.wage"), exact=True)
        before = wage.input_value()
        wage.fill("7")
        wage.press("Enter")
        seen.settle()
        seen.page.get_by_role("link", name=WORDS("screen.page.cash"), exact=True).first.click()
        seen.settle()
        seen.page.get_by_role("button", name="Take back:").click()
        seen.settle()
        assert wage.input_value() == before
        again = seen.page.get_by_role("button", name="Do again:")
        again.click()
        seen.settle()
        assert wage.input_value() == "7"
        seen.page.reload()
        seen.settle()
        assert wage.input_value() == "7"  # the farm is kept; what led to it is the session's
        assert seen.page.get_by_role("button", name=WORDS("change.back_nothing"), exact=True).is_disabled()
