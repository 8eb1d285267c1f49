"""The work behind `renovation farms`: workers, folder, progress and every fault in a sentence; what came of it."""

import sys
from argparse import Namespace
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from renovation.commands.shared import Refused, reason, usage, whole_number
from renovation.version import __version__
from renovation.words import Words

if TYPE_CHECKING:
    from renovation.farms.batch import Batch
    from renovation.farms.engine import Crew, Function
    from renovation.farms.run import Asked, HowFar
    from renovation.farms.table import Checked
    from renovation.show.farms.outcome import Outcome

MOST_WORKERS = 256
SPELLED = {"run.json": "run_json"}
"""What differs, where its name is no word of the catalogue."""


def counted(found: str | None, key: str, words: Words, most: int = 10**9) -> int | None:
    """A whole number from 1 on; None where it is not given."""
    number = whole_number(found)
    if found is not None and (number is None or not 1 <= number <= most):
        raise Refused(words(f"run.error.{key}", found=found, most=words.number(most)))
    return number


def placed(args: Namespace, words: Words) -> str:
    """The folder to write in."""
    if args.output is None:
        raise Refused(words("run.error.folder", usage=usage(args.command, words)))
    return str(args.output)


def outcome(place: Path, told: Mapping[str, Any], words: Words) -> "Outcome":
    """What a finished run comes to, as it is told."""
    from renovation.show.farms.outcome import outcome_of

    return outcome_of(place, told, words)


def worked(
    args: Namespace,
    words: Words,
    function: "Function",
    batches: "Iterator[Batch] | Sequence[Batch]",
    asked: "Asked",
    checked: "Checked",
    *,
    rows: int = 0,
    planned: "Sequence[Batch] | None" = None,
    chosen: int | None = None,
) -> None:
    """A run in its folder. planned: farms of which a few are timed before it begins. chosen: how many, if not all."""
    from renovation.farms.run import run_batches

    farms = checked.farms - checked.refused_farms if planned is None else len(planned)
    farms = farms if chosen is None else chosen
    with worded(args, words), _crew(args, words) as crew:
        if planned is not None and not args.resume:
            _tell_cost(crew, function, planned, words)
        run_batches(
            function,
            batches,
            args.output,
            asked,
            farms=farms,
            rows=rows,
            beside=sum(Path(name).stat().st_size for name in (args.table_file, args.farms) if name is not None),
            crew=crew,
            resume=args.resume,
            tell=partial(_progress, words),
            facts={"refused": checked.refused_farms},
        )


@contextmanager
def _crew(args: Namespace, words: Words) -> "Iterator[Crew]":
    """Processes of this machine, or the workers of a scheduler."""
    from renovation.farms.engine import Processes

    workers = counted(args.workers, "workers", words, MOST_WORKERS)
    if args.engine is None:
        with Processes(workers) as crew:
            yield crew
        return
    if workers is not None:
        raise Refused(words("run.error.engine_or_workers"))
    from renovation.farms.machines import Machines, NoScheduler, NotEncrypted, NoWorkers

    try:
        machines = Machines(args.engine)
    except NotEncrypted:
        raise Refused(words("run.error.not_encrypted", address=args.engine)) from None
    except NoWorkers:
        raise Refused(words("run.error.no_workers", address=args.engine)) from None
    except NoScheduler:
        raise Refused(words("run.error.no_scheduler", address=args.engine)) from None
    except ImportError:
        raise Refused(words("run.error.no_library")) from None
    with machines:
        yield machines


@contextmanager
def worded(args: Namespace, words: Words) -> Iterator[None]:
    """Every fault of a run in a sentence."""
    from renovation.farms.engine import OtherVersion, SchedulerLost, TooManyAside
    from renovation.farms.run import NoRoom, NotEmpty, NotTheSame

    path = args.output
    try:
        yield
    except NotEmpty:
        raise Refused(words("run.error.not_empty", path=path)) from None
    except NotTheSame as error:
        differs = words.listing([words(f"run.differs.{SPELLED.get(name, name)}") for name in error.differs])
        raise Refused(words("run.error.other_run", path=path, differs=differs)) from None
    except NoRoom as error:
        if error.need is None:
            raise Refused(words("run.error.full", path=path)) from None
        sizes = {name: f"{size / 1e9:.1f} GB" for name, size in (("free", error.free), ("need", error.need))}
        raise Refused(words("run.error.no_room", **sizes)) from None
    except SchedulerLost:
        raise Refused(words("run.error.scheduler_lost", path=path)) from None
    except OtherVersion as error:
        raise Refused(words("run.error.other_version", found=str(error), own=__version__)) from None
    except TooManyAside as error:
        farm, why, what = error.args
        raise Refused(words("run.error.too_many_aside", farm=farm, why=words(f"run.aside.{why}", what=what))) from None
    except OSError as error:
        raise Refused(words("command.error.cannot_write", path=path, reason=reason(error, words))) from None


def _tell_cost(crew: "Crew", function: "Function", batches: "Sequence[Batch]", words: Words) -> None:
    """Time eight farms of spread sizes, and say what all of them will take."""
    from renovation.farms.engine import work
    from renovation.farms.plan import TIMED, cost_told, size_of, spread_sizes
    from renovation.show.farms.said import span
    from renovation.show.voice import Voice

    if len(batches) <= 2 * TIMED:
        return
    some = spread_sizes(batches)
    took = {done.number: done.seconds for done in work(crew, function, enumerate(some))}
    sizes = [size_of(batch) for batch in some]
    times = [took[place] for place in range(len(some))]
    every = [size_of(batch) for batch in batches]
    cost = cost_told(sizes, times, every, crew.workers)
    hear(words("run.done.cost", time=span(cost, Voice(words, ""))))


def _progress(words: Words, far: "HowFar") -> None:
    """One line about how far it is."""
    from renovation.show.farms.said import span
    from renovation.show.voice import Voice

    facts = {"done": words.number(far.done), "farms": words("run.farms", n=far.farms)}
    if far.left is None:
        hear(words("run.progress.begun", **facts))
        return
    voice = Voice(words, "")
    times = {"left": far.left.seconds, "low": far.left.low, "high": far.left.high}
    hear(words("run.progress.left", **facts, **{name: span(time, voice) for name, time in times.items()}))


def hear(line: str) -> None:
    """Say something while the work goes on, beside the answer."""
    if sys.stderr is not None:
        sys.stderr.write(f"{line}\n")
        sys.stderr.flush()
