"""The defaults that ship: techniques and supplies, in US dollars, each figure with its source."""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Any

from renovation.inputs.overrides import tupled, unit_findings
from renovation.inputs.quantities import FrozenDict, Model, refuse_all
from renovation.inputs.techniques import Supplies, Technique

DEFAULT_CURRENCY = "USD"


def _table(*path: str) -> Any:
    """Read one TOML file of the defaults' room, lists as tuples."""
    text = resources.files("renovation.defaults").joinpath(*path).read_text("utf-8")
    return tupled(tomllib.loads(text))


def _checked(model: type[Model], table: Mapping[str, Any]) -> Any:
    """Validate a table, and each of its units against the declared one."""
    found = model.model_validate(table)
    refuse_all(model.__name__, unit_findings(model, table, DEFAULT_CURRENCY))
    return found


@cache
def default_techniques() -> Mapping[str, Technique]:
    """Every technique that ships with the program, by key, money in US dollars.

    Errors: pydantic's ValidationError for a file that breaks the model or states another unit than declared.
    """
    folder = resources.files("renovation.defaults").joinpath("techniques")
    if not folder.is_dir():
        return FrozenDict()
    names = sorted(file.name for file in folder.iterdir() if file.name.endswith(".toml"))
    return FrozenDict({name.removesuffix(".toml"): _checked(Technique, _table("techniques", name)) for name in names})


def default_technique(key: str) -> Technique:
    """The technique of this key as it ships; KeyError where there is none.

    Example:
        >>> default_technique("side_graft").family
        'graft'
    """
    return default_techniques()[key]


@cache
def default_supplies() -> Supplies:
    """What each supply and tool costs as it ships, in US dollars.

    Example:
        >>> {item.unit_cost.unit for item in default_supplies().items.values()}
        {'USD/unit'}
    """
    supplies: Supplies = _checked(Supplies, _table("supplies.toml"))
    return supplies
