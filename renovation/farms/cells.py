"""From the cells of a column to what the models read: numbers, months, names, yes and no; mistakes with their rows."""

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from renovation.farms.columns import Column
from renovation.inputs import ScenarioError, read_decimal
from renovation.inputs.errors import as_written
from renovation.inputs.quantities import MONTH_PATTERN, FrozenDict
from renovation.types import BoolArray, IndexArray

ONE_READING = r"^-?(?:0|[1-9][0-9]{0,14})?(?:\.(?:[0-9]{1,2}|[0-9]{4,17})|[0-9]?)$"
"""Numbers in text that can be read in one way: `read_decimal` gives the same, one by one."""
SMALL = r"^-?0?\.[0-9]{3}$"
LONGEST_NUMBER = 60
LONGEST_NAME = 80
YES_NO = {"true": True, "false": False, "yes": True, "no": False}


@dataclass(frozen=True)
class Wrong:
    """Cells of one column that make one mistake: their rows, what was found in each, the facts of each sentence."""

    rows: IndexArray
    code: str
    found: tuple[str, ...]
    facts: tuple[Mapping[str, Any], ...] = ()


@dataclass(frozen=True)
class Read:
    """A column read. cells: (rows,) numbers with NaN, or objects with None, where a cell is blank or wrong."""

    cells: Any
    wrong: tuple[Wrong, ...] = ()


def read_cells(column: Column, cells: pa.Array) -> Read:
    """Read the cells of a column; texts and the columns of Parquet alike.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> from renovation.farms.columns import columns_of
        >>> crop = columns_of(demo_scenario())["stands.crop_per_tree"]
        >>> read = read_cells(crop, pa.array(["0,35", "1,500", None, "much"]))
        >>> read.cells[0], [(wrong.code, wrong.found) for wrong in read.wrong]
        (np.float64(0.35), [('ambiguous', ('1,500',)), ('not_a_number', ('much',))])
    """
    if column.is_number:
        return _numbers(cells)
    return _by_distinct(texts_of(cells), _READERS[column.kind], column)


def read_names(cells: pa.Array) -> Read:
    """Read a column of names: texts and whole numbers, without spaces around them; None where a cell is blank."""
    return _by_distinct(texts_of(cells), _name, None)


# Numbers


def _numbers(cells: pa.Array) -> Read:
    kind = cells.type
    if pa.types.is_integer(kind) or pa.types.is_floating(kind) or pa.types.is_decimal(kind):
        values = cells.cast(pa.float64(), safe=False)
        nan = pc.fill_null(pc.is_nan(values), False).to_numpy(zero_copy_only=False)
        numbers = values.to_numpy(zero_copy_only=False).astype(float)
        return Read(numbers, _wrong(np.flatnonzero(nan), "not_a_number", ["nan"] * int(nan.sum())))
    if pa.types.is_null(kind):
        return Read(np.full(len(cells), np.nan))
    texts = texts_of(cells)
    sure = pc.or_(pc.match_substring_regex(texts, ONE_READING), pc.match_substring_regex(texts, SMALL))
    sure = pc.and_(pc.fill_null(sure, False), pc.match_substring_regex(texts, "[0-9]"))
    sure = pc.fill_null(sure, False)
    numbers = pc.if_else(sure, texts, None).cast(pa.float64()).to_numpy(zero_copy_only=False).astype(float)
    others = pc.if_else(sure, None, texts)
    read = _by_distinct(others, _number, None)
    odd = np.array([np.nan if value is None else value for value in read.cells], dtype=float)
    return Read(np.where(np.isnan(numbers), odd, numbers), read.wrong)


def _number(text: str, _: Column | None) -> Any:
    """One number in text, or the code of a mistake and its facts."""
    if len(text) > LONGEST_NUMBER:
        return "not_a_number", FrozenDict()
    try:
        return read_decimal(text)
    except ScenarioError as error:
        told = error.problems[0]
        return told.code.removeprefix("typed."), FrozenDict(told.facts)


# Texts


def texts_of(cells: pa.Array) -> pa.Array:
    """Cells as texts without spaces around them, a blank one as nothing."""
    kind = cells.type
    if pa.types.is_dictionary(kind):
        return texts_of(cells.cast(kind.value_type))
    if pa.types.is_string(kind) or pa.types.is_large_string(kind):
        texts = cells
    elif pa.types.is_integer(kind):
        texts = cells.cast(pa.string())
    else:
        texts = pa.array([None if cell is None else _written(cell) for cell in cells.to_pylist()], pa.string())
    trimmed = pc.utf8_trim_whitespace(texts)
    return pc.if_else(pc.equal(trimmed, ""), None, trimmed).cast(pa.string())


def _written(cell: Any) -> str:
    """Anything else that a table holds, as a sentence quotes it."""
    if isinstance(cell, bytes):
        return repr(cell[:LONGEST_NAME])
    return as_written(cell).strip('"')


def _by_distinct(texts: pa.Array, read: Any, column: Column | None) -> Read:
    """Read each different text once. read(text, column) gives the value, or the code of a mistake and its facts."""
    coded = texts.dictionary_encode()
    codes = pc.fill_null(coded.indices, -1).to_numpy(zero_copy_only=False)
    known = coded.dictionary.to_pylist()
    answers = [read(text, column) for text in known]
    values = np.empty(len(known) + 1, dtype=object)  # the last one is that of blanks
    for place, answer in enumerate(answers):
        values[place] = None if isinstance(answer, tuple) else answer
    bad = np.array([isinstance(answer, tuple) for answer in answers] + [False])
    rows = np.flatnonzero(bad[codes])
    found = [(answers[codes[row]][0], answers[codes[row]][1], known[codes[row]], row) for row in rows]
    wrong = tuple(
        Wrong(
            np.array([row for c, _, _, row in found if c == code], dtype=np.intp),
            code,
            tuple(text for c, _, text, _ in found if c == code),
            tuple(facts for c, facts, _, _ in found if c == code),
        )
        for code in dict.fromkeys(code for code, *_ in found)
    )
    return Read(values[codes], wrong)


def _wrong(rows: IndexArray, code: str, found: Iterable[str]) -> tuple[Wrong, ...]:
    return (Wrong(rows, code, tuple(found)),) if len(rows) else ()


def _name(text: str, _: Column | None) -> Any:
    if len(text) > LONGEST_NAME:
        return "name_too_long", FrozenDict(most=LONGEST_NAME)
    if any(unicodedata.category(letter) in ("Cc", "Cs") for letter in text):
        return "name_signs", FrozenDict()
    return text


def _month(text: str, _: Column | None) -> Any:
    return text if re.fullmatch(MONTH_PATTERN, text) and "\n" not in text else ("not_a_month", FrozenDict())


def _yes_no(text: str, _: Column | None) -> Any:
    return YES_NO.get(text.casefold(), ("not_yes_no", FrozenDict()))


def _keys(text: str, column: Column | None) -> Any:
    """Keys of techniques, parted by spaces, commas or semicolons."""
    known = tuple(column.facts["choices"]) if column else ()
    keys = list(dict.fromkeys(key for key in re.split(r"[\s,;]+", text) if key))
    unknown = next((key for key in keys if key not in known), None)
    if unknown is None:
        return " ".join(keys)
    return "unknown_technique", FrozenDict(like=unknown, choices=known)


_READERS = {"text": _name, "month": _month, "yes_no": _yes_no, "list": _keys}


def holds(column: Column, values: Any) -> BoolArray:
    """(rows,) whether each number lies within a column's bounds; blanks do."""
    limit, inside = column.bounds, np.isnan(values)
    above = True if limit.lower is None else (values > limit.lower if limit.lower_open else values >= limit.lower)
    below = True if limit.upper is None else (values < limit.upper if limit.upper_open else values <= limit.upper)
    found: BoolArray = inside | (above & below)
    return found


def blank(values: Any) -> BoolArray:
    """(rows,) where nothing stands."""
    return np.asarray(pd.isna(values), dtype=bool)
