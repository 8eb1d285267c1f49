"""My farm: ten questions from an empty start; what is typed is the farm, what is left is a guess."""

import re
from datetime import date

import pytest
from own_farm import ROWS
from screens.visiting import farm, key, run, said, shown, type_in, visit

from renovation.decide.dossier import Dossier
from renovation.inputs.notebook import QUESTIONS, answered, new_farm
from renovation.screens.pages.mine import NAMES
from renovation.words import Words

WORDS = Words("en")
TYPED = {
    "fields": {"number.0.trees": "200", "number.1.trees": "180", "number.2.trees": "140"},
    "crop": {"sacks.0.sacks": "2,5", "sacks.0.kg_per_sack": "64"},
    "hands": {"0.people": "2", "0.days_each": "8"},
    "price": {"0.price_per_kg": "30"},
    "wage": {"0.wage_per_day": "60"},
    "money": {"0.savings": "900"},
    "needs": {"0.living_costs": "700", "0.other_income": "500"},
    "loans": {},
    "grafts": {"0.made": "20", "0.taken": "5"},
}
"""An invented notebook: fifteen entries with the country."""


def own():
    """The page of a new visitor who has begun."""
    at = visit("mine")
    at.button(key=key(at, "begin.mine")).click()
    return run(at)


def captions(at):
    return [caption.value for caption in at.caption]


def press(at, name):
    next(button for button in at.button if button.label == WORDS(f"notebook.{name}")).click()
    return run(at)


def fill(at, question, typed):
    if question == "crop":
        at.button_group(key=key(at, "measure.crop")).set_value("sacks")
        run(at)
    for place, text in typed.items():
        at.text_input(key=key(at, f"question.{question}.{place}")).set_value(text)
    return press(at, "next")


def expected():
    made = new_farm(date.today().strftime("%Y-%m"), WORDS("notebook.farm_name"), WORDS("notebook.field_name", n=1))
    for question in QUESTIONS:
        made = answered(made, question, ROWS.get(question.name, []))
    return made


def test_ten_questions_make_the_farm_that_is_typed():
    at = own()
    at.selectbox(key=key(at, "question.place.0.country")).set_value("Ghana")
    press(at, "next")
    for question, typed in TYPED.items():
        fill(at, question, typed)
        assert said(at) == []
    assert at.title[0].value == WORDS("notebook.done")
    assert farm(at) == expected()
    assert sum(map(len, TYPED.values())) + 1 <= 15
    press(at, "to_plan")
    assert at.session_state["go_to"] == "plan"


def test_a_reload_of_the_address_returns_to_the_question_and_back_and_skip_change_nothing():
    at = own()
    before = farm(at)
    press(at, "skip")
    press(at, "skip")
    assert at.query_params["question"] in ("crop", ["crop"])
    press(at, "back")
    assert at.header[0].value == WORDS("notebook.question.fields")
    assert farm(at) == before
    again = visit("mine", question="hands")
    assert again.session_state["question"] == "hands"
    assert said(again) == []


def test_half_an_answer_and_what_cannot_be_read_are_refused_in_a_sentence():
    at = own()
    for _ in range(3):
        press(at, "skip")
    fill(at, "hands", {"0.people": "2"})
    assert said(at) == [
        "Days a month that each of them has for cocoa is missing. Write it too, or leave the whole question empty."
    ]
    fill(at, "hands", {"0.people": "two", "0.days_each": "1,500"})
    assert len(said(at)) == 2
    assert re.search("two is not a number", said(at)[0])
    assert "household.family_days" in farm(at).guessed


def test_a_number_of_two_readings_is_read_as_the_country_writes_it_and_said_back():
    """Indonesia parts thousands by a point, in English too (CLDR: en_ID); without a country both readings are told."""
    at, wage = own(), "sidebar.wage.household.wage_per_day"
    type_in(at, wage, "1.500")
    assert "household.wage_per_day" in farm(at).guessed
    assert "1.500 can be read in two ways. Write 1500 for the large number, or 1.5 for the small one." in said(at)[0]
    type_in(at, wage, "1.5")
    at.selectbox(key=key(at, "question.place.0.home")).set_value("ID")
    press(at, "next")
    assert farm(at).about.country == "ID"
    assert at.text_input(key=key(at, wage)).value == "1,5"
    type_in(at, wage, "1.500")
    assert farm(at).household.wage_per_day == 1500
    assert at.text_input(key=key(at, wage)).value == "1500"
    assert "1.500 USD per day of work" in captions(at)
    fill(at, "fields", {"number.0.trees": "1.234"})
    assert farm(at).stands[0].trees == 1234
    assert said(at) == ["1.234 is read as 1234."]


def test_what_was_told_stands_in_its_line_when_one_comes_back():
    at = own()
    press(at, "skip")
    fill(at, "fields", {"number.0.trees": "200", "number.1.trees": "90"})
    press(at, "back")
    assert [at.text_input(key=key(at, f"question.fields.number.{row}.trees")).value for row in range(3)] == [
        "200",
        "90",
        "",
    ]
    before = farm(at)
    press(at, "next")
    assert farm(at) == before


@pytest.mark.parametrize("name", NAMES)
def test_each_question_has_its_words(name):
    assert all(f"notebook.{group}.{name}" in WORDS for group in ("question", "why", "short"))


def test_the_sidebar_says_which_figure_is_our_guess_until_it_is_typed():
    at = own()
    said_of_wage = "Our guess, between 2.5 and 12 USD per day of work."
    assert said_of_wage in [caption.value for caption in at.caption]
    at.text_input(key=key(at, "sidebar.wage.household.wage_per_day")).set_value("6")
    run(at)
    assert said_of_wage not in [caption.value for caption in at.caption]
    assert "household.wage_per_day" not in farm(at).guessed


@pytest.mark.long
def test_twenty_grafts_of_which_none_five_and_all_took_are_three_answers_and_three_plans_in_that_order():
    answers, plans = [], []
    for taken in ("0", "5", "20"):
        at = own()
        at.session_state["question"] = "grafts"
        fill(run(at), "grafts", {"0.made": "20", "0.taken": taken})
        told = farm(at)
        (record,) = told.planning.records
        assert (record.made, record.taken) == (20, int(taken))
        page = visit("compare")
        page.session_state["scenario"] = told
        says = next(line for line in shown(run(page)).split("**") if "with hands that begin" in line)
        answers.append(int(re.findall(r"[0-9]+,[0-9]{3}", says)[0].replace(",", "")))
        small = {"stands__0__trees": 60, "stands__0__techniques": ("side_graft",), "planning__years": 1}
        plans.append(Dossier(told.changed(**small, planning__gap=0.002)).learned.plan.npv)
    for found in (answers, plans):
        assert found == sorted(set(found)), found
