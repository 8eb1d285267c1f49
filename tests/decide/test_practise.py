"""Practise first on a farm: the case on paper through the whole program, records, trained grafters, words and chart."""

import numpy as np
import pytest
from factories import figure, operation, scenario, stand, technique_data

from renovation.decide import compare, weigh
from renovation.decide.belief import held_of
from renovation.decide.practise import belief_of, practise_first
from renovation.inputs import demo_scenario
from renovation.money.learning import Belief
from renovation.show.compare.practise import practise_chart, practise_sentences
from renovation.words import Words

WORDS = Words("en")
PLANT = technique_data(family="replant")


def paper(days=0.75, records=(), others=None, **appraisal):
    """A tree is worth 10p − 6: 2.5 kg at 4 where the graft takes, 0.75 days at 8 whatever becomes of it; one year."""
    graft = technique_data(
        mature_crop=figure(2.5, "kg/tree/year"),
        take=figure((0.5,), "share by project year"),
        operations={"work": operation("start", 0, days)},
    )
    trees = stand(trees=100, crop_per_tree=0.0)
    farm = scenario({"side_graft": graft, "plant": PLANT, **(others or {})}, stands=(trees.model_dump(),))
    changes = {"horizon_years": 1, "discount_rate": 0.0, **appraisal}
    given = {f"appraisal__{name}": value for name, value in changes.items()}
    return farm.changed(**given, planning__records=records)


def test_the_case_on_paper_through_the_whole_farm():
    """Method §11: V(0), V(1), V(2), V(4) = 0, 32, 47, 53.6; best n = 7, V = 55, going on from 5 live ones."""
    found = practise_first(compare(paper()))
    assert found.trial.worth[[0, 1, 2, 4, 7]] == pytest.approx([0, 32, 47, 53.6, 55], abs=1e-9)
    assert (found.trees, found.first, found.live, found.decides_at_once) == (100, 7, 5, False)
    assert found.as_dict()["value"] == pytest.approx(55)


def test_the_rest_waits_a_year():
    found = practise_first(compare(paper(discount_rate=0.25)))
    # 10p − 6 a tree at the end of the first year, so a quarter of it less in today's money
    assert found.trial.worth[2] == pytest.approx((2 * -1 + 98 / 1.25 * 0.5) / 1.25, abs=1e-9)


def test_counted_grafts_say_what_is_held():
    records = ({"technique": "side_graft", "made": 18, "taken": 16, "season": "2026-03"},)
    comparison = compare(paper(records=records))
    found = practise_first(comparison)
    assert found.belief == Belief(17, 3) == held_of(comparison.scenario, comparison.scenario.planning)["side_graft"]
    assert found.first == 0 or found.trial.value > 0 or found.first == found.trees
    assert found.trial.all_now == pytest.approx(100 * (10 * 17 / 20 - 6))


def test_hands_that_learn_begin_with_what_is_stated_of_them():
    farm = demo_scenario("first_grafters")
    assert belief_of(farm, "side_graft").mean == pytest.approx(farm.planning.learning.first_take, abs=0.02)


@pytest.mark.parametrize("name", ["few_hands", "old_stand_with_gaps"])
def test_the_worth_of_a_tree_by_take_is_what_the_comparison_says_at_that_take(name):
    """At a take of one half in every season and try, beside the same farm with that take stated."""
    farm = demo_scenario(name)
    comparison = compare(farm)
    found = practise_first(comparison)
    stated = farm.changed(techniques__side_graft__take__value=(0.5,), techniques__side_graft__take__low=(0.5,))
    outcome = weigh(stated, comparison.stand, comparison.trees, "side_graft", comparison.outcomes["side_graft"].start)
    from renovation.decide.switching import worth_by_take

    curve = worth_by_take(comparison.scenario, comparison.outcomes["side_graft"].flows.treated[0])
    assert curve.at(0.5) == pytest.approx(outcome.per_tree.npv, rel=1e-9)
    assert curve.of(np.array([0.5, 0.1])) == pytest.approx([curve.at(0.5), curve.at(0.1)], rel=1e-12)
    assert found.trial.number == farm.free_trees(comparison.stand)


def test_a_trained_grafter_stands_beside_at_a_take_and_price_of_their_own():
    trained = technique_data(
        based_on="side_graft",
        label="Hired grafter",
        mature_crop=figure(2.5, "kg/tree/year"),
        take=figure((0.9,), "share by project year"),
        operations={"work": operation("start", 0, 1.0)},
    )
    comparison = compare(paper(others={"hired": trained}))
    found = practise_first(comparison)
    assert [(one.technique, pytest.approx(one.worth)) for one in found.trained] == [("hired", 100 * (9 - 8))]
    said = practise_sentences(found, comparison, WORDS)
    assert "Hired grafter $100" in said[-1]
    assert said[-1].endswith("$55.00.")


def test_what_is_said():
    comparison = compare(paper())
    said = practise_sentences(practise_first(comparison), comparison, WORDS)
    assert said[0] == (
        "Side grafting: try 7 trees of Lower field first and count after a year. Go on with the rest of 100 trees if "
        "at least 5 of them live. That is worth $55.00 more in today's money than deciding at once."
    )
    assert said[1].startswith("What is held of the take: 50% on average, as if 2 grafts had been counted.")
    cheap, dear = (compare(paper(days=days)) for days in (0.0, 2.0))
    assert "worth while on all 100 trees of Lower field" in practise_sentences(practise_first(cheap), cheap, WORDS)[0]
    assert "Not even a trial on a few of its 100 trees is." in practise_sentences(practise_first(dear), dear, WORDS)[0]


def test_where_neither_way_of_the_pair_grafts_nothing_is_said():
    comparison = compare(scenario({"plant": PLANT, "other": PLANT}))
    assert practise_first(comparison) is None
    assert practise_sentences(None, comparison, WORDS) == []


def test_the_chart_marks_the_best_and_reaches_beyond_it():
    comparison = compare(paper())
    drawn = practise_chart(practise_first(comparison), comparison, WORDS).to_dict()
    line, best = (layer["data"]["values"] for layer in drawn["layer"][1:])
    assert [row["trees"] for row in line] == list(range(29))
    assert [(row["trees"], row["money"]) for row in best] == [(7, "$55.00")]
    assert "try 7 trees" in drawn["description"]
    comparison = compare(paper(days=0.0, discount_rate=0.25))
    found = practise_first(comparison)
    line = practise_chart(found, comparison, WORDS).to_dict()["layer"][1]["data"]["values"]
    # all at once is worth 100 · 5 at the end of the year; a year later a fifth less
    assert line[0]["worth"] == pytest.approx(-0.2 * 500 / 1.25)
