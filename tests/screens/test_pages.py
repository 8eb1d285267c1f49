"""Every page without a browser: opened part by part, and what is typed in the sidebar, against the program's calls."""

import re

import pandas as pd
import pytest
from factories import some_plain
from naming import other_names
from screens.visiting import choose, farm, key, run, shown, tables_of, type_in, visit
from streamlit.elements.table import marshall_table
from streamlit.proto.ArrowData_pb2 import ArrowData
from streamlit.testing.v1 import AppTest

from renovation.decide import compare
from renovation.inputs import demo_names, demo_scenario
from renovation.screens.controls.text import plain, to_the_right
from renovation.screens.pages import PAGES
from renovation.show.compare import answer, tables
from renovation.words import Words

WORDS = Words("en")


SECTIONS = {
    "compare": ("measures", "rests_on", "break_even", "stands", "years", "figures"),
    "numbers": ("trees", "household", "market", "time", "ways", "figures"),
    "sources": ("way", "supplies", "season", "cautions", "ways", "words"),
}


def test_every_page_has_a_name_at_the_head_of_all_pages():
    names = [WORDS(f"screen.page.{page.name}") for page in PAGES]
    assert len(set(names)) == len(names)


def test_the_sections_tested_are_those_there_are():
    assert set(SECTIONS) <= {page.name for page in PAGES}


@pytest.mark.parametrize("name", some_plain(demo_names(), ["few_hands", "first_grafters"]))
@pytest.mark.parametrize("page", SECTIONS)
def test_every_part_of_every_page_opens_on_every_farm(page, name):
    at = visit(page, farm=name)
    assert farm(at).about.name == demo_scenario(name).about.name
    for section in SECTIONS[page][1:]:
        choose(at, page, section)
        assert other_names(shown(at) + " ".join(said for table in tables_of(at) for row in table for said in row)) == {}


def test_the_sources_say_why_a_figure_is_what_it_is():
    at = visit("sources")
    why = next(box for box in at.expander if box.label == "Why these figures")
    assert "53.2" in " ".join(entry.value for entry in why.markdown)


def test_numbers_stand_right_in_their_column_and_words_left():
    at = choose(visit(), "compare", "years")
    years = tables.years(compare(demo_scenario()), demo_scenario().comparison.headline, WORDS)
    styles = at.table[0].proto.arrow_data.styler.styles
    for place, column in enumerate(years.columns):
        assert (f"td.col{place} {{ text-align: right" in styles) == (column.align == "right")
    assert {column.align for column in years.columns} == {"left", "right"}


def test_columns_set_to_the_right_are_what_pandas_makes_of_such_a_style():
    frame = pd.DataFrame([["a", "1"], ["b", "2"]], columns=["way", "kg"])
    rules = [{"selector": f"{cell}.col1", "props": "text-align: right !important"} for cell in ("th", "td")]
    ours, whole = to_the_right(frame, [1]), frame.style.set_table_styles(rules)
    found = []
    for styler in (ours, whole):
        table = ArrowData()
        marshall_table(table, styler.set_uuid("one"), "one")
        found.append((table.styler.styles, table.styler.display_values, table.data))
    assert found[0] == found[1]


@pytest.mark.parametrize("money", [-216.0, -6338737.0])
def test_a_minus_sign_never_stands_alone_at_the_end_of_a_line(money):
    said = [WORDS.money(money, "XOF", 0), f"({WORDS.money(money, 'XOF', 0)} ± {WORDS.money(-money, 'XOF', 0)})"]
    # UAX 14: a word joiner and a no-break space forbid a break on either side
    assert all(re.search(r"\u2212\u2060\S", text) and "-" not in text for text in map(plain, said))
    assert "±\u00a0F" in plain(said[1])
    assert plain("Basal-shoot graft - 3") == "Basal-shoot graft - 3"


def test_the_answer_is_the_programs_own():
    at = visit()
    result = compare(demo_scenario())
    assert at.header[0].value == answer.leading(result, WORDS)
    shown = {(metric.label, metric.value) for metric in at.metric}
    for way in (result.headline, result.against):
        for measure in ("payback_years", "npv", "most_money_out"):
            cell = tables.measure_cell(result, way, measure, WORDS)
            assert (WORDS(f"measure.{measure}"), plain(cell)) in shown


PRICE = "sidebar.price.market.price_per_kg"


@pytest.mark.parametrize("text", ["3,5", "3.5", " 3,50 "])
def test_a_decimal_comma_is_read_right(text):
    at = type_in(visit(), PRICE, text)
    assert farm(at).market.price_per_kg == 3.5
    assert "3.5 USD per kg of dry beans" in [caption.value for caption in at.caption]
    changed = compare(demo_scenario().changed(market__price_per_kg=3.5))
    assert at.header[0].value == answer.leading(changed, WORDS)
    npv = tables.measure_cell(changed, changed.headline, "npv", WORDS)
    assert plain(npv) in [metric.value for metric in at.metric]
    assert at.query_params["price"] in ("3.5", ["3.5"])


@pytest.mark.parametrize("text", ["1,500", "1.500", "three", "", "-4"])
def test_a_doubtful_number_is_refused_and_the_last_one_stays(text):
    at = type_in(visit(), PRICE, text)
    assert farm(at) == demo_scenario()
    assert len(at.error) == 1
    assert plain("Still in use: 4 USD per kg of dry beans.") in at.error[0].value
    assert at.text_input(key=key(at, PRICE)).value == text
    type_in(at, PRICE, "1 500")
    assert farm(at).market.price_per_kg == 1500.0
    assert not at.error


def test_trees_are_whole_and_no_more_than_there_are():
    at = visit()
    place = "sidebar.comparison.trees"
    for text in ("2,5", "601", "0"):
        type_in(at, place, text)
        assert farm(at) == demo_scenario()
        assert "200 trees" in at.error[0].value
    type_in(at, place, "150")
    assert farm(at).comparison.trees == 150


def test_percent_on_the_screen_is_a_share_in_the_farm():
    at = type_in(visit(), "sidebar.rate.appraisal.discount_rate", "7,5")
    assert farm(at).appraisal.discount_rate == 0.075
    type_in(at, "sidebar.first_take.planning.learning.first_take", "30")  # hands learn here, so the curve's own
    assert farm(at).planning.learning.first_take == 0.30
    at = visit("compare", farm="few_hands")
    type_in(at, "sidebar.first_take.techniques.side_graft.take", "30")
    assert farm(at).techniques["side_graft"].take.value[0] == 0.30
    assert farm(at).techniques["side_graft"].take.source == "own"


def test_a_short_look_ahead_lets_plan_loans_and_planning_years_give_way():
    at = type_in(visit(), "sidebar.years.appraisal.horizon_years", "3")
    assert farm(at).appraisal.horizon_years == farm(at).planning.years_of(3) == 3
    assert farm(at).loans == ()
    assert farm(at).planning.loan is None
    assert WORDS("screen.left_out.planning_years") in at.warning[0].value


def test_a_stand_that_the_chosen_way_does_not_suit_is_compared_by_others_and_the_page_says_so():
    at = visit(stand="Gap field")
    result = compare(demo_scenario().changed(comparison__stand="Gap field", comparison__trees=None))
    assert at.header[0].value == answer.leading(result, WORDS)
    assert "Side graft" in at.warning[0].value


def test_what_is_said_once_stays_until_a_run_has_ended_and_a_person_goes_on():
    def is_said():
        return [box.value for box in at.warning if "nowhere" in box.value] != []

    at = visit(farm="nowhere")
    assert is_said()
    at.session_state["run"] = {}  # broken off before its end
    run(at)
    assert is_said()
    at.session_state["run"] = {"ended": True, "unasked": True}  # the browser's own part asks for a run
    run(at)
    assert is_said()
    run(at)
    assert not is_said()


def _late_taps():
    """Taps on the controls of the farm before, which come when another is in hand or none of it has changed."""
    import streamlit as st

    from renovation.inputs import demo_scenario
    from renovation.screens.controls import drivers, fields, sidebar
    from renovation.screens.memory import state

    price = drivers.places(state.scenario())["price"]
    state.change(price.changes(3.5))
    st.session_state["farm|1"] = state.origin()
    sidebar._choose_farm(state.key_of("farm"))
    st.text(state.scenario().market.price_per_kg)
    state.take_up(demo_scenario("few_hands"), "few_hands", is_demo=True)
    st.session_state["late|1"] = "7"
    fields._read("late|1", price)
    sidebar._choose_farm("farm|1")
    st.text(f"{state.origin()} {state.scenario() == demo_scenario('few_hands')}")


def test_a_tap_that_comes_late_changes_no_other_farm():
    at = AppTest.from_function(_late_taps).run()
    assert not at.exception
    assert [said.value for said in at.text] == ["3.5", "few_hands True"]
