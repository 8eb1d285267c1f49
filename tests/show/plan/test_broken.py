"""What may not be said where no plan keeps every promise, a sentence each; and what is said in its place."""

import re
from dataclasses import replace

import pytest
from factories import figure, operation, scenario, stand, technique_data, use

from renovation.decide.dossier import Dossier
from renovation.decide.plan import LearnedPlan, make_plan, repairs, sheet, why_not_more, yardsticks
from renovation.decide.plan.repairs import Repair
from renovation.inputs import Planning
from renovation.show.plan.broken import broken_sentences, headline, in_hand_note, repair_sentence, repair_sentences
from renovation.show.plan.sentences import (
    head_in_parts,
    limit_sentences,
    plan_sentences,
    standing_sentence,
    yardstick_sentences,
)
from renovation.show.plan.text import plan_text
from renovation.show.report.sheet_part import sheet_part
from renovation.words import Words

WORDS = Words("en")


def farm(**household):
    """Forty trees that a sure graft with one scion each makes worth more at once."""
    way = technique_data(
        mature_crop=figure(2.0, "kg/tree/year"),
        operations={"work": operation("start", 0, 0.1, materials={"scion": use(1.0)})},
    )
    household = {"family_days": 20.0, "wage_per_day": 8.0, "savings": 1000.0, **household}
    return scenario({"way_a": way}, stands=(stand(trees=40).model_dump(),), household=household)


@pytest.fixture(scope="module", name="plan")
def broken_plan():
    """A farm that lives above its means: the floor of 50 is broken whatever is planned."""
    return make_plan(farm(living_costs=36.0, floor=50.0), Planning(years=1))


@pytest.fixture(scope="module", name="said")
def all_said(plan):
    """Everything that terminal and report say of it, as one text."""
    learned = LearnedPlan(plan, True, (), (), (), (), {}, None)
    rules, laid_out = yardsticks(plan), sheet(plan)
    text = plan_text(learned, rules, why_not_more(plan), laid_out, WORDS, 1000, repairs(plan))
    return re.sub(r"\s+", " ", f"{text} {sheet_part(found_elsewhere(plan), WORDS)}")


def found_elsewhere(plan):
    """The dossier whose plan this is."""
    learned = LearnedPlan(plan, True, (), (), (), (), {}, None)
    return Dossier(plan.scenario, year_is_stated=False, learned_found=learned)


MAY_NOT = (
    "head", "head_count", "head_later", "head_done", "head_none", "head_none_unproven", "later", "loan",
    "gain", "gain_less", "gain_nothing", "day", "aim.more", "aim.less", "limit_none", "standing.best",
    "rule_same.keeps", "rule_though.keeps",
    "standing.within_gap", "sheet.in_hand_note", "rule_less.keeps", "rule_more.keeps",
)  # fmt: skip


@pytest.mark.parametrize("key", MAY_NOT)
def test_a_sentence_that_holds_only_where_promises_are_kept_is_not_said(key, said, plan):
    assert plan.broken
    pattern = re.sub(r"\\\\\\{\\w+\\\\\\}", ".{1,200}?", re.escape(WORDS.text(f"plan.{key}")))
    assert not re.search(pattern, said)


@pytest.mark.parametrize("words", ["everything is paid", "is untouched", "keeps every promise.", "This year start"])
def test_nor_are_its_like(words, said):
    assert words not in said.replace("made that keeps every promise", "").replace("o plan keeps every promise.", "")


def test_the_headline_comes_first_with_month_and_amount(plan):
    first, second, *_ = plan_sentences(plan, WORDS, 1, ())
    assert first == WORDS("plan.broken.head") == headline(plan, WORDS)
    (breach,) = plan.broken
    below = plan.scenario.household.floor - float(plan.account.balance.min())
    assert breach.amount == pytest.approx(below)
    assert [second] == broken_sentences(plan, WORDS)
    assert WORDS.round_money(below, "USD") in second
    assert WORDS.month(plan.problem.months_named[plan.deepest_month]) in second


def test_a_search_that_was_stopped_does_not_say_that_there_is_no_plan():
    plan = make_plan(farm(living_costs=36.0, floor=50.0), Planning(years=1), cancel=lambda: True)
    assert plan.broken
    unknown = plan if plan.impossible is None else replace(plan, impossible=None)
    assert headline(unknown, WORDS) == WORDS("plan.broken.head_unknown")


def test_the_plan_that_breaks_least_is_called_that_and_no_answer(plan):
    told = plan_sentences(plan, WORDS, 1, ())
    head, _ = head_in_parts(plan, WORDS)
    assert told.index(WORDS("plan.broken.below")) < told.index(head)
    assert head.startswith("The plan that breaks least")
    assert standing_sentence(plan, WORDS) in told
    assert limit_sentences((), plan, WORDS) == [WORDS("plan.broken.limit")]
    assert not any("keeps every promise" in one for one in yardstick_sentences(plan, yardsticks(plan), WORDS))


def test_money_to_have_in_hand_names_the_floor_it_used(plan):
    used = plan.problem.floor
    assert used < 0
    missing, floor = WORDS.round_money(-used, "USD"), WORDS.round_money(50.0, "USD")
    assert in_hand_note(plan, WORDS) == WORDS("plan.sheet.in_hand_below", missing=missing, floor=floor)
    near = make_plan(farm(living_costs=36.0, floor=50.0, savings=1000.0 - used + 20.0), Planning(years=1))
    assert 0 < near.problem.floor < 50
    left = WORDS.round_money(near.problem.floor, "USD")
    assert in_hand_note(near, WORDS) == WORDS("plan.sheet.in_hand_eased", used=left, floor=floor)
    kept = make_plan(farm(), Planning(years=1))
    assert in_hand_note(kept, WORDS) == WORDS("plan.sheet.in_hand_note")


def test_each_change_is_said_with_what_would_not_be_enough(plan):
    found = repairs(plan)
    assert 2 <= len(found) <= 3
    lead, *each = repair_sentences(found, plan, WORDS)
    assert lead == WORDS("plan.repair.lead")
    for repair, told in zip(found, each, strict=True):
        assert told == repair_sentence(repair, plan, WORDS)
        assert WORDS.round_money(repair.amount, "USD") in told
        less = WORDS.round_money(repair.amount - repair.step, "USD")
        assert (f"With {less} no plan is possible." in told) == repair.smallest
    assert repair_sentences((), plan, WORDS) == [WORDS("plan.repair.none")]
    assert repair_sentences(None, plan, WORDS) == [WORDS("plan.repair.stopped")]


def test_hands_are_said_in_days_of_a_month(plan):
    by_month = Repair("hands", 4.0, 1.0, True, 4, None, plan.scenario, plan)
    told = repair_sentence(by_month, plan, WORDS)
    assert told == "Find 4 days more of hired work in April, every year. With 3 days no plan is possible."
