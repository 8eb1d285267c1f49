"""One worth: the same plan has the same net present value on every page, in report, workbook and every command."""

import csv
import json
from html import unescape

import numpy as np
import openpyxl
import pytest
from command_line import said
from random_farms import random_farm
from screens.visiting import cells, choose, run, shown, tables_of, visit

from renovation.decide import compare
from renovation.decide.appraise import appraise_plan
from renovation.decide.dossier import Dossier
from renovation.decide.plan import build, learned_plan, yardsticks
from renovation.decide.plan import sheet as lay_out_year
from renovation.decide.plan.plan import plan_of
from renovation.decide.risk.careful import careful_plan
from renovation.decide.risk.strategy import CAREFUL, EXPECTED, PLAN, lay_out, strategies_of
from renovation.farm import farm_flows
from renovation.inputs import demo_names, demo_scenario, month_count, save_scenario, year_month
from renovation.screens.controls.text import plain
from renovation.screens.parts.adopt import loans_with
from renovation.screens.searches import Found
from renovation.show.compare import tables as compare_tables
from renovation.show.plan import tables as plan_tables
from renovation.show.plan import which
from renovation.show.plan.sentences import gain_sentence, plan_sentences
from renovation.show.risk import tables as risk_tables
from renovation.show.voice import Voice
from renovation.words import Words

WORDS = Words("en")
CENT = 0.005


def told(document, path=()):
    """Every figure of a JSON document under a key that names the NPV of a whole plan, with where it stands."""
    if isinstance(document, dict):
        for key, value in document.items():
            if key in ("npv", "expected_npv") and isinstance(value, float):
                yield (*path, key), value
            yield from told(value, (*path, key))
    elif isinstance(document, list):
        for place, value in enumerate(document):
            named = value if isinstance(value, dict) else {}
            yield from told(value, (*path, named.get("strategy", named.get("rule", named.get("case", place)))))


def the_same(npv):
    return pytest.approx(npv, abs=CENT)


@pytest.mark.parametrize("seed", range(6))
def test_a_plan_is_worth_what_the_farm_model_says_by_years_at_wage_and_labour_value(seed):
    """Worked out a second time from the farm's months; whatever a family day, a loan and the years after count."""
    farm, planning = random_farm(seed, stands=2, ways=2, years=2)
    rng, values = np.random.default_rng(seed), []
    for value in (None, 0.0):
        asked = planning.model_copy(update={"value_per_family_day": value, "years_after_horizon": 3 * (seed % 2)})
        cheap = farm.changed(household__labour_value=0.7, planning=asked.model_dump())
        problem = build(cheap, cheap.planning)
        most = problem.trees[problem.stand] // len(problem.candidates)
        trees = rng.integers(0, most + 1)
        plan, nothing = plan_of(problem, trees), plan_of(problem, 0 * trees)
        found = appraise_plan(cheap, farm_flows(cheap, plan.treatments)).npv
        assert plan.npv == the_same(found)
        assert nothing.npv == 0.0
        values.append((plan.npv, plan.aim_gain))
    assert all(abs(npv - aim) > 1.0 for npv, aim in values)


@pytest.mark.parametrize("name", demo_names())
def test_the_stated_plan_of_every_demo_farm_is_worth_the_same_to_planner_money_and_futures(name):
    dossier = Dossier(demo_scenario(name))
    npv = dossier.measures.npv
    assert dossier.year_plan.npv == the_same(npv)
    for strategy in strategies_of(dossier.scenario):
        if strategy.key == PLAN:
            assert lay_out(dossier.held, strategy).expected_npv == the_same(npv)


@pytest.mark.parametrize("name", demo_names())
def test_a_way_is_worth_on_the_compared_trees_what_a_plan_of_these_trees_is_worth(name):
    """The page Compare and the map speak of trees by one way: the same trees as a plan have the same NPV."""
    farm = demo_scenario(name)
    comparison = compare(farm)
    first = month_count(farm.appraisal.start)
    for way in {comparison.headline, comparison.best}:
        outcome = comparison.outcomes[way]
        start = year_month(first + outcome.start)
        planned = {"stand": comparison.stand, "technique": way, "trees": comparison.trees, "start": start}
        assert outcome.measures.npv == the_same(Dossier(farm.changed(plan=(planned,))).measures.npv)


@pytest.mark.long
@pytest.mark.parametrize("name", demo_names())
def test_every_page_report_workbook_and_command_give_the_plan_one_worth(name, tmp_path, capsys, monkeypatch):
    """The plan found for a farm is written into its file, as the page does; then everything is asked about it.

    Data hold the unrounded number. Where only words are shown, they are compared letter by letter with the words of the
    NPV, and the number handed to them is caught on the way and compared to the cent.
    """
    farm = demo_scenario(name)
    learned = learned_plan(farm, time_limit_seconds=30)
    plan = learned.plan
    assert plan.trees
    npv, voice = plan.npv, Voice.of(farm, WORDS)
    loans = loans_with(farm, plan, (plan.loan,) if plan.loan else ())
    changes = {"plan": tuple(one.model_dump() for one in plan.treatments)}
    changes["loans"] = tuple(loan.model_dump() for loan in loans)
    adopted = farm.changed(**changes, risk__draws=512)
    path = tmp_path / "farm.toml"
    save_scenario(adopted, path)
    worth, handed = words_of(npv, voice), caught(monkeypatch)
    # the planner's own words and table; a plan that breaks a promise is no answer, and its worth is not said first
    assert (gain_sentence(plan, WORDS) in plan_sentences(plan, WORDS)) == (not plan.broken)
    assert (voice.money(abs(npv)) in gain_sentence(plan, WORDS)) == bool(plan.trees)
    assert gain_sentence(plan, WORDS) == worth
    assert plan_tables.rules(plan, (), WORDS).rows[0][1] == voice.money(npv)
    _commands(adopted, path, learned, capsys, monkeypatch)
    _files(path, npv, voice, capsys)
    _pages(adopted, learned, worth, handed)
    assert len(handed) >= 8
    assert all(value == the_same(npv) for value in handed), handed


def words_of(npv, voice):
    """The NPV of a plan as every page says it."""
    return voice("plan.gain" if npv > 0 else "plan.gain_less", amount=voice.money(abs(npv)))


def caught(monkeypatch):
    """Every NPV that is handed to what says a worth, unrounded, in the order in which it is said."""
    handed, real = [], which.worth_sentence

    def catch(npv, *more):
        handed.append(npv)
        return real(npv, *more)

    monkeypatch.setattr(which, "worth_sentence", catch)
    monkeypatch.setattr("renovation.show.plan.sentences.worth_sentence", catch)
    return handed


def _commands(adopted, path, learned, capsys, monkeypatch):
    """Commands, as JSON, as a table and as text: those that follow the file's plan, and those that look for one."""
    npv, voice = learned.plan.npv, Voice.of(adopted, WORDS)
    worth = words_of(npv, voice)
    document = json.loads(said(capsys, "risk", path, "--json"))
    found = {where: value for where, value in told(document) if PLAN in where and "cases" not in where}
    assert len(found) >= 2, found
    assert all(value == the_same(npv) for value in found.values()), found
    rows = csv.DictReader(said(capsys, "risk", path, "--csv", "-").splitlines())
    wanted = (PLAN, "expected_npv")
    assert [float(row["value"]) for row in rows if (row["strategy"], row["figure"]) == wanted] == [the_same(npv)]
    assert voice.future_money(npv) in said(capsys, "risk", path)
    season = path.with_suffix(".csv")
    said(capsys, "season", path, "--blank", "-o", season)
    for follows in (("cash", path), ("loan", path), ("season", path, "--record", season)):
        assert said_of(worth) in said_of(said(capsys, *follows))
        document = json.loads(said(capsys, *follows, "--json"))["followed"]
        assert (document["npv"], document["trees"]) == (the_same(npv), learned.plan.trees)
    # the searches stand ready; the careful one is ended at once, with the best that it has then
    careful = None if learned.plan.broken else careful_plan(learned.plan, fresh=512, cancel=lambda: True)
    again = learned_plan(adopted, time_limit_seconds=2)
    monkeypatch.setattr("renovation.decide.plan.learned_plan", lambda *_, **__: learned)
    monkeypatch.setattr("renovation.decide.risk.careful.careful_plan", lambda *_, **__: careful)
    document = json.loads(said(capsys, "plan", path, "--expected", "--json"))
    assert document["plan"]["npv"] == the_same(npv)
    if careful is not None:
        assert said_of(worth) in said_of(said(capsys, "plan", path, "--expected"))
        answers = {answer["strategy"]: answer["expected_npv"] for answer in document["robust"]["answers"]}
        assert answers[EXPECTED] == the_same(npv)
        shown = json.loads(said(capsys, "plan", path, "--json"))
        assert shown["plan"]["npv"] == the_same(answers[CAREFUL])
        assert shown["robust"]["cost"] == the_same(npv - answers[CAREFUL])
    if adopted.under_way:
        monkeypatch.setattr("renovation.decide.plan.learned_plan", lambda *_, **__: again)
        carried = json.loads(said(capsys, "plan", path, "--expected", "--json"))["yardsticks"]
        assert [one["npv"] for one in carried if one["rule"] == "carried_on"] == [the_same(npv)]


def said_of(text):
    """A text as one line."""
    return " ".join(text.split())


def _files(path, npv, voice, capsys):
    """Report, workbook and sheet; the sheet for the wall says no worth at all."""
    report, book, wall = (path.with_suffix(ending) for ending in (".html", ".xlsx", ".wall.html"))
    said(capsys, "report", path, "--appendix", "-o", report)
    text = unescape(report.read_text(encoding="utf-8"))
    assert words_of(npv, voice) in text
    assert voice.future_money(npv) in text
    said(capsys, "workbook", path, "-o", book)
    held = openpyxl.load_workbook(book, data_only=True)
    sheet, cell = held.defined_names["result_npv"].attr_text.rsplit("!", 1)
    assert held[sheet.strip("'")][cell.replace("$", "")].value == the_same(npv)
    said(capsys, "sheet", path, "--expected", "-o", wall)
    assert WORDS("plan.gain", amount="").split("  ")[0] not in wall.read_text("utf-8")


def opened(page, farm, handed, **more):
    """A page with a farm in hand; what was said of the demo farm that it opens with is forgotten."""
    before, at = len(handed), visit(page)
    del handed[before:]
    at.session_state["scenario"] = farm
    for name, value in more.items():
        at.session_state[name] = value
    return run(at)


def _pages(adopted, learned, worth, handed):
    """Pages that follow the plan, the page that finds it, and those that compare ways, which follow none."""
    plan, npv = learned.plan, learned.plan.npv
    for page in ("cash", "lender", "season", "risk"):
        at = opened(page, adopted, handed)
        assert plain(worth) in shown(at), page
        if page == "risk":
            at = choose(at, "risk", "table")
            assert cells(risk_tables.answers(Dossier(adopted).risk, WORDS)) in tables_of(at)
            assert plain(Voice.of(adopted, WORDS).future_money(npv)) in str(tables_of(at)) + shown(at)
    found = Found(adopted, learned, plan, yardsticks(plan), None, lay_out_year(plan))
    at = opened("plan", adopted, handed, plan_found=found)
    assert (plain(worth) in shown(at)) == (not plan.broken)
    comparison = compare(adopted)
    for page in ("compare", "map"):
        at = opened(page, adopted, handed)
        assert plain(worth) not in shown(at), page
        if page == "map":
            amount = Voice.of(adopted, WORDS).money(comparison.outcomes[comparison.best].measures.npv)
            assert plain(amount) in shown(at)
        else:
            cell = compare_tables.measure_cell(comparison, comparison.headline, "npv", WORDS)
            assert plain(cell) in [metric.value for metric in at.metric]
