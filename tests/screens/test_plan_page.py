"""The plan page: it says what the planner's own calls say; an older plan is marked; using a plan changes the farm."""

import functools
import itertools
import threading
from dataclasses import replace
from types import SimpleNamespace

import pytest
from drawings import rows
from factories import some_plain
from screens.looking import AXE, PAGES
from screens.looking import visit as look
from screens.test_browser import BEYOND, CODE_NAME, OF_STREAMLIT, RULES, SEEN, parts
from screens.visiting import cells, choose, farm, key, press, run, said, shown, tables_of, type_in, visit

from renovation.decide import compare
from renovation.decide.plan import learned_plan, price_of_caution, quick_plan, repairs, sheet, why_not_more, yardsticks
from renovation.decide.practise import practise_first
from renovation.decide.replacement import when_to_renovate
from renovation.decide.risk.careful import careful_plan
from renovation.decide.risk.family import family_plan
from renovation.farm import farm_flows, household_cash
from renovation.inputs import demo_names, demo_scenario, read_scenario, write_scenario
from renovation.inputs.scenario import twelve
from renovation.screens import jobs, searches
from renovation.screens.controls.text import plain
from renovation.screens.jobs import Job
from renovation.screens.memory import plan as plan_results
from renovation.screens.parts import closer
from renovation.screens.searches import Found
from renovation.show import before
from renovation.show.compare.practise import practise_sentences
from renovation.show.plan import careful as careful_words
from renovation.show.plan import charts as plan_charts
from renovation.show.plan import tables as plan_tables
from renovation.show.plan.broken import broken_sentences, repair_sentences
from renovation.show.plan.sentences import (
    caution_sentences,
    head_in_parts,
    head_sentence,
    limit_sentences,
)
from renovation.show.plan.sheet_sentences import look_sentence
from renovation.show.voice import Voice
from renovation.words import Words

WORDS = Words("en")
FAST = "old_stand_with_gaps"
"""The demo farm whose plan is found soonest."""


def short(name):
    """A demo farm asked for two years, without learning, roughly: a plan is found in a second or two."""
    planning = {"planning__years": 2, "planning__learning": None, "planning__gap": 0.02}
    planning["planning__value_per_family_day"] = 0.0
    return demo_scenario(name).changed(**planning, planning__time_limit_seconds=20.0)


@functools.cache
def planned(scenario_text):
    """A plan by the program's own calls, once; by what a scenario's file says, since scenarios are not hashed."""
    return learned_plan(read_scenario(scenario_text.encode(), "farm.toml")).plan


def of(scenario):
    return planned(write_scenario(scenario))


def finished(at):
    """Wait for the search, then draw the page anew as the browser would."""
    at.session_state["search"].thread.join(timeout=400)
    return run(at)


def with_farm(at, scenario):
    at.session_state["scenario"] = scenario
    return run(at)


def made(scenario, name):
    """The page with its plan made."""
    at = with_farm(visit("plan", farm=name), scenario)
    if "make_plan" in {button.key.split("|")[0] for button in at.button} and not at.header:
        finished(press(at, "make_plan"))
    return at


@functools.cache
def checked(scenario_text):
    """The careful plan of a farm by the program's own calls, once."""
    return careful_plan(planned(scenario_text), risk=read_scenario(scenario_text.encode(), "farm.toml").risk)


def family(scenario):
    """The plan that the family is shown first, and the careful search behind it."""
    found = checked(write_scenario(scenario))
    return family_plan(found), found


@pytest.mark.long
@pytest.mark.parametrize("name", some_plain(demo_names(), [FAST]))
def test_the_page_says_what_the_planner_says_on_every_farm(name):
    scenario = short(name)
    at, (plan, careful) = made(scenario, name), family(scenario)
    head, starts = head_in_parts(plan, WORDS)
    assert at.header[0].value == plain(head)
    assert all(plain(start) in shown(at) for start in starts)
    assert plain(careful_words.said(careful, WORDS)[0]) in shown(at)
    assert all((plain(one) in shown(at)) != careful.same for one in careful_words.bolder(careful, WORDS)[:1])
    laid_out = sheet(plan)
    for stand in scenario.stands:
        trees = sum(start.trees for start in laid_out.starts if start.stand == stand.name)
        told = WORDS("unit.trees", n=trees) if trees else WORDS("screen.plan.none_now")
        assert (stand.name, told) in {(m.label, m.value) for m in at.metric}
    choose(at, "plan", "rules")
    found = tables_of(at)
    assert cells(plan_tables.work(laid_out, plan.scenario, WORDS)) in found
    assert cells(plan_tables.in_hand(laid_out, WORDS)) in found
    assert (cells(plan_tables.shopping(laid_out, WORDS)) in found) == bool(laid_out.shopping)
    assert all(plain(look_sentence(look, plan, WORDS)) in shown(at) for look in laid_out.looks)
    assert cells(plan_tables.rules(plan, yardsticks(plan), WORDS)) in found
    assert all(plain(sentence) in shown(at) for sentence in plan_tables.broken(plan, yardsticks(plan), WORDS))
    choose(at, "plan", "trees")
    assert cells(plan_tables.trees(plan, WORDS)) in tables_of(at)
    choose(at, "plan", "years")
    assert cells(plan_tables.years(plan, WORDS)) in tables_of(at)
    choose(at, "plan", "when")
    assert not said(at)


@pytest.mark.long
def test_the_page_gives_the_sheet_for_the_wall_and_draws_each_work_beside_its_words():
    scenario = short(FAST)
    at, plan = made(scenario, FAST), of(scenario)
    offered = [button.proto.label for button in at.get("download_button")]
    assert WORDS("screen.sheet.save") in offered
    assert WORDS("screen.sheet.save_all", n=plan.problem.years) in offered
    works = {kind for month in sheet(plan).months for kind, days in month.work.items() if days >= 0.05}
    told = {caption.value for caption in at.caption}
    assert {plain(Voice.of(plan.scenario, WORDS).work(kind)) for kind in works} <= told


def test_many_starts_stand_on_lines_of_their_own():
    plan = of(short(FAST))
    starts = [start for start in plan.starts if start.year == 1][:1]
    few, many = (SimpleNamespace(scenario=plan.scenario, starts=starts * n, broken=()) for n in (3, 4))
    assert head_in_parts(few, WORDS) == (head_sentence(few, WORDS), [])
    head, parts = head_in_parts(many, WORDS)
    assert head == WORDS("plan.head_count", trees=WORDS("unit.trees", n=4 * starts[0].trees))
    assert len(parts) == 4
    assert all(part.rstrip(".") in head_sentence(many, WORDS) for part in parts)


def test_less_than_one_tree_alive_is_not_called_none():
    plan = of(short(FAST))
    graft = next(look for look in sheet(plan).looks if look.family == "graft")
    said = look_sentence(replace(graft, when="month", trees=1, expected_alive=0.25), plan, WORDS)
    assert "Expected alive: at most 1." in said


@pytest.mark.long
def test_what_holds_the_plan_back_is_said():
    scenario = short(FAST)
    at, plan = made(scenario, FAST), of(scenario)
    choose(at, "plan", "limits")
    limits = why_not_more(plan)
    assert limits
    for sentence in limit_sentences(limits, plan, WORDS):
        assert plain(sentence) in shown(at)


@pytest.mark.long
def test_the_price_of_caution_is_asked_for_and_drawn():
    scenario = short(FAST)
    at, plan = made(scenario, FAST), of(scenario)
    choose(at, "plan", "caution")
    if "make_caution" in {b.key.split("|")[0] for b in at.button}:
        finished(press(at, "make_caution"))
    points = price_of_caution(plan.problem)
    assert cells(plan_tables.floors(plan, points, WORDS)) in tables_of(at)
    # a higher floor can never come to more by the plan's aim, whatever the search found
    kept = [point.aim for point in points if point.aim is not None]
    assert all(later <= first + 0.03 * abs(first) for first, later in itertools.pairwise(kept))
    chart = plan_charts.caution_chart(plan, points, WORDS)
    assert chart.description == " ".join(caution_sentences(plan, points, WORDS))


@pytest.mark.long
def test_the_careful_plan_comes_first_and_the_bolder_one_can_be_taken_up():
    name = "first_grafters"
    scenario = short(name)
    at, (plan, found) = made(scenario, name), family(scenario)
    assert not found.same
    assert at.header[0].value == plain(head_in_parts(plan, WORDS)[0])
    assert all(plain(sentence) in shown(at) for sentence in careful_words.bolder(found, WORDS))
    choose(at, "plan", "careful")
    assert all(plain(sentence) in shown(at) for sentence in careful_words.said(found, WORDS))
    assert cells(careful_words.starts(found, WORDS)) in tables_of(at)
    assert cells(careful_words.answers(found, WORDS)) in tables_of(at)
    press(at, "use_bolder")
    assert farm(at).plan == found.expected.treatments
    press(at, "use_plan")
    assert farm(at).plan == plan.treatments
    assert farm(at).loans == found.careful.loans
    assert WORDS("screen.plan.in_use") in said(at)
    assert not at.warning


@pytest.mark.long
def test_a_plan_that_stands_up_already_is_said_to():
    at, (_, found) = made(short(FAST), FAST), family(short(FAST))
    assert found.same
    assert plain(careful_words.said(found, WORDS)[0]) in shown(at)
    assert not {"use_bolder"} & {b.key.split("|")[0] for b in at.button}


def test_a_first_plan_is_shown_while_it_is_still_checked_and_gives_way_to_the_careful_one():
    """One tap: what the search hands out is drawn and marked in words, nothing of it can be put to use yet."""
    at, scenario = with_farm(visit("plan", farm=FAST), short(FAST)), short(FAST).changed(household__floor=499.0)
    with_farm(at, scenario)
    learned, (_, found) = quick_plan(scenario), family(scenario)
    told = searches.Found(scenario, learned, learned.plan, (), None, sheet(learned.plan), checking=True)
    go_on = threading.Event()
    job = Job(plan_results.careful_question(scenario), "found", lambda _: go_on.wait(60), first=told)
    at.session_state["search"] = jobs.line().start(job)
    run(at)
    floor = WORDS.round_money(499.0, scenario.appraisal.currency)
    assert [info.value for info in at.info if "Still checking" in info.value] == [
        plain(WORDS("screen.plan.checking", floor=floor))
    ]
    assert at.header[0].value == plain(head_in_parts(learned.plan, WORDS)[0])
    buttons = {button.key.split("|")[0] for button in at.button}
    assert "stop_plan" in buttons
    assert not buttons & {"use_plan", "make_plan"}
    go_on.set()
    job.thread.join()
    job.result = replace(told, careful=found, plan=family_plan(found), checking=False)
    run(at)
    assert "Still checking" not in " ".join(info.value for info in at.info)
    assert at.header[0].value == plain(head_in_parts(family_plan(found), WORDS)[0])


@pytest.mark.long
def test_where_no_plan_keeps_every_promise_that_is_the_headline_and_the_changes_stand_beneath():
    scenario = short(FAST)
    costs = tuple(2.6 * cost for cost in twelve(scenario.household.living_costs))
    scenario = scenario.changed(household__living_costs=costs, household__savings=0.0)
    at, plan = made(scenario, FAST), of(scenario)
    assert plan.broken
    assert at.header[0].value == WORDS("plan.broken.head")
    for said_so in (*broken_sentences(plan, WORDS), *repair_sentences(repairs(plan), plan, WORDS)):
        assert plain(said_so) in shown(at)
    assert WORDS("plan.broken.below") in [warning.value for warning in at.warning]
    assert at.subheader[0].value.startswith("The plan that breaks least")
    for never in ("everything is paid", "This year start", "is worth more: that is proven. It holds"):
        assert never not in shown(at)


def test_an_older_plan_stays_and_is_marked():
    at = made(short(FAST), FAST)
    before = at.header[0].value
    type_in(at, "household.floor", "777")
    assert farm(at).household.floor == 777.0
    assert at.header[0].value == before
    assert [warning.value for warning in at.warning] == [WORDS("screen.plan.older")]
    type_in(at, "household.floor", "500")
    assert not at.warning


def test_a_plan_in_use_is_the_farms_own_and_not_older():
    scenario = short(FAST)
    at, (plan, _) = made(scenario, FAST), family(scenario)
    press(at, "use_plan")
    assert farm(at).plan == plan.treatments
    assert [loan.name for loan in farm(at).loans] == ([plan.loan.name] if plan.loan else [])
    assert WORDS("screen.plan.in_use") in said(at)
    assert not at.warning
    # the cash page's own account follows the plan to the cent, where no interest is earned on savings
    used = farm(at)
    balance = household_cash(used, farm_flows(used, used.plan)).with_plan.balance
    assert used.household.savings_rate == 0
    assert balance == pytest.approx(plan.account.balance, abs=0.05)


def test_a_search_can_be_stopped_and_nothing_unproven_is_called_best():
    name = "few_hands"
    scenario = demo_scenario(name).changed(planning__gap=0.0)
    at = with_farm(visit("plan", farm=name), scenario)
    press(at, "make_plan")
    assert not {button.key.split("|")[0] for button in at.button} & {"make_plan", "use_plan"}
    press(at, "stop_plan")
    finished(at)
    assert "make_plan" in {button.key.split("|")[0] for button in at.button}
    assert WORDS("plan.standing.best") not in shown(at)
    # what was stopped is not remembered for others
    assert "found" not in jobs.remembered(plan_results.careful_question(scenario))


@pytest.mark.parametrize(
    ("name", "text", "found"),
    [
        ("planning.years", "3", lambda f: f.planning.years == 3),
        ("planning.scions_per_year", "150", lambda f: f.planning.scions_per_year == 150.0),
        ("planning.scions_per_year", "", lambda f: f.planning.scions_per_year is None),
        ("plan.household.hired_days_limit", "12,5", lambda f: f.household.hired_days_limit == 12.5),
        ("plan.household.hired_days_limit", "", lambda f: f.household.hired_days_limit is None),
        ("planning.loan.limit", "900", lambda f: f.planning.loan.limit == 900.0),
    ],
)
def test_what_the_plan_must_keep_is_changed_in_the_farm(name, text, found):
    at = visit("plan", farm="old_stand_with_gaps")
    type_in(at, name, text)
    assert found(farm(at))


def test_the_loan_and_learning_are_turned_off_and_on_again_as_they_were():
    name = "first_grafters"
    at, planning = visit("plan", farm=name), demo_scenario(name).planning
    for switch, field in (("plan_loan", "loan"), ("plan_learning", "learning")):
        at.toggle(key=key(at, switch)).set_value(False)
        run(at)
        assert getattr(farm(at).planning, field) is None
        at.toggle(key=key(at, switch)).set_value(True)
        run(at)
        assert getattr(farm(at).planning, field) == getattr(planning, field)


def record(at, made, taken):
    """Write down grafts made and taken, and send them off."""
    place = len(farm(at).planning.records)
    for field, text in (("made", made), ("taken", taken)):
        at.text_input(key=key(at, f"new_record_{place}.{field}")).set_value(text)
    next(button for button in at.button if button.label == WORDS("screen.plan.add_record")).click()
    return run(at)


def test_how_many_trees_to_try_first_is_said_before_any_search():
    comparison = compare(demo_scenario())
    said_first = practise_sentences(practise_first(comparison), comparison, WORDS)[0]
    assert plain(said_first) in [entry.value for entry in visit("plan").markdown]


def test_own_grafts_are_written_down_said_and_taken_out():
    at = visit("plan", farm="first_grafters")
    at.toggle(key=key(at, "plan_learning")).set_value(False)
    record(run(at), "60", "21")
    (graft,) = farm(at).planning.records
    assert (graft.made, graft.taken) == (60, 21)
    # rule of succession (Laplace, 1774): 21 of 60 make (21 + 1) / (60 + 2) = 35 %
    assert "35%" in shown(at)
    for made, taken, why in (
        ("20", "21", "more than the grafts that were made"),
        ("twenty", "2", "not a number"),
        ("20", "", ""),
    ):
        record(at, made, taken)
        assert why in at.error[0].value
        assert farm(at).planning.records == (graft,)
    press(at, "remove_record_0")
    assert farm(at).planning.records == ()
    # the season is the one before the first month, and days may be told beside
    at.text_input(key=key(at, "new_record_0.work.side_graft.graft")).set_value("4,5")
    record(at, "60", "21")
    (graft,) = farm(at).planning.records
    assert (graft.season, graft.work["graft"].days) == ("2026-01", 4.5)
    assert "Counted are 4.5 days on 60 trees." in shown(at)


def test_the_question_is_the_same_whatever_plan_or_comparison_stands_beside_it():
    scenario = demo_scenario(FAST)
    asked = plan_results.question(scenario)
    assert plan_results.question(scenario.changed(plan=(), comparison__headline="air_layer")) == asked
    assert plan_results.question(scenario.changed(household__floor=1.0)) != asked
    assert plan_results.question(scenario.changed(planning__years=1)) != asked
    assert plan_results.question(scenario.changed(risk__price_sd=0.4, risk__seed=9)) == asked
    falling = scenario.changed(risk__price_path="typed", risk__price_by_year=(1.0, 0.8))
    assert plan_results.question(falling) != asked  # the plan reads the expected price
    careful = plan_results.careful_question(scenario)
    assert plan_results.careful_question(scenario.changed(risk__price_sd=0.4)) != careful
    # the old plan on futures of another price is not what the new price asks for
    assert plan_results.careful_question(scenario, falling.risk) != plan_results.careful_question(falling)


def test_the_balance_is_drawn_as_the_account_has_it():
    plan = of(short(FAST))
    chart = plan_charts.balance_chart(plan, WORDS)
    drawn = [row["amount"] for row in rows(chart) if row.get("line") == WORDS("chart.balance.with_plan")]
    months = plan.problem.months
    assert drawn[: months + 1] == pytest.approx([plan.scenario.household.savings, *plan.account.balance])
    assert chart.description == plan_charts.balance_finding(plan, WORDS)
    ghosts = [layer.rows for layer in plan_charts.balance_chart(plan, WORDS, years=1, before=plan).layers]
    pale = next(rows for rows in ghosts if set(rows[0]) == {"year", "amount", "line"})
    assert [row["amount"] for row in pale] == pytest.approx(drawn[:13])


def as_found(scenario):
    """What a search shows while it is still checking."""
    plan = of(scenario)
    return Found(scenario, SimpleNamespace(plan=plan), plan, yardsticks(plan), None, sheet(plan))


@pytest.mark.long
def test_a_room_sees_the_plan_beside_the_one_before():
    at = with_farm(visit("plan", farm=FAST, room="1"), short(FAST))
    at.session_state["before"] = {}
    at.session_state["plan_found"] = as_found(short(FAST))
    run(at)
    type_in(at, "sidebar.price.market.price_per_kg", "55")
    assert WORDS("screen.plan.older") in said(at)
    assert "Against before" not in shown(at)
    at.session_state["plan_found"] = as_found(farm(at))
    run(at)
    was, now = of(short(FAST)), of(farm(at))
    assert now.npv > was.npv
    assert before.plan(now, was, WORDS) in shown(at).replace("\\", "")
    low, less = (WORDS.round_money(sum_, "GHS") for sum_ in (was.npv, now.npv - was.npv))
    assert WORDS("before.less", now=low, by=less) in before.plan(was, now, WORDS)


def test_starts_and_ages_are_drawn_as_the_replacement_module_has_them():
    scenario = demo_scenario(FAST)
    found = when_to_renovate(scenario)
    stand = scenario.stands[0].name
    curves = [curve for curve in found.starts if curve.stand == stand]
    drawn = {round(row["amount"], 6) for row in rows(plan_charts.start_chart(scenario, curves, WORDS)) if "line" in row}
    best = max(curves, key=lambda curve: curve.npv.max())
    assert {round(float(value), 6) for value in best.npv} <= drawn
    drawn = {round(row["amount"], 6) for row in rows(plan_charts.renewal_chart(scenario, found.renewals, WORDS))}
    highest = max(found.renewals, key=lambda curve: curve.highest)
    assert round(highest.highest, 6) in drawn


def test_every_part_has_its_words():
    assert {f"screen.plan.tab.{part}" for part in closer.PARTS} <= WORDS.keys()


@pytest.mark.browser
@pytest.mark.long
@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_a_plan_is_made_and_nothing_is_cut(browser, dashboard, width, scheme):
    with look(browser, dashboard, width=width, scheme=scheme) as seen:
        seen.open(f"{dashboard}/{PAGES['plan']}?farm={FAST}")
        button = seen.page.get_by_role("button", name=WORDS("screen.plan.make"), exact=True)
        if button.count():
            button.click()
        seen.page.get_by_test_id("stMetricValue").first.wait_for(timeout=120_000)
        seen.settle()
        for part in parts(seen):
            assert seen.page.evaluate(BEYOND) == {"wide": 0, "cut": [], "svg": []}, f"part {part}"
            assert not CODE_NAME.findall(seen.page.evaluate(SEEN)), f"part {part}"
            if AXE.exists():
                seen.page.evaluate(AXE.read_text("utf-8"))
                found = seen.page.evaluate("rules => axe.run(document, rules)", RULES)["violations"]
                assert not [fault["id"] for fault in found if fault["id"] not in OF_STREAMLIT], f"part {part}"
        assert seen.left == []


def test_a_loan_that_runs_already_is_not_offered_to_the_plan_again():
    name = "few_hands"
    at, loan = visit("plan", farm=name), demo_scenario(name).loans[0].model_dump()
    assert at.toggle(key=key(at, "plan_loan")).value is False
    early = {**loan, "running": True, "payouts": ({"month": "2026-02", "share": 1.0},)}
    with_farm(at, demo_scenario(name).changed(loans=(early,)))
    assert WORDS("screen.plan.loan_none") in shown(at)
