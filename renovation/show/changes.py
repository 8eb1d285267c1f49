"""What is different between two farms, said in few words: one change by its name and values, several by the first."""

import re
from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import BaseModel

from renovation.inputs import Scenario, as_stated
from renovation.inputs.quantities import Figure
from renovation.inputs.shapes import Shape, locate
from renovation.show.guesses import amount, figure_name
from renovation.show.voice import Voice
from renovation.words import Words

LONGEST = 40
"""Letters of a text that are said."""
MONTH = re.compile(r"\d{4}-(0[1-9]|1[0-2])")
UNSAID = ("guessed",)
"""What follows from another change: a figure that is told is no guess any more."""

Path = tuple[str | int, ...]


def change_said(before: Scenario, after: Scenario, words: Words) -> str:
    """What makes `after` another farm than `before`; empty where nothing does.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> farm = demo_scenario()
        >>> change_said(farm, farm.changed(household__living_costs=150.0), Words("en"))
        'Living costs a month from 230 to 150 USD a month'
    """
    before, after = as_stated(before), as_stated(after)
    found = [change for change in _changes(before, after, ()) if change[0][0] not in UNSAID]
    if not found:
        return words("change.guesses") if before.guessed != after.guessed else ""
    first = _said(*found[0], before, after, words)
    return first if len(found) == 1 else words("change.more", what=first, n=len(found) - 1)


def _changes(before: Any, after: Any, path: Path) -> Iterator[tuple[Path, Any, Any]]:
    """Every place that is different, as far down as it has a name: path, what stood and what stands there."""
    if before is after or before == after:
        return
    if isinstance(before, Figure) and isinstance(after, Figure):
        yield from _changes(before.value, after.value, (*path, "value"))
    elif isinstance(before, BaseModel) and type(before) is type(after):
        for name in type(before).model_fields:
            yield from _changes(getattr(before, name), getattr(after, name), (*path, name))
    elif isinstance(before, Mapping) and isinstance(after, Mapping):
        for key in dict.fromkeys([*before, *after]):
            yield from _changes(before.get(key), after.get(key), (*path, key))
    elif _entries(before) and _entries(after) and len(before) == len(after):
        for place, (one, other) in enumerate(zip(before, after, strict=True)):
            yield from _changes(one, other, (*path, place))
    else:
        yield path, before, after


def _entries(value: Any) -> bool:
    """Whether this is a list of tables or of numbers."""
    return isinstance(value, tuple) and bool(value) and (isinstance(value[0], BaseModel) or _is_number(value[0]))


def _said(path: Path, before: Any, after: Any, old: Scenario, new: Scenario, words: Words) -> str:
    """One change: the figure's name, and its values where they are short; of a way, that it is weighed or not."""
    if len(path) == 2 and path[0] == "techniques":
        case, farm = ("way_less", old) if after is None else ("way_more", new)
        return words(f"change.{case}", way=Voice.of(farm, words).way(str(path[1])))
    name = _name(path, new, words)
    ends: list[Any] = [_value(path, value, farm, words) for value, farm in ((before, old), (after, new))]
    if None in ends or ends[0] == ends[1]:
        return name
    if _is_number(before) and _is_number(after) and not ends[0].endswith("%"):
        ends[0] = words.number(before)  # the unit is said once
    return words("change.from_to", figure=name, before=ends[0], after=ends[1])


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _name(path: Path, farm: Scenario, words: Words) -> str:
    """What stands at a path is called: the last of its parts that has a name, and of which way or field."""
    shape = _shape(path)
    while shape is None or f"field.{shape.model}.{shape.field}.label" not in words:
        path = path[:-1]
        shape = _shape(path)
    if path[0] == "techniques" and len(path) > 2:
        name = words(f"field.{shape.model}.{shape.field}.label")
        return words("notebook.of_field", figure=name, stand=Voice.of(farm, words).way(str(path[1])))
    parts = ".".join(map(str, path))
    if len(path) == 1 or (path[0] == "stands" and int(path[1]) >= len(farm.stands)):
        return words(f"field.{shape.model}.{shape.field}.label")
    return figure_name(farm, parts, words)


def _shape(path: Path) -> Shape | None:
    return locate(Scenario, path)


def _value(path: Path, value: Any, farm: Scenario, words: Words) -> str | None:
    """A number, a month, a way or a short text as a person reads it; None for what is longer."""
    if isinstance(value, bool) or value is None:
        return words(f"change.{ {True: 'yes', False: 'no', None: 'nothing'}[value] }")
    if _is_number(value):
        return amount(farm, ".".join(map(str, path)), value, words)
    if isinstance(value, str):
        if MONTH.fullmatch(value):
            return words.month(value)
        said = Voice.of(farm, words).way(value) if value in farm.techniques else value
        return said if len(said) <= LONGEST else said[: LONGEST - 1] + "…"
    return None
