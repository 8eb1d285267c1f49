"""A run over many farms, in a folder: begun, stopped by whatever may come, gone on with, finished (method §13)."""

import errno
import json
import shutil
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from renovation.farms.batch import Batch
from renovation.farms.engine import Crew, Function, Processes, work
from renovation.farms.out import MOST_IN_A_SHEET, Written, schema_of, sorted_rows
from renovation.farms.parts import Part, Parts, write_beside
from renovation.farms.progress import Left, time_left
from renovation.version import __version__

NOTE, PARTS = "run.json", "parts"
BYTES_PER_ROW = 450
"""Disk for a row of a comparison while a run is at work: in its part, and sorted in the whole table (measured)."""
BYTES_PER_ROW_AS_CSV = 600
TELL_EVERY = 2.0
"""Seconds between two reports of how far a run is."""


class NotTheSame(ValueError):  # noqa: N818 - an event that the commands word
    """What a folder was begun with is not what is asked now; `differs` names what."""

    def __init__(self, differs: Iterable[str]) -> None:
        """Keep the names."""
        self.differs = tuple(differs)
        super().__init__(", ".join(self.differs))


class NotEmpty(FileExistsError):  # noqa: N818 - an event that the commands word
    """Something stands in the folder already."""


class NoRoom(OSError):  # noqa: N818 - an event that the commands word
    """The disk has less room than a run needs, by estimate before it begins or in fact; `need`, `free`: bytes."""

    def __init__(self, need: int | None, free: int) -> None:
        """need: None where it ran full in spite of the estimate."""
        self.need, self.free = need, free
        super().__init__(errno.ENOSPC, f"{need} bytes needed, {free} free")


@dataclass(frozen=True)
class Asked:
    """What a run is about: who goes on with it must ask the same.

    command: what is worked out. tables, templates: digest of each, by name. options: all that changes a number or which
    farms stand together.
    """

    command: str
    tables: Mapping[str, str] = field(default_factory=dict)
    templates: Mapping[str, str] = field(default_factory=dict)
    options: Mapping[str, Any] = field(default_factory=dict)
    seed: int | None = None


@dataclass(frozen=True)
class HowFar:
    """How far a run is: farms done of all, seconds since it began, and what is left where that can be told."""

    done: int
    farms: int
    seconds: float
    left: Left | None


@dataclass(frozen=True)
class Run:
    """A finished run, as its folder's `run.json` tells it.

    farms: in all, `aside` of them set aside, each with why and what was said. rows: of the table "farms". seconds: of
    wall clock, all sittings together. workers: of the last one.
    """

    folder: Path
    asked: Asked
    farms: int
    rows: int
    aside: tuple[tuple[str, str, str], ...]
    seconds: float
    workers: int


def run_batches(
    function: Function,
    batches: Iterable[Batch],
    folder: "Path | str",
    asked: Asked,
    *,
    farms: int,
    rows: int = 0,
    beside: int = 0,
    crew: Crew | None = None,
    resume: bool = False,
    tell: Callable[[HowFar], None] = lambda _: None,
    facts: Mapping[str, Any] | None = None,
) -> Run:
    """Ask a function of every batch, and leave its tables in a folder, sorted by farm: `farms.parquet` and others.

    batches: the same in the same order whenever the same is asked. farms, rows: how many there will be, for the time
    left and the room on the disk; beside: bytes that are to stand there too once it is done. crew: the processes of
    this machine where None. resume: go on with what the folder holds. tell: hears every two seconds how far it is.
    facts: what else `run.json` is to tell.

    A table goes into a CSV file too where a spreadsheet takes all of it. Whatever ends a run leaves its finished parts;
    to go on gives the same files as an undisturbed run, but for the times in `run.json`.

    Errors: NotEmpty where the folder holds something and `resume` is False; NotTheSame; NoRoom; OSError where the
    folder cannot be written; SchedulerLost, TooManyAside and OtherVersion as `work`.

    Example:
        >>> from tempfile import TemporaryDirectory
        >>> from renovation.farms.run import Asked, run_batches
        >>> with TemporaryDirectory() as folder:
        ...     found = run_batches(len, [], f"{folder}/run", Asked("nothing"), farms=0)
        >>> found.farms, found.rows
        (0, 0)
    """
    place = Path(folder)
    before = _begun(place, asked, resume)
    if before.get("status") == "done":
        return _read_back(place, before, asked)
    check_room(place, needed(rows) + beside)
    with _told_when_full(place):
        parts = Parts(place / PARTS)
        sitting = _Sitting(parts, farms, float(before.get("seconds", 0.0)), tell)
        note = {**_head(asked), **(facts or {}), "begun": before.get("begun", _now()), "farms": farms}
        _note(place, {**note, "status": "begun", "seconds": sitting.before})
        try:
            with crew_or_processes(crew) as those:
                sitting.workers = those.workers
                for done in work(those, function, _not_done(batches, parts), sitting.look):
                    sitting.add(parts.write(done))
        except BaseException:
            with suppress(OSError):
                _note(place, {**note, "status": "begun", "seconds": sitting.seconds})
            raise
        for table in {name for part in parts.whole.values() for name in part.bytes}:
            _gather(place, parts, table)
        found = Run(place, asked, *sitting.counts(), sitting.seconds, sitting.workers)
        counts = {name: value for name, value in asdict(found).items() if name not in ("folder", "asked")}
        _note(place, {**note, **counts, "status": "done", "ended": _now()})
    parts.remove()
    return found


@contextmanager
def crew_or_processes(crew: Crew | None) -> Iterator[Crew]:
    """A crew that is there already, or processes for as long as they are needed."""
    if crew is not None:
        yield crew
    else:
        with Processes() as processes:
            yield processes


class _Sitting:
    """One go at a run: what is finished and how long it took."""

    def __init__(self, parts: Parts, farms: int, before: float, tell: Callable[[HowFar], None]) -> None:
        self.parts, self.farms, self.before, self.tell = parts, farms, before, tell
        self.began = self.told = time.monotonic()
        self.workers = 0
        self.done = sum(part.farms for part in parts.whole.values())
        self.costs: list[tuple[int, float]] = []

    @property
    def seconds(self) -> float:
        return self.before + time.monotonic() - self.began

    def add(self, part: Part) -> None:
        self.done += part.farms
        self.costs.append((part.farms, part.seconds))

    def look(self) -> None:
        """Tell how far it is, now and then."""
        if time.monotonic() - self.told >= TELL_EVERY:
            self.told = time.monotonic()
            left = time_left(self.costs, self.farms - self.done, self.workers)
            self.tell(HowFar(self.done, self.farms, self.seconds, left))

    def counts(self) -> tuple[int, int, tuple[tuple[str, str, str], ...]]:
        """Farms, rows and those set aside, of all sittings."""
        whole = [self.parts.whole[number] for number in sorted(self.parts.whole)]
        aside = sorted(one for part in whole for one in part.aside)
        return sum(part.farms for part in whole), sum(part.rows for part in whole), tuple(aside)


def _not_done(batches: Iterable[Batch], parts: Parts) -> Iterator[tuple[int, Batch]]:
    """Batches by number, those left out whose part is there."""
    return ((number, batch) for number, batch in enumerate(batches) if number not in parts.whole)


def _gather(place: Path, parts: Parts, table: str) -> None:
    """All parts of a table in one file."""
    rows = sum(parts.rows(part, table) for part in parts.of(table))
    with Written(place, table, schema_of(parts, table), sheet=rows <= MOST_IN_A_SHEET) as written:
        for piece in sorted_rows(parts, table):
            written.add(piece)


# The folder


def _begun(place: Path, asked: Asked, resume: bool) -> dict[str, Any]:
    """What the folder tells of an earlier sitting; empty where there was none."""
    if not place.exists():
        return {}
    if not resume:
        if not place.is_dir() or any(place.iterdir()):
            raise NotEmpty(str(place))
        return {}
    before = read_note(place)
    if differs := [name for name, value in _head(asked).items() if before.get(name) != _plain(value)]:
        raise NotTheSame(differs)
    return before


def read_note(folder: "Path | str") -> dict[str, Any]:
    """What a folder's `run.json` tells. Errors: NotTheSame where it tells of no run."""
    try:
        found = json.loads((Path(folder) / NOTE).read_bytes())
    except (OSError, ValueError):
        raise NotTheSame([NOTE]) from None
    if not isinstance(found, dict):
        raise NotTheSame([NOTE])
    return found


def _head(asked: Asked) -> dict[str, Any]:
    """What must be the same to go on."""
    return {
        "program": "renovation",
        "version": __version__,
        **{name: _plain(value) for name, value in vars(asked).items()},
    }


def _plain(value: Any) -> Any:
    """A value as JSON reads it back."""
    return json.loads(json.dumps(value, default=dict))


def _note(place: Path, told: dict[str, Any]) -> None:
    write_beside(place / NOTE, (json.dumps(told, indent=2) + "\n").encode("ascii"))


def _read_back(place: Path, told: dict[str, Any], asked: Asked) -> Run:
    """A run that was finished before."""
    aside = tuple((str(farm), str(why), str(what)) for farm, why, what in told["aside"])
    return Run(place, asked, told["farms"], told["rows"], aside, told["seconds"], told["workers"])


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


def needed(rows: int) -> int:
    """Bytes on the disk that so many rows of a comparison need, by estimate: parts and all of them together."""
    return rows * (BYTES_PER_ROW + (BYTES_PER_ROW_AS_CSV if rows <= MOST_IN_A_SHEET else 0))


def check_room(place: Path, need: int) -> None:
    """NoRoom where the disk of a folder, which need not be there yet, has fewer bytes than are needed."""
    there = next(folder for folder in (place, *place.absolute().parents) if folder.exists())
    free = shutil.disk_usage(there).free
    if need > free:
        raise NoRoom(need, free)


@contextmanager
def _told_when_full(place: Path) -> Iterator[None]:
    """NoRoom for a disk that ran full."""
    try:
        yield
    except OSError as error:
        if error.errno not in (errno.ENOSPC, errno.EDQUOT):
            raise
        raise NoRoom(None, shutil.disk_usage(place).free) from None
