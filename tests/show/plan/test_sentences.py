"""What is said of a plan is true of it: no trees, a loan without trees, promises eased, a search cut short."""

from dataclasses import replace

import numpy as np
import pytest
from factories import figure, loan_offer, operation, scenario, some_plain, stand, technique_data, use
from tiny_farms import count_out, tiny_farm

from renovation.decide.appraise import appraise_plan
from renovation.decide.belief import practice_of
from renovation.decide.plan import build, learned_plan, make_plan, why_not_more, yardsticks
from renovation.decide.plan.exact import Breach, account
from renovation.decide.plan.plan import plan_of
from renovation.decide.plan.question import Eased
from renovation.decide.plan.yardsticks import CautionPoint
from renovation.decide.replacement import when_to_renovate
from renovation.farm import farm_flows
from renovation.inputs import GraftRecord, Learning, Planning, Treatment
from renovation.show.held import record_sentences
from renovation.show.plan import tables as plan_tables
from renovation.show.plan.broken import breach_sentence
from renovation.show.plan.learning import learning_sentences
from renovation.show.plan.sentences import (
    caution_sentences,
    gain_sentence,
    head_sentence,
    limit_sentences,
    loan_sentences,
    plan_sentences,
    standing_sentence,
    when_sentences,
    yardstick_sentences,
)
from renovation.words import Words

WORDS = Words("en")


def farm(untouched=False, **household):
    """Forty trees that a sure graft with one scion each makes worth more at once."""
    way = technique_data(
        mature_crop=figure(2.0, "kg/tree/year"),
        operations={"work": operation("start", 0, 0.1, materials={"scion": use(1.0)})},
    )
    household = {"family_days": 20.0, "wage_per_day": 8.0, "savings": 1000.0, **household}
    stands = (stand(trees=40, untouched=untouched).model_dump(),)
    return scenario({"way_a": way}, stands=stands, household=household)


def test_a_way_inside_a_sentence_has_its_name_for_sentences():
    way = technique_data(mature_crop=figure(2.0, "kg/tree/year"))
    plan = make_plan(scenario({"rooted_cutting": way}, stands=(stand(trees=40).model_dump(),)), Planning(years=1))
    assert " by planting rooted cuttings in " in head_sentence(plan, WORDS)


def test_trees_that_are_worth_starting_but_cannot_be_are_not_called_worthless():
    plan = make_plan(farm(), Planning(years=1, scions_per_year=0.0))
    assert head_sentence(plan, WORDS) == WORDS("plan.head_none")
    assert "Within the planning years nothing is worth more" not in WORDS("plan.head_none")
    (said,) = limit_sentences(why_not_more(plan), plan, WORDS)
    assert said.startswith("Scions are short in year 1.")


def test_a_batch_larger_than_the_stand_is_not_called_everything_started():
    """No money, hand or tree more would help, and that is all that is said."""
    plan = make_plan(farm(), Planning(years=1, batch={"way_a": 100}))
    assert plan.trees == 0
    assert limit_sentences(why_not_more(plan), plan, WORDS) == [WORDS("plan.limit_none")]
    assert "all that is worth starting is started" not in WORDS("plan.limit_none")


def test_a_cheap_loan_without_a_tree_adds_what_it_adds_and_is_no_part_of_the_worth():
    """1,000 without interest for six years, two of them grace, at 10 % a year."""
    offer = loan_offer(rate_per_year=0.0)
    plan = make_plan(farm(untouched=True), Planning(years=1, loan=offer))
    by_hand = 1000 / 1.1 ** (1 / 12) - sum(1000 / 48 / 1.1 ** ((month + 1) / 12) for month in range(25, 73))
    assert [plan.aim_gain, plan.account.loan_adds] == pytest.approx([by_hand, by_hand], rel=1e-9)
    amount, said = WORDS.round_money(by_hand, "USD"), plan_sentences(plan, WORDS)
    assert plan.npv == 0.0
    assert gain_sentence(plan, WORDS) == WORDS("plan.gain_nothing")
    assert WORDS("plan.loan_adds", amount=amount) in said
    assert any(f"In it this plan comes to {amount} more" in one for one in said)


def test_a_dear_loan_is_said_to_cost_what_it_costs():
    """1,000 at 30 % a year where money is discounted at 10 %, taken so that a floor is kept."""
    plan = make_plan(farm(untouched=True), Planning(years=1, loan=loan_offer(rate_per_year=0.3)))
    assert plan.loan is None
    dear = replace(plan, solution=replace(plan.solution, account=account(plan.problem, plan.account.trees, 1000.0)))
    assert dear.npv == 0.0
    assert dear.account.loan_adds < 0
    amount = WORDS.round_money(-dear.account.loan_adds, "USD")
    assert loan_sentences(dear, WORDS) == [WORDS("plan.loan_costs", amount=amount)]


def test_a_plan_of_less_worth_than_the_farm_as_it_is_is_said_to_be_so():
    """Work that brings nothing costs what its days cost, each year's discounted at 10 %."""
    way = technique_data(mature_crop=figure(0.0, "kg/tree/year"), operations={"work": operation("start", 0, 0.1)})
    problem = build(scenario({"way_a": way}, stands=(stand(trees=40).model_dump(),)), Planning(years=1))
    given = plan_of(problem, np.eye(len(problem.candidates), dtype=np.int64)[0] * 40)
    assert given.npv < 0
    amount = WORDS.round_money(-given.npv, "USD")
    assert gain_sentence(given, WORDS) == WORDS("plan.gain_less", amount=amount)


def test_the_head_of_a_later_year_knows_what_was_started_before():
    plan = make_plan(farm(), Planning(years=2))
    assert plan.trees_in(1) == plan.trees == 40
    assert head_sentence(plan, WORDS, 2) == WORDS("plan.head_done")


def test_a_plan_that_was_not_searched_for_blames_no_clock():
    problem = build(farm(), Planning(years=1))
    given = plan_of(problem, np.eye(len(problem.candidates), dtype=np.int64)[0] * problem.trees[0])
    assert standing_sentence(given, WORDS) == WORDS("plan.standing.given_unknown")
    stopped = replace(given, solution=replace(given.solution, status="stopped"))
    assert standing_sentence(stopped, WORDS) == WORDS("plan.standing.stopped_unknown")


def test_a_broken_promise_is_counted_from_the_promise_as_stated():
    """The plan is eased by 300; a rule that goes 50 further is 350 below the family's own floor."""
    plan = make_plan(farm(), Planning(years=1))
    eased = replace(plan, problem=replace(plan.problem, eased=Eased(floor=300.0)))
    said = breach_sentence(Breach("floor", 50.0, month=0), eased, WORDS)
    assert said == WORDS("plan.breach.floor", amount="$350", month="January 2027")
    nothing = breach_sentence(Breach("floor", 50.0, month=0), eased, WORDS, "nothing_breaks")
    assert nothing == WORDS("plan.nothing_breaks.floor", amount="$50.00", month="January 2027")


def test_a_hundredth_of_a_day_too_few_is_not_said_to_be_none():
    plan = make_plan(farm(), Planning(years=1))
    said = breach_sentence(Breach("hands", 0.02, month=0), plan, WORDS)
    assert "less than 0.1 days" in said
    assert "0 days" not in said


def test_where_no_plan_keeps_every_promise_no_rule_is_said_to():
    plan = make_plan(farm(living_costs=100.0), Planning(years=1))
    assert plan.impossible is not None
    rules = yardsticks(plan)
    at_once = next(rule for rule in rules if rule.rule == "all_at_once")
    assert at_once.keeps_promises
    assert not any("keeps every promise" in sentence for sentence in yardstick_sentences(plan, rules, WORDS))
    table = plan_tables.rules(plan, rules, WORDS)
    assert {row[-1] for row in table.rows} == {"As far as can be", "Broken"}


def test_an_easing_that_was_cut_short_is_not_called_the_least():
    poor = farm(living_costs=100.0, hired_days_limit=1.0)
    plan = make_plan(poor, Planning(years=1))
    assert plan.impossible is not None
    amount = WORDS.round_money(plan.impossible.eased.floor, "USD")
    (breach,) = plan.broken
    assert breach_sentence(breach, plan, WORDS, "broken_least") in plan_sentences(plan, WORDS)
    assert WORDS("plan.against_unproven.floor", amount=amount) not in plan_sentences(plan, WORDS)
    unsure = replace(plan, impossible=replace(plan.impossible, changes=(), least=False))
    assert WORDS("plan.against_unproven.floor", amount=amount) in plan_sentences(unsure, WORDS)
    assert not any("breaks least takes" in sentence for sentence in plan_sentences(unsure, WORDS))


def test_what_an_eased_plan_still_breaks_is_said():
    plan = make_plan(farm(living_costs=100.0), Planning(years=1))
    tighter = replace(plan.problem, eased=Eased(floor=plan.problem.eased.floor - 100.0))
    worse = replace(plan, problem=tighter, solution=plan_of(tighter, plan.account.trees).solution)
    (breach,) = worse.breaches
    (stated,) = worse.broken
    assert stated.amount == pytest.approx(breach.amount + tighter.eased.floor)
    assert breach_sentence(stated, worse, WORDS, "broken_least") in plan_sentences(worse, WORDS)
    rule = yardsticks(worse)[0]
    assert not rule.keeps_promises


def test_a_plan_that_was_stopped_while_learning_is_not_said_to_change_for_ever():
    learned = learned_plan(farm(), Planning(years=1, learning=Learning()), cancel=lambda: True)
    ways = WORDS.listing([WORDS.name("technique", "way_a")])
    assert learning_sentences(learned, WORDS)[-1] == WORDS("plan.settled_unknown", ways=ways)


def test_of_a_way_that_learns_is_said_what_was_held_what_was_counted_and_what_is_held_now():
    records = (
        GraftRecord(technique="way_a", made=10, taken=9, season="2024-03"),
        GraftRecord(technique="way_a", made=5, taken=1, season="2023-03"),
        GraftRecord(technique="way_a", made=0, taken=0),
    )
    planning = Planning(years=1, records=records, learning=Learning())
    practice = practice_of(farm(), planning)
    said = learning_sentences(learned_plan(farm(), planning), WORDS)
    before, now = WORDS.percent(practice.held_before().mean), WORDS.percent(practice.held_now().mean)
    assert before != now
    assert before in said[0]
    assert said[1:3] == [
        WORDS("plan.practice_counted", season="1", made="5", taken="1"),
        WORDS("plan.practice_counted", season="2", made="10", taken="9"),
    ]
    assert now in said[3]


def test_what_the_plan_is_worth_to_slow_and_to_fast_hands_is_said_and_the_promise_that_slow_ones_break():
    tries = {"attempts": figure(2, "attempts"), "gap_months": figure(12, "months")}
    way = technique_data(mature_crop=figure(2.0, "kg/tree/year"), **tries)
    grafting = scenario({"way_a": way}, stands=(stand(trees=40).model_dump(),))
    learned = learned_plan(grafting, Planning(years=2, learning=Learning()))
    fast, slow = learned.at_rates
    assert slow.npv < fast.npv
    said = learning_sentences(learned, WORDS)
    amounts = [WORDS.round_money(end.npv, "USD") for end in (slow, fast)]
    (place,) = [n for n, line in enumerate(said) if amounts[0] in line and WORDS.percent(slow.takes[1]) in line]
    assert amounts[1] in said[place + 1]
    assert WORDS.percent(fast.takes[1]) in said[place + 1]

    breach = Breach("hands", 3.0, month=20, year=2)
    learned.__dict__["at_rates"] = (fast, replace(slow, breaches=(breach,)))
    assert breach_sentence(breach, learned.plan, WORDS) in learning_sentences(learned, WORDS)[place + 2]
    learned.__dict__["at_rates"] = (slow, slow)
    assert not any(amounts[0] in line for line in learning_sentences(learned, WORDS))


def test_of_a_way_by_itself_is_said_what_was_held_what_was_counted_and_what_is_held_now():
    records = (GraftRecord(technique="way_a", made=10, taken=9), GraftRecord(technique="way_a", made=8, taken=0))
    said = record_sentences(farm().changed(planning__records=tuple(r.model_dump() for r in records)), WORDS)
    way = WORDS.name("technique", "way_a")
    assert said[0] == WORDS("plan.record_before", way=way, mean="50%", low="5%", high="95%")
    assert said[1] == WORDS("plan.record_counted", way=way, made="18", taken="9")
    assert said[2].startswith(WORDS("plan.record_now", way=way, mean="50%", low="31%", high="").split("31%")[0])


def test_months_that_no_nursery_is_in_time_for_are_named_and_whole_years_are_counted():
    early = technique_data(
        start_months=(2, 6), operations={"nursery": operation("start", -3, 0.1), "plant": operation("start", 0, 0.1)}
    )
    late = technique_data(start_months=(1,), operations={"nursery": operation("start", -3, 0.1)})
    plan = make_plan(scenario({"way_a": early, "way_b": late}), Planning(years=2))
    why = "for its nursery would have to begin before the first month."
    said = [sentence for sentence in plan_sentences(plan, WORDS) if why in sentence]
    assert [sentence.split(": ")[1] for sentence in said] == [
        f"no start in February 2027, {why}",
        f"no start in year 1, {why}",
    ]


def test_what_a_day_of_work_costs_is_said_of_the_worth_and_of_the_sum_that_plans_are_chosen_by():
    for stated, said in ((None, "less $8.00 for a day"), (0.0, "your own work free"), (2.5, "less $2.50 for a day")):
        plan = make_plan(farm(), Planning(years=1, value_per_family_day=stated))
        lines = plan_sentences(plan, WORDS)
        at = lines.index(gain_sentence(plan, WORDS))
        assert lines[at + 1] == "In that a day of work costs $8.00, whoever works it."
        assert said in lines[at + 2]
        assert WORDS.round_money(plan.aim_gain, "USD") in lines[at + 2]


def test_a_rule_worth_more_than_the_plan_is_said_to_be_so_and_why():
    """A rule has a higher NPV than the plan and no higher aim; then one is better by both; then one of the same."""
    plan = make_plan(farm(), Planning(years=1))
    rule = next(one for one in yardsticks(plan) if one.rule == "all_at_once")

    def told(npv, aim):
        made = replace(rule.account, aim=aim)
        vars(made)["npv"] = npv
        return yardstick_sentences(plan, [replace(rule, account=made)], WORDS)[0]

    better = told(plan.npv + 50.0, plan.aim - 1.0)
    assert "worth $50.00 more than the plan, though no more in the planning sum" in better
    assert "more than the plan that was found" in told(plan.npv + 50.0, plan.aim + 50.0)
    assert "worth $50.00 less than the plan" in told(plan.npv - 50.0, plan.aim - 1.0)
    assert "worth as much as the plan" in told(plan.npv, plan.aim)


def test_a_floor_that_makes_a_plan_worth_more_is_not_said_to_cost():
    plan = make_plan(farm(), Planning(years=1))
    low, high = (CautionPoint(floor, npv, 1.0, 1, 0.0, proven=True) for floor, npv in ((0.0, 100.0), (50.0, 120.0)))
    said = caution_sentences(plan, [low, high], WORDS)[0]
    assert said.startswith("With a floor of $50.00 the plan is worth $20.00 more")
    assert "costs nothing" in caution_sentences(plan, [low, replace(high, npv=100.0)], WORDS)[0]
    assert "costs $30.00" in caution_sentences(plan, [low, replace(high, npv=70.0)], WORDS)[0]


# What is said to be proven, beside plans counted out


@pytest.mark.parametrize("seed", some_plain(range(12), [1, 2, 5, 6]))
def test_what_is_said_to_be_proven_is_what_counting_out_finds(seed):
    """Whatever of no plan, no better plan and no trees is said, no plan of all counted out gainsays it."""
    holding, planning = tiny_farm(seed)
    counted = count_out(holding, planning)
    for gap in (None, 0.2):
        plan = make_plan(holding, planning, gap=gap)
        said = plan_sentences(plan, WORDS)
        assert ("No plan keeps every promise." in said) == (counted.worth is None)
        if counted.worth is None:
            continue
        better, standing = counted.worth - plan.aim, standing_sentence(plan, WORDS)
        assert standing in said
        if standing == WORDS("plan.standing.best"):
            assert better <= plan.problem.money_unit
        else:
            assert standing.startswith("In the planning sum no plan comes to more than ")
            assert better <= plan.at_most_better + 1e-6
        assert (head_sentence(plan, WORDS) == WORDS("plan.head_none")) == (not plan.starts)


def test_floors_that_no_plan_was_found_for_are_not_called_out_of_reach():
    plan = make_plan(farm(), Planning(years=1))
    point = CautionPoint(5000.0, None, None, None, None, proven=True)
    assert caution_sentences(plan, [point], WORDS) == ["None of these floors can be kept."]
    (said,) = caution_sentences(plan, [point, replace(point, proven=False)], WORDS)
    assert said.startswith("No plan was found that keeps any of these floors.")


@pytest.mark.parametrize(("kg", "leave"), [(0.9, True), (2.0, False)])
def test_leaving_trees_alone_is_said_to_be_worth_more_than_any_start_only_where_it_is(kg, leave):
    way = technique_data(mature_crop=figure(kg, "kg/tree/year"), operations={"work": operation("start", 0, 0.1)})
    holding = scenario({"way_a": way})
    found = when_to_renovate(holding)
    said = when_sentences(holding, found.starts, found.renewals, found.old_trees, WORDS)
    assert (WORDS("plan.when.never", stand="Lower field") in said) == leave
    # some starts worked out by the farm model
    worth = []
    for month in ("2027-01", "2030-07", "2033-01"):
        plan = (Treatment(stand="Lower field", technique="way_a", trees=10, start=month),)
        worth.append(appraise_plan(holding, farm_flows(holding, plan)).npv)
    assert all((npv < 0) == leave for npv in worth)
