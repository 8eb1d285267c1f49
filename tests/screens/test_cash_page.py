"""The family cash page: what it says is what the program's own calls say; the lender's parts open with it."""

import json

import pytest
from factories import some_plain
from naming import other_names
from results import cash_of
from screens.looking import AXE, PAGES, missing
from screens.looking import visit as look
from screens.test_browser import BEYOND, CODE_NAME, OF_STREAMLIT, RULES, SEEN, parts
from screens.visiting import choose, farm, header, key, open_with, run, said, type_in, visit

from renovation.decide.lending import appraise_loans
from renovation.inputs import demo_names, demo_scenario, month_count, write_scenario
from renovation.screens.controls.text import plain
from renovation.screens.parts import plan as plan_part
from renovation.show.cash import sentences as cash_sentences
from renovation.show.voice import Voice
from renovation.words import Words

WORDS = Words("en")


SECTIONS = {
    "cash": ("years", "plan", "hands", "calendar", "months", "without"),
    "lender": ("cover", "terms", "calendar", "cases", "payments", "schedule", "add"),
}


BARE = {"plan": (), "loans": ()}


OF_NARROW = {"scrollable-region-focusable"}
"""The library's box round a table wider than a telephone, which browsers let a keyboard reach by themselves."""


TIGHT = "few_hands"
"""The demo farm whose money and hands run short."""


@pytest.mark.parametrize("name", some_plain(demo_names(), ["cooperative_nursery", "few_hands"]))
@pytest.mark.parametrize("page", SECTIONS)
def test_every_part_opens_on_every_farm_and_says_what_the_program_says(page, name):
    at = visit(page, farm=name)
    assert not said(at)
    scenario = demo_scenario(name)
    answers = {
        "cash": lambda: cash_sentences.family_answer(cash_of(scenario), WORDS),
        "lender": lambda: cash_sentences.lender_answer(appraise_loans(scenario).loans[0], WORDS),
    }
    first, *rest = answers[page]()
    assert header(at) == plain(first)
    shown = " ".join(block.value for block in at.markdown)
    assert all(plain(sentence) in shown for sentence in rest)
    for section in SECTIONS[page][1:]:
        choose(at, page, section)
        assert not said(at)
        assert other_names(" ".join(block.value for block in (*at.markdown, *at.caption))) == {}


def test_a_farm_without_plan_says_so_and_offers_one():
    at = open_with("cash", **BARE)
    assert WORDS("screen.cash.no_plan") in [entry.value for entry in at.warning]
    at.button(key=key(at, "add_work")).click()
    run(at)
    (row,) = farm(at).plan
    weighed = demo_scenario().comparison
    assert (row.stand, row.technique, row.trees) == (weighed.stand, weighed.headline, weighed.trees)
    assert header(at) == plain(cash_sentences.family_answer(cash_of(farm(at)), WORDS)[0])


@pytest.mark.parametrize(
    ("living_costs", "savings", "told"),
    [(0.0, 1000.0, []), (400.0, 0.0, ["short_means", "spends_more_means"]), (400.0, 1e6, ["spends_more_means"])],
)
def test_what_running_short_means_is_said_where_it_does(living_costs, savings, told):
    """Each of two things has its name: a balance below the floor, and a year that savings carry."""
    at = open_with("cash", household__living_costs=living_costs, household__savings=savings)
    floor = Voice.of(farm(at), WORDS).money(farm(at).household.floor)
    said = {name: plain(WORDS(f"screen.cash.{name}", floor=floor)) for name in ("short_means", "spends_more_means")}
    shown = " ".join(caption.value for caption in at.caption)
    assert [name for name in said if said[name] in shown] == told


def plan_page():
    return choose(visit("cash"), "cash", "plan")


def test_trees_of_a_row_are_changed_and_too_many_are_refused_whole():
    at = type_in(plan_page(), "plan.0.trees", "80")
    assert farm(at).plan[0].trees == 80
    before = farm(at)
    type_in(at, "plan.0.trees", "580")
    assert farm(at) == before
    # 580 here, 180 and 180 in the other rows: more than the 600 there are
    assert "Trees of River field: 600." in at.error[0].value.replace("\\", "")
    assert len(farm(at).plan) == len(demo_scenario().plan)


def test_another_way_that_cannot_start_then_starts_later_and_says_so():
    at = plan_page()
    at.selectbox(key=key(at, "plan.0.technique")).set_value("rooted_cutting")
    run(at)
    row = farm(at).plan[0]
    assert row.technique == "rooted_cutting"
    assert row.start in plan_part.start_months(farm(at), "rooted_cutting")
    assert any(WORDS.month(row.start) in entry.value for entry in at.warning)


def test_another_stand_takes_a_way_that_suits_it():
    at = plan_page()
    at.selectbox(key=key(at, "plan.0.stand")).set_value("Gap field")
    run(at)
    row, stand = farm(at).plan[0], demo_scenario().stand("Gap field")
    assert row.stand == "Gap field"
    assert row.technique in stand.techniques
    assert any(stand.name in entry.value for entry in at.warning)


def test_no_trees_that_are_left_alone_are_offered():
    at = plan_page()
    assert "Budwood corner" not in at.selectbox(key=key(at, "plan.0.stand")).options


@pytest.mark.parametrize("name", some_plain(demo_names(), ["cooperative_nursery"]))
def test_every_month_on_offer_is_accepted_and_no_other_is_left_out(name):
    scenario = demo_scenario(name)
    first = month_count(scenario.appraisal.start)
    for way, technique in scenario.techniques.items():
        offered = plan_part.start_months(scenario, way)
        free = scenario.free_trees if technique.works_on == "trees" else scenario.free_places
        stands = [s.name for s in scenario.stands if free(s.name) and not s.untouched]
        stand = next(name for name in stands if way in plan_part.suited(scenario, name))
        for months_on in range(30):
            month = f"{(first + months_on) // 12}-{(first + months_on) % 12 + 1:02d}"
            row = {"stand": stand, "technique": way, "trees": 1, "start": month}
            try:
                scenario.changed(plan=(row,))
            except Exception:
                assert month not in offered, (way, technique.start_months)
            else:
                assert month in offered, (way, technique.start_months)


def test_rows_are_added_until_every_tree_is_planned_and_taken_out_again():
    at = choose(open_with("cash", plan=()), "cash", "plan")
    for _ in range(40):
        if not [button for button in at.button if button.key == key(at, "add_work")]:
            break
        at.button(key=key(at, "add_work")).click()
        run(at)
    planned = sum(row.trees for row in farm(at).plan)
    assert planned == sum(stand.trees for stand in demo_scenario().stands if not stand.untouched)
    assert WORDS("screen.cash.all_planned") in [caption.value for caption in at.caption]
    number = len(farm(at).plan)
    at.button(key=key(at, "remove_work_0")).click()
    run(at)
    assert len(farm(at).plan) == number - 1


@pytest.mark.browser
@pytest.mark.long
@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (1280, "light")])
@pytest.mark.parametrize("page", SECTIONS)
def test_the_farm_in_need_is_whole_readable_and_in_words(browser, dashboard, page, width, scheme):
    if not AXE.exists():
        missing("axe-core")
    with look(browser, dashboard, width=width, scheme=scheme) as seen:
        seen.open(f"{dashboard}/{PAGES[page]}?farm={TIGHT}")
        seen.page.evaluate(AXE.read_text("utf-8"))
        for part in parts(seen):
            assert seen.page.evaluate(BEYOND) == {"wide": 0, "cut": [], "svg": []}, f"part {part}"
            assert not CODE_NAME.findall(seen.page.evaluate(SEEN)), f"part {part}"
            found = seen.page.evaluate("rules => axe.run(document, rules)", RULES)
            faults = [
                (fault["id"], node["html"][:160])
                for fault in found["violations"]
                if fault["id"] not in OF_STREAMLIT | (OF_NARROW if width < 700 else set())
                for node in fault["nodes"]
            ]
            assert not faults, json.dumps({"part": part, "faults": faults}, indent=1)


@pytest.mark.browser
@pytest.mark.long
@pytest.mark.parametrize("page", SECTIONS)
def test_a_farm_with_neither_plan_nor_loan_is_whole(browser, dashboard, page):
    with look(browser, dashboard) as seen:
        seen.open(f"{dashboard}/{PAGES[page]}")
        seen.page.get_by_text(WORDS("screen.sidebar.files")).click()
        bare = write_scenario(demo_scenario().changed(**BARE)).encode()
        bare_file = {"name": "bare.toml", "mimeType": "application/toml", "buffer": bare}
        seen.page.locator('input[type="file"]').set_input_files(bare_file)
        seen.settle()
        assert seen.page.get_by_text(WORDS(f"screen.{page}.no_plan")).is_visible()
        for part in parts(seen):
            assert seen.page.evaluate(BEYOND) == {"wide": 0, "cut": [], "svg": []}, f"part {part}"
