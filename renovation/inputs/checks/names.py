"""Names: each once, each known to the farm; the two ways that are set against each other."""

from renovation.inputs.checks.farm import Farm, Findings, Path, Table, unknown
from renovation.inputs.defaults import default_materials
from renovation.inputs.errors import each
from renovation.inputs.planted import unknown_materials
from renovation.inputs.quantities import problem

DEFAULT_PAIR = {"headline": "side_graft", "against": "rooted_cutting"}


def duplicate_names(farm: Farm) -> Findings:
    """A stand or a loan with the name of one before it."""
    for group, code in (("stands", "duplicate_stand"), ("loans", "duplicate_loan")):
        seen: set[str] = set()
        for position, entry in farm.entries(group):
            name = entry.get("name")
            if name is None:
                continue
            if name.strip().casefold() in seen:
                yield (group, position, "name"), problem(code, found=f'"{name}"')
            seen.add(name.strip().casefold())


def no_technique(farm: Farm) -> Findings:
    """A farm that weighs nothing, or nothing for trees."""
    if farm.data.get("techniques") == {}:
        yield ("techniques",), problem("no_technique")
    elif farm.techniques and all(farm.works_on(key) != "trees" for key in farm.techniques):
        yield ("techniques",), problem("no_technique_for_trees")


def unknown_names(farm: Farm) -> Findings:
    """A stand or a technique that plan, comparison or stands name, and that the farm does not have."""
    named: list[tuple[Path, Table]] = [
        ((group, i), entry) for group in ("plan", "under_way") for i, entry in farm.entries(group)
    ]
    for path, entry in [*named, (("comparison",), farm.comparison)]:
        stand = entry.get("stand")
        if stand is not None and stand not in farm.stands and farm.all_named:
            yield unknown("unknown_stand", (*path, "stand"), stand, farm.stands)
    keys: list[tuple[Path, str | None]] = [((*path, "technique"), entry.get("technique")) for path, entry in named]
    for position, stand_table in farm.entries("stands"):
        keys += [(("stands", position, "techniques", i), key) for i, key in each(stand_table.get("techniques"))]
    for position, loan in farm.entries("loans"):
        keys += [(("loans", position, "works", i), key) for i, key in each(loan.get("works"))]
    for path, key in keys:
        if key is not None and key not in farm.techniques:
            yield unknown("technique_not_considered", path, key, farm.techniques)


def materials(farm: Farm) -> Findings:
    """Planting material that a way names, and that is neither stated nor shipped."""
    stated = farm.section("materials")
    for key, place, name in unknown_materials(farm.techniques, stated):
        known = dict.fromkeys([*stated, *default_materials()])
        yield unknown("unknown_planting_material", ("techniques", key, "planting_materials", place), name, known)


def comparison(farm: Farm) -> Findings:
    """A pair of ways that is not considered or the same twice; more trees than there are."""
    pair = {field: farm.comparison.get(field, default) for field, default in DEFAULT_PAIR.items()}
    for field, key in pair.items():
        if key is not None and key not in farm.techniques and key != DEFAULT_PAIR[field]:
            yield unknown("technique_not_considered", ("comparison", field), key, farm.techniques)
        if farm.works_on(key) != "trees":
            yield ("comparison", field), problem("compared_without_trees", found=f'"{key}"')
    if pair["headline"] is not None and pair["headline"] == pair["against"]:
        yield ("comparison", "against"), problem("compared_with_itself", found=f'"{pair["against"]}"')
    stand = farm.comparison.get("stand") or next(iter(farm.stands), None)
    trees, there = farm.comparison.get("trees"), farm.free(str(stand))
    if trees is not None and there is not None and trees > there > 0:
        code = "too_many_compared_beside" if farm.under_way.get((str(stand), "trees")) else "too_many_compared"
        yield ("comparison", "trees"), problem(code, found=str(trees), stand=stand, most=there)


CHECKS = (duplicate_names, no_technique, unknown_names, materials, comparison)
