"""The engine: batches of farms shared out among workers, each next one to whoever is free (method §13).

Workers are processes of this machine, or of others by way of a scheduler (`farms/machines.py`); both are asked by the
futures of the standard library. A worker may be lost: the machine had no memory left, somebody ended it. What was being
worked on then is tried again, one batch at a time, and whoever is lost once more with nobody beside them is to blame:
their batch is halved, down to the one farm, which is set aside.
"""

import multiprocessing
import os
import signal
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, CancelledError, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from multiprocessing.connection import wait as ended
from typing import Any, Literal, Protocol, Self

import pandas as pd

from renovation.aside import ONE_THREAD
from renovation.farms.batch import FARM, Batch
from renovation.farms.parts import Tables, encoded, joined
from renovation.version import __version__

AHEAD = 2
"""Batches handed out for each worker: one at work, one in line, so that nobody waits and little is held in memory."""
QUIET = {"PYTHONWARNINGS": "ignore::UserWarning:multiprocessing.resource_tracker"}
"""What clears up after an interrupt does so without a word."""
LOOK = 0.5
"""Seconds at most between two calls of `look`."""
SOME_ASIDE, MOST_ASIDE = 20, 0.1
"""More farms set aside than these, and than this share of all so far: the fault is not one of single farms."""

Function = Callable[[Batch], "pd.DataFrame | dict[str, pd.DataFrame]"]
"""What is asked of a batch: tables by name, each with a column `farm`; one table alone is called "farms"."""
Why = Literal["lost", "memory", "failed"]


class SchedulerLost(RuntimeError):  # noqa: N818 - an event that the commands word
    """Nobody shares the work out any more: the machine that did is gone."""


class TooManyAside(RuntimeError):  # noqa: N818 - an event that the commands word
    """So many farms were set aside that the fault must be one of the program or the machines."""


class OtherVersion(RuntimeError):  # noqa: N818 - an event that the commands word
    """A worker has another version of the program: its numbers are not these."""


@dataclass(frozen=True)
class Aside:
    """A farm that could not be worked on. why: "lost" each time its worker, "memory" ran out, "failed" with `what`."""

    farm: str
    why: Why
    what: str = ""


@dataclass(frozen=True)
class Done:
    """A batch that is finished. tables: as Parquet. seconds: of a worker, all its farms together.

    farms: how many, those set aside too.
    """

    number: int
    tables: Tables
    aside: tuple[Aside, ...]
    seconds: float
    farms: int


class Crew(Protocol):
    """Workers that do calls, whoever and wherever they are."""

    workers: int

    def submit(self, call: Callable[..., Any], *args: Any) -> "Future[Any]":
        """Have a call done."""

    def renew(self) -> bool:
        """Begin anew after a worker was lost; whether what the others were at is lost with it."""

    def lost(self, error: BaseException) -> bool:
        """Whether this says that a worker was lost; raises SchedulerLost where there is nobody left to ask."""

    def check(self) -> None:
        """Raises SchedulerLost where there is nobody left from whom an answer could come."""


class Processes:
    """Workers that are processes of this machine, one thread each; begun when the first call comes.

    They hear no interrupt, and end with the process that began them, however that one ends.

    Example:
        >>> with Processes(1) as crew:
        ...     crew.submit(abs, -2).result()
        2
    """

    def __init__(self, workers: int | None = None) -> None:
        """workers: how many, as many as there are cores where None."""
        self.workers = workers or len(os.sched_getaffinity(0) if hasattr(os, "sched_getaffinity") else range(2))
        self._pool = self._begun()

    def __enter__(self) -> Self:
        """The crew."""
        return self

    def __exit__(self, *_: object) -> None:
        """Ended, what is not begun called off."""
        self._pool.shutdown(wait=True, cancel_futures=True)

    def _begun(self) -> ProcessPoolExecutor:
        with _environment(QUIET):
            return ProcessPoolExecutor(self.workers, multiprocessing.get_context("spawn"), _begin)

    def submit(self, call: Callable[..., Any], *args: Any) -> "Future[Any]":
        """Have a call done; the process that it may begin has its libraries on one thread, and hears no interrupt."""
        with _environment(ONE_THREAD), _deaf():
            return self._pool.submit(call, *args)

    def renew(self) -> bool:
        """Begin anew: where one process ended the standard library ends all."""
        self._pool.shutdown(wait=False, cancel_futures=True)
        self._pool = self._begun()
        return True

    def lost(self, error: BaseException) -> bool:
        """Whether a process ended before it had answered."""
        return isinstance(error, BrokenProcessPool)

    def check(self) -> None:
        """Nothing to see: a process that ends is told by its calls."""


@contextmanager
def _environment(stated: dict[str, str]) -> Iterator[None]:
    """What the processes that begin meanwhile are told by their environment."""
    before = {name: os.environ.get(name) for name in stated}
    os.environ.update(stated)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


@contextmanager
def _deaf() -> Iterator[None]:
    """Hold interrupts back from this thread and from processes that it begins meanwhile, these for good.

    So a process is deaf from its first instruction on, not only once it has its libraries. An interrupt that comes
    meanwhile is heard by another thread, else by this one afterwards.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _begin() -> None:
    """In a worker, before its first call: leave interrupts to who began it, and end when they are gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(parent: int) -> None:
    ended([parent])
    os._exit(1)


# Work


@dataclass
class _Task:
    """A batch, whole or a part of it, on its way. alone: how often it has been tried with nobody at work beside it."""

    number: int
    batch: Batch
    alone: int = 0


@dataclass
class _Open:
    """A batch of which something is still to come."""

    left: int
    tables: list[Tables] = field(default_factory=list)
    aside: list[Aside] = field(default_factory=list)
    seconds: float = 0.0
    farms: int = 0


def work(
    crew: Crew,
    function: Function,
    batches: Iterable[tuple[int, Batch]],
    look: Callable[[], None] = lambda: None,
) -> Iterator[Done]:
    """Each numbered batch once it is finished, in the order in which they are; `look` is called twice a second.

    At most `AHEAD` batches a worker are taken before they can be worked on, so that memory does not grow with the
    number of farms. A farm that ends its worker, or of which the function fails, is set aside; the others of its batch
    are not.

    Errors: SchedulerLost, TooManyAside, OtherVersion; what `batches` raises.
    """
    return _Work(crew, function, iter(batches), look).run()


class _Work:
    def __init__(
        self, crew: Crew, function: Function, batches: Iterator[tuple[int, Batch]], look: Callable[[], None]
    ) -> None:
        self.crew, self.function, self.batches, self.look = crew, function, batches, look
        self.at_work: dict[Future[Any], _Task] = {}
        self.again: deque[_Task] = deque()
        self.open: dict[int, _Open] = {}
        self.farms = self.set_aside = 0

    def run(self) -> Iterator[Done]:
        try:
            while self._hand_out():
                done, _ = wait(self.at_work, LOOK, FIRST_COMPLETED)
                self.look()
                if not done:
                    self.crew.check()
                finished = [(self.at_work.pop(future), future) for future in done]
                lost = [task for task, future in finished if not self._taken(task, future)]
                if lost:
                    self._after_loss(lost)
                for number in [number for number, one in self.open.items() if not one.left]:
                    yield self._closed(number)
        finally:
            for future in self.at_work:
                future.cancel()

    def _hand_out(self) -> bool:
        """Give the workers what there is to do; what is tried again goes first, one at a time. Whether any is left."""
        while self.again and not self.at_work:
            task = self.again.popleft()
            self._submit(replace(task, alone=task.alone + 1))
        while not self.again and len(self.at_work) < AHEAD * self.crew.workers:
            following = next(self.batches, None)
            if following is None:
                break
            number, batch = following
            self.open[number] = _Open(1)
            self._submit(_Task(number, batch))
        return bool(self.at_work or self.again)

    def _submit(self, task: _Task) -> None:
        try:
            self.at_work[self.crew.submit(_answer, self.function, task.batch)] = task
        except Exception as error:
            if not self.crew.lost(error):
                raise
            self.again.appendleft(replace(task, alone=0))  # somebody was lost while idle: it is to blame for nothing
            self._renew()

    def _taken(self, task: _Task, future: "Future[Any]") -> bool:
        """Take in what a future brings; False where its worker was lost."""
        try:
            answer: _Answer = future.result()
        except (Exception, CancelledError) as error:
            if self.crew.lost(error):
                return False
            answer = _Answer(__version__, 0.0, failed=("failed", f"{type(error).__name__}: {error}"))
        if answer.version != __version__:
            raise OtherVersion(answer.version)
        if answer.failed is not None:
            self._halve(task, *answer.failed)
            return True
        one = self.open[task.number]
        one.left -= 1
        one.tables.append(answer.tables)
        one.seconds += answer.seconds
        one.farms += len(task.batch)
        return True

    def _after_loss(self, lost: list[_Task]) -> None:
        """Try again, each with nobody beside it; who was alone already is to blame: halved, or tried once more."""
        for task in lost:
            if task.alone and (len(task.batch) > 1 or task.alone > 1):
                self._halve(task, "lost")
            else:
                self.again.append(task)
        self._renew()

    def _renew(self) -> None:
        """Begin anew, and have what was lost with the others done again."""
        if self.crew.renew():
            self.again.extend(self.at_work.values())
            self.at_work.clear()

    def _halve(self, task: _Task, why: Why, what: str = "") -> None:
        """Two halves in place of a batch; a farm alone is set aside."""
        one = self.open[task.number]
        if len(task.batch) > 1:
            one.left += 1
            self.again.extendleft(replace(task, batch=half, alone=0) for half in reversed(halves(task.batch)))
            return
        one.left -= 1
        one.farms += 1
        one.aside.append(Aside(str(task.batch.farms.index[0]), why, what))
        self.set_aside += 1
        if self.set_aside > max(SOME_ASIDE, MOST_ASIDE * self.farms):
            raise TooManyAside(one.aside[-1].farm, why, what)

    def _closed(self, number: int) -> Done:
        one = self.open.pop(number)
        self.farms += one.farms
        return Done(number, joined(one.tables), tuple(one.aside), one.seconds, one.farms)


@dataclass(frozen=True)
class _Answer:
    """What a worker says of a batch; failed: why there are no tables."""

    version: str
    seconds: float
    tables: Tables = field(default_factory=dict)
    failed: tuple[Why, str] | None = None


def _answer(function: Function, batch: Batch) -> _Answer:
    """In a worker: what the function finds, as Parquet; an error as what it says, for not every error can travel."""
    began = time.perf_counter()
    try:
        found = function(batch)
        tables = {
            name: encoded(table) for name, table in (found if isinstance(found, dict) else {"farms": found}).items()
        }
    except Exception as error:
        why: Why = "memory" if isinstance(error, MemoryError) else "failed"
        return _Answer(__version__, 0.0, failed=(why, f"{type(error).__name__}: {error}"))
    return _Answer(__version__, time.perf_counter() - began, tables)


def halves(batch: Batch) -> tuple[Batch, Batch]:
    """The first farms of a batch and the others, with their stands."""
    middle = len(batch) // 2

    def part(farms: pd.DataFrame) -> Batch:
        return replace(batch, farms=farms, stands=batch.stands[batch.stands[FARM].isin(farms.index)])

    return part(batch.farms.iloc[:middle]), part(batch.farms.iloc[middle:])
