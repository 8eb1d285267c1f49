"""Farms that share a template: what each states in its place, as columns, and any of them as an ordinary scenario."""

import pickle
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from typing import Any

import numpy as np
import pandas as pd
from pydantic import BaseModel, ValidationError

from renovation.inputs import Scenario, ScenarioError
from renovation.inputs.findings import problems_of
from renovation.inputs.overrides import Table, expand
from renovation.inputs.shapes import locate
from renovation.inputs.standing import UnderWay
from renovation.inputs.stands import Stand
from renovation.inputs.techniques import Technique
from renovation.types import FloatArray, IndexArray

FARM, STAND = "farm", "stand"
SIZE = ("name", "trees", "empty_places", "hectares", "part_of", "untouched")
"""What a stand of the template does not lend to the stands of a farm: what it is called and how large it is."""
OTHER_WAY = {"crop_per_tree": "pods", "pods": "crop_per_tree", "price_per_kg": "wet_beans", "wet_beans": "price_per_kg"}
"""Two ways to state one figure: who states one of them takes the other from nobody."""


@dataclass(frozen=True)
class Batch:
    """Farms of one template, checked.

    template: what every farm has that its rows do not state. farms: a row a farm, index `farm`, its name. stands: a
    row a stand, columns `farm` and `stand`, the rows of a farm in one piece, farms in the order of `farms`. All other
    columns are paths of the scenario (`household.savings`, `stands.crop_per_tree`, `techniques.side_graft.take`,
    `loans.NAME.amount`, `under_way.side_graft.trees`), numbers as the models accept them; a blank is the template's.
    A loan of amount 0 is none: the farm does not have this loan of the template.

    A stand takes what it does not state from the template's stand of the same name, else from its first one, but for
    its size (`SIZE`). The template's own plan, trees under way, compared trees and guesses do not pass to the farms.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> farms = pd.DataFrame({"household.savings": [900.0]}, index=pd.Index(["Farm 1"], name="farm"))
        >>> stands = pd.DataFrame({"farm": ["Farm 1"], "stand": ["Hill"], "stands.trees": [250]})
        >>> batch = Batch(demo_scenario(), farms, stands)
        >>> batch.scenario("Farm 1").household.savings, batch.scenario("Farm 1").stands[0].trees
        (900.0, 250)
    """

    template: Scenario
    farms: pd.DataFrame
    stands: pd.DataFrame

    def __len__(self) -> int:
        """How many farms there are."""
        return len(self.farms)

    def __reduce__(self) -> tuple[Any, ...]:
        """The template goes as bytes: a worker that gets the same ones again need not make it again."""
        return _sent, (_packed(self.template), self.farms, self.stands)

    # Columns as arrays

    @cached_property
    def farm_of_stand(self) -> IndexArray:
        """(stands,) the row of `farms` that each stand belongs to."""
        return self.farms.index.get_indexer(pd.Index(self.stands[FARM]))

    def of_farms(self, path: str) -> FloatArray:
        """(farms,) what stands at a path of numbers in each farm: as stated, else the template's; NaN for nothing.

        Example: `batch.of_farms("household.savings")`.
        """
        return _filled(self.farms, path, _number_at(self.template, path), len(self.farms))

    def of_stands(self, path: str) -> FloatArray:
        """(stands,) what stands at a path of numbers in each stand, such as `stands.decline_per_year`.

        Of the crop `stands.kg_per_tree` is the one to ask for: it may be stated in two ways.
        """
        field = path.removeprefix("stands.")
        if field == "kg_per_tree":
            return self._kg_per_tree
        lent = np.array([_lent(stand, field) for stand in self.template.stands])[self._like]
        return _filled(self.stands, path, lent, len(self.stands))

    @cached_property
    def _like(self) -> IndexArray:
        """(stands,) the place of the template's stand from which each takes what it does not state."""
        names = pd.Index([stand.name for stand in self.template.stands])
        wholes = self.stands.get("stands.part_of", pd.Series(np.nan, self.stands.index, dtype=object))
        called = names.get_indexer(pd.Index(self.stands[STAND]))
        whole = names.get_indexer(pd.Index(wholes))
        return np.maximum(np.where(called >= 0, called, whole), 0)

    @cached_property
    def _kg_per_tree(self) -> FloatArray:
        """(stands,) today's crop of a tree, kg of dry beans a year, after losses."""
        direct = _filled(self.stands, "stands.crop_per_tree", np.nan, len(self.stands))
        pods = [f"stands.pods.{field}" for field in ("pods_per_tree", "pods_per_kg", "lost_share")]
        stated = self.stands.reindex(columns=pods).notna().to_numpy().any(axis=1)
        count, per_kg, lost = (self.of_stands(path) for path in pods)
        lent = np.array([stand.kg_per_tree for stand in self.template.stands])[self._like]
        counted = np.where(stated, count / per_kg * (1 - lost), lent)
        return np.where(np.isnan(direct), counted, direct)

    # One farm as an ordinary model

    def scenario(self, farm: str) -> Scenario:
        """One farm as an ordinary scenario.

        Errors: KeyError where there is no such farm, ScenarioError for what the models do not accept.
        """
        row = _rows(self.farms.loc[[farm]])[0]
        rows = _rows(self.stands[self.stands[FARM] == farm])
        data = _Farm(self.template, farm, row, rows).data()
        try:
            return Scenario.model_validate(data)
        except ValidationError as error:
            told = problems_of(error, Scenario, _plain(data), farm, self.template.appraisal.currency)
            raise ScenarioError(*told) from None


@lru_cache(maxsize=16)
def _packed(template: Scenario) -> bytes:
    return pickle.dumps(template)


@lru_cache(maxsize=16)
def _unpacked(template: bytes) -> Scenario:
    found: Scenario = pickle.loads(template)
    return found


def _sent(template: bytes, farms: pd.DataFrame, stands: pd.DataFrame) -> Batch:
    """A batch that came from another process."""
    return Batch(_unpacked(template), farms, stands)


def _filled(table: pd.DataFrame, path: str, otherwise: Any, length: int) -> FloatArray:
    """A column as numbers, its blanks filled."""
    if path not in table:
        return np.broadcast_to(np.asarray(otherwise, dtype=float), (length,))
    stated = table[path].to_numpy(dtype=float, na_value=np.nan)
    return np.where(np.isnan(stated), otherwise, stated)


def _number_at(scenario: Scenario, path: str) -> float:
    """The number at a path of a scenario; of a list by year its first, NaN where nothing stands there."""
    section, *rest = path.split(".")
    found: Any = getattr(scenario, section)
    if section == "loans":
        name, field = ".".join(rest[:-1]), rest[-1]
        found, rest = next(loan for loan in scenario.loans if loan.name == name), [field]
    for part in rest:
        if isinstance(found, tuple):
            found = found[min(int(part), len(found)) - 1]
        elif found is not None:
            found = found.get(part) if isinstance(found, Mapping) else getattr(found, part)
            found = getattr(found, "value", found)
    found = found[0] if isinstance(found, tuple) else found
    return np.nan if found is None else float(found)


def _lent(stand: Any, field: str) -> float:
    """What a stand of the template lends to a farm's: NaN for nothing."""
    first, *rest = field.split(".")
    found = None if first in SIZE else getattr(stand, first)
    for part in rest:
        found = None if found is None else getattr(found, part)
    return (0.0 if first == "empty_places" else np.nan) if found is None else float(found)


def _rows(table: pd.DataFrame) -> list[Table]:
    """The cells of each row that are not blank, as plain Python values."""
    found = table.astype(object).itertuples(index=False, name=None)
    paths = [str(path) for path in table]
    stated = ({path: cell for path, cell in zip(paths, row, strict=True) if not pd.isna(cell)} for row in found)
    return [{path: int(cell) if _is_whole(path, cell) else cell for path, cell in row.items()} for row in stated]


def _is_whole(path: str, cell: Any) -> bool:
    """Whether a cell is a count: blanks beside it make whole numbers broken ones in a table."""
    return _is_count(path) and isinstance(cell, float) and cell.is_integer()


@cache
def _is_count(path: str) -> bool:
    """Whether whole numbers stand in a column."""
    section, *rest = path.split(".")
    roots: dict[str, type[BaseModel]] = {"stands": Stand, "under_way": UnderWay}
    root = roots.get(section)
    parts = [int(part) - 1 if part.isdecimal() else part for part in (rest[1:] if root is UnderWay else rest)]
    shape = locate(root, parts) if root else None
    return shape is not None and shape.core is int


def _plain(data: Table) -> Table:
    """The same tables without models, as a person would have written them."""
    return {key: value.model_dump() if hasattr(value, "model_dump") else value for key, value in data.items()}


class _Farm:
    """The tables of one farm: the template's with what its rows state."""

    def __init__(self, template: Scenario, name: str, row: Table, rows: list[Table]) -> None:
        self.template, self.name, self.row, self.rows = template, name, row, rows

    def data(self) -> Table:
        """Sections that nothing is stated of are the template's own models."""
        kept: Table = {name: getattr(self.template, name) for name in type(self.template).model_fields}
        kept |= {"about": {"name": self.name, "invented": self.template.about.invented}, "plan": (), "guessed": {}}
        kept["stands"] = tuple(self._stand(row) for row in self.rows)
        kept["under_way"] = tuple(entry for row in self.rows for entry in self._under_way(row))
        kept["comparison"] = {**self.template.comparison.model_dump(), STAND: self._compared(), "trees": None}
        for path, value in self.row.items():
            section, *rest = path.split(".")
            if section == "techniques":
                kept[section] = {**kept[section], rest[0]: self._technique(kept[section][rest[0]], rest[1:], value)}
            elif section == "loans":
                kept[section] = self._loans(kept[section], ".".join(rest[:-1]), rest[-1], value)
            elif section in type(self.template).model_fields:
                kept[section] = _with(kept[section], rest, value)
        return kept

    def _compared(self) -> str | None:
        """The first stand that has trees not under way."""
        on_trees = {key for key, technique in self.template.techniques.items() if technique.works_on == "trees"}
        for row in self.rows:
            begun = sum(entry["trees"] for entry in self._under_way(row) if entry["technique"] in on_trees)
            if begun < row.get("stands.trees", 0):
                return str(row[STAND])
        return None

    def _technique(self, technique: Any, path: list[str], value: Any) -> Table:
        """A technique's table with one figure stated in place of the template's, as a file states it."""
        base = technique if isinstance(technique, Mapping) else technique.model_dump()
        field, *year = path
        if isinstance(base[field], Mapping) and isinstance(base[field]["value"], tuple):
            value = _put(base[field]["value"], year, value) if year else (value,)
        stated = {field: value}
        if field == "take" and base["temporary_shade"] is False:
            stated["take_without_shade"] = value
        return dict(expand(Technique, stated, dict(base), self.template.appraisal.currency))

    def _loans(self, loans: Any, name: str, field: str, value: Any) -> tuple[Any, ...]:
        """The loans with a figure of one of them in place; without it where its amount is 0."""
        found = []
        for loan in loans:
            table = loan if isinstance(loan, Mapping) else loan.model_dump()
            if table["name"] != name:
                found.append(loan)
            elif field != "amount" or value != 0:
                found.append({**table, field: value})
        return tuple(found)

    def _stand(self, row: Table) -> Table:
        """One stand: what its row states, the rest as lent by the template's."""
        named = {stand.name: stand for stand in self.template.stands}
        like = named.get(row[STAND]) or named.get(row.get("stands.part_of", "")) or self.template.stands[0]
        table: Table = {key: value for key, value in like.model_dump().items() if key not in SIZE}
        for path, value in row.items():
            if path.startswith("stands."):
                stated = tuple(value.split()) if path == "stands.techniques" else value
                table = _with(table, path.split(".")[1:], stated)
        return {**table, "name": row[STAND]}

    def _under_way(self, row: Table) -> list[Table]:
        """The trees of a stand that work has begun on, an entry a technique."""
        found: dict[str, Table] = {}
        for path, value in row.items():
            if path.startswith("under_way."):
                _, technique, field, *at = path.split(".")
                entry = found.setdefault(technique, {STAND: row[STAND], "technique": technique})
                entry[field] = (*entry.get(field, ()), value) if at else value
        return [entry for entry in found.values() if entry.get("trees")]


def _with(node: Any, path: list[str], value: Any) -> Table:
    """A section with one value in place, and without the other way to state the same."""
    table = _put(node, path, value)
    return {**table, OTHER_WAY[path[0]]: None} if path[0] in OTHER_WAY else dict(table)


def _put(node: Any, path: list[str], value: Any) -> Any:
    """Nested tables with one value in place; of a list by year or month the entry of this number, counted from 1."""
    if not path:
        return value
    part, *rest = path
    if part.isdecimal():
        known = node if isinstance(node, tuple) else (node,) * 12
        known += known[-1:] * (int(part) - len(known))
        return (*known[: int(part) - 1], value, *known[int(part) :])
    table = node.model_dump() if isinstance(node, BaseModel) else node or {}
    return {**table, part: _put(table.get(part), rest, value)}
