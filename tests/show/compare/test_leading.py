"""What an answer leads with, what its takes stand for, and the months of later tries."""

import pytest

from renovation.decide import compare, ranges
from renovation.inputs import demo_names, demo_scenario
from renovation.show import tidy
from renovation.show.compare import answer, sentences
from renovation.words import Words

WORDS = Words("en")
STAMP = {"scenario_digest": "0", "version": "0", "date": "2026-11-26"}


@pytest.fixture(scope="module")
def comparison():
    return compare(demo_scenario())


@pytest.mark.parametrize("name", demo_names())
def test_the_take_at_which_the_answer_turns_stands_first(name):
    comparison = compare(demo_scenario(name))
    said = answer.answer(comparison, ranges(comparison, comparison.headline), WORDS)
    assert said[0].startswith(f"The answer turns where {WORDS.percent(comparison.turns[0].take, 1)} of grafts take")
    assert said[1 : 1 + len(answer.worth_most(comparison, WORDS))] == answer.worth_most(comparison, WORDS)
    assert sentences.headline(comparison, WORDS) in said


def test_without_grafts_the_paybacks_stand_first():
    planted = compare(demo_scenario(), techniques=("rooted_cutting", "grafted_seedling"))
    said = answer.answer(planted, (), WORDS)
    assert said[0] == sentences.headline(planted, WORDS)
    assert said.count(said[0]) == 1


def test_a_farm_that_states_one_take_is_told_what_it_stands_for(comparison):
    stated = compare(demo_scenario("cooperative_nursery"))
    assert stated.after_practice is None
    assert answer.one_take(stated, WORDS) == (
        "One take each is stated for all years: side grafting 72%, basal-shoot grafting 72% and bud grafting 65%. "
        "They stand for hands that begin and for practised hands alike."
    )
    assert answer.one_take(stated, WORDS) in answer.answer(stated, (), WORDS)
    assert answer.one_take(comparison, WORDS) == ""  # both are stated


@pytest.mark.parametrize(
    ("way", "said"),
    [
        (
            "side_graft",
            "Side grafting: a tree on which it fails is tried again in June 2027, September 2027, December 2027 and "
            "March 2028. December is not among its months to start, but a later try falls then.",
        ),
        (
            "basal_shoot_graft",
            "Basal-shoot grafting: a tree on which it fails is tried again in August 2027, December 2027, April 2028 "
            "and August 2028. August and December are not among its months to start, but later tries fall then.",
        ),
        (
            "grafted_seedling",
            "Planting grafted seedlings: a tree on which it fails is tried again in April 2028.",
        ),
        ("hard_pruning", ""),
    ],
)
def test_the_months_of_later_tries_are_said_beside_those_of_the_calendar(comparison, way, said):
    assert answer.tried(comparison, way, WORDS) == said


def test_the_measures_of_practised_hands_stand_in_the_tidy_rows(comparison):
    rows = {row["technique"]: row for row in tidy.measure_rows(comparison, STAMP)}
    later = comparison.after_practice.outcomes["side_graft"]
    grafted, pruned = rows["side_graft"], rows["hard_pruning"]
    assert grafted["take_after_practice"] == 0.75
    assert grafted["npv_after_practice"] == later.measures.npv > grafted["npv"]
    assert grafted["npv_per_tree_after_practice"] == later.per_tree.npv
    assert grafted["payback_years_after_practice"] == later.measures.payback_years
    assert pruned["take_after_practice"] is None
    assert pruned["npv_after_practice"] == pruned["npv"]
    stated = compare(demo_scenario("cooperative_nursery"))
    row = next(row for row in tidy.measure_rows(stated, STAMP) if row["technique"] == "side_graft")
    assert (row["take_after_practice"], row["npv_after_practice"]) == (0.72, row["npv"])
