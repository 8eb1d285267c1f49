"""The dossier gives what each question gives, asks each once, and seeks no plan that nobody asked for."""

from collections import Counter

import pytest

from renovation.decide import appraise_loans, compare, dossier, npv_per_tree, ranges
from renovation.decide.dossier import ANSWERS, SEARCHED, Dossier
from renovation.decide.plan import make_plan, sheet
from renovation.decide.practise import practise_first
from renovation.decide.risk import risk, sensitivity, stress_tests
from renovation.farm import farm_flows, household_cash, labour_by_month
from renovation.inputs import demo_scenario

FUTURES = 1024


@pytest.mark.parametrize("name", ["few_hands", "old_stand_with_gaps"])
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
def test_a_plan_found_elsewhere_is_the_one_laid_out():
    scenario = demo_scenario("few_hands")
    found = make_plan(scenario)
    one = Dossier(scenario, plan_found=found)
    assert one.plan is one.year_plan is found
    assert one.year_sheet.as_dict() == sheet(found).as_dict()
    assert "learned" not in one.__dict__


def test_an_unknown_answer_is_refused():
    with pytest.raises(KeyError, match="weather"):
        Dossier(demo_scenario()).as_dict("weather")
