"""Temporary shade is a choice of a way: its take and its temporary crop go with it."""

import numpy as np
import pytest

from renovation.decide import compare
from renovation.inputs import (
    ScenarioError,
    default_techniques,
    demo_scenario,
    read_scenario,
    write_scenario,
)
from renovation.inputs.files import priced_technique
from renovation.tree import attempts

IN_THE_OPEN = ("rooted_cutting", "grafted_seedling", "air_layer")
PLAIN = write_scenario(demo_scenario("first_grafters"))


def bare(way):
    """The demo farm where one way goes without temporary shade."""
    return read_scenario(f"{PLAIN}\n[techniques.{way}]\ntemporary_shade = false\n", "bare.toml")


def test_ways_that_plant_in_the_open_have_the_choice_and_begin_with_shade():
    chosen = {key: technique.temporary_shade for key, technique in default_techniques().items()}
    assert chosen == {key: True if key in IN_THE_OPEN else None for key in default_techniques()}


@pytest.mark.parametrize("way", IN_THE_OPEN)
def test_without_shade_the_take_is_the_published_one_and_no_crop_stands_between(way):
    # Ofori et al. 2023: 20–30 % alive without temporary shade
    technique = bare(way).techniques[way]
    assert 0.20 <= technique.take.value[0] <= 0.30
    assert technique.take == technique.take_without_shade
    assert technique.intercrop == ()
    assert technique.operations == demo_scenario().techniques[way].operations


@pytest.mark.parametrize("way", IN_THE_OPEN)
def test_the_choice_is_written_as_one_line_and_read_back(way):
    farm = bare(way)
    assert farm != demo_scenario("first_grafters")
    assert farm.digest != demo_scenario("first_grafters").digest
    again = write_scenario(farm)
    assert read_scenario(again, "again.toml") == farm
    assert f"[techniques.{way}]\ntemporary_shade = false\n" in again
    assert "take" not in again.partition(f"[techniques.{way}]")[2].partition("[supplies")[0].replace("shade", "")


def test_an_own_take_stands_beside_the_choice():
    text = f"{PLAIN}\n[techniques.rooted_cutting]\ntemporary_shade = false\ntake = [0.4]\n"
    technique = read_scenario(text, "own.toml").techniques["rooted_cutting"]
    take = technique.take
    assert (take.value, take.low, take.high, take.source) == ((0.4,), (0.20,), (0.4,), "own")
    assert technique.take_without_shade == take


def test_an_own_take_without_shade_holds_where_none_is_grown_and_only_there():
    """The share that lives is that of the open field: p_j of method §3."""
    own = "take_without_shade = [0.15]\n"
    bare_farm = read_scenario(f"{PLAIN}\n[techniques.rooted_cutting]\ntemporary_shade = false\n{own}", "own.toml")
    technique = bare_farm.techniques["rooted_cutting"]
    assert technique.take == technique.take_without_shade
    assert (technique.take.value, technique.take.source) == ((0.15,), "own")
    tries = attempts(technique, np.array([0]), 300, start_calendar_month=1)
    assert tries.succeeds[0][0] == 0.15
    assert read_scenario(write_scenario(bare_farm), "again.toml") == bare_farm
    shaded = read_scenario(f"{PLAIN}\n[techniques.rooted_cutting]\n{own}", "own.toml").techniques["rooted_cutting"]
    assert shaded.take == default_techniques()["rooted_cutting"].take
    assert shaded.take_without_shade.value == (0.15,)


def test_an_own_way_in_the_open_needs_one_take():
    rows = {"temporary_shade": False, "take_without_shade": (0.3,)}
    way = default_techniques()["air_layer"].model_dump() | {"intercrop": ()} | rows
    whole = write_scenario(
        demo_scenario().changed(
            techniques={
                **demo_scenario().model_dump()["techniques"],
                "own": {
                    **way,
                    "take": way["take"] | {"value": (0.3,), "low": (0.3,), "high": (0.3,)},
                    "take_without_shade": way["take"] | {"value": (0.3,), "low": (0.3,), "high": (0.3,)},
                },
            }
        )
    )
    head, table, rest = whole.partition("[techniques.own.take]")
    assert table
    _, _, after = rest.partition("\n[")
    assert read_scenario(f"{head}[{after}", "own.toml").techniques["own"].take.value == (0.3,)


def test_two_takes_without_shade_are_refused():
    text = f"{PLAIN}\n[techniques.rooted_cutting]\ntemporary_shade = false\ntake = [0.8]\ntake_without_shade = [0.2]\n"
    with pytest.raises(ScenarioError, match="only one can hold"):
        read_scenario(text, "two.toml")


def test_trees_that_live_and_worth_follow_the_choice():
    # two tries: 1 − (1 − p)² of the trees are established in the end
    for farm, p in ((demo_scenario("first_grafters"), 0.80), (bare("rooted_cutting"), 0.25)):
        technique = farm.techniques["rooted_cutting"].model_copy(update={"attempts": two()})
        lives = attempts(technique, np.array([0]), 300, np.array([p]), start_calendar_month=1).succeeds.sum()
        assert lives == pytest.approx(1 - (1 - p) ** 2)
    worth = [
        compare(farm).outcomes["rooted_cutting"].measures.npv for farm in (demo_scenario(), bare("rooted_cutting"))
    ]
    assert worth[1] < worth[0]


def two():
    return default_techniques()["rooted_cutting"].attempts.model_copy(update={"value": 2})


def test_a_changed_copy_cannot_drop_the_shade_and_keep_what_it_gives():
    with pytest.raises(ScenarioError, match="intercrop"):
        demo_scenario().changed(techniques__rooted_cutting__temporary_shade=False)


def test_a_way_without_the_choice_keeps_its_table():
    for key in set(default_techniques()) - set(IN_THE_OPEN):
        assert priced_technique(key, "USD", 1.0, shaded=False) == priced_technique(key, "USD", 1.0)
