"""Planting material without a browser: chosen for a way, typed, saved with the farm, and set side by side."""

import re

import pytest
from screens.visiting import choose, farm, key, press, run, shown, tables_of, type_in, visit

from renovation.decide.materials import compare_materials
from renovation.inputs import default_materials, demo_scenario, read_scenario, write_scenario
from renovation.inputs.packed import pack, unpack


def material_part():
    return choose(choose(visit("numbers"), "numbers", "figures"), "figures", "material")


def uses(at, *names, way="side_graft"):
    """Choose the clones of a way."""
    at.pills(key=key(at, f"planting.{way}")).set_value(list(names))
    return run(at)


@pytest.mark.long
def test_a_clone_is_chosen_typed_over_saved_and_taken_out():
    at = uses(material_part(), "dr_1")
    assert farm(at).techniques["side_graft"].planting_materials == ("dr_1",)
    assert "DR 1 (sets no fruit alone) needs another clone beside it." in shown(at)
    assert "Take it only from clean gardens" in at.warning[-1].value
    # its crop is not known: typed with a decimal comma, beside the way's other figures
    at = type_in(at, "materials.dr_1.mature_crop", "1,4")
    at = type_in(at, "materials.dr_1.premium", "7.5")
    held = farm(at)
    crop = held.techniques["side_graft"].mature_crop
    assert (crop.value, crop.source) == (1.4, "own")
    assert held.market.premium[held.techniques["side_graft"].material] == 0.075
    for again in (read_scenario(write_scenario(held), "a.toml"), unpack(pack(held), "link")):
        assert again == held
    # the way's own figure is another: it is changed beneath, and stands again without the clone
    at = type_in(choose(at, "figures", "crown"), "techniques.side_graft.mature_crop", "0,8")
    assert farm(at).techniques["side_graft"].mature_crop.value == 1.4
    assert "stands in place of the figure below" in at.info[-1].value
    at = uses(choose(at, "figures", "material"))
    assert farm(at).techniques["side_graft"].mature_crop.value == 0.8
    assert set(farm(at).materials) == {"dr_1"}  # its own figures are kept
    at = type_in(choose(at, "figures", "crown"), "techniques.side_graft.mature_crop", "1")
    assert farm(at).techniques == demo_scenario().techniques


@pytest.mark.long
def test_a_clone_of_one_s_own_is_added_grouped_and_removed():
    at = press(material_part(), "add_material")
    at = uses(at, "clone_1", "na_33")
    at.selectbox(key=key(at, "material_group.clone_1")).set_value("a")
    at = type_in(run(at), "materials.clone_1.months_to_bearing", "12")
    held = farm(at)
    assert held.materials["clone_1"].group == "a"
    assert "Clone 1 and NA 33 suit each other." in shown(at)
    assert held.techniques["side_graft"].new_crown.value[0][0] == 9  # half the trees bear from the way's own month on
    at = press(at, "remove_clone_1")
    assert farm(at).techniques["side_graft"].planting_materials == ("na_33",)
    assert set(farm(at).materials) == {"na_33"}


@pytest.mark.long
def test_clones_of_one_way_are_set_side_by_side():
    at = choose(visit("compare"), "compare", "materials")
    ways = [way for way, technique in demo_scenario().techniques.items() if technique.family != "prune"]
    assert key(at, f"materials_of|{'|'.join(ways)}")
    pills = next(one for one in at.pills if one.key.startswith("materials_beside|side_graft"))
    pills.set_value(["kw_30", "dr_1"])
    said = shown(run(at))
    found = compare_materials(demo_scenario(), "side_graft", ["kw_30", "dr_1"])
    worth = round(found.worth["kw_30"])
    assert re.search(rf"KW 30 is worth most: \${worth:,} more in today's money", said.replace("\\", ""))
    assert "DR 1 (sets no fruit alone) needs another clone" in said
    table = next(rows for rows in tables_of(at) if rows[0][0] == "Net present value")
    assert table[1][0] == "Worth if everything goes badly at once"


@pytest.mark.long
def test_sources_list_every_clone_with_its_source_and_why():
    at = choose(visit("sources"), "sources", "materials")
    (table,) = [rows for rows in tables_of(at) if rows[0][0] == "EETP 800"]
    assert {row[0] for row in table} == {material.label for material in default_materials().values()}
    assert all("published" in row[-1] or row[-1] == "common practice" for row in table if row[2] != "not known")
    assert "Divided by 1,111 trees" in shown(at)
