"""How the program ends: interrupted, its reader gone, its output full or closed, in a strange place."""

import contextlib
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from command_line import said

from renovation.inputs import scenario_folder

FIRST = str(scenario_folder() / "first_grafters.toml")
MODULE = [sys.executable, "-m", "renovation"]
ENTRY = [sys.executable, "-c", "from renovation.__main__ import run; run()"]
"""As the installed command starts."""


@pytest.fixture(autouse=True)
def heard():
    """Interrupts are heard: a shell that runs the tests in the background hands down that they are ignored."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def ended(script: str, *argv: str, **more) -> subprocess.CompletedProcess:
    """A fresh Python that runs a script with these arguments."""
    return subprocess.run(
        [sys.executable, "-c", script, *argv], capture_output=True, text=True, check=False, timeout=60, **more
    )


# Interrupted

WHILE_LOADING = """
import os, signal, sys

class Watch:
    def find_spec(self, name, *_):
        if name == {module!r}:
            os.kill(os.getpid(), signal.SIGINT)
            for _ in range(10**7): pass

sys.meta_path.insert(0, Watch())
from renovation.__main__ import run
run()
"""


@pytest.mark.parametrize("module", ["renovation.commands.program", "babel", "numpy"])
def test_an_interrupt_while_a_library_is_loaded_ends_with_130(module):
    done = ended(WHILE_LOADING.format(module=module), "compare", FIRST)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "")


@pytest.mark.long
@pytest.mark.parametrize("module", ["pydantic", "pydantic_core", "pandas", "scipy.optimize", "vl_convert"])
def test_an_interrupt_while_a_large_library_is_loaded_ends_with_130(module, tmp_path):
    asks = {"scipy.optimize": ["plan", FIRST], "pandas": ["cash", FIRST, "--csv", "-"]}
    argv = asks.get(module, ["report", FIRST, "-o", str(tmp_path / "a.html")])
    done = ended(WHILE_LOADING.format(module=module), *argv)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.long
@pytest.mark.parametrize("program", [MODULE, ENTRY], ids=["module", "entry"])
def test_an_interrupt_at_any_moment_ends_with_130(program, tmp_path):
    """From the first line of the program on; before that, the time is Python's own."""
    ends = []
    for tenths in range(4, 40, 3):
        path = tmp_path / f"{tenths}.html"
        running = subprocess.Popen(
            [*program, "report", FIRST, "-o", str(path)], stdout=subprocess.PIPE, stderr=subprocess.PIPE
        )
        with contextlib.suppress(subprocess.TimeoutExpired):
            running.wait(tenths / 10)
        running.send_signal(2)
        _, told = running.communicate(timeout=5)
        assert told == b""
        ends.append(running.returncode)
    assert set(ends) <= {0, 130}
    assert ends[0] == 130
    assert len(list(tmp_path.iterdir())) <= ends.count(0) + 1  # whole, just before the end
    assert not list(tmp_path.glob("*.part"))


HARD = """
import numpy as np, os, signal, sys, threading
from renovation import aside
from renovation.__main__ import end_when_interrupted
from renovation.decide.plan import clock
from renovation.decide.plan.solver import Program

end_when_interrupted()
draw, n, m = np.random.default_rng(1), 400, 60
rows = draw.integers(1, 100, (m, n)).astype(float)
gain = draw.integers(1, 100, n).astype(float)
program = Program(gain, rows, np.full(m, -np.inf), rows.sum(1) / 2, np.zeros(n), np.ones(n), np.ones(n, bool))
interrupt = threading.Timer({after}, os.kill, (os.getpid(), signal.SIGINT))
"""
"""A programme that the solver is at for minutes."""
HERE = "interrupt.start()\nclock.solve_program(program, 0.0, 50.0)"
BESIDE = """
began = aside.subprocess.Popen
def tell(*args, **more):
    worker = began(*args, **more)
    print(worker.pid, flush=True)
    interrupt.start()
    return worker
aside.subprocess.Popen = tell
clock.Clock(50.0, lambda: False).solve(program, 0.0)
"""


def test_an_interrupt_is_heard_while_a_solver_is_at_work():
    began = time.monotonic()
    done = ended(HARD.format(after=0.3) + HERE)
    assert (done.returncode, done.stderr) == (130, "")
    assert time.monotonic() - began < 20


@pytest.mark.long
def test_a_solver_in_a_process_of_its_own_ends_with_the_program():
    done = ended(HARD.format(after=2.0) + BESIDE)
    assert (done.returncode, done.stderr) == (130, "")
    ends = time.monotonic() + 2
    while at_work(int(done.stdout)) and time.monotonic() < ends:
        time.sleep(0.05)
    assert not at_work(int(done.stdout))


def at_work(pid: int) -> bool:
    """Whether a process still runs; one that is over may wait for its parent to notice."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


WHILE_WRITING = """
import os, signal, sys, time
from renovation import whole
from renovation.__main__ import end_when_interrupted

def interrupted(_):
    os.kill(os.getpid(), signal.SIGINT)
    time.sleep(0.2)

whole.os.fsync = interrupted
end_when_interrupted()
whole.write_whole(sys.argv[1], b"all of it", over=True)
time.sleep(10)
"""


def test_an_interrupt_waits_for_a_file_on_its_way(tmp_path):
    done = ended(WHILE_WRITING, str(tmp_path / "a"))
    assert (done.returncode, done.stderr) == (130, "")
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"a": b"all of it"}


def test_where_interrupts_are_ignored_they_stay_so():
    """A shell starts a program in the background with interrupts ignored (POSIX, Shell Command Language, 2.11)."""
    script = "import os, signal\nfrom renovation.__main__ import end_when_interrupted\n"
    script += "end_when_interrupted()\nos.kill(os.getpid(), signal.SIGINT)\nprint(1)"
    done = ended(f"import signal\nsignal.signal(signal.SIGINT, signal.SIG_IGN)\n{script}")
    assert (done.returncode, done.stdout) == (0, "1\n")


# Its output


def shell(line: str) -> subprocess.CompletedProcess:
    """A command line in a shell; `renovation` is the program."""
    line = line.replace("renovation", f"{sys.executable} -m renovation")
    return subprocess.run(["bash", "-c", line], capture_output=True, text=True, check=False, timeout=60)


@pytest.mark.parametrize(
    ("line", "code", "told"),
    [
        ("set -o pipefail; renovation techniques | head -1", 0, ""),
        ("renovation --help >&-", 0, ""),
        ("renovation --help > /dev/full", 2, "The answer cannot be written here: the disk is full.\n"),
        ("renovation compare 2>&-", 2, ""),
        ("renovation compare 2>/dev/full", 2, ""),
        ("renovation --help > /dev/full 2>&1", 2, ""),
    ],
)
def test_an_output_that_is_closed_or_full_is_no_fault_of_the_program(line, code, told):
    done = shell(line)
    assert (done.returncode, done.stderr) == (code, told)


# Strange places


@pytest.mark.parametrize("zone", ["/etc/passwd", "x" * 5000])
def test_a_zone_that_there_is_not_is_no_matter(zone):
    done = subprocess.run(
        [*MODULE, "check", FIRST], capture_output=True, text=True, check=False, env={**os.environ, "TZ": zone}
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_a_rate_next_to_nothing_is_none(capsys, tmp_path):
    text = Path(FIRST).read_text("utf-8")
    answers = []
    for rate in ("1e-320", "0.0"):
        copy = tmp_path / "farm.toml"
        copy.write_text(text.replace("rate_per_year = 0.10", f"rate_per_year = {rate}"), "utf-8")
        assert copy.read_text("utf-8").count(f"rate_per_year = {rate}") == 2
        answers.append(said(capsys, "loan", copy).partition("\n")[2])
    assert answers[0] == answers[1]


NOISE = """
import os, sys
from renovation import __main__ as program
program.speak_alone()
os.write(1, b"lines of a solver")
os.system("echo of another program")
print("the answer", flush=True)
"""
"""HiGHS prints a line of its own where a found plan is rounded anew, whatever it is told."""


@pytest.mark.parametrize("script", [NOISE, NOISE.replace("os.system", "sys.stderr.flush(); os.system")])
def test_only_the_answer_stands_in_the_output(script):
    done = ended(script)
    assert (done.returncode, done.stdout, done.stderr) == (0, "the answer\n", "")
