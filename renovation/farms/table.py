"""A table of farms in: opened, checked by whole columns, a random thousand farms by the models themselves too."""

import pickle
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from renovation.farms.batch import Batch
from renovation.farms.cells import read_names, texts_of
from renovation.farms.columns import FARM, INVENTED, NAMES, STAND, TEMPLATE, Column, columns_of
from renovation.farms.pieces import Piece, Rows
from renovation.farms.reading import Chunk, Hashes, Source, hashes, open_table, refuse_file, whole_farms
from renovation.farms.refused import Refusals, farms_of, told
from renovation.inputs import Scenario, ScenarioError
from renovation.types import BoolArray
from renovation.words import Words

Given = str | Path | pd.DataFrame
Templates = Scenario | Mapping[str, Scenario]
SIZE = 1000
"""Farms in a batch."""
TRIED = 1000
"""Farms that go through the models themselves."""
MOST_REFUSED = 0.1
"""A run in which a greater share of the farms is refused stops, unless it is told to go on."""
NOT_FOUND = np.array([], dtype=np.uint64)
NO_NAME = np.array([0], dtype=np.uint64)
"""The hash of a blank."""


@dataclass(frozen=True)
class Tables:
    """What goes in: templates by name, a table with a row a stand, and one with a row a farm where there is one."""

    templates: Mapping[str, Scenario]
    stands: Source
    farms: Source | None = None

    @property
    def columns(self) -> dict[str, Column]:
        """Every column that the tables may have beside `NAMES`."""
        return {path: column for one in self.templates.values() for path, column in columns_of(one).items()}

    @property
    def invented(self) -> bool:
        """Whether the table of stands says that it is invented."""
        return self.stands.metadata.get("invented") == "true" or INVENTED in self.stands.columns


@dataclass(frozen=True)
class Checked:
    """What a check found: farms and stands in all, and those refused, each mistake a row (`refused.TOLD`).

    tried: farms that went through the models too. disagreed: those of them that the models refuse and the columns do
    not; they are among the refused. encoding: in which a CSV was read. refused_marks: hashes of the refused.
    """

    tables: Tables
    farms: int
    stands: int
    refused: pd.DataFrame
    refused_farms: int
    tried: int
    disagreed: int
    encoding: str
    refused_marks: Hashes

    @property
    def share_refused(self) -> float:
        """Farms refused to farms in all; 0 of none."""
        return self.refused_farms / self.farms if self.farms else 0.0

    @property
    def too_many(self) -> bool:
        """Whether so many are refused that a run stops unless it is told to go on."""
        return self.share_refused > MOST_REFUSED

    def batches(self, size: int = SIZE) -> Iterator[Batch]:
        """The sound farms, `size` at a time; see `batches`."""
        return batches(self, size)


def open_tables(templates: Templates, stands: Given, farms: Given | None = None) -> Tables:
    """Open a template, or several by name, and one or two tables.

    Errors: ScenarioError for a file that is no table (`open_table`), a column that no template knows, and one that is
    missing: `farm` and `stand`, and `template` where there are several.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> rows = pd.DataFrame({"farm": ["One"], "stand": ["Hill"], "stands.trees": [90]})
        >>> open_tables(demo_scenario(), rows).stands.columns
        ('farm', 'stand', 'stands.trees')
    """
    named = {"": templates} if isinstance(templates, Scenario) else dict(templates)
    tables = Tables(named, open_table(stands, "stands"), None if farms is None else open_table(farms, "farms"))
    known = tables.columns
    for source, needed in ((tables.stands, (FARM, STAND)), (tables.farms, (FARM,))):
        if source is None:
            continue
        accepted = (
            *NAMES,
            "invented",
            *(path for path in known if source is tables.stands or not known[path].of_stand),
        )
        for column in source.columns:
            if column not in accepted:
                refuse_file(source.name, "unknown_column", column, like=column, choices=accepted)
        for column in needed:
            if column not in source.columns:
                refuse_file(source.name, "missing_column", column)
    if len(named) > 1 and not any(s and TEMPLATE in s.columns for s in (tables.stands, tables.farms)):
        refuse_file(tables.stands.name, "missing_column", TEMPLATE)
    return tables


def check(
    templates: Templates,
    stands: Given,
    farms: Given | None = None,
    words: Words | None = None,
    tried: int = TRIED,
    seed: int = 0,
) -> Checked:
    """Check every farm of one or two tables.

    A farm with a mistake is refused whole. Cells are checked by column; `tried` random farms of those that pass also go
    through the models, one by one.

    Errors: as of `open_tables`.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> rows = pd.DataFrame({"farm": ["A", "B"], "stand": ["Hill", "Hill"], "stands.trees": [90, 0]})
        >>> found = check(demo_scenario(), rows)
        >>> found.farms, list(found.refused["farm"]), found.refused["accepted"][0]
        (2, ['B'], 'Write a whole number from 1 to 1,000,000 (trees).')
    """
    tables = open_tables(templates, stands, farms)
    walk = _Walk(tables)
    models = _Models(tried, np.random.default_rng(seed))
    for batch in walk.batches():
        models.look(batch)
    walk.end()
    models.end(walk.refusals)
    mistakes = walk.refusals.table()
    refused = told(mistakes, tables.columns, words or Words("en"))
    marks = np.unique(hashes(pa.array(sorted(set(mistakes[FARM]) - {""}), pa.string()))) if len(mistakes) else NOT_FOUND
    return Checked(
        tables,
        walk.farms,
        walk.stands,
        refused,
        farms_of(mistakes),
        models.tried,
        models.disagreed,
        tables.stands.encoding,
        marks,
    )


def batches(checked: Checked, size: int = SIZE) -> Iterator[Batch]:
    """The farms that a check let pass, `size` at a time and of one template each, in the order of the table.

    The tables are read again, some thousands of rows in memory at once (`reading.whole_farms`).
    """
    rest: dict[int, Batch] = {}
    for found in _Walk(checked.tables, checked.refused_marks).batches():
        batch = _together(rest.pop(id(found.template), None), found)
        whole = len(batch) - len(batch) % size
        yield from (_part(batch, first, first + size) for first in range(0, whole, size))
        if whole < len(batch):
            rest[id(batch.template)] = _part(batch, whole, len(batch))
    yield from rest.values()


def only(tables: Tables, farm: str) -> Batch:
    """One farm of the tables, which need hold no sound one beside it. Errors: KeyError where there is no sound one."""
    stands = _of_farm(tables.stands, farm)
    farms = None if tables.farms is None else _of_farm(tables.farms, farm)
    for batch in _Walk(replace(tables, stands=stands, farms=farms)).batches():
        return batch
    raise KeyError(farm)


def _of_farm(source: Source, farm: str) -> Source:
    """The rows of one farm."""
    found = [table.filter(pc.equal(texts_of(table[FARM].combine_chunks()), farm)) for table in source.pieces()]
    rows = pa.concat_tables(found)
    if not len(rows):
        raise KeyError(farm)
    return replace(source, frame=rows, bad_rows=[])


def _together(one: Batch | None, other: Batch) -> Batch:
    """Two batches of a template as one."""
    if one is None:
        return other
    stands = pd.concat([one.stands, other.stands], ignore_index=True)
    return Batch(other.template, pd.concat([one.farms, other.farms]), stands)


def _part(batch: Batch, first: int, end: int) -> Batch:
    """Some farms of a batch, `first` up to before `end`."""
    rows = slice(*np.searchsorted(batch.farm_of_stand, [first, end]))
    return Batch(batch.template, batch.farms.iloc[first:end], batch.stands.iloc[rows].reset_index(drop=True))


class _Walk:
    """One walk through the tables. without: hashes of farms that were refused; None where nothing was checked yet."""

    def __init__(self, tables: Tables, without: Hashes | None = None) -> None:
        self.tables, self.without = tables, without
        self.refusals = Refusals()
        self.farms = self.stands = 0
        self.met: list[Hashes] = []
        self.rows = _FarmRows(tables.farms, self.refusals) if tables.farms else None

    def batches(self) -> Iterator[Batch]:
        """The sound farms of each chunk, a batch a template."""
        for chunk in whole_farms(self.tables.stands):
            for template, piece in self._pieces(chunk):
                found = Piece(template, *piece, self.refusals).batch(sure=self.without is not None)
                if len(found):
                    yield found

    def _pieces(self, chunk: Chunk) -> Iterator[tuple[Scenario, tuple[Rows, Rows]]]:
        """The rows of a chunk by template, with those of their farms."""
        names = self._farm_names(chunk)
        keep = np.array([name is not None for name in names], dtype=bool)
        if self.without is not None:
            keep &= ~np.isin(hashes(chunk.names), self.without)
        places = np.flatnonzero(keep)
        stands = _rows_of(chunk, names, places)
        codes, known = pd.factorize(pd.Series(stands.farms, dtype=object))
        first = np.unique(codes, return_index=True)[1]
        farms = self._farm_rows(np.asarray(known, dtype=object), stands.numbers[first])
        self.farms += len(known)
        self.stands += len(stands.farms)
        if self.without is None:
            self.met.append(hashes(pa.array(known, pa.string())))
        chosen = self._templates(stands, farms, codes)
        for key, template in self.tables.templates.items():
            mine = chosen == key
            if mine.all():
                yield template, (stands, farms)
            elif mine.any():
                yield template, (_picked(stands, np.flatnonzero(mine[codes])), _picked(farms, np.flatnonzero(mine)))

    def _farm_names(self, chunk: Chunk) -> Any:
        """(rows,) the farm of each row; None where there is no usable name, which is refused."""
        read = read_names(chunk.names)
        wrong = np.zeros(len(chunk.rows), dtype=bool)
        for mistake in read.wrong:
            wrong[mistake.rows] = True
            self._refuse_rows(chunk, mistake.rows, mistake.code, list(mistake.found), mistake.facts)
        nameless = np.flatnonzero(pd.isna(read.cells) & ~wrong)
        self._refuse_rows(chunk, nameless[_filled(chunk, nameless)], "blank", "")
        return read.cells

    def _refuse_rows(self, chunk: Chunk, rows: Any, code: str, found: Any, facts: Any = ()) -> None:
        if len(rows):
            self.farms += len(rows)
            self.refusals.add(FARM, code, {FARM: [""] * len(rows), "found": found, "row": chunk.rows[rows]}, facts)

    def _farm_rows(self, names: Any, first: Any) -> Rows:
        if self.rows is None:
            return Rows({}, names, first)
        return self.rows.of(names, first)

    def _templates(self, stands: Rows, farms: Rows, codes: Any) -> Any:
        """(farms,) the name of each farm's template; a farm that names none that is there is refused."""
        known = self.tables.templates
        if len(known) == 1 and not (TEMPLATE in stands.cells or TEMPLATE in farms.cells):
            return np.full(len(farms.farms), next(iter(known)), dtype=object)
        chosen = np.full(len(farms.farms), None, dtype=object)
        for rows, where in ((stands, codes), (farms, np.arange(len(chosen)))):
            if TEMPLATE in rows.cells:
                named = read_names(rows.cells[TEMPLATE]).cells
                stated = np.flatnonzero(~pd.isna(named))[::-1]
                chosen[where[stated]] = named[stated]
        wrong = [place for place, name in enumerate(chosen) if name not in known]
        found = ["" if chosen[place] is None else chosen[place] for place in wrong]
        facts = [{"like": name, "choices": tuple(known)} for name in found]
        self.refusals.add(TEMPLATE, "unknown_template", farms.where(wrong, found), facts)
        return chosen

    def end(self) -> None:
        """Note the farms without a stand, and the rows that are no rows."""
        if self.rows is not None:
            self.farms += self.rows.end()
        for source in filter(None, (self.tables.stands, self.tables.farms)):
            marks = hashes(pa.array([bad.farm or None for bad in source.bad_rows], pa.string()))
            unmet = np.setdiff1d(marks, np.concatenate([*self.met, NO_NAME]))
            self.farms += len(unmet) + int(np.isin(marks, NO_NAME).sum())
            for bad in source.bad_rows:
                cells = {FARM: [bad.farm], "found": bad.found, "row": bad.number}
                self.refusals.add("", "cells", cells, [{"cells": bad.cells, "columns": len(source.columns)}])


class _FarmRows:
    """The table with a row a farm, held in memory as it is read, and looked up by name."""

    def __init__(self, source: Source, refusals: Refusals) -> None:
        self.table = pa.concat_tables(list(source.pieces())).combine_chunks()
        if not len(self.table):
            refuse_file(source.name, "empty")
        self.names, self.refusals = texts_of(self.table[FARM].combine_chunks()), refusals
        marks = hashes(self.names)
        self.order = np.argsort(marks, kind="stable")
        self.marks = marks[self.order]
        self.seen = np.zeros(len(marks), dtype=bool)
        self.twice = np.isin(marks, self.marks[1:][self.marks[1:] == self.marks[:-1]])

    def of(self, names: Any, first: Any) -> Rows:
        """The rows of some farms; one that has none, or two, is refused. first: where each begins among the stands."""
        wanted = hashes(pa.array(names, pa.string()))
        at = np.minimum(np.searchsorted(self.marks, wanted), len(self.marks) - 1)
        found, places = self.marks[at] == wanted, self.order[at]
        self.seen[at[found]] = True
        cells = {
            name: self.table[name].combine_chunks().take(pa.array(places, mask=~found))
            for name in self.table.column_names
        }
        rows = Rows(cells, names, np.where(found, places + 1, first))
        wrong = {"not_in_farms": np.flatnonzero(~found), "farm_twice": np.flatnonzero(found & self.twice[places])}
        for code, where in wrong.items():
            self.refusals.add(FARM, code, rows.where(where, list(names[where])))
        rows.wrong = frozenset(names[np.concatenate(list(wrong.values()))])
        return rows

    def end(self) -> int:
        """Note the farms that have no stand; gives how many."""
        left = np.flatnonzero(~np.isin(self.marks, self.marks[self.seen]))
        left = np.sort(self.order[left])
        names = self.names.take(pa.array(left)).to_pylist()
        named = {FARM: ["" if name is None else name for name in names], "row": left + 1}
        self.refusals.add(FARM, "no_stand", named)
        return len(left)


class _Models:
    """A random number of farms, each as likely as any, that go through the models themselves."""

    def __init__(self, most: int, rng: np.random.Generator) -> None:
        self.most, self.rng = most, rng
        self.met = self.tried = self.disagreed = 0
        self.kept: list[tuple[float, Scenario, bytes]] = []
        """The number drawn, the template, and the rows, packed: a slice of a table keeps all of it in memory."""

    def look(self, batch: Batch) -> None:
        """Draw a number for each farm, and keep those of the lowest numbers so far."""
        drawn = self.rng.random(len(batch))
        limit = max((number for number, *_ in self.kept), default=1.0) if len(self.kept) >= self.most else 1.0
        below = np.flatnonzero(drawn < limit)
        for place in below[np.argsort(drawn[below])][: self.most]:
            one = _part(batch, int(place), int(place) + 1)
            self.kept.append((float(drawn[place]), one.template, pickle.dumps((one.farms, one.stands))))
        self.kept = sorted(self.kept, key=lambda entry: entry[0])[: self.most]

    def end(self, refusals: Refusals) -> None:
        """Put the farms that were kept through the models."""
        for _, template, rows in self.kept:
            self.tried += 1
            batch = Batch(template, *pickle.loads(rows))
            farm = str(batch.farms.index[0])
            try:
                batch.scenario(farm)
            except ScenarioError as error:
                self.disagreed += 1
                for problem in error.problems:
                    cells = {FARM: [farm], "found": [problem.found]}
                    refusals.add(problem.key, "by_the_models", cells, [{"reason": problem}])


def _filled(chunk: Chunk, places: Any) -> BoolArray:
    """(places,) whether any cell of a row is filled: a spreadsheet leaves rows of blanks at the end."""
    some = chunk.table.take(pa.array(places, pa.int64()))
    cells = [texts_of(some[name].combine_chunks()).is_valid() for name in some.column_names]
    found: BoolArray = np.any([cell.to_numpy(zero_copy_only=False) for cell in cells], axis=0)
    return found


def _rows_of(chunk: Chunk, names: Any, places: Any) -> Rows:
    cells = {name: chunk.table[name].combine_chunks() for name in chunk.table.column_names}
    rows = Rows(cells, names, chunk.rows)
    return rows if len(places) == len(names) else _picked(rows, places)


def _picked(rows: Rows, places: Any) -> Rows:
    taken = pa.array(places, pa.int64())
    return Rows(
        {name: cells.take(taken) for name, cells in rows.cells.items()}, rows.farms[places], rows.numbers[places]
    )
