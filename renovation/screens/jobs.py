"""Searches at work beside the pages: start, progress, stop, result. Each belongs to the visitor who asked for it.

A visitor has one search at a time. It ends soon after its visitor has closed or reloaded the page or opened another
farm. As many are at work at once as the machine has cores; the others wait in the order in which they came. What
takes seconds and is waited for (`answer`) has a line of its own, so that it never waits for a search of minutes. All
of it is done by workers (`renovation.aside`): here are only the threads that wait for them. Nothing here knows farms
or pages: a page hands over what is to be done and asks what came of it.
"""

import gc
import os
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache, partial
from typing import Any

import streamlit as st
from streamlit import runtime
from streamlit.runtime.scriptrunner import get_script_run_ctx

from renovation import aside

_KEPT = 8
"""Questions whose answers are remembered; a plan holds every month of every start that could be made."""
_LOOK = 0.1
"""Seconds between two looks of a search that waits for its turn."""
PATIENCE = 1.0
"""Seconds that a visitor may be away before the search ends: a weak line breaks off and comes back."""
_MINE = "search"

Work = Callable[["Job"], Any]


@dataclass(eq=False)
class Job:
    """A search in a thread of its own: which question it answers and under what name its result is kept.

    here: whether the visitor who asked is still there. step, done, tried: how far it is. first: what can be shown
    meanwhile, if anything; shown: whether the page has it. began: None while it waits
    for its turn, seconds of the machine's clock afterwards.
    """

    key: str
    name: str
    work: Work
    step: str = "search"
    here: Callable[[], bool] = lambda: True
    done: float = 0.0
    tried: int = 0
    first: Any = None
    shown: Any = None
    result: Any = None
    error: Exception | None = None
    began: float | None = None
    stopped: threading.Event = field(default_factory=threading.Event)
    thread: threading.Thread | None = None

    @property
    def at_work(self) -> bool:
        """Whether it is still searching, or waiting for its turn."""
        return self.thread is not None and self.thread.is_alive()

    @property
    def seconds(self) -> float:
        """Seconds since its turn came."""
        return 0.0 if self.began is None else time.monotonic() - self.began

    def over(self) -> bool:
        """Whether it is to end: it was stopped, or its visitor is gone. Asked by the search itself, again and again."""
        if not self.here():
            self.stopped.set()
        return self.stopped.is_set()

    def stop(self) -> None:
        """Ask it to end with the best that it has."""
        self.stopped.set()

    def leave(self) -> None:
        """End it: nobody wants what it has."""
        self.here = lambda: False
        self.stop()

    def told(self, facts: dict[str, Any]) -> None:
        """Take in how far it is: `step`, `done`, `tried`, and what can be shown meanwhile: `first`."""
        for name, value in facts.items():
            setattr(self, name, value)


class Line:
    """So many searches at work at once; the others wait in the order in which they came.

    Example:
        >>> line = Line(1)
        >>> job = line.start(Job("two and two", "sum", lambda job: 2 + 2))
        >>> job.thread.join()
        >>> job.result
        4
    """

    def __init__(self, places: int) -> None:
        """Nobody is in line; so many places to work at."""
        self.places = places
        self._jobs: list[Job] = []
        self._changed = threading.Condition()

    def start(self, job: Job) -> Job:
        """Put a search in line; its thread touches nothing but the job."""
        with self._changed:
            self._jobs.append(job)
        job.thread = threading.Thread(target=self._run, args=(job,), daemon=True)
        job.thread.start()
        return job

    def place(self, job: Job) -> int:
        """The place of a search among those that wait, from 1; 0 once its turn has come."""
        with self._changed:
            return max(0, self._jobs.index(job) + 1 - self.places) if job in self._jobs else 0

    @contextmanager
    def _turn(self, job: Job) -> Iterator[None]:
        """Wait until it is the search's turn, or until nobody wants it any more; then let the next one in."""
        try:
            with self._changed:
                while self._jobs.index(job) >= self.places and not job.over():
                    self._changed.wait(_LOOK)
            yield
        finally:
            with self._changed:
                self._jobs.remove(job)
                self._changed.notify_all()

    def _run(self, job: Job) -> None:
        """Work when the turn has come, and keep the result or what went wrong for the page to say."""
        with self._turn(job):
            if job.over():
                return
            job.began = time.monotonic()
            try:
                job.result = job.work(job)
            except Exception as error:
                job.error = error


@cache
def line() -> Line:
    """The line of this server."""
    return Line(os.cpu_count() or 1)


@cache
def short_line() -> Line:
    """The line of what takes seconds: one at a time, beside the searches."""
    return Line(1)


LOADED = "renovation.screens.searches"
"""What a worker of the pages loads before its first task."""


@cache
def ready() -> aside.Worker:
    """The worker of what takes seconds: begun with the server, so that a page need not wait for it to load."""
    return aside.Worker(LOADED, nice=aside.NICE)


def _search(task: aside.Task, job: Job) -> Any:
    """A task of minutes: in a worker of its own, asked for what it has when it is stopped, ended with the visitor."""
    with aside.Worker(LOADED, nice=aside.NICER) as worker:
        return worker.do(task, lambda: not job.here(), job.over, job.told)


def _answer(task: aside.Task, job: Job) -> Any:
    """A task of seconds, ended with the run of the page that waits for it."""
    try:
        return ready().do(task, job.over, told=job.told)
    finally:
        if not ready().is_alive:
            ready().begin()


# Turns of pages

_AT_ONCE = 2
"""Pages drawn at once: a page that takes long must not keep all others waiting."""


class Turns:
    """So many at once; the others in the order in which they came."""

    def __init__(self, places: int) -> None:
        """Nobody waits."""
        self._free = places
        self._waiting: deque[threading.Event] = deque()
        self._lock = threading.Lock()

    def take(self) -> None:
        """Wait for a turn."""
        with self._lock:
            if self._free and not self._waiting:
                self._free -= 1
                return
            mine = threading.Event()
            self._waiting.append(mine)
        mine.wait()

    def give(self) -> None:
        """Hand the turn to the one who has waited longest."""
        with self._lock:
            if self._waiting:
                self._waiting.popleft().set()
            else:
                self._free += 1


_TURNS = Turns(_AT_ONCE)
_MINE_NOW = threading.local()


@contextmanager
def turn() -> Iterator[None]:
    """Let few pages be drawn at once, the others in turn.

    Python serves one thread at a time; where many pages try they hold each other up, and each change costs half as
    much again.
    """
    _TURNS.take()
    _MINE_NOW.held = True
    try:
        yield
    finally:
        _MINE_NOW.held = False
        _TURNS.give()
    _settled()


@contextmanager
def _others_first() -> Iterator[None]:
    """Give the turn away while a page waits, where it has one."""
    if not getattr(_MINE_NOW, "held", False):
        yield
        return
    _TURNS.give()
    try:
        yield
    finally:
        _TURNS.take()


@cache
def _settled() -> None:
    """Once the first page stands, let Python look no more through what the server has loaded for things to collect."""
    gc.collect()
    gc.freeze()


# What a page asks


def start(name: str, key: str, task: aside.Task, step: str) -> None:
    """Start a search of this visitor's, unless one is under way."""
    if mine() is None:
        st.session_state[_MINE] = line().start(Job(key, name, partial(_search, task), step, _visitor()))


def answer(task: aside.Task, show: Callable[[int, float], None]) -> Any:
    """What a task of seconds answers, waited for within this run of the page; raises what it raises.

    show: told ten times a second the place in line, 0 at work, and the share done. A run of the page that is broken
    off, since its visitor has changed something or left, breaks off in there and ends the task.
    """
    job = short_line().start(Job("", "", partial(_answer, task), here=_visitor()))
    assert job.thread is not None
    try:
        while job.at_work:
            show(short_line().place(job), job.done)
            with _others_first():
                job.thread.join(_LOOK)
    finally:
        job.leave()
    if job.error is not None:
        raise job.error
    return job.result


def mine() -> Job | None:
    """This visitor's search, at work or ended but not yet taken in."""
    job: Job | None = st.session_state.get(_MINE)
    return job


def stop() -> None:
    """Ask this visitor's search to end with the best that it has."""
    job = mine()
    if job is not None:
        job.stop()


def drop() -> None:
    """End this visitor's search and forget it: another farm is in hand."""
    job = st.session_state.pop(_MINE, None)
    if job is not None:
        job.leave()


def take_in() -> Job | None:
    """This visitor's search once it has ended, its result kept; None while it is at work, or where there is none."""
    job = mine()
    if job is None or job.at_work:
        return None
    del st.session_state[_MINE]
    if job.error is None and job.result is not None:
        # what was stopped is this visitor's alone: nobody else should be given less than was asked for
        st.session_state["search_found"] = {(job.key, job.name): job.result}
        if not job.stopped.is_set():
            remembered(job.key)[job.name] = job.result
    return job


def result(key: str, name: str) -> Any:
    """What a question was answered: by anybody's search to its end, or by this visitor's as far as it came; or None."""
    own = st.session_state.get("search_found", {}).get((key, name))
    return remembered(key).get(name, own)


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def remembered(key: str) -> dict[str, Any]:  # noqa: ARG001
    """What searches have answered to one question by name, as far as they went to their end."""
    return {}


def _visitor() -> Callable[[], bool]:
    """Whether the visitor who asks now is still there, to be asked later from another thread.

    One who has been away for longer than `PATIENCE` is not. Where no server runs, nobody can leave.
    """
    context = get_script_run_ctx()
    if context is None:
        return lambda: True
    session = context.session_id
    away_since: float | None = None

    def here() -> bool:
        nonlocal away_since
        if _is_open(session):
            away_since = None
        elif away_since is None:
            away_since = time.monotonic()
        return away_since is None or time.monotonic() - away_since < PATIENCE

    return here


def _is_open(session: str) -> bool:
    """Whether a browser holds this session open."""
    try:
        return bool(runtime.get_instance().is_active_session(session))
    except RuntimeError:
        return True  # no server runs
