"""Beginning and practised hands: the take at which the answer turns, by bisection and by trying takes one by one."""

import numpy as np
import pytest
from factories import scenario, some_plain, technique_data, techniques
from farm_files import MOST, stated
from hypothesis import given, settings

from renovation.decide import compare, weigh
from renovation.decide.hands import practised
from renovation.inputs import Scenario, default_technique, demo_names, demo_scenario
from renovation.tree.crowns import attempts


def with_takes(farm, take, family="graft"):
    """The farm with one take of all grafts, the same in every season, as its file would state it."""
    data = farm.model_dump()
    for technique in data["techniques"].values():
        if technique["family"] == family:
            technique["take"].update(value=(take,), low=(0.0,), high=(1.0,))
    return Scenario.model_validate(data)


def worth(farm, comparison, way):
    return weigh(farm, comparison.stand, comparison.trees, way, comparison.outcomes[way].start).measures.npv


@pytest.mark.parametrize("name", some_plain(demo_names(), MOST))
def test_the_take_at_which_the_answer_turns_is_found_by_bisection(name):
    farm = stated(name)
    comparison = compare(farm)
    assert comparison.turns
    for turn in comparison.turns:

        def lead(take, turn=turn):
            changed = with_takes(farm, take)
            sides = [0.0 if way is None else worth(changed, comparison, way) for way in (turn.above, turn.below)]
            return sides[0] - sides[1]

        low, high = turn.take - 0.02, turn.take + 0.02
        assert lead(low) < 0 < lead(high)
        for _ in range(40):
            middle = (low + high) / 2
            low, high = (middle, high) if lead(middle) < 0 else (low, middle)
        assert turn.take == pytest.approx(high, abs=1e-7)


def replanting(data):
    """The same table as a planting: its take is not the hands'."""
    return {**data, "family": "replant"}


@pytest.mark.long
@settings(max_examples=7)
@given(techniques(), techniques(), techniques())
def test_between_turns_one_way_is_worth_most(first, second, third):
    """At twenty takes tried one by one the way worth most is the one that the turns say."""
    for data in (first, second, third):
        data["attempt_factor"] = None
    farm = scenario(
        {"way_a": first | {"family": "graft"}, "way_b": second | {"family": "graft"}, "way_c": replanting(third)}
    )
    comparison = compare(farm)
    if not comparison.graft_curves:
        return
    for take in np.linspace(0.02, 0.98, 20):
        if any(abs(turn.take - take) < 1e-6 for turn in comparison.turns):
            continue
        said = comparison.best_at((comparison.turns[0].take if comparison.turns else 1.0) / 2)
        for turn in comparison.turns:
            said = turn.above if turn.take < take else said
        tried = compare(with_takes(farm, float(take)))
        ways = {None: 0.0} | {key: outcome.measures.npv for key, outcome in tried.outcomes.items()}
        size = max(map(abs, ways.values())) + 1
        assert ways[said] == pytest.approx(max(ways.values()), abs=1e-7 * size)


def test_beginners_and_practised_hands_may_be_told_different_ways():
    """With three tries in the first season alone beginners are told to plant and practised hands to graft."""
    data = demo_scenario("first_grafters").model_dump()
    for technique in data["techniques"].values():
        if technique["family"] == "graft":
            technique["attempts"].update(value=3, low=3, high=3)
    comparison = compare(Scenario.model_validate(data))
    later = comparison.after_practice
    assert (comparison.best, later.best) == ("grafted_seedling", "side_graft")
    assert 0.25 < comparison.turns[0].take < 0.75
    assert [turn.take for turn in later.turns] == pytest.approx([turn.take for turn in comparison.turns])


def test_after_practice_is_the_comparison_of_a_file_that_states_the_last_take():
    data = demo_scenario("few_hands").model_dump()
    for technique in data["techniques"].values():
        technique["take"].update({end: technique["take"][end][-1:] for end in ("low", "value", "high")})
    stated = compare(Scenario.model_validate(data))
    later = compare(demo_scenario("few_hands")).after_practice
    assert {key: outcome.measures.npv for key, outcome in later.outcomes.items()} == {
        key: outcome.measures.npv for key, outcome in stated.outcomes.items()
    }
    assert stated.after_practice is None  # no take of this file changes by year
    assert practised(stated.scenario) is stated.scenario


def test_without_grafts_nothing_turns():
    comparison = compare(scenario({"way_a": replanting(technique_data()), "way_b": replanting(technique_data())}))
    assert comparison.turns == ()
    assert comparison.graft_curves == {}


@pytest.mark.parametrize("way", ["side_graft", "basal_shoot_graft", "bud_graft"])
def test_the_tries_of_a_failed_graft_go_on_into_the_next_season(way):
    """From the first month of a year: all tries of its twelve months at its take, those after at the next year's."""
    technique = default_technique(way)
    tries = attempts(technique, np.array([0]), 300, np.array([0.25, 0.75]), start_calendar_month=1)
    assert tries.month[0][-1] >= 12
    made, failed = [], 1.0
    for month in tries.month[0]:
        made.append(failed)
        failed *= 0.75 if month < 12 else 0.25
    assert tries.made[0] == pytest.approx(made)
    assert tries.never[0] == pytest.approx(failed)
