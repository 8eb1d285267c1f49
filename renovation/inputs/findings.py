"""From pydantic's findings on a model to problems that can be said."""

import math
import re
from collections.abc import Sequence
from datetime import date, time
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import InitErrorDetails, PydanticCustomError
from pydantic_core.core_schema import ErrorType

from renovation.inputs.errors import MOST_TOLD, Path, Problem, as_written, key_text
from renovation.inputs.quantities import MONTH_PATTERN, Finding, FrozenDict
from renovation.inputs.shapes import Shape, bounds, fields, locate, step

PYDANTIC_CODES = frozenset(get_args(ErrorType))
DECIMAL_COMMA = re.compile(r"\s*([+-]?\d+),(\d+)\s*")

NOT_REFUSED = frozenset({"missing", "extra_forbidden", "too_short"})
"""Findings of pydantic that leave what stands at a place as it is."""


def refused_places(error: ValidationError) -> list[Path]:
    """Where a field has refused what stands there by its type or bounds, as pydantic says it."""
    found = error.errors(include_url=False, include_context=False, include_input=False)
    return [entry["loc"] for entry in found if entry["type"] in PYDANTIC_CODES - NOT_REFUSED]


def all_findings(error: ValidationError, more: Sequence[Finding]) -> ValidationError:
    """Join pydantic's findings and our own cross-checks into one error."""
    if not more:
        return error
    details: list[InitErrorDetails] = []
    for found in error.errors(include_url=False):
        kind: Any = found["type"]
        if kind not in PYDANTIC_CODES:
            kind = PydanticCustomError(kind, "{found}", found.get("ctx", {}))
        details.append(InitErrorDetails(type=kind, loc=found["loc"], input=found["input"], ctx=found.get("ctx", {})))
    details += [InitErrorDetails(type=told, loc=loc, input=None) for loc, told in more]
    return ValidationError.from_exception_data(error.title, details)


def problems_of(
    error: ValidationError, root: type[BaseModel], raw: Any, file: str = "", currency: str = "USD"
) -> tuple[tuple[Problem, ...], int]:
    """Turn pydantic's findings on a `root` model into problems: the first of them, and the number of the others.

    raw: what was written.
    """
    told: dict[tuple[str, str], Problem] = {}
    others: set[tuple[Path, str]] = set()
    for found in error.errors(include_url=False):
        if found["type"] == "too_short" and len(found["input"]) >= found["ctx"]["min_length"]:
            continue  # pydantic counts only the sound entries; the unsound ones are told by themselves
        if len(told) >= MOST_TOLD:
            others.add((found["loc"], found["type"]))
            continue
        path, here = _clean(root, found["loc"])
        code, shown, facts = _told(found, root, path, here, currency)
        problem = Problem(file, key_text(raw, path), code, shown, FrozenDict(facts))
        told.setdefault((problem.key, problem.code), problem)
    return tuple(told.values()), len(others)


def _clean(root: type[BaseModel], loc: Sequence[str | int]) -> tuple[Path, Shape | None]:
    """Drop from a location what pydantic adds to it, names of union arms and the mark of a key; the shape there."""
    path: Path = ()
    here: Shape | None = Shape(root)
    for part in loc:
        if part == "[key]" or (isinstance(part, str) and here is not None and here.or_else is not None):
            continue
        path, here = (*path, part), step(here, part) if here else None
    return path, here


def _told(
    found: Any, root: type[BaseModel], path: Path, here: Shape | None, currency: str
) -> tuple[str, str, dict[str, Any]]:
    """The code, the thing found and the facts of one of pydantic's findings."""
    kind, ctx, value = found["type"], found.get("ctx", {}), found["input"]
    accepted = accepted_facts(here, currency) if here else {}
    if kind == "missing":
        tables = {"table": "missing_table", "tables": "missing_tables"}
        return tables.get(str(accepted.get("kind")), "missing_key"), "", accepted
    if kind == "extra_forbidden":
        above = locate(root, path[:-1])
        known = known_keys(above)
        return "unknown_key", "", {"like": str(path[-1]), "choices": known}
    if kind == "string_pattern_mismatch" and found["loc"][-1] == "[key]":
        return "wrong_name", as_written(value), {}
    if kind in ("too_long", "too_short", "string_too_long"):
        fewest, most = (here.or_else or here).lengths if here else (0, None)
        count = ctx.get("actual_length", len(value))
        code = {"string_too_long": "text_too_long", "too_short": "list_too_short"}.get(kind, "list_too_long")
        code = "list_wrong_length" if fewest == most else code
        return code, str(count), {"fewest": fewest, "most": most or 0}
    if kind in _OUTSIDE:
        return "out_of_bounds", as_written(value), accepted
    if kind in _WRONG_TYPE or kind.endswith("_type"):
        return _wrong_type(value, accepted)
    if "found" in ctx or kind not in PYDANTIC_CODES:
        return kind, str(ctx.get("found", "")), {k: v for k, v in ctx.items() if k != "found"}
    return "not_accepted", as_written(value), accepted


_OUTSIDE = {"greater_than", "greater_than_equal", "less_than", "less_than_equal"}
_WRONG_TYPE = {
    "literal_error",
    "string_pattern_mismatch",
    "string_too_short",
    "finite_number",
    "int_from_float",
}


def _wrong_type(value: Any, accepted: dict[str, Any]) -> tuple[str, str, dict[str, Any]]:
    """Word a value of the wrong kind for the person who wrote it."""
    wanted, shown = accepted.get("kind"), as_written(value)
    if wanted in ("number", "whole"):
        if isinstance(value, str):
            if comma := DECIMAL_COMMA.fullmatch(value):
                return "comma_number", shown, {**accepted, "fixed": f"{comma[1]}.{comma[2]}"}
            if re.fullmatch(r"\s*[+-]?\d+(\.\d+)?\s*", value):
                return "quoted_number", shown, {**accepted, "fixed": value.strip()}
        if isinstance(value, float) and not math.isfinite(value):
            return "not_finite", shown, accepted
        if isinstance(value, int) and not isinstance(value, bool):
            return "out_of_bounds", shown, accepted  # whole, but more than any computer's number holds
        return ("not_whole" if isinstance(value, float) else "not_a_number"), shown, accepted
    if wanted in ("text", "month", "name", "currency") and not isinstance(value, str):
        if isinstance(value, date | time | int | float) and not isinstance(value, bool):
            return "unquoted_text", shown, accepted
        return "not_accepted", shown, accepted
    if wanted == "text" and isinstance(value, str) and not value.strip():
        return "blank_text", "", accepted
    if wanted == "choice":
        return "not_a_choice", shown, {**accepted, "like": str(value) if isinstance(value, str) else ""}
    return "not_accepted", shown, accepted


def known_keys(shape: Shape | None) -> tuple[str, ...]:
    """The keys that a file may write in the table at a place."""
    if shape is None or not (shape.is_model or shape.is_figure):
        return ()
    keys = list(fields(shape.core))
    if shape.core.__name__ == "Scenario":
        keys.insert(keys.index("techniques"), "consider")
    return tuple(keys)


def accepted_facts(shape: Shape, currency: str) -> dict[str, Any]:
    """What is accepted at a place: kind, bounds, unit, choices."""
    core = shape.core
    if get_origin(core) is Literal:
        return {"kind": "choice", "choices": tuple(map(str, get_args(core)))}
    if shape.is_figure and not _numeric(locate(core, ("value",))):
        return {"kind": "list"}
    if _numeric(shape) or shape.is_figure:
        limit = bounds(shape)
        whole = core is int or (shape.is_figure and fields(core)["value"].core is int)
        return {
            "kind": "whole" if whole else "number",
            "lower": limit.lower,
            "upper": limit.upper,
            "lower_open": limit.lower_open,
            "upper_open": limit.upper_open,
            "unit": shape.quantity.unit if shape.quantity else "",
            "currency": currency,
        }
    if core is str:
        pattern = shape.pattern or ""
        kinds = {MONTH_PATTERN[:5]: "month", "^[A-Z]": "currency", "^[a-z]": "name"}
        return {"kind": kinds.get(pattern[:6], kinds.get(pattern[:5], "text"))}
    if core is bool:
        return {"kind": "yes_no"}
    if shape.is_list:
        return {"kind": "tables" if shape.entry.is_model else "list"}
    return {"kind": "table"}


def _numeric(shape: Shape | None) -> bool:
    return shape is not None and shape.core in (int, float)
