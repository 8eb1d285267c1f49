"""Mistakes in what people state: found all at once, told in one sentence each, from the word catalogue.

A `Problem` is data; its sentence is made by `Problem.sentence(words)` from `error.<code>` and its facts.
"""

import difflib
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import InitErrorDetails, PydanticCustomError
from pydantic_core.core_schema import ErrorType

from renovation.inputs.quantities import MOST, Finding, FrozenDict, in_currency
from renovation.inputs.shapes import Shape, bounds, fields, locate
from renovation.words import Words

Path = tuple[str | int, ...]
PYDANTIC_CODES = frozenset(get_args(ErrorType))
BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
DECIMAL_COMMA = re.compile(r"\s*([+-]?\d+),(\d+)\s*")


@dataclass(frozen=True)
class Problem:
    """One mistake: the file, the key as a person writes it, what was found, and the facts of its sentence.

    `code` names the sentence: `error.<code>` in the word catalogue, or a full catalogue key where it has a
    dot. Facts named `months` are calendar months, `unit` is a declared unit, `first` and `last` a `YYYY-MM`;
    tuples are listed, numbers written in the language's way.
    """

    file: str
    key: str
    code: str
    found: str = ""
    facts: Mapping[str, Any] = FrozenDict()

    def sentence(self, words: Words) -> str:
        """Say the mistake in the language of `words`."""
        said: dict[str, Any] = {name: _say(words, name, fact) for name, fact in self.facts.items()}
        if "n" in self.facts:
            said["n"] = self.facts["n"]
        said["near"] = words("error_part.near", near=self.facts["near"]) if self.facts.get("near") else ""
        if "kind" in self.facts:
            said["accepted"] = _accepted(words, self.facts)
        key = self.code if "." in self.code else f"error.{self.code}"
        file = self.file or words("error_part.this_scenario")
        return words(key, file=file, key=self.key, found=self.found, **said)


class ScenarioError(Exception):
    """What is stated cannot be used; `problems` holds every mistake found.

    Example:
        >>> from renovation.inputs import read_scenario
        >>> try:
        ...     read_scenario("", "empty.toml")
        ... except ScenarioError as error:
        ...     error.problems[0].code
        'empty_file'
    """

    def __init__(self, problems: Iterable[Problem]) -> None:
        """Hold the mistakes, each once."""
        self.problems = tuple(dict.fromkeys(problems))
        super().__init__(self.problems)

    def sentences(self, words: Words) -> list[str]:
        """One sentence for each mistake."""
        return [problem.sentence(words) for problem in self.problems]

    def __str__(self) -> str:
        """The sentences in English, one a line."""
        return "\n".join(self.sentences(Words("en")))


def near(found: str, known: Iterable[str]) -> str:
    """The known name most like the one found, or nothing.

    Example:
        >>> near("side_grafft", ["side_graft", "bud_graft"])
        'side_graft'
    """
    folded = {name.casefold(): name for name in known}
    matches = difflib.get_close_matches(found.casefold(), folded, n=1, cutoff=0.75)
    return folded[matches[0]] if matches else ""


# Words of the parts of a sentence


def unit_words(words: Words, unit: str, currency: str) -> str:
    """Say a declared unit in words: `money/tree/year` is GHS per tree and year.

    Example:
        >>> unit_words(Words("en"), "money/tree/year", "GHS")
        'GHS per tree and year'
    """
    key, currency = f"unit_name.{unit}", words.currency_name(currency)
    return words(key, currency=currency) if key in words else in_currency(unit, currency)


def _say(words: Words, name: str, fact: Any) -> str:
    """Say one fact."""
    if name == "months":
        return words.listing([words.month_name(month) for month in fact])
    if name in ("first", "last") and isinstance(fact, str):
        return words.month(fact)
    if name == "technique":
        return words.name("technique", str(fact))
    if isinstance(fact, tuple):
        return words.listing([str(entry) for entry in fact])
    if isinstance(fact, int | float) and not isinstance(fact, bool):
        return words.number(fact)
    return str(fact)


def _accepted(words: Words, facts: Mapping[str, Any]) -> str:
    """Say what is accepted at a place: its kind, its bounds and its unit."""
    kind = facts["kind"]
    if kind not in ("number", "whole"):
        return words(f"error_accepted.{kind}", **{k: _say(words, k, facts[k]) for k in ("choices",) if k in facts})
    lower, upper = facts.get("lower"), facts.get("upper")
    if lower is None or upper is None:
        span = ""
    elif upper >= MOST:
        span = words("error_range.lower_only", lower=words.number(lower))
    else:
        edges = {"lower": words.number(lower), "upper": words.number(upper)}
        opening = ("open" if facts["lower_open"] else "closed") + ("_open" if facts["upper_open"] else "_closed")
        span = words(f"error_range.{opening}", **edges)
    text = words(f"error_accepted.{kind}", span=span)
    if not facts.get("unit"):
        return text
    return words("error_part.with_unit", accepted=text, unit=unit_words(words, facts["unit"], facts["currency"]))


def as_written(value: Any) -> str:
    """Show a value as a TOML file writes it, shortened.

    Example:
        >>> as_written(True), as_written("2,4"), as_written((1, 2.5))
        ('true', '"2,4"', '[1, 2.5]')
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        shown = value if len(value) <= 60 else value[:57] + "…"
        return f'"{shown}"'
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    if isinstance(value, list | tuple):
        shown = ", ".join(as_written(entry) for entry in value[:14])
        return f"[{shown}{', …' if len(value) > 14 else ''}]"
    if isinstance(value, Mapping):
        return "{" + ", ".join(list(map(str, value))[:4]) + (", …}" if len(value) > 4 else "}")
    return str(value)


# Where a mistake stands


def key_text(raw: Any, path: Sequence[str | int]) -> str:
    """Write a path as a person finds it in the file.

    Entries of a list go by their name where it is unique, else by number from 1; a path that goes on inside a
    bare value ends there.

    Example:
        >>> key_text({"stands": [{"name": "Lower field"}]}, ("stands", 0, "trees"))
        'stands "Lower field".trees'
    """
    text, node = "", raw
    for part in path:
        if isinstance(part, int):
            text += _entry_text(node, part)
            node = node[part] if isinstance(node, list | tuple) and part < len(node) else None
            continue
        if node is not None and not isinstance(node, Mapping):
            break
        text += ("." if text else "") + (part if BARE_KEY.fullmatch(part) else f'"{part}"')
        node = node.get(part) if node is not None else None
    return text


def _entry_text(entries: Any, position: int) -> str:
    """Name an entry of a list."""
    if isinstance(entries, list | tuple):
        names = [entry.get("name") if isinstance(entry, Mapping) else None for entry in entries]
        name = names[position] if position < len(names) else None
        if isinstance(name, str) and name.strip() and len(name) <= 80 and names.count(name) == 1:
            return f' "{name}"'
    return f"[{position + 1}]"


# From pydantic's findings to problems


NOT_REFUSED = frozenset({"missing", "extra_forbidden", "too_short", "too_long"})
"""Findings of pydantic that leave what stands at a place as it is."""


def refused_places(error: ValidationError) -> list[Path]:
    """Where a field has refused what stands there by its type or bounds, as pydantic says it."""
    found = error.errors(include_url=False, include_context=False, include_input=False)
    return [entry["loc"] for entry in found if entry["type"] in PYDANTIC_CODES - NOT_REFUSED]


def all_findings(error: ValidationError, more: Sequence[Finding]) -> ValidationError:
    """Join pydantic's findings and our own cross-checks into one error."""
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
) -> tuple[Problem, ...]:
    """Turn pydantic's findings on a `root` model into problems; `raw` is what was written."""
    seen: dict[tuple[str, str], Problem] = {}
    for found in error.errors(include_url=False):
        path = _clean(root, found["loc"])
        if found["type"] == "too_short" and len(found["input"]) >= found["ctx"]["min_length"]:
            continue  # pydantic counts only the sound entries; the unsound ones are told by themselves
        code, shown, facts = _told(found, root, path, currency)
        problem = Problem(file, key_text(raw, path), code, shown, FrozenDict(facts))
        seen.setdefault((problem.key, problem.code), problem)
    return tuple(seen.values())


def _clean(root: type[BaseModel], loc: Sequence[str | int]) -> Path:
    """Drop from a location what pydantic adds to it: names of union arms and the mark of a key."""
    path: Path = ()
    for part in loc:
        here = locate(root, path)
        if part == "[key]" or (isinstance(part, str) and here is not None and here.or_else is not None):
            continue
        path = (*path, part)
    return path


def _told(found: Any, root: type[BaseModel], path: Path, currency: str) -> tuple[str, str, dict[str, Any]]:
    """The code, the thing found and the facts of one of pydantic's findings."""
    kind, ctx, value = found["type"], found.get("ctx", {}), found["input"]
    here = locate(root, path)
    accepted = accepted_facts(here, currency) if here else {}
    if kind == "missing":
        tables = {"table": "missing_table", "tables": "missing_tables"}
        return tables.get(str(accepted.get("kind")), "missing_key"), "", accepted
    if kind == "extra_forbidden":
        above = locate(root, path[:-1])
        known = known_keys(above)
        return "unknown_key", "", {"near": near(str(path[-1]), known), "choices": known}
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
        return ("not_whole" if isinstance(value, float) else "not_a_number"), shown, accepted
    if wanted in ("text", "month", "name", "currency") and not isinstance(value, str):
        if isinstance(value, date | time | int | float) and not isinstance(value, bool):
            return "unquoted_text", shown, accepted
        return "not_accepted", shown, accepted
    if wanted == "text" and isinstance(value, str) and not value.strip():
        return "blank_text", "", accepted
    if wanted == "choice":
        return "not_a_choice", shown, {**accepted, "near": near(str(value), accepted["choices"])}
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
        kinds = {r"^\d{4}": "month", "^[A-Z]": "currency", "^[a-z]": "name"}
        return {"kind": kinds.get(pattern[:6], kinds.get(pattern[:5], "text"))}
    if core is bool:
        return {"kind": "yes_no"}
    if shape.is_list:
        return {"kind": "tables" if shape.entry.is_model else "list"}
    return {"kind": "table"}


def _numeric(shape: Shape | None) -> bool:
    return shape is not None and shape.core in (int, float)


def each(value: Any) -> Iterator[tuple[int, Any]]:
    """Walk the entries of a list with their positions; nothing where it is no list."""
    return iter(enumerate(value)) if isinstance(value, list | tuple) else iter(())
