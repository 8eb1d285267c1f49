"""Workers at a scheduler: the guide's recipe as it stands there, on this machine and encrypted."""

import os
import re
import shlex
import signal
import socket
import subprocess
import sys
from concurrent.futures import Future
from contextlib import suppress
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import farms_at_work as at_work
import pytest

import renovation
from renovation.farms import engine
from renovation.farms.engine import SchedulerLost
from renovation.farms.machines import Machines, NoScheduler, NotEncrypted, check_encrypted
from renovation.farms.run import Asked, run_batches

ROOT = Path(renovation.__file__).parent.parent
GUIDE = (ROOT / "DEVELOPERS.md").read_text("utf-8")
ASKED = Asked("compare")


def block(mark):
    """The lines that the guide shows under a mark."""
    return re.search(rf"<!-- {re.escape(mark)}[^>]* -->\n```\n(.*?)```", GUIDE, re.DOTALL)[1]


@pytest.mark.parametrize(
    ("address", "stays"),
    [
        ("tcp://127.0.0.1:8786", True),
        ("localhost:8786", True),
        ("tcp://[::1]:8786", True),
        ("tls://10.0.0.1:8786", True),
        ("tcp://10.0.0.1:8786", False),
        ("scheduler.example:8786", False),
        ("tcp://127.0.0.1.example:8786", False),
        ("", False),
    ],
)
def test_only_this_machine_is_reached_without_encryption(address, stays):
    if stays:
        check_encrypted(address)
    else:
        with pytest.raises(NotEncrypted):
            check_encrypted(address)


class Recipe:
    """The machines of the guide, all of them this one."""

    def __init__(self, folder):
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.address = f"tls://127.0.0.1:{self.port}"
        self.folder = folder
        (folder / "farms.yaml").write_text(block("farms.yaml"), "utf-8")
        subprocess.run(shlex.split(block("farms.sh")), cwd=folder, check=True, capture_output=True)
        scheduler, worker, self.asked = block("farms machines").splitlines()
        self.scheduler, self.worker = self.begun(scheduler), self.begun(worker)

    def line(self, line):
        """A line of the guide for this machine: its words and its environment."""
        here = line.replace("10.0.0.1", "127.0.0.1").replace("8786", str(self.port))
        parts = shlex.split(here)
        stated = dict(part.split("=", 1) for part in parts if re.match("[A-Z_]+=", part))
        path = os.pathsep.join([str(ROOT), str(ROOT / "tests")])
        words = parts[len(stated) :]
        return [str(Path(sys.executable).with_name(words[0])), *words[1:]], {**os.environ, **stated, "PYTHONPATH": path}

    def begun(self, line):
        words, environment = self.line(line)
        nowhere = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        return subprocess.Popen(words, cwd=self.folder, env=environment, start_new_session=True, **nowhere)

    def end(self):
        for process in (self.worker, self.scheduler):
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()


@pytest.fixture
def recipe(tmp_path, monkeypatch):
    import dask

    monkeypatch.chdir(tmp_path)
    machines = Recipe(tmp_path)
    try:
        (stated,) = dask.config.collect_yaml([str(tmp_path / "farms.yaml")])
        with dask.config.set(stated):
            yield machines
    finally:
        machines.end()


def joined(address):
    """The crew, once both workers have come."""
    while True:
        with suppress(NoScheduler):
            crew = Machines(address)
            if crew.workers == 2:
                return crew
            crew.__exit__()


def files(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.name != "run.json"}


@pytest.mark.long
def test_the_guide_s_machines_give_the_same_bytes_whoever_is_lost(recipe, tmp_path):
    batches = at_work.batches(40, 4)
    from concurrent.futures import ThreadPoolExecutor

    class Alone(ThreadPoolExecutor):
        workers = 1

        def lost(self, _):
            return False

        def check(self):
            pass

    with Alone(1) as crew:
        run_batches(at_work.worth, batches, tmp_path / "alone", ASKED, farms=40, crew=crew)
    undisturbed = files(tmp_path / "alone")
    said = tmp_path / "workers"
    said.mkdir()
    with joined(recipe.address) as crew:
        ended = []

        def disturbed():
            for batch in batches:
                if not ended and (workers := list(said.iterdir())):
                    ended.append(os.kill(int(workers[0].name), signal.SIGKILL))
                yield batch

        function = partial(at_work.worker_says, str(said))
        found = run_batches(function, disturbed(), tmp_path / "run", ASKED, farms=40, crew=crew)
        assert ended
        assert found.aside == ()
        assert files(tmp_path / "run") == undisturbed
        run_batches(at_work.threads, at_work.batches(1, 1), tmp_path / "threads", ASKED, farms=1, crew=crew)
        assert (tmp_path / "threads" / "farms.csv").read_text().endswith(',"1"\n')

        def lost():
            for number, batch in enumerate(batches):
                if number == 7:
                    recipe.scheduler.kill()
                yield batch

        with pytest.raises(SchedulerLost):
            run_batches(at_work.slowly, lost(), tmp_path / "half", ASKED, farms=40, crew=crew)
    assert 0 < len(list((tmp_path / "half" / "parts").glob("*.json"))) < 10
    with Alone(1) as crew:
        run_batches(at_work.slowly, batches, tmp_path / "half", ASKED, farms=40, crew=crew, resume=True)
    assert files(tmp_path / "half") == undisturbed


def test_nobody_waits_for_an_answer_that_cannot_come_any_more(tmp_path, monkeypatch):
    """A client that left its scheduler is not always told that all is called off: then no future ever ends."""
    machines = object.__new__(Machines)
    machines.workers, machines._client = 1, SimpleNamespace(status="closed")
    machines._executor = SimpleNamespace(submit=lambda *_: Future())
    monkeypatch.setattr(engine, "LOOK", 0.01)
    with pytest.raises(SchedulerLost):
        run_batches(at_work.worth, at_work.batches(4, 2), tmp_path / "run", ASKED, farms=4, crew=machines)


def test_the_guide_asks_the_command_for_encryption():
    line = block("farms machines").splitlines()[-1]
    assert "renovation farms compare" in line
    check_encrypted(line.rpartition(" ")[2])
