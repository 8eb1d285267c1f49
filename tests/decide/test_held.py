"""One belief everywhere: comparison, money, plan, careful plan and futures are asked of the same takes."""

import math

import pytest
from factories import figure, operation, scenario, some_plain, stand, technique_data

from renovation.decide import compare, npv_per_tree
from renovation.decide.dossier import Dossier
from renovation.decide.hands import take_after_practice
from renovation.decide.held import as_held
from renovation.decide.lending import appraise_loans
from renovation.decide.plan import learned_plan
from renovation.decide.replacement import when_to_renovate
from renovation.decide.risk import Strategy, risk, stress_tests
from renovation.decide.risk.careful import careful_plan
from renovation.decide.risk.strategy import CAREFUL, EXPECTED
from renovation.inputs import GraftRecord, Learning, Planning, Treatment, demo_scenario, read_scenario, write_scenario
from renovation.show.held import held_sentences, work_sentences
from renovation.words import Words

TREES = 60
RECORDS = (
    GraftRecord(technique="way_a", made=20, taken=5, season="2025-03"),
    GraftRecord(technique="way_a", made=40, taken=24, season="2026-03"),
)


def farm(learning=None, records=RECORDS, trees=TREES):
    """Two stands that one way grafts, three tries half a year apart; all of the first are planned in month 0."""
    tries = {"attempts": figure(3, "attempts"), "gap_months": figure(6, "months")}
    graft = {"graft": operation("attempt", 0, 0.05)}
    way = technique_data(
        start_months=(1, 2, 3), mature_crop=figure(2.0, "kg/tree/year"), operations=graft, **tries,
        take=figure((0.9,), "share by project year"),
    )  # fmt: skip
    stands = tuple(stand(name=name, trees=TREES, crop_per_tree=0.5).model_dump() for name in ("Upper", "Lower"))
    household = {"family_days": 300.0, "wage_per_day": 8.0, "savings": 1000.0}
    found = scenario({"way_a": way}, stands=stands, household=household, comparison={"stand": "Upper", "trees": trees})
    start = found.appraisal.start
    plan = (Treatment(stand="Upper", technique="way_a", trees=trees, start=start),)
    return found.model_copy(update={"plan": plan, "planning": Planning(years=1, learning=learning, records=records)})


TABLE = ({"grafts_before": 0, "take": 0.3}, {"grafts_before": 90, "take": 0.7})
LEARNING = {"counts alone": None, "curve": Learning(), "table": Learning(form="table", table=TABLE)}
CASES = [(kind, records) for kind in LEARNING for records in ("counted", "uncounted")]


@pytest.mark.parametrize("case", some_plain(CASES, [("curve", "counted")]), ids=" ".join)
def test_every_question_is_asked_of_the_same_takes(case):
    """The compared trees are those of the plan: each room makes the same of them, to the last cent."""
    learning, asked = LEARNING[case[0]], farm(LEARNING[case[0]], RECORDS if case[1] == "counted" else ())
    npv = compare(asked).outcomes["way_a"].measures.npv
    dossier = Dossier(asked)
    assert dossier.measures.npv == pytest.approx(npv, rel=1e-12)
    assert npv_per_tree(asked)["Upper"]["way_a"] * TREES == pytest.approx(npv, rel=1e-12)
    curve = next(curve for curve in when_to_renovate(asked).starts if curve.stand == "Upper")
    assert curve.npv[0] * TREES == pytest.approx(npv, rel=1e-12)
    answers = risk(asked, draws=512).answers
    assert answers["plan"].expected_npv == pytest.approx(npv, rel=1e-12)
    assert answers["way_a"].expected_npv == pytest.approx(npv, rel=1e-12)
    assert stress_tests(asked).expected["plan"].npv == pytest.approx(npv, rel=1e-12)
    assert appraise_loans(asked).cash.with_plan.balance == pytest.approx(dossier.cash.with_plan.balance, rel=1e-12)
    found = learned_plan(asked)
    takes = as_held(asked, found.plan.treatments).techniques["way_a"].take.value
    assert takes == (found.takes if learning else found.plan.scenario.techniques["way_a"].take.value)
    careful = careful_plan(found.plan, training=512, fresh=512).answers
    for key, treatments in ((EXPECTED, found.plan.treatments), (CAREFUL, careful[CAREFUL].strategy.treatments)):
        again = risk(asked, [Strategy("again", treatments)], draws=512).answers["again"]
        assert careful[key].expected_npv == pytest.approx(again.expected_npv, rel=1e-12)


def test_the_answer_is_the_one_without_records_where_the_counts_are_stated_as_the_take():
    """A farm that states as its own take what another has counted gets the same comparison: (5 + 24 + 1) / 62."""
    counted, stated = (
        farm(),
        farm(records=()).changed(techniques__way_a__take=figure((30 / 62,), "share by project year")),
    )
    assert compare(counted).measures_table().equals(compare(stated).measures_table())


def test_takes_of_a_curve_are_those_of_the_trees_that_are_begun():
    """60 trees by hand: the first try is made on all, the second half a year later on those that failed."""
    asked = farm(Learning(), ())
    first = 0.25
    grafts = TREES + TREES * (1 - first)
    second = 1 - 0.75 * (1 + grafts) ** math.log2(0.85)
    takes = compare(asked).scenario.techniques["way_a"].take.value
    assert takes[:2] == pytest.approx((first, second), rel=1e-12)
    assert take_after_practice(asked, "way_a") == 0.75


def test_what_is_held_is_held_once():
    """Asked again nothing changes, and the digest stays that of what was stated."""
    for learning in LEARNING.values():
        asked = farm(learning)
        held = as_held(asked, asked.plan)
        assert held.digest == asked.digest
        assert as_held(held, asked.plan).techniques == held.techniques != asked.techniques
    plain = demo_scenario("few_hands")
    assert as_held(plain, plain.plan) is plain


def test_what_was_counted_is_said_where_ways_are_compared():
    words = Words("en")
    said = "\n".join(held_sentences(farm(Learning()), words))
    assert said.startswith("Before your grafts were counted we expected")
    assert "Season 1 on record. Grafts made: 20; taken: 5." in said
    assert said.endswith("Every page, the report and the futures count on this.")
    assert held_sentences(farm(Learning(), ()), words) == []
    assert "we expect 48% to take" in "\n".join(held_sentences(farm(), words))


WORKED = (
    GraftRecord(technique="way_a", made=20, taken=5, season="2025-03", work={"graft": {"days": 2.0}}),
    GraftRecord(technique="way_a", made=40, taken=24, work={"graft": {"days": 1.0, "trees": 10}}),
)


@pytest.mark.parametrize("kind", some_plain(LEARNING, ["counts alone"]))
def test_days_worked_correct_the_days_per_tree_in_every_room(kind):
    """(30 · 0.05 + 2 + 1) / (30 + 20 + 10) = 0.075 days a tree: a farm that states so gets the same answers."""
    learning = LEARNING[kind]
    counted = farm(learning, WORKED)
    alone = tuple(record.model_copy(update={"work": {}}) for record in WORKED)
    stated = farm(learning, alone).changed(techniques__way_a__operations__graft__days=figure(0.075, "person-days/tree"))
    held = as_held(counted, counted.plan)
    assert held.techniques["way_a"].operations["graft"].days.value == pytest.approx(0.075, rel=1e-15)
    assert as_held(held, counted.plan).techniques == held.techniques
    for ask in (
        lambda it: compare(it).outcomes["way_a"].measures.npv,
        lambda it: npv_per_tree(it)["Lower"]["way_a"],
        lambda it: Dossier(it).labour.days.sum(),
        lambda it: risk(it, draws=512).answers["plan"].expected_npv,
        lambda it: stress_tests(it).rows["plan"][-1].npv,
        lambda it: when_to_renovate(it).starts[0].npv[0],
        lambda it: learned_plan(it).plan.aim,
    ):
        assert ask(counted) == pytest.approx(ask(stated), rel=1e-9) != ask(farm(learning, alone))


def test_days_are_said_and_written_and_leave_the_digest_of_other_farms():
    counted = farm(None, WORKED)
    (said,) = work_sentences(counted, Words("en"))
    assert "held 5 days for 100 trees. Counted are 3 days on 30 trees. Now we hold 7.5 days for 100 trees." in said
    assert read_scenario(write_scenario(counted), "again.toml") == counted
    assert counted.digest != farm(None, tuple(record.model_copy(update={"work": {}}) for record in WORKED)).digest


def test_work_falls_on_the_trees_that_it_is_done_on():
    record = GraftRecord(technique="way_a", made=40, taken=24, work={"graft": {"days": 1.0, "trees": 10}})
    worked = [
        record.worked_on(name, anchor) for name, anchor in (("graft", "attempt"), ("a", "attempt"), ("b", "start"))
    ]
    assert worked == [10, 40, 40]
    assert (record.worked_on("c", "established"), record.worked_on("d", "never")) == (24, 16)


def test_grafts_on_trees_that_wait_are_practice_too():
    """Sixty that wait are grafted in October of the first year: three of four take from the second on, plan or none."""
    points = ((0, 0.25), (59, 0.25), (60, 0.75))
    table = tuple({"grafts_before": grafts, "take": take} for grafts, take in points)
    figures = {"attempts": figure(2, "attempts"), "gap_months": figure(12, "months")}
    way = technique_data(
        take=figure((0.25,), "share by project year"), operations={"graft": operation("attempt", 0, 1.0)}, **figures
    )
    begun = {"stand": "Lower field", "technique": "way_a", "trees": 60, "start": "2026-10", "taken": (0,)}
    here = scenario(
        {"way_a": way},
        stands=(stand(trees=70, crop_per_tree=0.1).model_dump(),),
        under_way=(begun,),
        household={"family_days": 20.0, "wage_per_day": 8.0, "savings": 5000.0},
        planning={"years": 2, "learning": {"form": "table", "table": table}},
    )
    assert as_held(here).techniques["way_a"].take.value == (0.25, 0.75)
    assert as_held(here.changed(under_way=())).techniques["way_a"].take.value == (0.25,)
    # no tree has to be grafted early for the sake of practice: in the plan the ten others wait for practised hands
    found = learned_plan(here)
    assert found.settled
    assert (found.takes, found.grafts[0]) == ((0.25, 0.75), 60.0)
    assert {start.year for start in found.plan.starts} == {2}
