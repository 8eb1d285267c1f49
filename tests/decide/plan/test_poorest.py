"""The poorest trees first: it is worth most where all else is alike, and it is said only where it is so."""

from dataclasses import replace

import numpy as np
from factories import figure, scenario, stand, technique_data

from renovation.decide.plan import make_plan
from renovation.decide.plan.plan import plan_of
from renovation.decide.plan.poorest import poorest_first
from renovation.inputs import Planning
from renovation.show.plan.sentences import plan_sentences
from renovation.words import Words


def farm(**more):
    """Twelve trees a class, of 0.1, 0.5 and 0.9 kg; a new crown bears 2 kg whatever stood there."""
    way = technique_data(start_months=(3,), mature_crop=figure(2.0, "kg/tree/year"))
    kinds = {f"Hill, {kg} kg": kg for kg in (0.9, 0.1, 0.5)}
    whole = {"part_of": "Hill"}
    stands = tuple(stand(name=name, trees=12, crop_per_tree=kg).model_dump() | whole for name, kg in kinds.items())
    household = {"family_days": 100.0, "wage_per_day": 5.0, "savings": 5000.0}
    return scenario({"way_a": way}, stands=stands, household=household, **more)


def test_the_plan_takes_the_poorest_trees_first_where_few_can_be_started_in_a_year():
    """18 of the 36 trees a year: the plan of most worth starts the 12 poorest and 6 of the middle, and says so."""
    plan = make_plan(farm(), Planning(years=2, most_share_per_year=0.5))
    first = {start.stand: start.trees for start in plan.starts if start.year == 1}
    assert first == {"Hill, 0.1 kg": 12, "Hill, 0.5 kg": 6}
    assert poorest_first(plan) == {"Hill": True}
    words = Words("en")
    assert words("plan.poorest_first", stand="Hill") in plan_sentences(plan, words)


def test_a_plan_that_leaves_poorer_trees_waiting_is_not_said_to():
    plan = make_plan(farm(), Planning(years=2, most_share_per_year=0.5))
    trees = np.zeros(len(plan.problem.candidates), dtype=np.int64)
    best = next(i for i, c in enumerate(plan.problem.candidates) if c.stand == 0 and c.year == 1)
    trees[best] = 5
    other = plan_of(plan.problem, trees)
    assert poorest_first(other) == {"Hill": False}
    words = Words("en")
    assert words("plan.not_poorest_first", stand="Hill") in plan_sentences(other, words)
    alone = plan_of(replace(plan.problem, scenario=farm().changed(stands=farm().model_dump()["stands"][:1])), trees)
    assert poorest_first(alone) == {}
