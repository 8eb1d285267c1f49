"""Work aside: answered, told, refused, called off, and never left behind."""

import os
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import errands
import pytest

from renovation import aside
from renovation.aside import NICE, NICER, CalledOff, Died, Worker
from renovation.decide.plan.clock import Cancelled, Clock
from renovation.money.loan_terms import LoanError

SOON = 2.0
"""Seconds within which a worker that nobody waits for has ended."""


@pytest.fixture(scope="module")
def worker():
    with Worker(nice=NICER) as one:
        yield one


def always():
    return True


def never():
    return False


def runs(pid):
    """Whether a process still runs; one that is over may wait for its parent to notice."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def ends_soon(pid):
    until = time.monotonic() + SOON
    while runs(pid) and time.monotonic() < until:
        time.sleep(0.02)
    return not runs(pid)


def test_a_task_is_answered_and_says_how_far_it_is(worker):
    told = []
    assert worker.do(partial(errands.counted, 3), never, told=told.append) == 3
    assert told == [{"tried": 0}, {"tried": 1}, {"tried": 2}]


def test_a_task_that_is_stopped_gives_what_it_has_and_the_next_one_is_not(worker):
    assert worker.do(partial(errands.counted, 5_000), never, stopped=always) < 5_000
    assert worker.do(partial(errands.counted, 2), never) == 2


def test_errors_come_back_as_they_are_or_in_words(worker):
    with pytest.raises(LoanError) as refused:
        worker.do(errands.refused, never)
    assert (refused.value.code, refused.value.facts) == ("grace_not_below_term", {"grace": 9, "term": 3})
    assert "errands.py" in "".join(refused.value.__notes__)
    with pytest.raises(RuntimeError, match="OddError: one and other"):
        worker.do(errands.odd, never)


def test_a_worker_gives_way_on_one_thread_and_who_began_it_does_not(worker):
    own = os.nice(0)
    assert worker.do(errands.looked_at, never) == (own + NICER, 0)
    assert os.nice(0) == own
    assert os.getsid(worker.number) == os.getsid(0)  # where cores are shared by session, priorities count within one
    assert os.getpgid(worker.number) != os.getpgid(0)
    assert NICE < NICER  # a task of seconds does not wait for one of minutes


def test_a_solver_called_off_inside_a_worker_keeps_nobody(worker):
    assert worker.do(errands.called_off, never) < 0.3 + SOON


def test_a_worker_that_nobody_waits_for_is_ended_in_the_middle_of_a_programme():
    with Worker() as one:
        began = []
        with pytest.raises(CalledOff):
            one.do(partial(errands.solved, 50.0), lambda: len(began) > 0, told=began.append)
        assert not runs(one.number)
        # begun anew, and stopped before it has loaded anything
        assert one.do(partial(errands.counted, 5_000), never, stopped=always) == 0
        with pytest.raises(Died):
            one.do(errands.killed, never)


def test_a_search_that_is_called_off_ends_its_solver(monkeypatch):
    begun = []
    began = aside.subprocess.Popen
    monkeypatch.setattr(aside.subprocess, "Popen", lambda *a, **k: begun.append(began(*a, **k)) or begun[-1])
    start = time.monotonic()
    with pytest.raises(Cancelled):
        Clock(50.0, cancel=lambda: time.monotonic() - start > 0.5).solve(errands.hard(), 0.0)
    assert time.monotonic() - start < 0.5 + SOON
    assert [process.poll() is not None for process in begun] == [True]


@pytest.mark.long
def test_a_worker_ends_with_the_process_that_began_it_however_that_ends():
    """It is killed, which nobody can prepare for, while its worker solves."""
    script = """
import os
from functools import partial
import errands
from renovation.aside import Worker
worker = Worker()
print(worker.number, flush=True)
worker.do(partial(errands.solved, 50.0), lambda: False, told=lambda facts: os.kill(os.getpid(), 9))
"""
    paths = os.pathsep.join(sys.path)
    asked = [sys.executable, "-c", script]
    done = subprocess.run(asked, env={**os.environ, "PYTHONPATH": paths}, stdout=subprocess.PIPE, check=False)
    assert done.returncode == -9
    assert ends_soon(int(done.stdout))
