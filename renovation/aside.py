"""Work aside: tasks done in a process of its own, which gives way to others and can be ended at any moment.

HiGHS cannot be interrupted, and whatever Python works at keeps everybody else in its process waiting. So who must
answer others meanwhile, or may lose interest, has a task done by a worker: at a low priority and on one thread. A
worker hears on its standard input and answers on its standard output, one pickle after another. It ends as soon as
that input is closed, and so with the process that began it, however that one ends.
"""

import contextlib
import importlib
import os
import pickle
import queue
import subprocess
import sys
import threading
import traceback
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from typing import IO, Any

NICE, NICER = 5, 15
"""How far a worker gives way, of 19, with a task of seconds and of minutes: beside a page the one has about a quarter
of a core, beside that the other a tenth; of a core that nobody else wants, all."""
ONE_THREAD = dict.fromkeys(
    ["OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS", "NUMEXPR_NUM_THREADS"], "1"
)
"""What keeps the libraries of matrices from taking every core."""
LOOK = 0.1
"""Seconds between two looks at whether anybody still waits."""


class CalledOff(RuntimeError):  # noqa: N818 - an event, not a fault
    """Nobody waits for the answer any more."""


class Died(RuntimeError):  # noqa: N818 - an event the screens word
    """The worker ended before it had answered: somebody killed it, or the machine had no memory left."""


class Asker:
    """Who waits for the answer of a task, as the task sees it."""

    def __init__(self, say: Callable[[tuple[str, Any]], None] | None = None) -> None:
        """One who has not been told anything yet; say: how to reach them, nobody where None."""
        self._say = say
        self.stopped = threading.Event()

    def over(self) -> bool:
        """Whether they want what there is so far."""
        return self.stopped.is_set()

    def tell(self, **facts: Any) -> None:
        """Let them know how far the work is."""
        if self._say is not None:
            self._say(("told", facts))


Task = Callable[[Asker], Any]
"""What can be done aside: a module's function, or one with its arguments (`functools.partial`); it is pickled."""


class Worker:
    """A process that does tasks one after another, begun anew where it has ended."""

    def __init__(self, *loads: str, nice: int = NICE) -> None:
        """Begin it; loads: modules that its tasks need, loaded before the first. nice: how far it gives way."""
        paths = f"import sys; sys.path[:] = {sys.path!r}"
        self._serve = f"{paths}; from {__name__} import serve; serve({loads!r}, {nice})"
        self.begin()

    def __enter__(self) -> "Worker":
        """The worker."""
        return self

    def __exit__(self, *_: object) -> None:
        """Ended."""
        self.end()

    @property
    def number(self) -> int:
        """The number of its process."""
        return self._process.pid

    def begin(self) -> None:
        """Begin the process, and what listens to it."""
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-c", self._serve],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, **ONE_THREAD},
            # A key that interrupts this process is none of its business. Not a session of its own: where Linux shares
            # the cores out by session, its priority would count for nothing beside others.
            process_group=0,
            creationflags=getattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0),
        )
        self._heard: queue.SimpleQueue[tuple[str, Any]] = queue.SimpleQueue()
        threading.Thread(target=_hear, args=(_pipe(self._process.stdout), self._heard), daemon=True).start()

    def end(self) -> None:
        """End the process now."""
        self._process.kill()
        self._process.wait()
        with contextlib.suppress(OSError):
            _pipe(self._process.stdin).close()

    @property
    def is_alive(self) -> bool:
        """Whether the process runs."""
        return self._process.poll() is None

    def do(
        self,
        task: Task,
        gone: Callable[[], bool],
        stopped: Callable[[], bool] = lambda: False,
        told: Callable[[dict[str, Any]], None] | None = None,
    ) -> Any:
        """What a task answers; raises what it raises, CalledOff once `gone` says so, Died where the process ended.

        gone, stopped: asked ten times a second; the first ends the process, the second asks the task for what it has
        so far. told: hears how far the task is.
        """
        if not self.is_alive:
            self.begin()
        self._say(pickle.dumps(task))
        asked_to_stop = False
        while True:
            try:
                kind, what = self._heard.get(timeout=LOOK)
            except queue.Empty:
                kind, what = "nothing", None
            if gone():
                self.end()
                raise CalledOff
            if kind == "done":
                return what
            if kind == "failed":
                raise what
            if kind == "died":
                raise Died(f"the worker ended with {self._process.wait()}")
            if kind == "told" and told is not None:
                told(what)
            if stopped() and not asked_to_stop:
                asked_to_stop = True
                self._say(None)

    def _say(self, message: bytes | None) -> None:
        """Send a task, or None to stop it; that nobody hears any more is learned from the silence."""
        with contextlib.suppress(OSError):
            pickle.dump(message, _pipe(self._process.stdin))
            _pipe(self._process.stdin).flush()


def _hear(pipe: IO[bytes], heard: "queue.SimpleQueue[tuple[str, Any]]") -> None:
    """Take in what a process says until it ends, or says what nobody understands; in a thread of its own."""
    with pipe, contextlib.suppress(Exception):
        while True:
            heard.put(pickle.load(pipe))
    heard.put(("died", None))


def _pipe(pipe: IO[bytes] | None) -> IO[bytes]:
    assert pipe is not None
    return pipe


def do(task: Task, gone: Callable[[], bool]) -> Any:
    """What a task answers, done by a worker of its own; raises as `Worker.do` does.

    In a worker, a thread does it and is left behind when it is called off: it ends with the worker.
    """
    if not _serving:
        with Worker() as worker:
            return worker.do(task, gone)
    threads = ThreadPoolExecutor(1)
    answer = threads.submit(task, Asker())
    threads.shutdown(wait=False)
    while not wait({answer}, LOOK).done:
        if gone():
            raise CalledOff
    return answer.result()


# In the worker

_serving = False
"""Whether this process is a worker."""


def serve(loads: tuple[str, ...], nice: int) -> None:
    """Do the tasks that are heard, until whoever sends them is gone."""
    global _serving
    _serving = True
    if hasattr(os, "nice"):
        os.nice(nice)
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever a library prints is no answer
    tasks: queue.SimpleQueue[bytes] = queue.SimpleQueue()

    def say(message: tuple[str, Any]) -> None:
        with contextlib.suppress(BrokenPipeError):  # nobody is there: the process is about to end
            pickle.dump(message, answers)
            answers.flush()

    asker = Asker(say)
    threading.Thread(target=_listen, args=(tasks, asker.stopped), daemon=True).start()
    for name in loads:
        importlib.import_module(name)
    while True:
        task = tasks.get()
        try:
            say(("done", pickle.loads(task)(asker)))
        except Exception as error:
            error.add_note(traceback.format_exc())
            say(("failed", _sendable(error)))


def _listen(tasks: "queue.SimpleQueue[bytes]", stopped: threading.Event) -> None:
    """Take in tasks and the wish to stop; end the process, whatever it is at, when nobody is there any more."""
    with contextlib.suppress(EOFError, OSError):
        while True:
            message = pickle.load(sys.stdin.buffer)
            if message is None:
                stopped.set()
            else:
                stopped.clear()
                tasks.put(message)
    os._exit(1)


def _sendable(error: Exception) -> Exception:
    """An error as it is, where a pickle keeps it; else what it says."""
    try:
        pickle.loads(pickle.dumps(error))
    except Exception:
        return RuntimeError(f"{type(error).__name__}: {error}")
    return error
