"""The careful plan of hands that learn: it chooses its own practice, and is judged by the takes that this brings."""

import numpy as np
import pytest
from risk_reference import lean_farm

from renovation.decide.held import as_held
from renovation.decide.plan import learned_plan
from renovation.decide.plan.exact import account
from renovation.decide.plan.learned import all_take, own_takes
from renovation.decide.plan.question import build
from renovation.decide.risk import Strategy, draw_futures, judge, lay_out
from renovation.decide.risk.careful import CAREFUL, EXPECTED, LEAVE, TRAINING, careful_plan, plan_carefully
from renovation.decide.risk.careful_practice import _footing, _takes_to_begin_by, seek_careful
from renovation.decide.risk.careful_rows import SHARE, trees_begun
from renovation.decide.risk.careful_search import CarefulSearch
from renovation.decide.risk.hands import practice_counted
from renovation.inputs import GraftRecord, Learning, Treatment, demo_scenario
from renovation.inputs.planning import Planning

LEARNING = Learning(first_take=0.2, highest_take=0.8, rate=0.7, techniques=("way_a",))
COUNTED = (GraftRecord(technique="way_a", made=20, taken=6),)


def learning_farm(savings, records=COUNTED):
    """The lean farm with hands that learn, grafted in January of two years only, so that two starts can be counted."""
    farm = lean_farm(savings)
    way = farm.techniques["way_a"].model_copy(update={"start_months": (1,)})
    planning = Planning(years=2, time_limit_seconds=20.0, learning=LEARNING, records=records)
    techniques = type(farm.techniques)({"way_a": way})
    return farm.model_copy(update={"techniques": techniques, "planning": planning})


def test_a_practice_that_care_cannot_afford_is_not_asked_for():
    """The plan on expected figures grafts nearly all at once, and a plan with its practice breaks the floor.

    The first that is found without more practice breaks it too, by a hair, by the takes that it brings itself.
    """
    expected = learned_plan(learning_farm(900.0)).plan
    futures = draw_futures(expected.scenario.risk, 12, 512, 8, hands=True)
    on_its_practice = CarefulSearch(expected, futures)
    on_its_practice.run()
    assert on_its_practice.level < 50.0
    asked = []
    found = seek_careful(expected, futures, asked.append)
    assert found.search.level == 50.0
    assert 0 < found.plan[0][0] < expected.account.trees[0]
    assert found.rounds == len(asked) == asked[-1]  # of all searches, one after another


def test_a_footing_asks_for_the_practice_of_its_own_trees_and_no_more():
    """By hand: 40 trees in the first January give 40 grafts, and 40·(1 − take) more half a year on."""
    farm = learning_farm(900.0)
    expected = learned_plan(farm).plan
    practice = practice_counted(farm)
    footing = _footing(expected, practice, np.array([40, 0]))
    take = practice.take(20.0)
    grafts = 40 + 40 * (1 - take)
    assert footing.problem.practice_needed[0] == 0
    assert footing.problem.practice_needed[1:] == pytest.approx(grafts)
    later = footing.scenario.techniques["way_a"].take.value
    assert later == pytest.approx((take, practice.take(20.0 + grafts)))


def test_grafts_of_the_last_year_teach_nobody_who_begins_a_tree_and_no_search_is_made_for_them():
    expected = learned_plan(learning_farm(900.0)).plan
    none, first, last = (_takes_to_begin_by(expected, np.array(trees)) for trees in ([0, 0], [40, 0], [0, 40]))
    assert none == last
    assert len(first) == 2
    assert first[0] == none[0]
    assert first[1] > none[1]


def _judged(farm, plan, trees, futures):
    """The aim of some trees by the takes that they bring, and the share of futures in which they keep the floor."""
    practice, problem = practice_counted(farm), plan.problem
    own, _ = own_takes(problem, trees)
    honest = build(all_take(farm, practice.learners, own), farm.planning, problem.candidates)
    treatments = tuple(
        Treatment(stand=farm.stands[0].name, technique="way_a", trees=int(number), start=f"{2027 + year}-01")
        for year, number in enumerate(trees)
        if number
    )
    lowest = judge(lay_out(as_held(farm, treatments), Strategy("counted", treatments)), futures).deepest
    return account(honest, trees).aim, (lowest >= farm.household.floor).mean()


@pytest.mark.long
@pytest.mark.parametrize("savings", [600.0, 900.0])
def test_no_plan_counted_out_keeps_the_promise_by_its_own_takes_and_is_worth_more(savings):
    """In steps of twenty trees."""
    farm = learning_farm(savings)
    plan = learned_plan(farm).plan
    futures = draw_futures(farm.risk, 12, TRAINING, farm.risk.seed + 1, hands=True)
    enough = SHARE + 1.645 * np.sqrt(SHARE * (1 - SHARE) / TRAINING)
    every = [np.array([a, b]) for a in range(0, 301, 20) for b in range(0, 301 - a, 20)]
    counted = [_judged(farm, plan, trees, futures) for trees in every]
    keeping = [aim for aim, kept in counted if kept >= enough]
    found = careful_plan(plan)
    aim, kept = _judged(farm, plan, trees_begun(plan.problem, found.careful.treatments), futures)
    assert 0 < len(keeping) < len(counted)
    assert found.at_floor
    assert found.holds
    assert kept >= enough
    assert aim >= max(keeping)


@pytest.mark.long
def test_the_family_in_its_third_year_is_not_told_to_leave_all_as_it_is():
    """Its careful plan, whole: on 16,384 futures that no plan has seen, by the takes that its own practice brings."""
    farm = demo_scenario("third_year")
    found = plan_carefully(farm)
    assert found.settled
    assert found.at_floor
    assert found.holds
    assert sum(one.trees for one in found.careful.treatments) > 0
    assert found.answers[CAREFUL].expected_npv >= 0.7 * found.answers[EXPECTED].expected_npv
    assert found.answers[LEAVE].expected_npv == 0
    futures = draw_futures(farm.risk, farm.appraisal.horizon_years, 16_384, 4711, hands=True)
    again = judge(lay_out(as_held(farm, found.careful.treatments), found.careful), futures).deepest
    assert (again >= farm.household.floor).mean() >= SHARE - 1.96 * np.sqrt(SHARE * (1 - SHARE) / 16_384)
