"""`renovation plan FILE`: the answer first, the sheet after it, data for other programs, refusals in a sentence."""

import csv
import io
import json
import re
from html import escape

import pytest
from command_line import refused, said
from factories import figure, operation, poor_farm, scenario, technique_data
from masked import Masked, letters_left
from random_farms import random_farm
from risk_reference import lean_farm

import renovation.decide.plan
import renovation.decide.risk.careful
from renovation.commands import COMMANDS, plan
from renovation.commands.program import answer
from renovation.decide.plan import SolverFailed, learned_plan, repairs, sheet
from renovation.decide.risk.careful import careful_plan
from renovation.decide.risk.family import family_plan
from renovation.decide.risk.strategy import CAREFUL, EXPECTED
from renovation.inputs import default_techniques, load_scenario, read_scenario, save_scenario, write_scenario
from renovation.show.plan import careful as careful_words
from renovation.show.plan.broken import broken_sentences, headline, repair_sentences
from renovation.show.plan.sentences import gain_sentence, head_in_parts
from renovation.show.plan.text import TABLES
from renovation.show.plan.which import which_sentences
from renovation.show.voice import Voice
from renovation.words import Words

WORDS = Words("en")
QUICK = ("--seconds", "1")


@pytest.fixture(scope="module")
def farm(tmp_path_factory):
    """A small farm with two planning years, a loan on offer, learning and records: a file of its own."""
    path = tmp_path_factory.mktemp("plan") / "farm.toml"
    small, _ = random_farm(1, stands=2, ways=4)
    stated = write_scenario(small.changed(planning={"years": 2, "gap": 0.002, "at_least_two_clones": True}))
    more = """
[planning.loan]
name = "Offer"
limit = 900.0
payouts = [{ month = "2027-04" }]
rate_per_year = 0.1
term_months = 60
grace_months = 24

[planning.learning]
rate = 0.8
techniques = ["side_graft"]

[[planning.records]]
technique = "basal_shoot_graft"
made = 20
taken = 9
"""
    save_scenario(read_scenario(stated + more, "farm.toml"), path)
    return path


@pytest.mark.long
def test_the_first_sentence_is_this_year_s_trees(capsys, farm):
    out = said(capsys, "plan", farm, "--why", *QUICK)
    body = " ".join(out.split("\n\n")[1].split())
    assert body.startswith(("This year start", "Start no trees"))
    for heading in ("rules", "limits", "work", "shopping", "cash", "cautions", "learning"):
        assert WORDS(f"plan.heading.{heading}") in out
    assert "Basal-shoot graft: from your own grafts we expect 45% to take" in " ".join(out.split())
    assert "the best" not in out.replace("the best that was found until then", "")


def test_the_json_holds_plan_rules_and_sheet(capsys, farm):
    document = json.loads(said(capsys, "plan", farm, "--json", *QUICK))
    assert set(document) == {"stamp", "shown", "plan", "yardsticks", "limits", "sheet", "repairs", "robust"}
    assert document["limits"] is document["repairs"] is None
    assert document["shown"] == "careful"
    told = ("stand", "technique", "start", "trees")
    starts, careful = (document[key]["starts"] for key in ("plan", "robust"))
    assert sorted(tuple(start[key] for key in told) for start in starts) == sorted(
        tuple(start[key] for key in told) for start in careful
    )
    assert sum(start["trees"] for start in document["plan"]["starts"]) == document["plan"]["trees"]
    assert document["sheet"]["trees"] == sum(
        start["trees"] for start in document["plan"]["starts"] if start["year"] == 1
    )
    # 9 of 20 beside one of each held before
    assert document["plan"]["records"]["basal_shoot_graft"]["mean"] == pytest.approx(10 / 22)


@pytest.mark.long
def test_every_table_is_written_and_stamped(capsys, farm, monkeypatch):
    learned = renovation.decide.plan.learned_plan(load_scenario(farm))
    careful = careful_plan(learned.plan, training=64, fresh=64, cancel=lambda: True)
    monkeypatch.setattr(renovation.decide.plan, "learned_plan", lambda *_, **__: learned)
    monkeypatch.setattr(renovation.decide.risk.careful, "careful_plan", lambda *_, **__: careful)
    assert plan.TABLES == TABLES
    for table in plan.TABLES:
        rows = list(csv.DictReader(io.StringIO(said(capsys, "plan", farm, "--csv", "-", "--csv-table", table))))
        assert rows
        assert rows[0]["scenario_digest"] == load_scenario(farm).digest


@pytest.mark.parametrize("seconds", ["0", "soon", "-3", "1.5", "99999999999"])
def test_a_time_limit_that_is_none_is_refused(capsys, farm, seconds):
    sentence = f"--seconds is {seconds}. Write a whole number from 1 to 3,600."
    assert refused(capsys, "plan", farm, "--seconds", seconds) == sentence


def test_two_outputs_at_once_are_refused(capsys, farm):
    assert refused(capsys, "plan", farm, "--json", "--csv", "-")


@pytest.mark.long
def test_every_word_of_a_plan_is_in_the_catalogue(monkeypatch, farm):
    monkeypatch.setattr("renovation.commands.program.Words", Masked)
    scenario = load_scenario(farm)
    stands = [stand.name for stand in scenario.stands]
    names = ["renovation", "USD", "Offer", scenario.about.name, scenario.digest, *stands]
    text = re.sub(r"--[a-z-]+", "", answer(["plan", str(farm), "--why", *QUICK]))
    assert letters_left(text, *names, *default_techniques(), *COMMANDS) == set()


def quick_farm(path):
    """Ten trees that are worth grafting at once, looked at for twelve years, in a file of their own."""
    way = technique_data(mature_crop=figure(2.0, "kg/tree/year"), operations={"work": operation("start", 0, 0.1)})
    years = {"start": "2027-01", "horizon_years": 12, "discount_rate": 0.1, "currency": "USD"}
    save_scenario(scenario({"way_a": way}, appraisal=years, planning={"years": 1}), path)
    return path


def test_the_same_farm_gives_the_same_json_to_the_last_letter(capsys, tmp_path):
    file = quick_farm(tmp_path / "farm.toml")
    first = said(capsys, "plan", file, "--why", "--json")
    assert said(capsys, "plan", file, "--why", "--json") == first


@pytest.mark.long
def test_practice_and_a_loan_give_the_same_json_to_the_last_letter(capsys, farm):
    first = said(capsys, "plan", farm, "--why", "--json")
    assert said(capsys, "plan", farm, "--why", "--json") == first


@pytest.fixture(scope="module")
def lean(tmp_path_factory):
    """A farm with little money, whose plan on expected figures fails in many futures, and both of its plans."""
    path = tmp_path_factory.mktemp("lean") / "farm.toml"
    save_scenario(lean_farm().changed(planning={"years": 1}), path)
    learned = learned_plan(load_scenario(path))
    return path, learned, careful_plan(learned.plan, training=64, fresh=256)


@pytest.fixture
def found(lean, monkeypatch):
    """The searches of that farm stand ready."""
    path, learned, careful = lean
    monkeypatch.setattr(renovation.decide.plan, "learned_plan", lambda *_, **__: learned)
    monkeypatch.setattr(renovation.decide.risk.careful, "careful_plan", lambda *_, **__: careful)
    return path, careful


@pytest.mark.parametrize("bolder", [False, True])
def test_plan_sheet_and_report_lay_out_the_careful_plan_and_the_bolder_one_where_it_is_asked_for(
    capsys, tmp_path, found, bolder
):
    file, careful = found
    asked = ("--expected",) if bolder else ()
    assert not careful.same
    plan = careful.expected if bolder else family_plan(careful)
    which, beside = which_sentences(careful, WORDS, bolder=bolder)
    assert which.startswith(f"This is the {'bolder' if bolder else 'careful'} plan")
    kept = careful.kept[EXPECTED if bolder else CAREFUL].value
    assert f" in {round(100 * (1 - kept if bolder else kept))} of 100 futures" in which
    assert Voice.of(careful.scenario, WORDS).money(careful.cost) in beside
    text = " ".join(said(capsys, "plan", file, *asked).split())
    first, parts = head_in_parts(plan, WORDS)
    for sentence in (" ".join([first, *parts, which, beside]), gain_sentence(plan, WORDS)):
        assert " ".join(sentence.split()) in text
    document = json.loads(said(capsys, "plan", file, *asked, "--json"))
    assert document["shown"] == ("expected" if bolder else "careful")
    assert (document["plan"]["npv"], document["plan"]["trees"]) == (plan.npv, plan.trees)
    assert document["robust"]["cost"] == careful.cost
    told = said(capsys, "sheet", file, *asked, "-o", tmp_path / "sheet.html")
    assert told.startswith(f"{which}\n{beside}\n")
    shown = sheet(plan)
    text = (tmp_path / "sheet.html").read_text("utf-8")
    assert WORDS("sheet.trees", trees=WORDS.number(shown.trees)) in text
    assert (WORDS("sheet.bolder") in text) == bolder
    printed = asked or ("--plan",)
    said(capsys, "report", file, *printed, "-o", tmp_path / "report.html")
    text = (tmp_path / "report.html").read_text("utf-8")
    assert WORDS("report.plan_sheet.found") in text
    for sentence in (which, beside, first, *parts):
        assert escape(sentence, quote=False) in text


def test_the_report_lays_out_the_stated_plan_where_none_is_asked_for(capsys, tmp_path):
    out = tmp_path / "report.html"
    said(capsys, "report", quick_farm(tmp_path / "farm.toml"), "--appendix", "-o", out)
    assert WORDS("report.plan_sheet.stated") in out.read_text("utf-8")


def test_where_no_plan_keeps_every_promise_plan_report_and_risk_list_the_changes_that_would_mend_it(capsys, tmp_path):
    """The page's own words, and each change as the planner tried it."""
    file, out = tmp_path / "farm.toml", tmp_path / "report.html"
    save_scenario(poor_farm(living_costs=6.0).changed(planning={"years": 1}), file)
    plan = learned_plan(load_scenario(file)).plan
    changes = repairs(plan)
    assert changes
    expected = [headline(plan, WORDS), *broken_sentences(plan, WORDS), *repair_sentences(changes, plan, WORDS)]
    assert len(expected) >= 4
    text = " ".join(said(capsys, "plan", file).split())
    assert " ".join(expected) in text
    document = json.loads(said(capsys, "plan", file, "--json"))
    assert (document["shown"], document["robust"]) == ("breaks_least", None)
    assert len(document["repairs"]) == len(changes)
    risk = " ".join(said(capsys, "risk", file, "--futures", "512", "--robust").split())
    said(capsys, "report", file, "--plan", "--robust", "-o", out)
    text = out.read_text("utf-8")
    for sentence in expected:
        assert sentence in risk
        assert text.count(escape(sentence, quote=False)) == 2  # beside this year's sheet, and in the part on risk
    assert WORDS("plan.broken.below") in text


def test_the_report_sets_out_the_careful_plan_where_it_is_asked_for(capsys, tmp_path):
    file, out = quick_farm(tmp_path / "farm.toml"), tmp_path / "report.html"
    said(capsys, "report", file, "-o", out, "--robust")
    found = careful_plan(learned_plan(load_scenario(file)).plan)
    text = out.read_text("utf-8")
    assert WORDS("risk.robust.title") in text
    for sentence in careful_words.said(found, WORDS):
        assert escape(sentence, quote=False) in text
    assert len(found.result.answers) == 3
    plain = tmp_path / "plain.html"
    said(capsys, "report", file, "--appendix", "-o", plain)
    assert WORDS("risk.robust.title") not in plain.read_text("utf-8")


def test_a_search_that_fails_is_said_in_words(capsys, monkeypatch, tmp_path):
    def fails(*_args, **_more):
        raise SolverFailed("unbounded")

    monkeypatch.setattr(renovation.decide.plan, "learned_plan", fails)
    assert refused(capsys, "plan", quick_farm(tmp_path / "farm.toml")) == WORDS("plan.failed")
