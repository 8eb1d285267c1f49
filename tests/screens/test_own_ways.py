"""A way of one's own, without a browser: copied, changed, named, shown, taken back, and said where it came from."""

from datetime import date
from io import BytesIO

import openpyxl
import pytest
from screens.visiting import choose, farm, key, press, run, said, shown, type_in, visit

from renovation.inputs import demo_scenario
from renovation.inputs.own_ways import copied
from renovation.screens.controls.overrides import own_value
from renovation.screens.controls.text import plain
from renovation.show import figures
from renovation.show.changes import change_said
from renovation.show.report import report
from renovation.show.workbook import workbook
from renovation.words import Words

WORDS = Words("en")


def copy(at, of, name):
    number = len(farm(at).techniques)
    at.selectbox(key=key(at, f"copy_way_{number}.of")).set_value(of)
    at.text_input(key=key(at, f"copy_way_{number}.name")).set_value(name)
    next(button for button in at.button if button.label == "Copy this way").click()
    return run(at)


def with_copy(name="Our graft", of="side_graft"):
    found = demo_scenario()
    key, changes = copied(found, of, name, WORDS)
    found = found.changed(**changes)
    return found.changed(**own_value(found, ("techniques", key, "mature_crop"), 0.9))


@pytest.mark.long
def test_a_way_is_copied_changed_named_shown_and_removed():
    at = choose(visit("numbers"), "numbers", "ways")
    before = farm(at)
    assert said(copy(at, "side_graft", " side graft ")) == [
        "side graft is the name of another way. Write a name that no way has yet."
    ]
    copy(at, "side_graft", "Our *graft*")
    assert farm(at).techniques["our_graft"].label == "Our *graft*"
    assert at.selectbox(key=key(at, f"figures_of|{'|'.join(farm(at).techniques)}")).value == "our_graft"
    assert "Copied from side graft. No figure is changed yet." in shown(at)
    type_in(at, "techniques.our_graft.mature_crop", "0.9")
    assert farm(at).techniques["our_graft"].mature_crop.value == 0.9
    assert "Copied from side graft. 1 figure is changed here." in shown(at)
    assert "Copied from side graft; changed here." in shown(at)
    assert farm(at).techniques["side_graft"] == before.techniques["side_graft"]
    choose(at, "numbers", "ways")
    name = "own_name.our_graft.Our *graft*"
    assert said(type_in(at, name, "The plan")) == [
        "The plan is the name of something else on these pages. Write another name."
    ]
    type_in(at, name, "eGraft")
    assert farm(at).techniques["our_graft"].label == "eGraft"
    press(at, "own_show.our_graft")
    assert (at.session_state["beside"], at.session_state["go_to"]) == (["our_graft"], "compare")
    press(at, "own_remove.our_graft")
    assert farm(at) == before
    assert at.session_state["beside"] == []


@pytest.mark.long
def test_a_way_that_the_plan_uses_stays_and_the_page_says_why():
    at = choose(visit("numbers"), "numbers", "ways")
    copy(at, "side_graft", "Our graft")
    at.session_state["scenario"] = farm(at).changed(plan=({**farm(at).plan[0].model_dump(), "technique": "our_graft"},))
    choose(at, "numbers", "ways")
    press(at, "own_remove.our_graft")
    assert said(at) == [
        plain(f"Our graft is in the plan with {farm(at).plan[0].trees} trees. Take it out of the plan first.")
    ]
    assert "our_graft" in farm(at).techniques


@pytest.mark.long
@pytest.mark.parametrize("page", ["compare", "risk", "plan", "map", "lender", "cash", "season", "mine", "sources"])
def test_every_page_opens_with_a_way_of_ones_own(page):
    at = visit(page)
    found = with_copy("eGraft $5")
    treatment = {**found.plan[0].model_dump(), "technique": "egraft_5"}
    at.session_state["scenario"] = found.changed(comparison__headline="egraft_5", plan=(treatment,))
    run(at)
    if page == "compare":
        assert plain("eGraft $5") in shown(at)
    if page == "sources":
        at.selectbox(key=key(at, f"sources_of|{'|'.join(found.techniques)}")).set_value("egraft_5")
        assert "own number; copied from side graft; changed here" in shown(run(at))


def test_a_change_of_the_ways_is_told_by_the_name_of_the_way():
    before, after = demo_scenario(), with_copy()
    assert change_said(before, after, WORDS) == "Our graft among the ways"
    assert change_said(after, before, WORDS) == "Our graft out of the ways"


def test_the_table_of_a_copy_says_of_each_figure_where_it_came_from():
    table = figures.figures(with_copy(), "our_graft", WORDS)
    sources = {row[0]: row[-1] for row in table.rows}
    before = {row[0]: row[-1] for row in figures.figures(with_copy(), "side_graft", WORDS).rows}
    assert sources.pop("Crop of a grown tree") == "own number; copied from side graft; changed here"
    assert sources.pop("Months in which work may start") == ""
    assert {name: source.removesuffix("; copied from side graft") for name, source in sources.items()} == {
        name: before[name] for name in sources
    }
    assert all(source.endswith("; copied from side graft") for source in sources.values())


@pytest.mark.long
def test_report_and_workbook_say_where_the_figures_of_a_copy_came_from():
    found = with_copy("eGraft", "rooted_cutting")
    page = report(found, WORDS, date(2026, 11, 29))
    assert "own number; copied from rooted cutting; changed here" in page
    assert "]; copied from rooted cutting" in page  # behind the number of a printed source
    sheet = openpyxl.load_workbook(BytesIO(workbook(found, WORDS, date(2026, 11, 29))))["Assumptions"]
    rows = [[cell.value for cell in row] for row in sheet.iter_rows()]
    begin = next(place for place, row in enumerate(rows) if "eGraft" in str(row[0]))
    crop = next(row for row in rows[begin:] if row[0] == "Crop of a grown tree")
    assert (crop[1], crop[5]) == (0.9, "own number; copied from rooted cutting; changed here")
