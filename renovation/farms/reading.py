"""Tables from files: Parquet by row groups, CSV by blocks, each farm whole, whatever the order of the rows."""

import codecs
import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv
import pyarrow.parquet

from renovation.farms.cells import texts_of
from renovation.farms.columns import FARM
from renovation.inputs import Problem, ScenarioError
from renovation.inputs.errors import as_written
from renovation.inputs.quantities import FrozenDict
from renovation.types import IndexArray

ROWS = 65_536
"""Rows that are in memory at once, beside those of farms whose rows are apart."""
BLOCK = 1 << 23
ENCODINGS = ("utf-8", "cp1252")
MARKS = {codecs.BOM_UTF8: "utf-8", codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16"}
Hashes = npt.NDArray[np.uint64]


@dataclass
class BadRow:
    """A row of a CSV that has more or fewer cells than there are columns. number: from 1, the head not counted."""

    number: int
    farm: str
    found: str
    cells: int


@dataclass
class Source:
    """A table as a file, or as rows in memory. encoding: of a CSV, the one in which it was read."""

    name: str
    columns: tuple[str, ...]
    path: Path | None = None
    frame: pa.Table | None = None
    encoding: str = ""
    delimiter: str = ","
    bad_rows: list[BadRow] = field(default_factory=list)

    @property
    def is_csv(self) -> bool:
        """Whether the cells are texts."""
        return bool(self.encoding)

    def pieces(self, columns: Sequence[str] | None = None) -> Iterator[pa.Table]:
        """The rows in turn, some thousands at a time, of all columns or of some.

        Errors: ScenarioError for a file that breaks off or cannot be read on.
        """
        try:
            if self.frame is not None:
                whole = self.frame.select(list(columns or self.columns))
                yield from (whole.slice(first, ROWS) for first in range(0, max(len(whole), 1), ROWS))
            elif self.is_csv:
                yield from self._csv(columns)
            else:
                file = pyarrow.parquet.ParquetFile(self.path)
                for batch in file.iter_batches(ROWS, columns=list(columns) if columns else None):
                    yield pa.Table.from_batches([batch])
        except (pa.ArrowException, OSError, UnicodeError):
            refuse_file(self.name, "breaks_off")

    def _csv(self, columns: Sequence[str] | None) -> Iterator[pa.Table]:
        self.bad_rows.clear()
        reader = pyarrow.csv.open_csv(
            self.path,
            pyarrow.csv.ReadOptions(use_threads=False, block_size=BLOCK, encoding=self.encoding),
            pyarrow.csv.ParseOptions(
                delimiter=self.delimiter, newlines_in_values=True, invalid_row_handler=self._bad_row
            ),
            pyarrow.csv.ConvertOptions(
                column_types=dict.fromkeys(self._written, pa.string()), strings_can_be_null=False, check_utf8=True
            ),
        )
        for batch in reader:
            piece = pa.Table.from_batches([batch]).rename_columns([name.strip() for name in batch.schema.names])
            yield piece.select(list(columns or self.columns))

    _written: tuple[str, ...] = ()
    """The columns as the head of a CSV has them, spaces and all."""

    def _bad_row(self, row: Any) -> str:
        cells = next(csv.reader([row.text], delimiter=self.delimiter), [])
        place = self.columns.index(FARM) if FARM in self.columns else 0
        farm = cells[place].strip() if place < len(cells) else ""
        self.bad_rows.append(BadRow((row.number or 1) - 1, farm, row.text[:200], row.actual_columns))
        return "skip"

    @property
    def metadata(self) -> dict[str, str]:
        """What a Parquet file says of itself."""
        if self.path is None or self.is_csv:
            return {}
        said = pyarrow.parquet.read_schema(self.path).metadata or {}
        return {key.decode("utf-8", "replace"): value.decode("utf-8", "replace") for key, value in said.items()}


def open_table(table: str | Path | pd.DataFrame, name: str = "") -> Source:
    """Open a table: Parquet, CSV, or rows in memory.

    A CSV is read as UTF-8 or UTF-16, else as Windows-1252; its cells are parted by semicolons, tabs or commas.

    Errors: ScenarioError for a file that is missing, a folder, no table, empty, or names a column twice.
    """
    if isinstance(table, pd.DataFrame):
        return Source(name or "stands", tuple(map(str, table)), frame=_of_frame(table))
    path = Path(table)
    name = path.name or str(path)
    if path.is_dir():
        refuse_file(name, "is_folder")
    try:
        with path.open("rb") as file:
            head = file.read(BLOCK)
    except FileNotFoundError:
        refuse_file(name, "missing")
    except OSError:
        refuse_file(name, "cannot_open")
    if not head.strip():
        refuse_file(name, "empty")
    if head.startswith(b"PAR1"):
        return _parquet(path, name)
    return _opened_csv(path, name, head)


def _parquet(path: Path, name: str) -> Source:
    try:
        columns = tuple(pyarrow.parquet.read_schema(path).names)
    except (pa.ArrowException, OSError):
        refuse_file(name, "breaks_off")
    _once(name, columns)
    return Source(name, columns, path)


def _opened_csv(path: Path, name: str, head: bytes) -> Source:
    """A CSV whose encoding and parting sign are found out."""
    encoding = next((known for mark, known in MARKS.items() if head.startswith(mark)), "")
    if not encoding and b"\0" in head:
        refuse_file(name, "no_table")
    encoding = encoding or next((known for known in ENCODINGS if _decodes(path, known)), "")
    if not encoding:
        refuse_file(name, "encoding")
    try:
        text = codecs.getincrementaldecoder(encoding)().decode(head).removeprefix("\ufeff")
    except UnicodeError:
        refuse_file(name, "encoding")
    first = io.StringIO(text, newline=None).readline()
    delimiter = next((sign for sign in ";\t" if sign in first), ",")
    try:
        written = next(csv.reader([first], delimiter=delimiter, strict=True), [])
    except csv.Error:
        refuse_file(name, "breaks_off")
    columns = tuple(column.strip() for column in written)
    _once(name, columns)
    return Source(name, columns, path, encoding=encoding, delimiter=delimiter, _written=tuple(written))


def _decodes(path: Path, encoding: str) -> bool:
    """Whether a whole file can be read in an encoding."""
    decoder = codecs.getincrementaldecoder(encoding)()
    try:
        with path.open("rb") as file:
            while block := file.read(BLOCK):
                decoder.decode(block)
        decoder.decode(b"", final=True)
    except UnicodeError:
        return False
    return True


def _once(name: str, columns: Sequence[str]) -> None:
    twice = next((column for column in columns if columns.count(column) > 1), None)
    if twice is not None:
        refuse_file(name, "column_twice", twice)


def _of_frame(table: pd.DataFrame) -> pa.Table:
    """Rows in memory as an arrow table; a column of many kinds of things as texts."""
    columns = {}
    for path in table:
        cells: Any = table[path]
        if cells.dtype == object:
            written = [cell if isinstance(cell, str) else as_written(cell) for cell in cells]
            texts = [
                None if pd.isna(c) is True else w.encode("utf-8", "replace").decode()
                for c, w in zip(cells, written, strict=True)
            ]
            columns[str(path)] = pa.array(texts, pa.string())
        else:
            columns[str(path)] = pa.array(cells, from_pandas=True)
    return pa.table(columns)


def refuse_file(name: str, code: str, found: str = "", **facts: Any) -> NoReturn:
    """Refuse a table as a whole."""
    raise ScenarioError([Problem(name, "", f"farms.file.{code}", found, FrozenDict(facts))])


# Whole farms


@dataclass(frozen=True)
class Chunk:
    """Rows of whole farms, those of a farm together. rows: (rows,) their numbers in the file, from 1."""

    table: pa.Table
    names: pa.Array
    rows: npt.NDArray[np.int64]


def hashes(names: pa.Array) -> Hashes:
    """(rows,) a number for each name, the same for the same one; blanks share one."""
    coded = names.dictionary_encode()
    known = pd.util.hash_array(coded.dictionary.to_numpy(zero_copy_only=False).astype(object))
    places = pc.fill_null(coded.indices, len(known)).to_numpy(zero_copy_only=False)
    found: Hashes = np.append(known, np.uint64(0))[places]
    return found


def whole_farms(source: Source) -> Iterator[Chunk]:
    """The rows of a table, farm by farm as they come, then those of the farms whose rows are apart.

    In memory are some thousands of rows, 8 bytes for each farm, and all rows of the farms whose rows are apart: a table
    sorted by farm needs the least, one that is shuffled stands in memory whole.

    Errors: as of `Source.pieces`.
    """
    apart = _apart(source)
    carried: Chunk | None = None
    held: list[Chunk] = []
    first = 1
    for table in source.pieces():
        names = texts_of(table[FARM].combine_chunks())
        piece = Chunk(table, names, np.arange(first, first + len(table)))
        first += len(table)
        if len(apart):
            away = np.isin(hashes(names), apart)
            held += [_taken(piece, np.flatnonzero(away))] if away.any() else []
            piece = _taken(piece, np.flatnonzero(~away))
        piece = piece if carried is None else _joined([carried, piece])
        if not len(piece.rows):
            continue
        ends = int(_starts(hashes(piece.names))[-1])
        carried = _slice(piece, ends, len(piece.rows))
        if ends:
            yield _slice(piece, 0, ends)
    if carried is not None and len(carried.rows):
        yield carried
    if held:
        yield _gathered(_joined(held))


def _apart(source: Source) -> Hashes:
    """The farms that come in more than one run of rows."""
    found: list[Hashes] = []
    last = None
    for table in source.pieces([FARM]):
        marks = hashes(texts_of(table[FARM].combine_chunks()))
        runs = marks[_starts(marks)]
        found.append(runs[1:] if len(runs) and last == runs[0] else runs)
        last = marks[-1] if len(marks) else last
    every, counts = np.unique(np.concatenate(found), return_counts=True) if found else (np.array([], np.uint64), [])
    several: Hashes = every[np.asarray(counts) > 1]
    return several


def _starts(marks: Hashes) -> IndexArray:
    """Where each run of equal marks begins."""
    return np.flatnonzero(np.diff(marks, prepend=marks[:1] ^ np.uint64(1)))


def _gathered(chunk: Chunk) -> Chunk:
    """The rows of each farm brought together, farms in the order in which they first come."""
    order = np.argsort(pd.factorize(hashes(chunk.names))[0], kind="stable")
    return _taken(chunk, order)


def _taken(chunk: Chunk, places: Any) -> Chunk:
    return Chunk(chunk.table.take(pa.array(places)), chunk.names.take(pa.array(places)), chunk.rows[places])


def _slice(chunk: Chunk, first: int, end: int) -> Chunk:
    length = end - first
    return Chunk(chunk.table.slice(first, length), chunk.names.slice(first, length), chunk.rows[first:end])


def _joined(chunks: list[Chunk]) -> Chunk:
    tables = pa.concat_tables([chunk.table for chunk in chunks], promote_options="permissive")
    names = pa.concat_arrays([chunk.names for chunk in chunks])
    return Chunk(tables, names, np.concatenate([chunk.rows for chunk in chunks]))
