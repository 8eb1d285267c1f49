"""Clones by name: as headings, in sentences, and behind the figures that rest on them."""

from collections.abc import Iterable, Mapping

from renovation.inputs import Material, Scenario, materials_of
from renovation.inputs.planted import premium_key
from renovation.words import Words

STATED_AS = {"new_crown": "months_to_bearing"}
"""Figures of a way that a material states under another name."""


def material_name(name: str, material: Material | None, words: Words) -> str:
    """A material as a heading: its label, else its key made readable."""
    return words.name("clone", name, material.label if material else None)


def names_of(names: Iterable[str], materials: Mapping[str, Material], words: Words) -> str:
    """Materials in a sentence."""
    return words.listing([material_name(name, materials.get(name), words) for name in names])


def group_name(group: str | None, words: Words) -> str:
    """The group of a clone in words; one of a region's own as it is called there."""
    return words("planting.no_group") if group is None else words.name("planting.group", group)


def of_clones(scenario: Scenario, way: str, figure: str, said: str, words: Words) -> str:
    """What a figure of a way is called, with the clones that state it; as said where none does.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> farm = demo_scenario().changed(techniques__side_graft__planting_materials=("kw_30",))
        >>> of_clones(farm, "side_graft", "mature_crop", "the crop of the grown tree", Words("en"))
        'the crop of the grown tree (KW 30)'
    """
    field = STATED_AS.get(figure, figure)
    if way not in scenario.techniques:
        return said
    materials = {
        name: entry for name, entry in materials_of(scenario, way).items() if getattr(entry, field, None) is not None
    }
    return words("planting.of", what=said, materials=names_of(materials, materials, words)) if materials else said


def kind_name(scenario: Scenario, key: str, words: Words) -> str:
    """A kind of planting material, or the clones of the way whose premium stands under this key."""
    for way, technique in scenario.techniques.items():
        if technique.planting_materials and key == technique.material == premium_key(way):
            return names_of(technique.planting_materials, scenario.materials, words)
    return words.name("material", key)
