"""One worth: the same plan has the same net present value on every page, in report, workbook and every command."""

import csv
import json

import numpy as np
import openpyxl
import pytest
from command_line import said
from random_farms import random_farm
from screens.visiting import cells, choose, run, shown, tables_of, visit

from renovation.decide.appraise import appraise_plan
from renovation.decide.dossier import Dossier
from renovation.decide.plan import build, learned_plan
from renovation.decide.plan.plan import plan_of
from renovation.decide.risk.strategy import PLAN, lay_out, strategies_of
from renovation.farm import farm_flows
from renovation.inputs import demo_names, demo_scenario, save_scenario
from renovation.screens.controls.text import plain
from renovation.screens.parts.adopt import loans_with
from renovation.show.plan import tables as plan_tables
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


@pytest.mark.long
@pytest.mark.parametrize("name", demo_names())
def test_every_page_report_workbook_and_command_give_the_plan_one_worth(name, tmp_path, capsys, monkeypatch):
    """The plan found for a farm is written into its file, as the page does; then everything is asked about it."""
    farm = demo_scenario(name)
    plan = learned_plan(farm, time_limit_seconds=5).plan
    npv, voice = plan.npv, Voice.of(farm, WORDS)
    loans = loans_with(farm, plan, (plan.loan,) if plan.loan else ())
    changes = {"plan": tuple(one.model_dump() for one in plan.treatments)}
    changes["loans"] = tuple(loan.model_dump() for loan in loans)
    adopted = farm.changed(**changes, risk__draws=512)
    path = tmp_path / "farm.toml"
    save_scenario(adopted, path)
    # the planner's own words and table; a plan that breaks a promise is no answer, and its worth is not said first
    assert (gain_sentence(plan, WORDS) in plan_sentences(plan, WORDS)) == (not plan.broken)
    assert (voice.money(abs(npv)) in gain_sentence(plan, WORDS)) == bool(plan.trees)
    assert plan_tables.rules(plan, (), WORDS).rows[0][1] == voice.money(npv)
    # commands, as JSON, as a table and as text
    document = json.loads(said(capsys, "risk", path, "--json"))
    found = {where: value for where, value in told(document) if PLAN in where and "cases" not in where}
    assert len(found) >= 2, found
    assert all(value == the_same(npv) for value in found.values()), found
    rows = csv.DictReader(said(capsys, "risk", path, "--csv", "-").splitlines())
    wanted = (PLAN, "expected_npv")
    assert [float(row["value"]) for row in rows if (row["strategy"], row["figure"]) == wanted] == [the_same(npv)]
    money = voice.future_money(npv)
    assert money in said(capsys, "risk", path)
    # report and workbook
    said(capsys, "report", path, "-o", tmp_path / "report.html")
    assert money in (tmp_path / "report.html").read_text(encoding="utf-8")
    said(capsys, "workbook", path, "-o", tmp_path / "book.xlsx")
    book = openpyxl.load_workbook(tmp_path / "book.xlsx", data_only=True)
    sheet, cell = book.defined_names["result_npv"].attr_text.rsplit("!", 1)
    assert book[sheet.strip("'")][cell.replace("$", "")].value == the_same(npv)
    # pages
    at = visit("risk")
    at.session_state["scenario"] = adopted
    at = choose(run(at), "risk", "table")
    result = Dossier(adopted).risk
    assert cells(risk_tables.answers(result, WORDS)) in tables_of(at)
    assert plain(money) in str(tables_of(at)) + shown(at)
    if adopted.under_way:
        carried = json.loads(said(capsys, "plan", path, "--seconds", "5", "--json"))["yardsticks"]
        assert [one["npv"] for one in carried if one["rule"] == "carried_on"] == [the_same(npv)]
