"""The answer of a comparison: with hands that begin, after practice, and where it turns, by hand-made results."""

from dataclasses import replace
from types import MappingProxyType

import pytest
from results import stated, with_measures

from renovation.decide import compare
from renovation.decide.hands import Turn
from renovation.inputs import demo_scenario
from renovation.show.compare import answer
from renovation.words import Words

WORDS = Words("en")


@pytest.fixture(scope="module")
def pair():
    return compare(demo_scenario(), techniques=("side_graft", "rooted_cutting"))


def worth(comparison, **npv):
    """The comparison with these worths, and nothing worked out yet."""
    changed = with_measures(comparison, **{key: {"npv": value} for key, value in npv.items()})
    return replace(changed, outcomes=MappingProxyType({key: changed.outcomes[key] for key in npv}))


def asked(pair, begin, after):
    """Both answers with worths of their own."""
    comparison = worth(pair, **begin)
    comparison.__dict__["after_practice"] = after and worth(pair.after_practice, **after)
    return comparison


@pytest.mark.parametrize(
    ("begin", "after", "said"),
    [
        (
            {"side_graft": 100.0, "rooted_cutting": 300.0},
            {"side_graft": 400.0, "rooted_cutting": 300.0},
            [
                "With hands that begin, planting rooted cuttings is worth most: "
                "$300 more in today's money than leaving the farm as it is.",
                "After practice, side grafting is worth most: "
                "$400 more in today's money than leaving the farm as it is.",
            ],
        ),
        (
            {"side_graft": 310.0, "rooted_cutting": 300.0},
            {"side_graft": 400.0, "rooted_cutting": 300.0},
            [
                "Side grafting is worth most, with hands that begin and after practice. "
                "In today's money that is $310 and $400 more than leaving the farm as it is.",
            ],
        ),
        (
            {"side_graft": -50.0, "rooted_cutting": -60.0},
            {"side_graft": 400.0, "rooted_cutting": -60.0},
            [
                "With hands that begin, no way is worth more than leaving the farm as it is. "
                "The nearest is side grafting, at $50.00 less.",
                "After practice, side grafting is worth most: "
                "$400 more in today's money than leaving the farm as it is.",
            ],
        ),
        (
            {"side_graft": -50.0},
            {"side_graft": 400.0},
            [
                "With hands that begin, side grafting is worth $50.00 less in today's money "
                "than leaving the farm as it is.",
                "After practice, side grafting is worth $400 more in today's money than leaving the farm as it is.",
            ],
        ),
        (
            {"side_graft": 310.0, "rooted_cutting": 300.0},
            None,
            ["Side grafting is worth most: $310 more in today's money than leaving the farm as it is."],
        ),
    ],
)
def test_the_way_worth_most_is_said_for_both_hands(pair, begin, after, said):
    assert answer.worth_most(asked(pair, begin, after), WORDS) == said


@pytest.mark.parametrize(
    ("turns", "said"),
    [
        (
            (Turn(0.3472, "rooted_cutting", "side_graft"),),
            [
                "The answer turns where 34.7% of grafts take. Below that the best is planting rooted cuttings; "
                "above it, side grafting.",
            ],
        ),
        (
            (Turn(0.05, None, "rooted_cutting"), Turn(0.5, "rooted_cutting", "side_graft")),
            [
                "The answer turns where 5.0% of grafts take. Below that the best is the farm as it is; "
                "above it, planting rooted cuttings.",
                "The answer turns where 50.0% of grafts take. Below that the best is planting rooted cuttings; "
                "above it, side grafting.",
            ],
        ),
    ],
)
def test_the_take_at_which_the_answer_turns_is_named(pair, turns, said):
    comparison = replace(pair)
    comparison.__dict__["turns"] = turns
    assert answer.turns(comparison, WORDS) == said


@pytest.mark.parametrize(
    ("cutting", "said"),
    [
        (1e6, "Whatever share of grafts takes, planting rooted cuttings is worth most."),
        (-1.0, "Whatever share of grafts takes, nothing is worth more than leaving the farm as it is."),
    ],
)
def test_an_answer_that_does_not_turn_says_so(pair, cutting, said):
    comparison = worth(pair, side_graft=-1e6, rooted_cutting=cutting)
    side = comparison.outcomes["side_graft"]
    flat = replace(side.take_curve, npv=0 * side.take_curve.npv - 1e6)
    side = stated(side, take_curve=flat)
    comparison = replace(comparison, outcomes=MappingProxyType({**comparison.outcomes, "side_graft": side}))
    assert answer.turns(comparison, WORDS) == [said]


def test_one_way_alone_turns_nothing(pair):
    assert answer.turns(worth(pair, side_graft=100.0), WORDS) == []


def test_both_hands_stand_side_by_side(pair):
    table = answer.both_hands(pair, WORDS)
    assert [column.heading for column in table.columns] == [
        "Way",
        "Take, hands that begin",
        "Take, after practice",
        "Net present value, hands that begin",
        "Net present value, after practice",
        "Payback, hands that begin",
        "Payback, after practice",
    ]
    grafted, planted = table.rows
    assert grafted[1:3] == ("25%, 75%", "75%")
    assert grafted[3] != grafted[4]
    assert planted[1::2] == planted[2::2]  # a plant lives whoever planted it
    assert answer.both_hands(pair.after_practice, WORDS) is None
