"""What comes out of a run: its parts in one table, sorted by farm, whatever order they were worked on in.

Memory holds the rows of a few parts at a time, not those of all farms.
"""

import io
import itertools
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv
import pyarrow.parquet as pq

from renovation.farms.batch import FARM, STAND
from renovation.farms.parts import HOW, Part, Parts, write_beside

MOST_IN_A_SHEET = 1_048_575
"""Rows below the head that a spreadsheet takes, 2^20 − 1 (Office Open XML files as spreadsheet programs bound them)."""
GROUP = 100_000
"""Rows that stand together in a Parquet file."""
AT_ONCE = 1_000_000
"""Rows that are sorted at once, more or less."""
FORMULA = r"^[=+\-@\t\r]"
"""What a spreadsheet would read as a formula, as `show/tidy.py` has it."""


def sorted_rows(parts: Parts, table: str, most: int = AT_ONCE) -> Iterator[pa.Table]:
    """A table of all parts in pieces, by farm and stand; a farm is never in two of them.

    Parts whose farms' names overlap are read together; where these have more than `most` rows, a range of names at a
    time.
    """
    having = parts.of(table)
    schema = schema_of(parts, table)
    for together in _overlapping(having):
        for low, high in _ranges(parts, table, together, most):
            read = [_between(parts.path(part.number, table), part, low, high) for part in together]
            rows = pa.concat_tables([one.select(_known(one, schema)) for one in read], promote_options="permissive")
            for name in schema.names:
                if name not in rows.column_names:
                    rows = rows.append_column(name, pa.nulls(len(rows), schema.field(name).type))
            rows = rows.select(schema.names).cast(schema)
            if len(rows):
                yield rows.take(_order(rows))


def _known(rows: pa.Table, schema: pa.Schema) -> list[str]:
    return [name for name in schema.names if name in rows.column_names]


def _order(rows: pa.Table) -> pa.Array:
    """Places of the rows by farm and stand; rows of one stand keep their order."""
    keys = {name: rows.column(name) for name in (FARM, STAND) if name in rows.column_names}
    place = pa.array(np.arange(len(rows)))
    table = pa.table({**keys, "": place})
    return pc.sort_indices(table, sort_keys=[(name, "ascending") for name in (*keys, "")])


def schema_of(parts: Parts, table: str) -> pa.Schema:
    """The columns of all parts: one that is blank in all of a part takes its type from another."""
    found = dict.fromkeys(pq.read_schema(parts.path(part.number, table)).remove_metadata() for part in parts.of(table))
    return pa.unify_schemas(list(found), promote_options="permissive")


def _overlapping(having: list[Part]) -> Iterator[list[Part]]:
    """Parts whose farms' names lie between each other's, together."""
    together: list[Part] = []
    last = ""
    for part in having:
        if together and part.first > last:
            yield together
            together = []
        together.append(part)
        last = part.last if len(together) == 1 else max(last, part.last)
    if together:
        yield together


def _ranges(parts: Parts, table: str, together: list[Part], most: int) -> Iterator[tuple[str | None, str | None]]:
    """Ranges of names, low < name ≤ high, that hold about `most` rows each; None where they are open."""
    paths = [parts.path(part.number, table) for part in together]
    rows = sum(parts.rows(part, table) for part in together)
    cuts = -(-rows // most)
    ends: list[str | None] = [None]
    if cuts > 1:
        names = pa.concat_tables([pq.read_table(path, columns=[FARM]) for path in paths]).column(FARM)
        ordered = names.take(pc.sort_indices(names))
        ends += list(dict.fromkeys(ordered[rows * cut // cuts].as_py() for cut in range(1, cuts)))
    ends.append(None)
    yield from itertools.pairwise(ends)


def _between(path: Path, part: Part, low: str | None, high: str | None) -> pa.Table:
    """The rows of a part within a range of names."""
    inside = [(FARM, ">", low)] * (low is not None and part.first <= low)
    inside += [(FARM, "<=", high)] * (high is not None and part.last > high)
    outside = (low is not None and part.last <= low) or (high is not None and part.first > high)
    if outside:
        return pq.read_schema(path).empty_table()
    return pq.read_table(path, filters=inside or None).replace_schema_metadata(None)


class Written:
    """A table on its way into a Parquet file, and into a CSV file where a spreadsheet takes it.

    Both are written beside their places and put there when the table is whole.
    """

    def __init__(self, folder: Path, name: str, schema: pa.Schema, *, sheet: bool) -> None:
        """Nothing yet. schema: the columns. sheet: whether a CSV file is written too."""
        self.places = [folder / f"{name}.parquet"] + [folder / f"{name}.csv"] * sheet
        self.beside = [place.with_name(f".{place.name}.part") for place in self.places]
        self.held = schema.empty_table()
        self.writers: list[Any] = [pq.ParquetWriter(self.beside[0], schema, **HOW)]
        if sheet:
            self.writers.append(pyarrow.csv.CSVWriter(self.beside[1], flat(self.held).schema, write_options=AS_CSV))

    def __enter__(self) -> "Written":
        """Nothing yet."""
        return self

    def add(self, rows: pa.Table) -> None:
        """Write rows, as many at a time as stand together: the file is the same however they come."""
        self.held = pa.concat_tables([self.held, rows])
        while len(self.held) >= GROUP:
            self._write(self.held.slice(0, GROUP))
            self.held = self.held.slice(GROUP)

    def _write(self, rows: pa.Table) -> None:
        for place, writer in enumerate(self.writers):
            writer.write_table(guarded(flat(rows)) if place else rows.combine_chunks())

    def __exit__(self, kind: object, *_: object) -> None:
        """Put the files in place, or take them away where something failed."""
        try:
            if kind is None and len(self.held):
                self._write(self.held)
            for writer in self.writers:
                writer.close()
            if kind is None:
                for beside, place in zip(self.beside, self.places, strict=True):
                    if beside.exists():
                        beside.replace(place)
        finally:
            for beside in self.beside:
                beside.unlink(missing_ok=True)


AS_CSV = pyarrow.csv.WriteOptions(quoting_style="needed")


def flat(rows: pa.Table) -> pa.Table:
    """A table in which several numbers in a cell are a text, joined by a space, and blank columns are texts.

    Example:
        >>> flat(pa.table({"irr_roots": [[0.25, 0.5], []]})).to_pylist()
        [{'irr_roots': '0.25 0.5'}, {'irr_roots': ''}]
    """
    for place, field in enumerate(rows.schema):
        column = rows.column(place)
        if pa.types.is_list(field.type):
            column = pc.binary_join(column.cast(pa.list_(pa.string())), " ")
        elif pa.types.is_null(field.type):
            column = column.cast(pa.string())
        rows = rows.set_column(place, field.with_type(column.type), column)
    return rows


def guarded(rows: pa.Table) -> pa.Table:
    """A table in which no text is read as a formula by a spreadsheet: an apostrophe stands before those that would be.

    Example:
        >>> guarded(pa.table({"farm": ["=1+1", "Hill"], "npv": [-1.0, 2.0]})).to_pylist()
        [{'farm': "'=1+1", 'npv': -1.0}, {'farm': 'Hill', 'npv': 2.0}]
    """
    for place, kind in enumerate(rows.schema.types):
        if pa.types.is_string(kind) or pa.types.is_large_string(kind):
            texts = rows.column(place)
            apart = pc.binary_join_element_wise(pa.scalar("'", kind), texts, pa.scalar("", kind))
            safe = pc.if_else(pc.match_substring_regex(texts, FORMULA), apart, texts)
            rows = rows.set_column(place, rows.schema.field(place), safe)
    return rows


def sheet(path: Path, table: pd.DataFrame) -> None:
    """Write a small table as CSV, its texts guarded, whole or not at all."""
    out = io.BytesIO()
    plain = pa.Table.from_pandas(table, preserve_index=False).replace_schema_metadata(None)
    pyarrow.csv.write_csv(guarded(flat(plain)), out, AS_CSV)
    write_beside(path, out.getvalue())


class Best:
    """The rows with most of something, a bounded number of them, whatever order they come in.

    Example (the two with most, equal ones by name):
        >>> best = Best("gain", 2)
        >>> best.add(pd.DataFrame({"farm": ["b", "a", "c"], "gain": [1.0, 1.0, 5.0]}))
        >>> best.rows["farm"].tolist()
        ['c', 'a']
    """

    def __init__(self, column: str, most: int) -> None:
        """None yet."""
        self.column, self.most = column, most
        self.rows = pd.DataFrame()

    def add(self, rows: pd.DataFrame) -> None:
        """Take in rows, and leave out those that are not among the first any more."""
        both = pd.concat([self.rows, rows], ignore_index=True) if len(self.rows) else rows
        ordered = both.sort_values([self.column, FARM], ascending=[False, True], kind="stable", ignore_index=True)
        self.rows = ordered.head(self.most)
