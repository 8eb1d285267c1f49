"""The pages without a browser: what is typed, opened, linked and refused, against the program's own calls."""

import re

import pytest
from factories import some_plain
from streamlit.testing.v1 import AppTest

from renovation.decide import compare
from renovation.inputs import demo_names, demo_scenario, read_scenario, write_scenario
from renovation.screens.controls.text import plain
from renovation.screens.pages import PAGES
from renovation.show.compare import sentences, tables
from renovation.words import Words

WORDS = Words("en")
SECTIONS = {
    "compare": ("measures", "rests_on", "break_even", "stands", "years", "figures"),
    "numbers": ("trees", "household", "market", "time", "ways", "figures"),
    "sources": ("way", "supplies", "season", "cautions", "ways"),
}


def _script(page):
    """One page with the sidebar, as the entry script draws it."""
    from renovation.screens import entry
    from renovation.screens.controls import drivers, sidebar
    from renovation.screens.pages import PAGES

    drivers.read_link()
    sidebar.draw()
    entry.notes()
    {known.name: known.draw for known in PAGES}[page]()
    drivers.write_link()


def visit(page="compare", **link):
    """Open a page, by a link where one is given."""
    at = AppTest.from_function(_script, kwargs={"page": page}, default_timeout=60)
    for name, value in link.items():
        at.query_params[name] = value
    at.run()
    assert not at.exception, at.exception[0].message
    return at


def key(at, name):
    return f"{name}|{at.session_state['edition']}"


def choose(at, page, section):
    at.button_group(key=key(at, f"section.{page}")).set_value(section)
    return run(at)


def run(at):
    at.run()
    assert not at.exception, at.exception[0].message
    return at


def type_in(at, name, text):
    at.text_input(key=key(at, name)).set_value(text)
    return run(at)


def farm(at):
    return at.session_state["scenario"]


def said(at):
    return [entry.value for kind in (at.error, at.warning, at.success) for entry in kind]


def test_the_sections_tested_are_those_there_are():
    assert set(SECTIONS) <= {page.name for page in PAGES}


@pytest.mark.parametrize("name", some_plain(demo_names(), ["few_hands", "first_grafters"]))
@pytest.mark.parametrize("page", SECTIONS)
def test_every_part_of_every_page_opens_on_every_farm(page, name):
    at = visit(page, farm=name)
    assert farm(at).about.name == demo_scenario(name).about.name
    for section in SECTIONS[page][1:]:
        choose(at, page, section)


@pytest.mark.parametrize("way", demo_scenario().techniques)
def test_the_figures_of_every_way_open(way):
    at = choose(visit("numbers"), "numbers", "figures")
    at.selectbox(key=key(at, f"figures_of|{'|'.join(demo_scenario().techniques)}")).set_value(way)
    run(at)
    for section in ("crown", "tries", "work", "upkeep", "prices"):
        choose(at, "figures", section)


def test_temporary_shade_is_chosen_with_one_switch_and_back():
    at = choose(visit("numbers"), "numbers", "figures")
    before = farm(at)
    at.selectbox(key=key(at, f"figures_of|{'|'.join(demo_scenario().techniques)}")).set_value("rooted_cutting")
    run(at)
    choose(at, "figures", "tries")
    name = "temporary_shade.rooted_cutting"
    at.toggle(key=key(at, name)).set_value(False)
    run(at)
    bare = farm(at).techniques["rooted_cutting"]
    assert (bare.temporary_shade, bare.take, bare.intercrop) == (False, bare.take_without_shade, ())
    at.toggle(key=key(at, name)).set_value(True)
    run(at)
    assert farm(at) == before


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
    assert at.header[0].value == sentences.headline(result, WORDS)
    shown = {(metric.label, metric.value) for metric in at.metric}
    for way in (result.headline, result.against):
        for measure in ("payback_years", "npv", "most_money_out"):
            cell = tables.measure_cell(result, way, measure, WORDS)
            assert (WORDS(f"measure.{measure}"), cell) in shown


PRICE = "sidebar.price.market.price_per_kg"


@pytest.mark.parametrize("text", ["3,5", "3.5", " 3,50 "])
def test_a_decimal_comma_is_read_right(text):
    at = type_in(visit(), PRICE, text)
    assert farm(at).market.price_per_kg == 3.5
    assert "3.5 USD per kg of dry beans" in [caption.value for caption in at.caption]
    changed = compare(demo_scenario().changed(market__price_per_kg=3.5))
    assert at.header[0].value == sentences.headline(changed, WORDS)
    npv = tables.measure_cell(changed, changed.headline, "npv", WORDS)
    assert npv in [metric.value for metric in at.metric]
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
    type_in(at, "sidebar.first_take.techniques.side_graft.take", "30")
    assert farm(at).techniques["side_graft"].take.value == (0.30, 0.75)
    assert farm(at).techniques["side_graft"].take.source == "own"


# Links


def test_a_link_brings_its_numbers():
    at = visit(price="3,5", trees="120", rate="8", first="bud_graft", beside="air_layer")
    assert not said(at)
    assert farm(at).market.price_per_kg == 3.5
    assert (farm(at).comparison.trees, farm(at).appraisal.discount_rate) == (120, 0.08)
    assert farm(at).comparison.headline == "bud_graft"
    assert "air_layer" in at.session_state["beside"]


@pytest.mark.parametrize(
    ("link", "told"),
    [
        ({"rate": "900"}, "900"),
        ({"price": "1,500"}, "1,500"),
        ({"trees": "9999"}, "9999"),
        ({"farm": "nowhere"}, "nowhere"),
        ({"first": "no_such_way"}, "no_such_way"),
        ({"colour": "blue"}, "colour"),
        ({"start": "soon"}, "soon"),
    ],
)
def test_a_link_that_asks_for_the_impossible_is_told_so(link, told):
    at = visit(**link)
    assert farm(at) == demo_scenario()
    assert any(told in warning.value.replace("\\", "") for warning in at.warning)


# Files


def upload(at, name, content):
    at.file_uploader(key=key(at, "upload")).set_value((name, content, "application/toml"))
    return run(at)


BAD = write_scenario(demo_scenario()).replace("price_per_kg = 4.0", 'price_per_kg = "2,4"').encode()


@pytest.mark.parametrize("content", [BAD, b"", b"\xff\xfe\x00", b"price = 3,5"])
def test_a_bad_file_is_refused_whole_and_the_farm_stays(content):
    at = type_in(visit(), PRICE, "5")
    before = farm(at)
    upload(at, "mine.toml", content)
    assert farm(at) == before
    assert len(at.error) == 1
    assert "mine.toml" in at.error[0].value.replace("\\", "")
    assert before.about.name in at.error[0].value


def test_a_good_file_is_opened_and_its_numbers_stand_in_the_controls():
    other = demo_scenario().changed(market__price_per_kg=6.25, about__name="Our farm", about__invented=False)
    at = upload(visit(), "ours.toml", write_scenario(other).encode())
    assert farm(at) == other
    assert at.title[0].value == "Our farm"
    assert at.text_input(key=key(at, PRICE)).value == "6.25"
    assert any("ours.toml" in entry.value.replace("\\", "") for entry in at.success)
    assert not at.query_params  # a farm from a file cannot be linked to


def test_a_changed_farm_left_for_another_can_be_gone_back_to():
    at = type_in(visit(), "sidebar.price.market.price_per_kg", "3,5")
    mine = farm(at)
    other = demo_names()[1]
    at.selectbox(key=key(at, "farm")).set_value(other)
    run(at)
    assert farm(at) == demo_scenario(other)
    assert at.selectbox(key=key(at, "farm")).options[-1] == WORDS("screen.sidebar.left_farm", name=mine.about.name)
    at.selectbox(key=key(at, "farm")).select_index(len(demo_names()))
    run(at)
    assert farm(at) == mine
    assert len(at.selectbox(key=key(at, "farm")).options) == len(demo_names())


def test_what_is_saved_is_what_is_in_hand():
    at = type_in(visit(), PRICE, "3,5")
    assert read_scenario(write_scenario(farm(at)), "saved.toml") == farm(at)


# Your numbers


def test_a_stand_is_added_renamed_and_removed():
    at = visit("numbers")
    at.button(key=key(at, "add_stand")).click()
    run(at)
    assert len(farm(at).stands) == 5
    type_in(at, "stand.0.name", "By the river")
    assert farm(at).stands[0].name == "By the river"
    assert farm(at).comparison.stand == "By the river"
    assert {treatment.stand for treatment in farm(at).plan} <= {stand.name for stand in farm(at).stands}
    at.button(key=key(at, "remove_stand_0_By the river")).click()
    run(at)
    assert "By the river" not in [stand.name for stand in farm(at).stands]
    assert all(treatment.stand != "By the river" for treatment in farm(at).plan)


def test_two_stands_of_one_name_are_refused():
    at = type_in(visit("numbers"), "stand.0.name", farm(visit()).stands[1].name)
    assert farm(at) == demo_scenario()
    assert at.error


def test_fewer_trees_than_the_plan_treats_leave_the_plan_out_and_say_so():
    at = type_in(visit("numbers"), "stands.0.trees", "210")
    assert farm(at).stands[0].trees == 210
    assert farm(at).plan == ()
    assert WORDS("screen.left_out.plan") in at.warning[0].value


def test_a_short_look_ahead_lets_plan_loans_and_planning_years_give_way():
    at = type_in(visit(), "sidebar.years.appraisal.horizon_years", "3")
    assert farm(at).appraisal.horizon_years == farm(at).planning.years_of(3) == 3
    assert farm(at).loans == ()
    assert farm(at).planning.loan is None
    assert WORDS("screen.left_out.planning_years") in at.warning[0].value


def test_a_stand_that_the_chosen_way_does_not_suit_is_compared_by_others_and_the_page_says_so():
    at = visit(stand="Gap field")
    result = compare(demo_scenario().changed(comparison__stand="Gap field", comparison__trees=None))
    assert at.header[0].value == sentences.headline(result, WORDS)
    assert "Side graft" in at.warning[0].value


def test_an_own_figure_takes_the_default_s_place_and_gives_it_back():
    at = choose(visit("numbers"), "numbers", "figures")
    type_in(at, "techniques.side_graft.mature_crop", "2,5")
    figure = farm(at).techniques["side_graft"].mature_crop
    assert (figure.value, figure.high, figure.source) == (2.5, 2.5, "own")
    at.button(key=key(at, "back('techniques', 'side_graft', 'mature_crop')")).click()
    run(at)
    assert farm(at) == demo_scenario()


def curve_entry(at, place, part):
    return next(
        entry
        for entry in at.text_input
        if entry.key.startswith("curve('techniques', 'side_graft', 'new_crown')")
        and entry.key.endswith(f".{place}.{part}")
    )


def use_curve(at):
    next(button for button in at.button if button.label == WORDS("screen.figures.use_curve")).click()
    return run(at)


def test_a_curve_is_typed_point_by_point():
    at = choose(visit("numbers"), "numbers", "figures")
    before = farm(at).techniques["side_graft"].new_crown.value
    curve_entry(at, 1, "share").set_value("12,5")
    curve_entry(at, len(before), "age").set_value("15")  # the empty point, put where its age belongs
    curve_entry(at, len(before), "share").set_value("20")
    use_curve(at)
    expected = sorted([before[0], (before[1][0], 0.125), *before[2:], (15.0, 0.2)])
    assert farm(at).techniques["side_graft"].new_crown.value == tuple(expected)
    at.button(key=key(at, "back('techniques', 'side_graft', 'new_crown')")).click()
    run(at)
    assert farm(at) == demo_scenario()


@pytest.mark.parametrize(("part", "text"), [("share", "1,500"), ("age", "12x"), ("age", "9"), ("share", "900")])
def test_a_curve_that_cannot_be_is_refused_and_the_old_one_stays(part, text):
    at = choose(visit("numbers"), "numbers", "figures")
    curve_entry(at, 1, part).set_value(text)
    use_curve(at)
    assert farm(at) == demo_scenario()
    assert WORDS("screen.figures.curve_kept") in at.error[0].value


def test_crop_by_pods_keeps_what_it_says():
    at = visit("numbers")
    at.selectbox(key=key(at, "stand.0.crop_by")).set_value("pods")
    run(at)
    assert farm(at).stands[0].kg_per_tree == pytest.approx(demo_scenario().stands[0].kg_per_tree)


def shares(at, values):
    for month, value in enumerate(values):
        at.text_input(key=at.session_state["season_keys"][month]).set_value(value)
    next(button for button in at.button if button.label == WORDS("screen.numbers.use_shares")).click()
    return run(at)


def test_twelve_shares_must_be_whole():
    at = choose(visit("numbers"), "numbers", "market")
    shares(at, ["10"] * 12)
    assert farm(at) == demo_scenario()
    assert "120" in at.error[0].value
    shares(at, ["12,5"] * 8 + ["0"] * 4)
    assert farm(at).market.season.shares == pytest.approx([0.125] * 8 + [0.0] * 4)


def test_another_currency_turns_the_default_costs():
    at = choose(visit("numbers"), "numbers", "time")
    at.text_input(key=key(at, "currency_code")).set_value("GHS")
    at.text_input(key=key(at, "currency_rate")).set_value("12,5")
    next(button for button in at.button if button.label == WORDS("screen.numbers.use_currency")).click()
    run(at)
    before, after = demo_scenario(), farm(at)
    assert after.appraisal.currency == "GHS"
    assert after.market.price_per_kg == before.market.price_per_kg
    cost, cost_before = (f.supplies.items["scion"].unit_cost.value for f in (after, before))
    assert cost == pytest.approx(12.5 * cost_before)


def test_twelve_months_for_one():
    at = choose(visit("numbers"), "numbers", "household")
    at.toggle(key=key(at, "household.family_days.by_month")).set_value(True)
    run(at)
    type_in(at, "month4.household.family_days", "3,5")
    days = demo_scenario().household.family_days
    assert farm(at).household.family_days == tuple(3.5 if month == 4 else days for month in range(12))


def test_a_way_is_left_out_and_taken_up_again():
    at = choose(visit("numbers"), "numbers", "ways")
    at.toggle(key=key(at, "consider.rooted_cutting")).set_value(False)
    run(at)
    assert "rooted_cutting" not in farm(at).techniques
    assert farm(at).comparison.against in farm(at).techniques
    at.toggle(key=key(at, "consider.rooted_cutting")).set_value(True)
    run(at)
    assert farm(at).techniques["rooted_cutting"] == demo_scenario().techniques["rooted_cutting"]
