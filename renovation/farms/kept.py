"""What a run was about, kept in its folder: templates and tables, so that any farm of it can be read again."""

import hashlib
import shutil
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from renovation.farms.cells import texts_of
from renovation.farms.columns import FARM, VILLAGE
from renovation.farms.reading import Source
from renovation.farms.table import Tables, only, open_tables
from renovation.inputs import Scenario, ScenarioError
from renovation.inputs.document import save_scenario
from renovation.inputs.files import load_scenario

INPUTS, ALONE = "inputs", "template.toml"


class NotKept(ValueError):  # noqa: N818 - an event that the page words
    """The folder does not hold the templates and tables that its run was about."""


@dataclass(frozen=True)
class Kept:
    """Templates and tables of a finished run."""

    tables: Tables

    def farm(self, name: str) -> Scenario:
        """One farm as an ordinary scenario, called invented where its table says so.

        Errors: KeyError where there is no sound farm of this name.
        """
        found = only(self.tables, name).scenario(name)
        return found.changed(about__invented=True) if self.tables.invented else found

    def villages(self, names: Iterable[str]) -> dict[str, str]:
        """The village of each of some farms, of those that name one."""
        return villages_of(self.tables, names)


def villages_of(tables: Tables, names: Iterable[str]) -> dict[str, str]:
    """The village of each of some farms, of those that name one."""
    wanted, found = pa.array(list(names), pa.string()), dict[str, str]()
    for source in _with_villages(tables):
        for table in source.pieces([FARM, VILLAGE]):
            farms, villages = (texts_of(table[column].combine_chunks()) for column in (FARM, VILLAGE))
            here = pa.table({FARM: farms, VILLAGE: villages}).filter(
                pc.and_(pc.is_in(farms, wanted), villages.is_valid())
            )
            found.update(zip(*(here[column].to_pylist() for column in (FARM, VILLAGE)), strict=True))
    return found


def with_villages(farms: pd.DataFrame, tables: Tables) -> pd.DataFrame:
    """Rows of farms with the village of each behind its name, blank for none, where a table names villages.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> stands = pd.DataFrame({"farm": ["A"], "stand": ["Hill"], "village": ["Near"], "stands.trees": [90]})
        >>> first = pd.DataFrame({"farm": ["A"], "gain": [5.0]})
        >>> [str(cell) for cell in with_villages(first, open_tables(demo_scenario(), stands)).iloc[0]]
        ['A', 'Near', '5.0']
    """
    if not _with_villages(tables):
        return farms
    found = farms.copy()
    known = villages_of(tables, farms[FARM])
    found.insert(1, VILLAGE, pd.Series([known.get(name) for name in farms[FARM]], farms.index, dtype=object))
    return found


def _with_villages(tables: Tables) -> list[Source]:
    """The tables that name villages."""
    return [source for source in (tables.stands, tables.farms) if source is not None and VILLAGE in source.columns]


def keep(folder: "Path | str", templates: Mapping[str, Scenario], stands: str, farms: str | None) -> None:
    """Keep in a folder what its run is about: each template as a file, the tables as they are.

    Errors: OSError.
    """
    place = Path(folder) / INPUTS
    for name, template in templates.items():
        file = place / "templates" / f"{name}.toml" if name else place / ALONE
        file.parent.mkdir(parents=True, exist_ok=True)
        save_scenario(template, file)
    for kind, path in (("stands", stands), ("farms", farms)):
        if path is not None:
            shutil.copyfile(path, place / f"{kind}{Path(path).suffix}")


def kept(folder: "Path | str", told: Mapping[str, Any]) -> Kept:
    """What a finished run was about. told: its `run.json`.

    Errors: NotKept where the folder does not hold it, or where it was changed since.
    """
    place = Path(folder) / INPUTS
    alone = place / ALONE
    files = {"": alone} if alone.exists() else {path.stem: path for path in sorted(place.glob("templates/*.toml"))}
    tables = [path for kind in ("stands", "farms") for path in place.glob(f"{kind}.*")]
    try:
        templates = {name: load_scenario(path) for name, path in files.items()}
        whole = {name: one.digest for name, one in templates.items()} == told["templates"]
        if not whole or not tables or {digest_of(path) for path in tables} != set(told["tables"].values()):
            raise NotKept(str(folder))
        return Kept(open_tables(templates.get("", templates), *tables))
    except (OSError, ScenarioError) as error:
        raise NotKept(str(folder)) from error


def digest_of(path: "Path | str") -> str:
    """SHA-256 of a file. Errors: OSError."""
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
