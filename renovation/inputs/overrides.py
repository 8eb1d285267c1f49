"""Defaults and what a scenario states in their place: merged on the way in, told apart on the way out.

`expand` fills a table from a base; `shrink` is its inverse and keeps only what differs from the base. A
figure may be stated as a bare value: its source is then `own`, and the default's range is widened to hold the
value. What a table leaves out of its default it names in `leave_out`, for TOML has no word for nothing.
"""

from collections.abc import Callable, Iterator, Mapping
from functools import cache
from typing import Any

from renovation.inputs.quantities import Finding, Model, in_currency, problem
from renovation.inputs.shapes import Shape, fields

LEAVE_OUT = "leave_out"
Table = dict[str, Any]


def tupled(value: Any) -> Any:
    """Turn the lists of TOML into the tuples of frozen models, all the way down."""
    if isinstance(value, list | tuple):
        return tuple(tupled(entry) for entry in value)
    return {key: tupled(entry) for key, entry in value.items()} if isinstance(value, Mapping) else value


# On the way in


def expand(model: type[Model], table: Any, base: Table | None, currency: str) -> Any:
    """Fill a table from its base, field by field; what is no table is left for the model to refuse."""
    if not isinstance(table, Mapping):
        return table
    filled = _left_out(base, table.get(LEAVE_OUT, ())) if base is not None else {}
    known = fields(model)
    for key, stated in table.items():
        if key == LEAVE_OUT and base is not None:
            continue
        filled[key] = _expand_value(known[key], stated, filled.get(key), currency) if key in known else stated
    return filled


def _left_out(base: Table, paths: Any) -> Table:
    """Copy a base without the entries that `leave_out` names, as `field` or `field.name`."""
    kept = dict(base)
    for path in paths if isinstance(paths, tuple) else ():
        field, _, name = str(path).partition(".")
        if name and isinstance(kept.get(field), Mapping):
            kept[field] = {key: entry for key, entry in kept[field].items() if key != name}
        elif not name:
            kept.pop(field, None)
    return kept


def _expand_value(shape: Shape, stated: Any, base: Any, currency: str) -> Any:
    """Fill what stands at one place."""
    if shape.is_figure:
        return _expand_figure(shape, stated, base, currency)
    if shape.is_model:
        return expand(shape.core, stated, base, currency)
    if shape.is_named and isinstance(stated, Mapping):
        base = base or {}
        below = {key: _expand_value(shape.entry, entry, base.get(key), currency) for key, entry in stated.items()}
        return {**base, **below}
    if shape.is_list and isinstance(stated, tuple) and shape.entry.is_model:
        return tuple(_expand_value(shape.entry, entry, None, currency) for entry in stated)
    return stated


def _expand_figure(shape: Shape, stated: Any, base: Table | None, currency: str) -> Table:
    """Fill a figure from a bare value or a table, in part or in full."""
    table: Table = dict(stated) if isinstance(stated, Mapping) else {"value": stated}
    base = base or {}
    if "value" not in table and "value" in base:
        table["value"] = base["value"]
    if "value" in table:
        value = table["value"]
        table.setdefault("low", widened(min, base.get("low", value), value))
        table.setdefault("high", widened(max, base.get("high", value), value))
    unit = in_currency(shape.quantity.unit, currency) if shape.quantity else ""
    return {"unit": unit, "source": "own", "citation": "", "because": "", **table}


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def widened(pick: Callable[[Any, Any], Any], edge: Any, value: Any) -> Any:
    """Move the edge of a range (`pick` is min or max) so that the range holds the value.

    Numbers, and lists of numbers entry by entry, the shorter list going on with its last entry; curves of the
    same ages point by point. A curve of other ages has no known range: its edge is the value itself.

    Example:
        >>> widened(min, 0.5, 0.3), widened(max, (0.6, 0.9), (0.7,))
        (0.3, (0.7, 0.9))
    """
    if _is_number(edge) and _is_number(value):
        return pick(edge, value)
    if not (isinstance(edge, tuple) and isinstance(value, tuple) and edge and value):
        return value
    if all(map(_is_number, edge + value)):
        length = max(len(edge), len(value))
        edge, value = (numbers + numbers[-1:] * (length - len(numbers)) for numbers in (edge, value))
        return tuple(map(pick, edge, value))
    if _ages(edge) and _ages(edge) == _ages(value):
        return tuple((age, pick(low, share)) for (age, low), (_, share) in zip(edge, value, strict=True))
    return value


def _ages(curve: tuple[Any, ...]) -> list[float]:
    """The ages of a curve; empty where it is none."""
    points = [p for p in curve if isinstance(p, tuple) and len(p) == 2 and all(map(_is_number, p))]
    return [age for age, _ in points] if len(points) == len(curve) else []


# On the way out


def shrink(model: type[Model], table: Table, base: Table | None, currency: str) -> Table:
    """Keep of a table what differs from its base or, without one, from the model's own defaults."""
    kept: Table = {}
    left_out: list[str] = []
    own = _own_defaults(model)
    for key, shape in fields(model).items():
        value = table[key]
        before = own.get(key, _NOTHING) if base is None else base.get(key, own.get(key, _NOTHING))
        if value == before:
            continue
        if value is None:
            left_out.append(key)
            continue
        below = None if before is _NOTHING or base is None else before
        kept[key] = _shrink_value(shape, value, below, currency)
        if shape.is_named and below:
            left_out += [f"{key}.{name}" for name in below if name not in value]
    return kept | {LEAVE_OUT: left_out} if left_out else kept


_NOTHING = object()


@cache
def _own_defaults(model: type[Model]) -> Table:
    """What the model itself fills in, as plain tables."""
    found: Table = {}
    for key, info in model.model_fields.items():
        if not info.is_required():
            value = info.get_default(call_default_factory=True)
            found[key] = value.model_dump() if isinstance(value, Model) else value
    return found


def _shrink_value(shape: Shape, value: Any, base: Any, currency: str) -> Any:
    """Keep what differs at one place."""
    if shape.is_figure:
        return _shrink_figure(shape, value, base, currency)
    if shape.is_model:
        return shrink(shape.core, value, base, currency)
    if shape.is_named:
        base = base or {}
        return {
            key: _shrink_value(shape.entry, entry, base.get(key), currency)
            for key, entry in value.items()
            if key not in base or entry != base[key]
        }
    if shape.is_list and shape.entry.is_model:
        return [_shrink_value(shape.entry, entry, None, currency) for entry in value]
    return value


def _shrink_figure(shape: Shape, figure: Table, base: Table | None, currency: str) -> Any:
    """Write a figure as a bare value where reading it back gives the whole figure, else in full."""
    if _expand_figure(shape, figure["value"], base, currency) == figure:
        return figure["value"]
    implied = {"unit": _expand_figure(shape, 0, None, currency)["unit"], "citation": "", "because": ""}
    return {key: entry for key, entry in figure.items() if entry != implied.get(key, _NOTHING)}


# Money and units


def priced(model: type[Model], table: Table, currency: str, per_usd: float) -> Table:
    """Turn the money of a default table from US dollars into a currency, `per_usd` of it to the dollar."""
    return {key: _priced(shape, table[key], currency, per_usd) for key, shape in fields(model).items()}


def _priced(shape: Shape, value: Any, currency: str, per_usd: float) -> Any:
    """Turn the money at one place."""
    if value is None:
        return None
    if shape.is_figure:
        if shape.quantity is None or in_currency(shape.quantity.unit, currency) == shape.quantity.unit:
            return value
        turned = {edge: _times(value[edge], per_usd) for edge in ("value", "low", "high")}
        return {**value, **turned, "unit": in_currency(shape.quantity.unit, currency)}
    if shape.is_model:
        return priced(shape.core, value, currency, per_usd)
    if shape.is_named:
        return {key: _priced(shape.entry, entry, currency, per_usd) for key, entry in value.items()}
    if shape.is_list and shape.entry.is_model:
        return tuple(_priced(shape.entry, entry, currency, per_usd) for entry in value)
    return value


def _times(value: Any, factor: float) -> Any:
    """Multiply a number, or each number of a list."""
    return tuple(_times(entry, factor) for entry in value) if isinstance(value, tuple) else value * factor


def unit_findings(model: type[Model], table: Any, currency: str) -> list[Finding]:
    """Find every figure that states another unit than its field declares; `table` may be incomplete."""
    shape = Shape(model)
    return [
        (path, problem("wrong_unit", found=unit, accepted=wanted))
        for path, unit, wanted in _units(shape, table, currency, ())
        if unit != wanted
    ]


def _units(
    shape: Shape, value: Any, currency: str, path: tuple[str | int, ...]
) -> Iterator[tuple[tuple[str | int, ...], str, str]]:
    """Walk all figures that state a unit: path, stated unit, declared unit."""
    if shape.is_figure:
        if isinstance(value, dict) and isinstance(value.get("unit"), str) and shape.quantity:
            yield (*path, "unit"), value["unit"], in_currency(shape.quantity.unit, currency)
        return
    if shape.is_named and isinstance(value, dict):
        below = shape.entry
        for key, entry in value.items():
            yield from _units(below, entry, currency, (*path, key))
    elif shape.is_model and isinstance(value, dict):
        for key, field in fields(shape.core).items():
            if field.is_nested and key in value:
                yield from _units(field, value[key], currency, (*path, key))
    elif shape.is_list and isinstance(value, tuple):
        for position, entry in enumerate(value):
            yield from _units(shape.entry, entry, currency, (*path, position))
