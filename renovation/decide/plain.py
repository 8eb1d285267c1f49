"""Results as plain data for `--json`."""

from dataclasses import fields
from typing import Any


def fields_of(result: Any, *names: str) -> dict[str, Any]:
    """Fields of a frozen result by their own names, all of them where none is named; a tuple becomes a list.

    names: of fields or properties, in the order of the keys.

    Example:
        >>> from renovation.decide.switching import Ties
        >>> fields_of(Ties(2.5, None, (), (0.25, 0.75)), "price_per_kg", "take_of_first")
        {'price_per_kg': 2.5, 'take_of_first': [0.25, 0.75]}
    """
    found = {name: getattr(result, name) for name in names or [field.name for field in fields(result)]}
    return {name: list(value) if isinstance(value, tuple) else value for name, value in found.items()}
