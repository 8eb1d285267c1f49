"""One way with different planting material: where the figures are the same, so are the numbers."""

import json

import numpy as np
import pytest
from command_line import refused, said
from farm_files import SMALL

from renovation.decide import compare
from renovation.decide.drivers import of_technique
from renovation.decide.materials import ALONE, compare_materials
from renovation.inputs import Figure, Material, default_technique, demo_scenario, read_scenario
from renovation.inputs.materials import bears_from
from renovation.show.planting import alone_sentences, compared_sentences, renewal_sentences, way_sentences
from renovation.words import Words

WORDS = Words("en")


def figure(value, unit="share"):
    return Figure[float](value=value, low=value, high=value, unit=unit, source="own")


def stating(farm, **materials):
    """A farm that states these materials and uses none."""
    return farm.changed(materials={name: entry.model_dump() for name, entry in materials.items()})


def test_a_material_equal_to_the_ways_own_figures_gives_the_same_numbers_to_the_last_bit():
    farm, way = demo_scenario("few_hands"), default_technique("side_graft")
    months = {end: bears_from(getattr(way.new_crown, at)) for end, at in (("value", "value"), ("low", "high"))}
    bearing = Figure[float](**months, high=bears_from(way.new_crown.low), unit="months", source="own")
    same = Material(mature_crop=way.mature_crop, months_to_bearing=bearing, premium=figure(0.03, "share of the price"))
    farm = farm.changed(market__premium={"clone": 0.03})
    found = compare_materials(stating(farm, same=same), "side_graft", ["same"])
    with_it, alone = found.each["same"].outcomes["side_graft"], found.each[ALONE].outcomes["side_graft"]
    assert {**with_it.as_dict(), "label": None} == {**alone.as_dict(), "label": None}
    assert found.swings["same"] == found.swings[ALONE]
    plain = compare(farm, techniques=["side_graft"]).outcomes["side_graft"]
    assert plain.as_dict() == alone.as_dict()


def test_a_material_of_the_farm_is_compared_as_the_way_that_uses_it():
    """The farm where the way names the clone gives what the comparison within the way says of it."""
    ours = Material(
        mature_crop=figure(1.4, "kg/tree/year"), premium=figure(0.1, "share of the price"), pods_lost=figure(0.05)
    )
    farm = stating(read_scenario(SMALL, "small.toml"), ours=ours)
    found = compare_materials(farm, "side_graft", ["ours"])
    uses = farm.changed(techniques__side_graft__planting_materials=("ours",))
    assert compare(uses).outcomes["side_graft"].npv == found.worth["ours"]
    assert compare(uses).outcomes["rooted_cutting"].npv == compare(farm).outcomes["rooted_cutting"].npv
    # by hand: 1.4 · 0.95 in place of 1.0 kg a tree, at every month alike
    kg = [found.each[name].outcomes["side_graft"].tree.new_kg[0] for name in (ALONE, "ours")]
    assert np.allclose(kg[1], 1.4 * 0.95 * kg[0], rtol=1e-12)
    # risk and sensitivity move the clone's crop, in its range
    driver = next(d for d in of_technique(uses.techniques["side_graft"], "side_graft") if d.name == "mature_crop")
    assert (driver.value, driver.fixed) == (1.4, True)


def test_months_to_bearing_by_hand():
    """A clone that bears from month 15 in place of 9: what a tree bore in month t of its age it bears in t + 6."""
    late = Material(months_to_bearing=figure(15.0, "months"))
    found = compare_materials(stating(demo_scenario("few_hands"), late=late), "side_graft", ["late"])
    own, later = (found.each[name].outcomes["side_graft"].tree for name in (ALONE, "late"))
    shaded = 24 + 9  # months until the old crown is gone: from then on shade takes nothing of either
    assert np.allclose(later.new_rate[0, shaded + 60 :], own.new_rate[0, shaded + 54 : -6], rtol=1e-12)
    first = [int(np.flatnonzero(tree.new_rate[0])[0]) for tree in (own, later)]
    assert first[1] - first[0] == 6


@pytest.mark.parametrize(
    ("way", "names"), [("hard_pruning", ["kw_30"]), ("side_graft", []), ("side_graft", list("abcd"))]
)
def test_what_cannot_be_compared_is_refused(way, names):
    farm = demo_scenario()
    farm = stating(farm, **{name: Material() for name in names if len(name) == 1})
    with pytest.raises(ValueError, match="materials for"):
        compare_materials(farm, way, names)


@pytest.mark.long
def test_what_is_said_of_clones_that_need_each_other():
    found = compare_materials(demo_scenario(), "side_graft", ["dr_1", "dr_2"])
    assert alone_sentences(found, WORDS) == [
        "DR 1 (sets no fruit alone) needs another clone beside it. "
        "Plant at least two that suit each other, of different groups.",
        "Planted together, DR 1 and DR 2 set fruit.",
    ]
    assert "nothing is known to us" in " ".join(compared_sentences(found, WORDS))


def test_a_way_and_a_plan_are_told_whether_what_they_plant_sets_fruit():
    farm = demo_scenario().changed(
        techniques__side_graft__planting_materials=("dr_1",), techniques__rooted_cutting__planting_materials=("na_33",)
    )
    assert way_sentences(farm, ["side_graft", "air_layer"], WORDS)[0] == "Side grafting uses DR 1."
    assert "needs another clone" in way_sentences(farm, ["side_graft"], WORDS)[1]
    assert renewal_sentences(farm, ["air_layer"], WORDS) == []
    # two that are self-incompatible, no more is known
    (told,) = renewal_sentences(farm, ["side_graft", "rooted_cutting"], WORDS)
    assert told.startswith("Whether DR 1 (sets no fruit alone) and NA 33 (sets no fruit alone) suit each other is not")


@pytest.mark.long
def test_the_command_sets_clones_beside_each_other(tmp_path, capsys):
    path = tmp_path / "farm.toml"
    path.write_text(SMALL)
    answer = said(capsys, "compare", path, "--way", "side_graft", "--materials", "kw_30, dr_1")
    for part in ("Side graft with different clones", "KW 30 is worth most", "DR 1 (sets no fruit alone) needs"):
        assert part in answer
    assert "Take it only from clean gardens" in answer
    document = json.loads(said(capsys, "compare", path, "--materials", "kw_30", "--json"))
    assert [one["material"] for one in document["materials"]["outcomes"]] == [None, "kw_30"]
    for arguments, why in (
        (["--materials", "kw_31"], "There is no planting material kw_31. Did you mean kw_30?"),
        (["--way", "side_graft"], "--way goes with --materials."),
        (["--materials", "kw_30,dr_1,dr_2,br_25"], "--materials names 4."),
    ):
        assert why in refused(capsys, "compare", path, *arguments)
