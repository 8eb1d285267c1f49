"""A stand walked through: classes by published borders, each a stand of its own, and what stands against a table."""

import math

import pytest
from factories import scenario, stand, technique_data
from hypothesis import given
from hypothesis import strategies as st

from renovation.farm import farm_left_alone
from renovation.inputs import Pods, ScenarioError, Stand, read_scenario, write_scenario
from renovation.inputs.tally import CLASSES, Tally, TreeClass, class_of, read_tally, tally_of, walked
from renovation.show.tally import bars
from renovation.words import Words

WORDS = Words("en")
PODS = (30, 26, 25, 20, 15, 14, 9, 3, 0, 0)


def say(name):
    return WORDS(f"tally.class.{name}")


def farm(**more):
    """Two stands; of the first ten trees are planned."""
    stands = (
        stand(name="Upper", trees=12, crop_per_tree=0.5, hectares=1.0).model_dump(),
        stand(name="Lower", trees=50, crop_per_tree=0.4).model_dump(),
    )
    plan = ({"stand": "Upper", "technique": "way_a", "trees": 6, "start": "2027-03"},)
    return scenario({"way_a": technique_data()}, stands=stands, **{"plan": plan, **more})


def in_classes(one, tally, name="Upper"):
    return walked(one, name, tally, say, pods_per_kg=25.0)


def test_the_classes_are_those_of_the_manual():
    """Asare & David 2010/11 (IITA): good 25 or more pods a year, average 15–24, poor 14 or fewer."""
    told = {pods: class_of(pods) for pods in (60, 25, 24.9, 24, 15, 14.9, 14, 0.5, 0)}
    kinds = ["good"] * 2 + ["average"] * 3 + ["poor"] * 3 + ["bare"]
    assert list(told.values()) == kinds


@given(st.lists(st.integers(0, 120), min_size=1, max_size=80))
def test_no_tree_and_no_pod_is_lost(pods):
    tally = tally_of(tuple(map(float, pods)))
    assert tally.trees == len(pods) == sum(bars(tally).values())
    assert sum(one.trees * one.pods_per_tree for one in tally.classes.values()) == pytest.approx(sum(pods))


def test_a_class_is_a_stand_of_its_own_and_the_sums_are_kept():
    """A kilogram is 25 pods: the crop of the farm left alone is that of all pods counted."""
    rows = [f"{n},{pods}" for n, pods in enumerate([*PODS, "empty"])]
    tally = read_tally("\n".join(["tree,pods", *rows]), "w.csv")
    walk = in_classes(farm(), tally)
    upper = walk.farm.wholes["Upper"]
    assert [(part.name, part.trees) for part in upper] == [
        ("Upper, good trees", 3),
        ("Upper, average trees", 2),
        ("Upper, poor trees", 3),
        ("Upper, trees that bear nothing", 2),
    ]
    assert sum(part.trees * part.kg_per_tree for part in upper) == pytest.approx(sum(PODS) / 25)
    assert math.fsum(part.hectares for part in upper) == pytest.approx(1.0)
    assert (walk.stated, walk.tally.empty_places) == (12, 1)
    # as one stand of the mean crop, which declines alike, it bears as much in every month
    mean = farm().changed(stands__0__trees=10, stands__0__crop_per_tree=sum(PODS) / 250)
    kg, whole = (farm_left_alone(one).old_kg for one in (walk.farm, mean))
    assert kg == pytest.approx(whole)
    # what was planned takes the poorest first, and the comparison looks at the class with most trees left
    assert [(t.stand, t.trees) for t in walk.farm.plan] == [
        ("Upper, trees that bear nothing", 2),
        ("Upper, poor trees", 3),
        ("Upper, average trees", 1),
    ]
    assert walk.farm.comparison.stand == "Upper, good trees"
    assert read_scenario(write_scenario(walk.farm), "again.toml") == walk.farm


def test_trees_under_way_stay_where_they_are_and_a_second_walk_takes_the_place_of_the_first():
    begun = {"stand": "Upper", "technique": "way_a", "trees": 4, "start": "2026-03", "taken": (4,)}
    one = farm(under_way=(begun,), plan=())
    first = in_classes(one, tally_of((30, 5, 0)))
    assert next((s.name, s.trees) for s in first.farm.wholes["Upper"]) == ("Upper", 4)
    assert first.stated == 8
    assert first.farm.under_way == one.under_way
    again = in_classes(first.farm, tally_of((16, 16)), name="Upper, poor trees")
    assert [(s.name, s.trees) for s in again.farm.wholes["Upper"]] == [("Upper", 4), ("Upper, average trees", 2)]
    assert [s.name for s in again.farm.stands] == ["Upper", "Upper, average trees", "Lower"]


def test_loss_and_pods_of_the_stand_are_kept():
    pods = Pods(pods_per_tree=9.0, pods_per_kg=20.0, lost_share=0.25)
    counted = Stand.model_validate({**stand(name="Upper", trees=9).model_dump(), "crop_per_tree": None, "pods": pods})
    one = farm(plan=()).model_copy(update={"stands": (counted, farm().stands[1])})
    (part,) = [s for s in walked(one, "Upper", tally_of((20.0,)), say, 20.0).farm.stands if s.part_of]
    assert part.kg_per_tree == pytest.approx(20 / 20 * 0.75)


@pytest.mark.parametrize(
    ("table", "why"),
    [
        ("tree,pods\n1,many\n", "walk.csv, line 2: many is not a number"),
        ("tree,pods\n1,12\n2,-3\n", "walk.csv, line 3: -3 is"),
        ("tree,pods\n1,\n2,4\n", "walk.csv, line 2: "),
        ("tree,pods\n1,empty\n", "walk.csv: no tree was counted."),
        ("tree;fruit\n1;12\n", "walk.csv, line 1: fruit is not a column of this table."),
        ("", "walk.csv is empty."),
        (b"\xff\xfe\x00", "walk.csv is not plain text."),
    ],
)
def test_what_stands_against_a_table_is_told_with_its_line(table, why):
    with pytest.raises(ScenarioError) as refused:
        read_tally(table, "walk.csv")
    assert refused.value.sentences(WORDS)[0].startswith(why)


def test_a_plan_of_more_trees_than_were_counted_is_refused():
    with pytest.raises(ScenarioError) as refused:
        in_classes(farm(), tally_of((20, 4)))
    assert refused.value.sentences(WORDS) == [WORDS("tally.plan_too_many", stand="Upper")]


def test_sums_by_class_are_a_tally_too():
    classes = dict.fromkeys(CLASSES[:3], TreeClass(trees=5, pods_per_tree=10.0))
    assert Tally(**classes).trees == 15
    with pytest.raises(ValueError, match="no_trees_counted"):
        Tally()


def test_empty_places_go_with_the_class_of_most_trees_and_what_is_planted_on_them_too():
    one = farm(plan=())
    nothing_stands = {"family": "replant", "works_on": "empty places", "old_crown": None, "shade": None}
    gaps = {**one.techniques, "gap": one.techniques["way_a"].model_copy(update=nothing_stands)}
    one = one.model_copy(update={"techniques": type(one.techniques)(gaps)})
    begun = {"stand": "Upper", "technique": "gap", "trees": 3, "start": "2026-03", "taken": (3,)}
    plan = ({"stand": "Upper", "technique": "gap", "trees": 2, "start": "2027-03"},)
    one = one.changed(stands__0__empty_places=5, under_way=(begun,), plan=plan)
    walk = in_classes(one, tally_of((30, 4, 4), empty_places=7))
    poor = walk.farm.stand("Upper, poor trees")
    assert (poor.empty_places, walk.farm.free_places(poor.name)) == (10, 7)
    assert (walk.farm.under_way[0].stand, walk.farm.plan[0].stand) == (poor.name, poor.name)
    assert walk.stated == 12
    with pytest.raises(ScenarioError):
        in_classes(one, tally_of((30, 4, 4), empty_places=1))
