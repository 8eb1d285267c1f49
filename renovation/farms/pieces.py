"""Rows of whole farms made into a batch: every cell read and checked, what is wrong noted with its farm."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa

from renovation.farms.batch import Batch
from renovation.farms.bounds import mistakes
from renovation.farms.cells import blank, read_cells, read_names
from renovation.farms.columns import FARM, NAMES, STAND, VILLAGE, columns_of
from renovation.farms.refused import Refusals, picked
from renovation.farms.rules import findings
from renovation.farms.tallies import spread
from renovation.inputs import Scenario
from renovation.types import BoolArray

ROW = "row"


@dataclass
class Rows:
    """Rows of one table, a farm's or a stand's: cells as arrow arrays by path, farm names, numbers in the file.

    read: what was read of the cells, by path. wrong: farms that are refused already.
    """

    cells: Mapping[str, pa.Array]
    farms: Any
    numbers: Any
    stands: Any = None
    read: dict[str, Any] = field(default_factory=dict)
    wrong: frozenset[str] = frozenset()

    def where(self, rows: Any, found: Any = "") -> dict[str, Any]:
        """What a refusal says of some rows."""
        stands = picked(self.stands, rows) if self.stands is not None else ""
        return {FARM: picked(self.farms, rows), STAND: stands, "found": found, "row": self.numbers[rows]}


class Piece:
    """Some thousands of rows of farms of one template."""

    def __init__(self, template: Scenario, stands: Rows, farms: Rows, refusals: Refusals) -> None:
        """Take rows whose farm is named: all of `stands`, a row a farm in `farms`, in one order of farms."""
        self.template, self.refusals = template, refusals
        self.columns = columns_of(template)
        self.stands, self.farms = stands, farms
        self.wrong = set(farms.wrong)

    def batch(self, sure: bool = False) -> Batch:
        """The farms in which nothing is wrong. sure: they were checked before, and are only read."""
        read = self.stands.stands = self._names()
        for rows in (self.stands, self.farms):
            for path in self._known(rows):
                self._read(rows, path)
        if not sure:
            self._bounds(self.stands)
            self._bounds(self.farms)
        self._of_farms()
        batch = self._without(self._made(read))
        if not sure:
            for finding in findings(batch):
                self._refuse_found(batch, finding)
            batch = self._without(batch)
        return Batch(batch.template, batch.farms, batch.stands.drop(columns=ROW))

    # Cells

    def _refuse(self, rows: Rows, places: Any, column: str, code: str, found: Any = "", facts: Any = ()) -> None:
        where = rows.where(np.asarray(places, dtype=int), found)
        self.refusals.add(column, code, where, facts)
        self.wrong.update(where[FARM])

    def _names(self) -> Any:
        """(stands,) what each stand is called."""
        read = read_names(self.stands.cells[STAND])
        names, self.stands.stands = read.cells, read.cells
        self._note(self.stands, STAND, read)
        self._refuse(self.stands, np.flatnonzero(blank(names) & ~_in(read, len(names))), STAND, "blank")
        return names

    def _known(self, rows: Rows) -> Iterator[str]:
        """The columns of a table that this template knows; what is stated in others is refused."""
        for path, cells in rows.cells.items():
            if path in NAMES:
                continue
            column = self.columns.get(path)
            if column is not None and (rows is self.stands or not column.of_stand):
                yield path
                continue
            stated = np.flatnonzero(~blank(read_names(cells).cells))
            facts = {"like": path, "choices": tuple(self.columns)}
            code = "not_of_template" if column is None else "of_a_stand"
            self._refuse(rows, stated, path, code, facts=[facts] * len(stated))

    def _read(self, rows: Rows, path: str) -> None:
        read = read_cells(self.columns[path], rows.cells[path])
        rows.read[path] = read.cells
        self._note(rows, path, read)

    def _note(self, rows: Rows, path: str, read: Any) -> None:
        for wrong in read.wrong:
            self._refuse(rows, wrong.rows, path, wrong.code, list(wrong.found), wrong.facts)

    def _bounds(self, rows: Rows) -> None:
        """The checks of whole columns."""
        known = [self.columns[path] for path in rows.read if self.columns[path].is_number]
        numbers = pd.DataFrame({column.path: rows.read[column.path] for column in known})
        for path, code, places in mistakes(numbers, known) if len(numbers) else ():
            found = [f"{value:.10g}" for value in rows.read[path][places]]
            self._refuse(rows, places, path, code, found)

    # Farms

    def _of_farms(self) -> None:
        """What the table of stands says of farms: once, or the same on every row of a farm."""
        place = pd.Index(self.farms.farms).get_indexer(pd.Index(self.stands.farms))
        for path in [path for path in self.stands.read if not self.columns[path].of_stand]:
            values = self.stands.read.pop(path)
            stated = np.flatnonzero(~blank(values))
            first = pd.Series(values[stated]).groupby(place[stated]).first()
            found = first.reindex(range(len(self.farms.farms))).to_numpy()
            other = stated[values[stated] != found[place[stated]]]
            said = [_written(value) for value in values[other]]
            facts = [{"first": _written(found[place[row]])} for row in other]
            self._refuse(self.stands, other, path, "differs", said, facts)
            if path in self.farms.read:
                own = self.farms.read[path]
                twice = np.flatnonzero(~blank(own) & ~blank(found))
                self._refuse(self.farms, twice, path, "in_both", [_written(value) for value in own[twice]])
                found = np.where(blank(own), found, own)
            self.farms.read[path] = found

    def _made(self, names: Any) -> Batch:
        """A batch of all that was read, walks spread out into classes."""
        order = [path for path in self.columns if path in self.farms.read or path in self.stands.read]
        farms = {path: self.farms.read[path] for path in order if path in self.farms.read}
        stands = {path: self.stands.read[path] for path in order if path in self.stands.read}
        for path in ("stands.techniques", "stands.part_of"):
            if path in stands:
                stands[path] = _objects(stands[path])
        if VILLAGE in self.farms.cells or VILLAGE in self.stands.cells:
            farms = {VILLAGE: self._villages(), **farms}
        named = {FARM: _objects(self.stands.farms), STAND: _objects(names), ROW: self.stands.numbers}
        table = pd.DataFrame({**named, **stands})
        sound = np.array([farm not in self.wrong for farm in self.stands.farms], dtype=bool)
        table, told = spread(table[sound], self.template)
        for code, column, places, found in told:
            self._refuse(self.stands, places, column, code, found)
        index = pd.Index(self.farms.farms, dtype=object, name=FARM)
        return Batch(self.template, pd.DataFrame(farms, index=index), table)

    def _villages(self) -> Any:
        """(farms,) the village of each farm: from its own row, else from the first of its stands that names one."""
        own = np.full(len(self.farms.farms), None, dtype=object)
        place = pd.Index(self.farms.farms).get_indexer(pd.Index(self.stands.farms))
        for rows, where in ((self.stands, place), (self.farms, np.arange(len(own)))):
            if VILLAGE in rows.cells:
                read = read_names(rows.cells[VILLAGE])
                self._note(rows, VILLAGE, read)
                stated = np.flatnonzero(~blank(read.cells))[::-1]
                own[where[stated]] = read.cells[stated]
        return own

    def _without(self, batch: Batch) -> Batch:
        """The batch without the farms in which something is wrong."""
        if not self.wrong:
            return batch
        sound = np.array([farm not in self.wrong for farm in batch.farms.index], dtype=bool)
        stands = batch.stands[sound[batch.farm_of_stand]].reset_index(drop=True)
        return Batch(batch.template, batch.farms[sound], stands)

    def _refuse_found(self, batch: Batch, finding: Any) -> None:
        """Note what stands between the cells of some farms."""
        if finding.of_stand:
            rows = batch.stands.iloc[finding.rows]
            where = {FARM: list(rows[FARM]), STAND: list(rows[STAND]), "row": rows[ROW].to_numpy()}
        else:
            where = {FARM: list(batch.farms.index[finding.rows])}
            first = pd.Series(self.farms.numbers, index=pd.Index(self.farms.farms))
            where["row"] = first.loc[where[FARM]].to_numpy()
        self.refusals.add(finding.column, finding.code, {**where, "found": list(finding.found)}, finding.facts)
        self.wrong.update(where[FARM])


def _in(read: Any, length: int) -> BoolArray:
    """(rows,) where a cell was read and refused."""
    found = np.zeros(length, dtype=bool)
    for wrong in read.wrong:
        found[wrong.rows] = True
    return found


def _objects(values: Any) -> Any:
    return pd.Series(values, dtype=object).to_numpy()


def _written(value: Any) -> str:
    return value if isinstance(value, str) else str(value).lower() if isinstance(value, bool) else f"{value:.10g}"
