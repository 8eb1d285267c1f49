"""Parts of a run: the tables of each finished batch, whole or not there at all.

A part is one Parquet file a table and, written last, a small file that says how long each of them is. Only what that
file vouches for counts: whatever ends a run, what it leaves can be gone on from.
"""

import io
import json
import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from renovation.farms.batch import FARM

if TYPE_CHECKING:
    from renovation.farms.engine import Done

Tables = dict[str, bytes]
"""Tables by name, each as Parquet."""


NOTHING_LISTED = pa.list_(pa.null())


def encoded(table: pd.DataFrame) -> bytes:
    """A table as Parquet; what is named in its index becomes columns."""
    named = [name for name in table.index.names if name is not None]
    plain = pa.Table.from_pandas(table.reset_index() if named else table, preserve_index=False)
    for place, field in enumerate(plain.schema):
        if field.type == NOTHING_LISTED:  # none of its cells holds a number: those of other parts may
            plain = plain.set_column(place, field.name, plain.column(place).cast(pa.list_(pa.float64())))
    return parquet(plain.replace_schema_metadata(None))


def parquet(table: pa.Table) -> bytes:
    """The same for a table of Arrow."""
    out = io.BytesIO()
    pq.write_table(table, out, **HOW)
    return out.getvalue()


HOW: dict[str, Any] = {"compression": "snappy", "use_dictionary": [FARM, "stand", "way"], "write_statistics": [FARM]}
"""How tables are written: numbers as they are, names once."""


def joined(parts: Sequence[Tables]) -> Tables:
    """Tables of the same names, one below the other."""
    if len(parts) == 1:
        return parts[0]
    names = dict.fromkeys(name for part in parts for name in part)
    return {name: parquet(_below(part[name] for part in parts if name in part)) for name in names}


def _below(tables: Iterable[bytes]) -> pa.Table:
    read = [pq.read_table(pa.BufferReader(table)) for table in tables]
    return pa.concat_tables(read, promote_options="permissive")


@dataclass(frozen=True)
class Part:
    """What is known of a part without reading it. first, last: of its farms' names; blank where it has none.

    bytes: of each table. rows: of the table "farms". aside: farms set aside, each with why and what was said.
    """

    number: int
    farms: int
    rows: int
    first: str
    last: str
    seconds: float
    bytes: dict[str, int]
    aside: tuple[tuple[str, str, str], ...]


class Parts:
    """The parts in a folder, which is made where it is not there.

    Errors: OSError where the folder cannot be made or written; then no part is there in half.
    """

    def __init__(self, folder: Path) -> None:
        """What is whole in the folder; what is not is taken away."""
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        self.whole: dict[int, Part] = {}
        for path in sorted(folder.glob("*.json")):
            part = _read(path)
            if part is not None and all(self._length(part.number, name) == size for name, size in part.bytes.items()):
                self.whole[part.number] = part
        kept = {path for part in self.whole.values() for path in self._paths(part)}
        for path in folder.iterdir():
            if path not in kept:
                path.unlink()

    def write(self, done: "Done") -> Part:
        """Put a finished batch there."""
        names = _names(done.tables.get("farms"))
        sizes = {name: len(table) for name, table in done.tables.items()}
        aside = tuple((one.farm, one.why, one.what) for one in done.aside)
        ends = (names[0], names[-1]) if names else ("", "")
        rows = pq.read_metadata(pa.BufferReader(done.tables["farms"])).num_rows if "farms" in done.tables else 0
        part = Part(done.number, done.farms, rows, *ends, done.seconds, sizes, aside)
        for name, table in done.tables.items():
            write_beside(self.path(part.number, name), table)
        write_beside(self._note(part.number), json.dumps(vars(part)).encode("ascii"))
        self.whole[part.number] = part
        return part

    def path(self, number: int, table: str) -> Path:
        """Where a table of a part stands."""
        return self.folder / f"{number:06d}.{table}.parquet"

    def of(self, table: str) -> list[Part]:
        """The parts that have a table, in the order of their farms' names."""
        return sorted((part for part in self.whole.values() if table in part.bytes), key=lambda part: part.first)

    def rows(self, part: Part, table: str) -> int:
        """How many rows a table of a part has."""
        return int(pq.read_metadata(self.path(part.number, table)).num_rows)

    def remove(self) -> None:
        """Take all away, once nobody needs it any more."""
        for path in self.folder.iterdir():
            path.unlink()
        self.folder.rmdir()

    def _note(self, number: int) -> Path:
        return self.folder / f"{number:06d}.json"

    def _paths(self, part: Part) -> list[Path]:
        return [self._note(part.number), *(self.path(part.number, name) for name in part.bytes)]

    def _length(self, number: int, name: str) -> int:
        path = self.path(number, name)
        return path.stat().st_size if path.exists() else -1


def _names(table: bytes | None) -> list[str]:
    """The lowest and the highest of the farms' names in a table."""
    if table is None:
        return []
    column = pq.read_table(pa.BufferReader(table), columns=[FARM]).column(FARM)
    ends = [] if not len(column) else [min(column.unique().to_pylist()), max(column.unique().to_pylist())]
    return [str(end) for end in ends]


def _read(path: Path) -> Part | None:
    """What a small file says of its part; None where it is not whole."""
    try:
        told = json.loads(path.read_bytes())
        return Part(**{**told, "aside": tuple(map(tuple, told["aside"]))})
    except (ValueError, TypeError, KeyError):
        return None


def write_beside(path: Path, content: bytes) -> None:
    """Write a file beside its place and give it its name once it is whole."""
    beside = path.with_name(f".{path.name}.part")
    try:
        beside.write_bytes(content)
        os.replace(beside, path)
    finally:
        beside.unlink(missing_ok=True)
