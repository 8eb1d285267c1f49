"""Own numbers in place of default figures: what to change in the farm, and the way back to the default."""

from collections.abc import Callable, Mapping
from typing import Any

from renovation.inputs import Scenario, as_stated
from renovation.inputs.files import priced_technique
from renovation.inputs.overrides import widened
from renovation.inputs.own_ways import default_at, default_price
from renovation.screens.controls.fields import Path, value_at
from renovation.screens.memory import state

Put = Callable[[Any], Mapping[str, Any]]


def default_figure(farm: Scenario, path: Path) -> dict[str, Any] | None:
    """The figure as it ships, in the farm's currency; None where the farm's technique has no default."""
    found = default_price(farm, path[1:]) if path[0] == "supplies" else default_at(farm, str(path[1]), path[2:])
    return found if isinstance(found, dict) else None


def weighed_too(farm: Scenario, *ways: str) -> Mapping[str, Any]:
    """The change that takes ways up among those weighed, as they ship; nothing where all of them are."""
    per_usd = farm.appraisal.currency_per_usd or 1.0
    more = {way: priced_technique(way, farm.appraisal.currency, per_usd) for way in ways if way not in farm.techniques}
    return {"techniques": {**farm.model_dump()["techniques"], **more}} if more else {}


def own_value(farm: Scenario, path: Path, value: Any) -> Mapping[str, Any]:
    """The change that puts an own value in a figure's place; its range is widened to hold it.

    The default's own value brings the default back, source and all.
    """
    farm = as_stated(farm)
    now = value_at(farm, path).model_dump()
    base = default_figure(farm, path)
    if base is not None and value == base["value"]:
        figure = base
    else:
        edges = base or now
        low, high = widened(min, edges["low"], value), widened(max, edges["high"], value)
        figure = {**now, "value": value, "low": low, "high": high, "source": "own", "citation": "", "because": ""}
    name = "__".join(map(str, path))
    in_the_open = path[-1] == "take" and farm.techniques[str(path[1])].temporary_shade is False
    return {name: figure, f"{name}_without_shade": figure} if in_the_open else {name: figure}


def own_shade(way: str) -> Put:
    """Turn a choice of temporary shade into the change of the farm in hand: take and temporary crop go with it."""

    def put(shaded: Any) -> Mapping[str, Any]:
        farm = state.scenario()
        technique, appraisal = farm.techniques[way], farm.appraisal
        per_usd = appraisal.currency_per_usd or 1.0
        base = priced_technique(technique.based_on or way, appraisal.currency, per_usd, shaded=bool(shaded))
        stated = technique.model_dump()
        take = base["take"] if shaded else stated["take_without_shade"]
        chosen = {"temporary_shade": bool(shaded), "take": take, "intercrop": base["intercrop"]}
        return {f"techniques__{way}": stated | chosen}

    return put


def own(path: Path) -> Put:
    """Turn a number read for a figure into the change of the farm in hand."""
    return lambda value: own_value(state.scenario(), path, value)


def own_entry(path: Path, entry: int) -> Put:
    """Turn a number read for one entry of a figure's list into the change of the farm in hand."""

    def put(value: Any) -> Mapping[str, Any]:
        numbers = value_at(state.scenario(), path).value
        return own_value(state.scenario(), path, (*numbers[:entry], float(value), *numbers[entry + 1 :]))

    return put


def is_own(farm: Scenario, path: Path) -> bool:
    """Whether the farm states its own value there."""
    return bool(value_at(farm, path).source == "own")
