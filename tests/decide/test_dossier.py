"""The dossier gives what each question gives, asks each once, and seeks no plan that nobody asked for."""

from collections import Counter

import pytest
from random_farms import random_farm
from risk_reference import lean_farm

from renovation.decide import appraise_loans, compare, dossier, npv_per_tree, ranges
from renovation.decide.dossier import ANSWERS, SEARCHED, Dossier
from renovation.decide.plan import learned_plan, sheet
from renovation.decide.plan.plan import plan_of
from renovation.decide.practise import practise_first
from renovation.decide.risk import risk, sensitivity, stress_tests
from renovation.decide.risk.careful import careful_plan
from renovation.decide.taught import taught
from renovation.farm import farm_flows, household_cash, labour_by_month
from renovation.inputs import demo_scenario
from renovation.show.plan.learning import learning_sentences
from renovation.words import Words

FUTURES, WORDS = 1024, Words("en")


@pytest.mark.parametrize("name", [pytest.param("few_hands", marks=pytest.mark.long), "old_stand_with_gaps"])
def test_every_answer_is_that_of_its_own_question(name):
    scenario = demo_scenario(name)
    flows, comparison = farm_flows(scenario, scenario.plan), compare(scenario)
    apart = {
        "comparison": comparison.as_dict(),
        "ranges": {key: [swing.as_dict() for swing in ranges(comparison, key)] for key in comparison.outcomes},
        "npv_per_tree": npv_per_tree(scenario),
        "practise": practise_first(comparison).as_dict(),
        "cash": household_cash(scenario, flows).as_dict(),
        "labour": labour_by_month(scenario, flows).as_dict(),
        "lending": appraise_loans(scenario).as_dict(),
        "risk": risk(scenario, draws=FUTURES).as_dict(),
        "stress": stress_tests(scenario).as_dict(),
        "sensitivity": [
            sensitivity(comparison, key).as_dict() for key in (comparison.headline, comparison.against) if key
        ],
    }
    assert Dossier(scenario, draws=FUTURES).as_dict() == apart


def test_each_question_is_asked_once(monkeypatch):
    asked = Counter()

    def counted(name):
        real = getattr(dossier, name)

        def ask(*given, **named):
            asked[name] += 1
            return real(*given, **named)

        monkeypatch.setattr(dossier, name, ask)

    names = (
        "farm_flows",
        "household_cash",
        "labour_by_month",
        "compare",
        "npv_per_tree",
        "appraise_plan",
        "practise_first",
    )
    for name in names:
        counted(name)
    one = Dossier(demo_scenario(), draws=FUTURES)
    for _ in range(2):
        one.as_dict()
        assert one.measures.npv == one.measures.npv
        assert one.swings() is one.swings(one.comparison.headline)
        assert one.sensitivity() is one.ranked
        assert one.judged(one.strategies) is one.risk
        assert one.win_map("price_per_kg", "take") is one.win_map("price_per_kg", "take")
    assert asked == dict.fromkeys(names, 1)


def test_a_plan_is_sought_only_where_it_is_asked_for(monkeypatch):
    def never(*given, **named):
        raise AssertionError("a plan was sought")

    monkeypatch.setattr("renovation.decide.plan.learned_plan", never)
    one = Dossier(demo_scenario("few_hands"), draws=FUTURES)
    assert set(one.as_dict()) == set(ANSWERS) - set(SEARCHED)
    assert one.year_is_stated
    assert set(one.year_plan.treatments) == set(one.scenario.plan)
    with pytest.raises(AssertionError, match="sought"):
        one.as_dict("plan")


@pytest.mark.long
def test_plans_found_elsewhere_are_laid_out_and_not_sought_again(monkeypatch):
    scenario = lean_farm().changed(planning={"years": 1})
    learned = learned_plan(scenario)
    careful = careful_plan(learned.plan, training=64, fresh=128)
    never = None  # whoever calls it fails
    monkeypatch.setattr("renovation.decide.plan.learned_plan", never)
    monkeypatch.setattr("renovation.decide.risk.careful.careful_plan", never)
    for bolder, meant in ((False, careful.careful.treatments), (True, learned.plan.treatments)):
        one = Dossier(scenario, bolder=bolder, year_is_stated=False, learned_found=learned, careful_found=careful)
        told = sorted((start.start, start.trees) for start in one.year_plan.treatments)
        assert told == sorted((start.start, start.trees) for start in meant)
        assert one.shown_as == ("expected" if bolder else "careful")
        assert one.year_sheet.as_dict() == sheet(one.shown.plan).as_dict()
        assert one.yardsticks[0].npv == 0.0
        assert one.repairs is None


def test_another_plan_is_told_with_the_takes_of_its_own_practice():
    """Half the trees make fewer grafts, after which fewer take: worked out again by the curve itself."""
    scenario, _ = random_farm(1, stands=1, ways=2)
    scenario = scenario.changed(planning={"years": 2, "gap": 0.01, "learning": {"rate": 0.8}})
    learned = learned_plan(scenario)
    trees = learned.plan.account.trees.astype(int)
    assert trees.sum() > 1
    half = plan_of(learned.plan.problem, trees // 2)
    other = taught(learned, half)
    assert other.plan is half
    assert sum(other.grafts) < sum(learned.grafts)
    assert other.takes[0] == learned.takes[0]
    assert other.takes[1] < learned.takes[1]
    assert taught(learned, learned.plan) is learned
    assert learning_sentences(other, WORDS)[-1] != learning_sentences(learned, WORDS)[-1]


def test_an_unknown_answer_is_refused():
    with pytest.raises(KeyError, match="weather"):
        Dossier(demo_scenario()).as_dict("weather")
