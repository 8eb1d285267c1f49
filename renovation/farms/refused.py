"""Farms that are set aside: which cell, what was found there, and one sentence on what would be accepted."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from renovation.farms.columns import FARM, STAND, Column
from renovation.inputs.errors import Problem, quoted
from renovation.inputs.quantities import FrozenDict
from renovation.words import Words

TOLD = (FARM, STAND, "column", "found", "accepted", "row")
"""Columns of `refused.csv`; `row` counts the rows of the table from 1, its head not counted."""
CODE, FACTS = "code", "facts"
NO_FACTS: Mapping[str, Any] = FrozenDict()


class Refusals:
    """Mistakes as they are found, each with its farm."""

    def __init__(self) -> None:
        """Begin with none."""
        self._parts: list[pd.DataFrame] = []

    def add(self, column: str, code: str, cells: Mapping[str, Any], facts: Sequence[Mapping[str, Any]] = ()) -> None:
        """Note the mistakes of one kind in one column.

        cells: `farm`, and where they are known `stand`, `found` and `row`, each (mistakes,) or one for all. facts:
        those of each sentence, none where the column says all.
        """
        length = len(cells[FARM])
        if not length:
            return
        given = {STAND: "", "found": "", "row": 0, **cells, "column": column, CODE: code}
        given[FACTS] = [FrozenDict(fact) for fact in facts] or [NO_FACTS] * length
        self._parts.append(pd.DataFrame({name: _objects(cell, length) for name, cell in given.items()}))

    def table(self) -> pd.DataFrame:
        """Every mistake, a row each: farm, stand, column, found, row, code and facts, by row of the table."""
        if not self._parts:
            return pd.DataFrame(columns=[FARM, STAND, "column", "found", "row", CODE, FACTS])
        found = pd.concat(self._parts, ignore_index=True)
        return found.assign(row=found["row"].astype(int)).sort_values("row", kind="stable", ignore_index=True)


def _objects(cell: Any, length: int) -> "pd.Series[Any]":
    """(mistakes,) what stands in a column, one thing for all repeated."""
    return pd.Series([cell] * length if isinstance(cell, str | int) else list(cell), dtype=object)


def told(mistakes: pd.DataFrame, columns: Mapping[str, Column], words: Words) -> pd.DataFrame:
    """The mistakes as a person reads them, `TOLD`, what is accepted a sentence; each different one is made once.

    columns: those that the tables may have, whose bounds and units the sentences say.
    """
    keys = list(zip(mistakes["column"], mistakes[CODE], mistakes[FACTS], strict=True))
    said = {key: _accepted(*key, columns, words) for key in dict.fromkeys(keys)}
    quotes = {cell: quoted(str(cell)) for cell in mistakes["found"].unique()}
    accepted = pd.Series([said[key] for key in keys], index=mistakes.index, dtype=object)
    return mistakes.assign(accepted=accepted, found=mistakes["found"].map(quotes))[list(TOLD)]


def _accepted(path: str, code: str, facts: Mapping[str, Any], columns: Mapping[str, Column], words: Words) -> str:
    """What would be accepted, in one sentence."""
    own = columns[path].facts if path in columns else {}
    return Problem("", path, f"farms.refused.{code}", "", FrozenDict({**own, **facts})).sentence(words).strip()


def sentence(mistake: Mapping[str, Any], words: Words) -> str:
    """One refused cell in full: where, what was found, what would be accepted."""
    where = words.listing([quoted(str(part)) for part in (mistake[FARM], mistake[STAND]) if part])
    facts = {"where": where, "column": mistake["column"], "found": mistake["found"], "accepted": mistake["accepted"]}
    code = "line" if mistake["found"] else "line_blank"
    return words(f"farms.refused_{code}", **facts)


def farms_of(mistakes: pd.DataFrame) -> int:
    """How many farms are refused: those with a name, and each row without one."""
    named = mistakes[FARM].to_numpy(dtype=object) != ""
    return int(mistakes[FARM][named].nunique() + mistakes["row"][~named].nunique())


def picked(values: Any, rows: Any) -> list[str]:
    """Texts at some rows, nothing where they are blank."""
    return [cell if isinstance(cell, str) else "" for cell in values[np.asarray(rows, dtype=int)]]
