"""The text of a scenario file to tables: size, encoding, syntax, depth and number of what it holds."""

import re
import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

from renovation.inputs.errors import Problem, ScenarioError, key_text
from renovation.inputs.overrides import Table
from renovation.inputs.quantities import FrozenDict
from renovation.inputs.scenario import Scenario
from renovation.inputs.shapes import Shape, step

MOST_BYTES = 1_000_000
MOST_MARKS = 50_000
"""Keys and entries of lists in all: a farm that writes sixty ways in full, supplies and all, has some 35,000."""
MOST_ENTRIES = 1000
"""Entries of one list, or keys of one table: as many as the longest list of a scenario may hold."""
MOST_DEEP = 30
"""Tables and lists inside each other."""
QUIET = re.compile(
    r'"""(?:[^"\\]++|\\.|"(?!""))*+(?:"{3,5})?+'
    r"|'''(?:[^']++|'(?!''))*+(?:'{3,5})?+"
    r'|"(?:[^"\\\n]++|\\[^\n])*+"?+'
    r"|'[^'\n]*+'?+"
    r"|#[^\n]*+",
    re.DOTALL,
)
"""Texts and comments: nothing in them is a key."""
MOST_PARTS = 8
"""As in techniques.side_graft.operations.graft.materials.tape.quantity.value, the deepest place of a scenario."""
PART = r"[ \t]*+\.[ \t]*+[\w-]++"
LONG_KEY = re.compile(rf"(?<![\w-])[\w-]++(?:{PART}){{{MOST_PARTS}}}")
HEAD_OR_KEY = re.compile(rf"^[ \t]*+\[\[?(?P<head>[^\]\n]*+)|(?<![\w-])[\w-]++(?:{PART})++[ \t]*+=", re.MULTILINE)
"""The head of a table, and a key of several parts."""
MOST_STEPS = 100_000
"""A key is read in as many steps as its dots times the parts above it and its own: so many for a whole file."""
DEEP = re.compile(rf"(?:[\[{{][ \t\n]*+){{{MOST_DEEP}}}")
"""Brackets inside brackets."""
LONG_NUMBER = re.compile(r"[0-9_]{4301,}+")
"""Digits beyond those that Python reads as a number."""


def parsed(content: str | bytes, name: str) -> Table:
    """Parse TOML, refusing what is too large, binary, empty or broken."""
    data = content.encode("utf-8", "surrogatepass") if isinstance(content, str) else content
    if len(data) > MOST_BYTES:
        raise ScenarioError([Problem(name, "", "file_too_large", facts=FrozenDict(most=MOST_BYTES // 1000))])
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ScenarioError([Problem(name, "", "binary_file")]) from None
    if "\0" in text:
        raise ScenarioError([Problem(name, "", "binary_file")])
    _check_bounds(text, name)
    try:
        table = tomllib.loads(text.replace("\r\n", "\n"))
    except tomllib.TOMLDecodeError as error:
        raise ScenarioError([_syntax_problem(str(error), text, name)]) from None
    return bounded(table, name)


def bounded(table: Table, name: str) -> Table:
    """The tables themselves, refused where they are empty or hold more in one place than any may."""
    if not table:
        raise ScenarioError([Problem(name, "", "empty_file")])
    if crowded := [Problem(name, key_text(table, path), *told) for path, *told in _crowded(Shape(Scenario), table)]:
        raise ScenarioError(crowded)
    return table


def _check_bounds(text: str, name: str) -> None:
    """Refuse what takes too long to read, or cannot be read as a number, before it is read."""
    spoken = QUIET.sub(lambda quiet: "s" + "\n" * quiet[0].count("\n"), text)
    if DEEP.search(spoken) or LONG_KEY.search(spoken):
        raise ScenarioError([Problem(name, "", "nested_too_deep")])
    depth, steps = 0, 0
    for found in HEAD_OR_KEY.finditer(spoken):
        dots = found[0].count(".")
        if found["head"] is not None:
            depth = dots + 1
        else:
            steps += dots * (depth + dots)
    if steps > MOST_STEPS or sum(map(spoken.count, "=,[{")) > MOST_MARKS:
        raise ScenarioError([Problem(name, "", "too_much", facts=FrozenDict(most=MOST_MARKS))])
    if number := LONG_NUMBER.search(spoken):
        line = spoken.count("\n", 0, number.start()) + 1
        digits = len(number[0].replace("_", ""))
        raise ScenarioError([Problem(name, f"{line}", "number_too_long", facts=FrozenDict(digits=digits))])


def _crowded(shape: Shape | None, node: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Lists and tables with more entries than any may have: path, code, what was found, facts."""
    if not isinstance(node, Mapping | list):
        return
    if len(path) > MOST_DEEP:
        raise RecursionError
    if len(node) > MOST_ENTRIES:
        most = shape.lengths[1] if shape and (shape.is_list or shape.is_named) else None
        yield path, "list_too_long", str(len(node)), FrozenDict(most=most or MOST_ENTRIES)
        return
    for part, entry in node.items() if isinstance(node, Mapping) else enumerate(node):
        if isinstance(entry, Mapping | list):
            yield from _crowded(step(shape, part) if shape else None, entry, (*path, part))


def _syntax_problem(message: str, text: str, name: str) -> Problem:
    """Say in which line TOML breaks, and what people most often mean there."""
    lines = text.splitlines()
    place = re.search(r"line (\d+)", message)
    number = int(place[1]) if place else len(lines)
    line = lines[number - 1].strip() if 0 < number <= len(lines) else ""
    key = f"{number}"
    if comma := re.search(r"=\s*([+-]?\d+),(\d+)\s*(#.*)?$", line):
        return Problem(name, key, "syntax_comma", line, FrozenDict(fixed=f"{comma[1]}.{comma[2]}"))
    if month := re.search(r"=\s*(\d{4}-\d{2})\s*(#.*)?$", line):
        return Problem(name, key, "syntax_month", line, FrozenDict(fixed=f'"{month[1]}"'))
    if "overwrite" in message or "twice" in message or "already" in message:
        return Problem(name, key, "syntax_twice", line)
    return Problem(name, key, "syntax", line)
