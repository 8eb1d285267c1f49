"""A farm with the planting materials of its ways laid over them, and the farm as it was stated."""

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

from renovation.inputs.defaults import default_materials
from renovation.inputs.materials import Material, premium_of, with_materials, without_materials
from renovation.inputs.quantities import FrozenDict
from renovation.inputs.techniques import Technique

if TYPE_CHECKING:
    from renovation.inputs.scenario import Scenario

Farm = TypeVar("Farm", bound="Scenario")
LONGEST_KEY = 60


def planted(scenario: Farm) -> Farm:
    """The farm in which each way has the figures of its materials; itself where no way names any.

    Its materials are those that a way uses and those that it states otherwise than they ship. A premium of a way's
    materials stands in the market under a key of that way, which the way then goes by.
    """
    ways = scenario.techniques
    named = dict.fromkeys(name for way in ways.values() for name in way.planting_materials)
    if not named and not scenario.materials:
        return scenario
    shipped = default_materials()
    known = {**shipped, **scenario.materials}
    kept = {name: own for name, own in scenario.materials.items() if name in named or own != shipped.get(name)}
    kept |= {name: shipped[name] for name in named if name not in kept}
    laid = {key: _laid(way, {name: known[name] for name in way.planting_materials}) for key, way in ways.items()}
    premium = dict(scenario.market.premium)
    for key, way in laid.items():
        if way.own_figures is None or way is ways[key]:
            continue
        share = _premium(way, known, premium.get(way.material, 0.0))
        if share is not None:
            laid[key] = way.model_copy(update={"material": premium_key(key)})
            premium[premium_key(key)] = share
    market = scenario.market
    if premium != market.premium:
        market = market.model_copy(update={"premium": FrozenDict(premium)})
    update = {"materials": FrozenDict(kept), "techniques": FrozenDict(laid), "market": market}
    return scenario.model_copy(update=update)


def as_stated(scenario: Farm) -> Farm:
    """The farm as it was stated: each way with its own figures, and no premium but those of the market.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> farm = demo_scenario().changed(techniques__side_graft__planting_materials=("eetp_800",))
        >>> farm.techniques["side_graft"].mature_crop.value, as_stated(farm).techniques["side_graft"].mature_crop.value
        (2.73, 1.0)
    """
    over = {key: way for key, way in scenario.techniques.items() if way.own_figures is not None}
    if not over:
        return scenario
    ways = {key: without_materials(way) for key, way in scenario.techniques.items()}
    ours = {way.material for key, way in over.items() if way.material != ways[key].material}
    premium = {name: share for name, share in scenario.market.premium.items() if name not in ours}
    market = scenario.market.model_copy(update={"premium": FrozenDict(premium)})
    return scenario.model_copy(update={"techniques": FrozenDict(ways), "market": market})


def with_own_figures(table: Any) -> Any:
    """A way's table, as a model dumps it, with the figures of its own back in their places; any other as it is."""
    if not isinstance(table, Mapping) or not table.get("own_figures"):
        return table
    return {**table, **table["own_figures"], "own_figures": None}


def materials_of(scenario: "Scenario", way: str) -> dict[str, Material]:
    """The materials of a way by name; none where it names none."""
    known = {**default_materials(), **scenario.materials}
    return {name: known[name] for name in scenario.techniques[way].planting_materials}


def premium_key(way: str) -> str:
    """The key of the market's premium that the materials of a way earn."""
    return f"of_{way}"[:LONGEST_KEY].rstrip("_")


def unknown_materials(ways: Mapping[str, Any], stated: Mapping[str, Any]) -> Iterator[tuple[str, int, str]]:
    """Of each way, place and name of a material that is neither stated nor shipped."""
    for key, way in ways.items():
        names = way.get("planting_materials") if isinstance(way, Mapping) else None
        for place, name in enumerate(names if isinstance(names, tuple) else ()):
            if isinstance(name, str) and name not in stated and name not in default_materials():
                yield key, place, name


def _laid(way: Technique, materials: Mapping[str, Material]) -> Technique:
    """A way with its materials; as it is where they are laid over it already, or there are none."""
    return way if way.own_figures is not None or not materials else with_materials(way, materials)


def _premium(way: Technique, known: Mapping[str, Material], before: float) -> float | None:
    """The premium that the materials of a way state; None where none does."""
    materials = [known[name] for name in way.planting_materials]
    own = without_materials(way).mature_crop
    return premium_of(materials, [(entry.mature_crop or own).value for entry in materials], before)
