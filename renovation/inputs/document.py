"""Scenario files out: written anew, or over the text that somebody wrote, whose comments and order stay.

What a farm says now is laid beside what its text says, both as tables; only where they differ the text is changed: a
value where it stands, a key beside its like, an entry of a list with the comment above it. The new text is read again
before it is given out. Where it would say another farm, the sections that differ are written anew, else all of it.
"""

from collections.abc import Callable, Mapping
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Array, Comment, InlineTable, Item, Whitespace
from tomlkit.items import Table as HeadedTable

from renovation.inputs.errors import ScenarioError
from renovation.inputs.files import read_scenario, written
from renovation.inputs.overrides import Table
from renovation.inputs.scenario import Scenario
from renovation.whole import write_whole

LONGEST_KEPT = 100_000
"""Letters of a text that is written over: some seconds' work at the most. A longer one is written anew."""
MARK = "\N{ZERO WIDTH NO-BREAK SPACE}"
"""Some programs begin a file with it."""
Change = Callable[[Any, Table, Table], None]


def write_scenario(scenario: Scenario, over: str = "") -> str:
    """Write a scenario as TOML, of techniques and supplies only what differs from the defaults.

    over: the text of the file that it came from; its comments, its order and all that is not changed stay as they are.
    `read_scenario` gives the same scenario back.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> farm = demo_scenario()
        >>> text = "# Ours.\\n" + write_scenario(farm)
        >>> write_scenario(farm.changed(market__price_per_kg=3.5), text) == text.replace("kg = 4.0", "kg = 3.5")
        True
    """
    text = _written_over(over, scenario) if over and len(over) <= LONGEST_KEPT else None
    return tomlkit.dumps(written(scenario)) if text is None else text


def save_scenario(scenario: Scenario, path: str | Path, over: str = "") -> None:
    """Write a scenario file whole or not at all, over one that stands there; its text as of `write_scenario`."""
    write_whole(path, write_scenario(scenario, over).encode("utf-8"), over=True)


def _written_over(text: str, scenario: Scenario) -> str | None:
    """The text changed to say the scenario; None where it cannot be kept."""
    try:
        old = read_scenario(text, "")
    except ScenarioError:
        return None
    if old == scenario:
        return text
    before, after = written(old), written(scenario)
    changes: tuple[Change, ...] = (_change, _write_anew)
    for change in changes:
        made = _changed(text, before, after, change)
        if made is not None and _says(made, scenario):
            return made
    return None


def _changed(text: str, before: Table, after: Table, change: Change) -> str | None:
    """The text with what differs changed; None for a text that the library cannot change so."""
    try:
        document = tomlkit.parse(text.removeprefix(MARK))
        change(document, before, after)
        return (MARK if text.startswith(MARK) else "") + document.as_string()
    except (TOMLKitError, LookupError, TypeError, ValueError, AttributeError, AssertionError):
        return None  # a text may be laid out as the library does not expect


def _says(text: str, scenario: Scenario) -> bool:
    try:
        return read_scenario(text, "") == scenario
    except ScenarioError:
        return False


# What is changed


def _change(node: Any, before: Table, after: Table) -> None:
    """Change a table from what it said to what it shall say, place by place."""
    for key in before:
        if key not in after and key in node:
            _remove(node, key)
    for key, value in after.items():
        said = before.get(key)
        if said == value:
            continue
        if key not in node:
            _add(node, key, value)
        elif isinstance(node[key], InlineTable) and isinstance(value, Mapping) and {*node[key]} != {*value}:
            node[key] = tomlkit.inline_table()
            node[key].update(_plain(value))
        elif isinstance(value, Mapping) and isinstance(node[key], Mapping) and isinstance(said or {}, Mapping):
            _change(node[key], dict(said or {}), dict(value))
        elif value and _are_tables(value) and _are_tables(said) and isinstance(node[key], AoT):
            _change_entries(node[key], said, value, _table_before(node, key))
        elif _has_head(node[key]):
            _remove(node, key)
            _add(node, key, value)
        elif isinstance(node[key], Array) and isinstance(said, list | tuple) and len(said) == len(value):
            _change_array(node[key], said, value)
        else:
            node[key] = _plain(value)


def _write_anew(node: Any, before: Table, after: Table) -> None:
    """Write each section anew that differs."""
    for key in {**before, **after}:
        if before.get(key) != after.get(key):
            if key in node:
                _remove(node, key)
            if key in after:
                _add(node, key, after[key])


def _are_tables(value: Any) -> bool:
    return isinstance(value, list | tuple) and all(isinstance(entry, Mapping) for entry in value)


def _change_array(array: Array, before: Any, after: Any) -> None:
    """Change the entries of a list on their lines."""
    for place, (said, value) in enumerate(zip(before, after, strict=True)):
        if said == value:
            continue
        if isinstance(said, Mapping) and isinstance(value, Mapping):
            _change(array[place], dict(said), dict(value))
        else:
            array[place] = _plain(value)


def _change_entries(entries: AoT, before: Any, after: Any, above: Any) -> None:
    """Change a list of tables: what stays keeps its place and its comments, from the last to the first.

    above: the table that stands before the list; None where there is none.
    """
    if len(entries) != len(before):
        raise ValueError(len(entries))
    steps = SequenceMatcher(None, [repr(one) for one in before], [repr(one) for one in after], autojunk=False)
    for what, first, last, new, end in reversed(steps.get_opcodes()):
        if what == "equal":
            continue
        both = min(last - first, end - new)
        for place in range(last - 1, first + both - 1, -1):
            _remove_entry(entries, place, above)
        for place in range(both):
            _change(entries[first + place], dict(before[first + place]), dict(after[new + place]))
        for place in range(both, end - new):
            _insert_entry(entries, first + place, after[new + place])


# Where it stands. A comment above the head of a table is, to the library, the end of the table before it.

Body = list[tuple[Any, Item]]


def _add(node: Any, key: str, value: Any) -> None:
    """Add a key at the end of a table, before the comment that belongs to the next one."""
    if isinstance(node, InlineTable):
        node[key] = _plain(value)
        return
    end, tail = _end_of(node), _cut_tail(node)
    if isinstance(value, Mapping) or (value and _are_tables(value)):
        end.append(_EMPTY_LINE)
    node[key] = _plain(value)
    _end_of(node).extend(tail)


def _remove(node: Any, key: str) -> None:
    """Remove a key; a table goes with the comment above it, and the comment of what follows stays."""
    if not _has_head(node[key]):
        del node[key]
        return
    tail, above = _cut_tail(node[key]), _table_before(node, key)
    del node[key]
    _follow(node if above is None else above, tail, instead=above is not None)


def _insert_entry(entries: AoT, place: int, value: Any) -> None:
    """Insert a table into a list, before the comment that belongs to the next one."""
    tail: Body = []
    if place:
        tail = _cut_tail(entries[place - 1])
        _end_of(entries[place - 1]).append(_EMPTY_LINE)
    entries.insert(place, _plain(value))
    _end_of(entries[place]).extend(tail or [_EMPTY_LINE][place:])


def _remove_entry(entries: AoT, place: int, above: Any) -> None:
    """Remove a table from a list with the comment above it; the comment of what follows stays."""
    tail = _cut_tail(entries[place])
    del entries[place]
    before = entries[place - 1] if place else above
    if before is not None:
        _follow(before, tail)


def _follow(above: Any, tail: Body, *, instead: bool = True) -> None:
    """Let a tail stand at the end of a table, in place of the comment that is the head of what was removed."""
    if instead:
        own = _cut_tail(above)
        for kind in (Comment, Whitespace):
            while own and isinstance(own[-1][1], kind):
                own.pop()
        _end_of(above).extend(own)
    _end_of(above).extend(tail)


def _has_head(item: Any) -> bool:
    """Whether a table, or a list of tables, stands under heads in brackets."""
    return isinstance(item, AoT | HeadedTable)


def _body(node: Any) -> Body:
    body: Body = node.value.body if isinstance(node, Item) else node.body
    return body


def _table_before(node: Any, key: str) -> Any:
    """The table that stands above a key within a table; None where there is none."""
    above = None
    for name, item in _body(node):
        if name is not None and name.key == key:
            break
        if _has_head(item):
            above = item
    return above


def _end_of(node: Any) -> Body:
    """What stands in the last table within a table or a list of tables, in order."""
    while True:
        if isinstance(node, AoT):
            node = node[-1]
            continue
        body = _body(node)
        last = next((item for key, item in reversed(body) if key is not None), None)
        if not _has_head(last):
            return body
        node = last


def _cut_tail(node: Any) -> Body:
    """Take away the comments and empty lines at the end of a table."""
    body = _end_of(node)
    first = len(body)
    while first and isinstance(body[first - 1][1], Comment | Whitespace):
        first -= 1
    tail = body[first:]
    del body[first:]
    return tail


_EMPTY_LINE: tuple[Any, Item] = (None, tomlkit.nl())


def _plain(value: Any) -> Any:
    """A value as the library writes it: lists for tuples, all the way down."""
    if isinstance(value, Mapping):
        return {key: _plain(entry) for key, entry in value.items()}
    return [_plain(entry) for entry in value] if isinstance(value, list | tuple) else value
