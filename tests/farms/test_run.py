"""Runs over many farms: the same bytes however they are cut, shuffled, disturbed and gone on with."""

import errno
import os
import signal
import subprocess
import sys
from contextlib import suppress
from functools import partial
from pathlib import Path

import farms_at_work as at_work
import pandas as pd
import pytest

from renovation.farms import parts
from renovation.farms.engine import Processes, TooManyAside, halves
from renovation.farms.run import Asked, NoRoom, NotEmpty, NotTheSame, needed, read_note, run_batches

ASKED = Asked("compare", tables={"stands.csv": "a1"}, templates={"": "b2"}, options={"chunk": 7}, seed=1)


class Here:
    """One worker that is this process: futures that are done when they are asked for."""

    workers = 1

    def submit(self, call, *args):
        from concurrent.futures import Future

        future = Future()
        try:
            future.set_result(call(*args))
        except BaseException as error:
            future.set_exception(error)
        return future

    def renew(self):
        return False

    def lost(self, _):
        return False

    def check(self):
        pass


def ran(folder, batches, function=at_work.worth, crew=None, **more):
    farms = sum(map(len, batches))
    return run_batches(function, batches, folder, more.pop("asked", ASKED), farms=farms, crew=crew or Here(), **more)


def files(folder):
    """What a run gave, byte for byte, but for the times."""
    return {path.name: path.read_bytes() for path in Path(folder).iterdir() if path.name != "run.json"}


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory):
    """40 farms in batches of 7."""
    folder = tmp_path_factory.mktemp("undisturbed") / "run"
    ran(folder, at_work.batches(40, 7))
    return files(folder)


def test_a_run_leaves_every_farm_once_sorted_and_no_parts(tmp_path, undisturbed):
    found = ran(tmp_path / "run", at_work.batches(40, 7))
    assert (found.farms, found.rows, found.aside) == (40, 160, ())
    table = pd.read_parquet(tmp_path / "run" / "farms.parquet")
    expected = pd.concat([at_work.worth(batch) for batch in at_work.batches(40, 40)])
    expected = expected.sort_values(["farm", "stand"], kind="stable", ignore_index=True)
    pd.testing.assert_frame_equal(table, expected, check_dtype=False, check_exact=True)
    as_csv = pd.read_csv(tmp_path / "run" / "farms.csv")
    pd.testing.assert_frame_equal(as_csv, expected, check_dtype=False, check_exact=True)
    assert sorted(path.name for path in (tmp_path / "run").iterdir()) == ["farms.csv", "farms.parquet", "run.json"]
    told = read_note(tmp_path / "run")
    assert (told["status"], told["farms"], told["rows"], told["options"]) == ("done", 40, 160, {"chunk": 7})
    assert files(tmp_path / "run") == undisturbed


@pytest.mark.parametrize("size", [1, 7, 400])
def test_however_many_farms_stand_together_and_in_whatever_order_the_bytes_are_the_same(tmp_path, undisturbed, size):
    ran(tmp_path / "cut", at_work.batches(40, size))
    assert files(tmp_path / "cut") == undisturbed
    ran(tmp_path / "shuffled", at_work.batches(40, size, shuffled=size))
    assert files(tmp_path / "shuffled") == undisturbed


def test_parts_whose_names_overlap_are_sorted_a_range_of_names_at_a_time(tmp_path, undisturbed, monkeypatch):
    from renovation.farms import run as run_module
    from renovation.farms.out import sorted_rows

    sizes = []

    def few(held, table):
        for piece in sorted_rows(held, table, most=20):
            sizes.append(len(piece))
            yield piece

    monkeypatch.setattr(run_module, "sorted_rows", few)
    ran(tmp_path / "run", at_work.batches(40, 7, shuffled=3))
    assert files(tmp_path / "run") == undisturbed
    assert len(sizes) == 8
    assert max(sizes) <= 24


def test_a_part_in_which_no_way_has_a_root_stands_with_one_in_which_some_have(tmp_path):
    def rooted(batch):
        roots = [(0.25, 0.5) if name == "Farm 0002" else () for name in batch.farms.index]
        return pd.DataFrame({"farm": batch.farms.index, "roots": pd.Series(roots, dtype=object)})

    ran(tmp_path / "run", at_work.batches(3, 1), rooted)
    found = pd.read_parquet(tmp_path / "run" / "farms.parquet").roots
    assert [one.tolist() for one in found] == [[], [], [0.25, 0.5]]


# Begun, stopped, gone on with


def stopped(folder, batches, after, **more):
    """A run that is ended after so many batches."""

    class EnoughError(Exception):
        pass

    def some():
        yield from batches[:after]
        raise EnoughError

    with pytest.raises(EnoughError):
        run_batches(at_work.worth, some(), folder, ASKED, farms=40, crew=Here(), **more)


def test_a_run_gone_on_with_from_its_half_works_only_what_is_left(tmp_path, undisturbed):
    batches = at_work.batches(40, 7)
    stopped(tmp_path / "run", batches, 5)
    held = parts.Parts(tmp_path / "run" / "parts")
    assert 1 <= len(held.whole) < 6
    assert read_note(tmp_path / "run")["status"] == "begun"
    worked = []
    ran(tmp_path / "run", batches, lambda batch: worked.append(len(batch)) or at_work.worth(batch), resume=True)
    assert len(worked) == 6 - len(held.whole)
    assert files(tmp_path / "run") == undisturbed


def test_a_part_that_is_not_whole_is_worked_on_again(tmp_path, undisturbed):
    batches = at_work.batches(40, 7)
    stopped(tmp_path / "run", batches, 6)
    folder = tmp_path / "run" / "parts"
    first, second, *_ = sorted(folder.glob("*.farms.parquet"))
    first.write_bytes(first.read_bytes()[:-9])  # cut short
    Path(str(second).replace(".farms.parquet", ".json")).write_text('{"number": 1')
    (folder / ".000005.farms.parquet.part").write_bytes(b"PAR1")
    ran(tmp_path / "run", batches, resume=True)
    assert files(tmp_path / "run") == undisturbed


def test_a_finished_run_is_read_back_and_not_worked_again(tmp_path):
    batches = at_work.batches(40, 7)
    found = ran(tmp_path / "run", batches)
    again = ran(tmp_path / "run", batches, function=None, resume=True)
    assert again == found


@pytest.mark.parametrize(
    ("asked", "differs"),
    [
        (Asked("plan", ASKED.tables, ASKED.templates, ASKED.options, 1), ("command",)),
        (Asked("compare", {"stands.csv": "other"}, ASKED.templates, ASKED.options, 1), ("tables",)),
        (Asked("compare", ASKED.tables, {"": "c3"}, ASKED.options, 1), ("templates",)),
        (Asked("compare", ASKED.tables, ASKED.templates, {"chunk": 8}, 2), ("options", "seed")),
    ],
)
def test_another_question_does_not_go_on_with_a_folder(tmp_path, asked, differs):
    stopped(tmp_path / "run", at_work.batches(40, 7), 3)
    before = {path: path.read_bytes() for path in (tmp_path / "run").rglob("*") if path.is_file()}
    with pytest.raises(NotTheSame) as refused:
        ran(tmp_path / "run", at_work.batches(40, 7), asked=asked, resume=True)
    assert refused.value.differs == differs
    assert {path: path.read_bytes() for path in (tmp_path / "run").rglob("*") if path.is_file()} == before


def test_a_folder_with_something_in_it_is_left_alone(tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(NotEmpty):
        ran(tmp_path, at_work.batches(4, 2))
    with pytest.raises(NotTheSame):
        ran(tmp_path, at_work.batches(4, 2), resume=True)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


# Room


def test_too_little_room_is_told_before_anything_is_written(tmp_path, monkeypatch):
    from collections import namedtuple

    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr("shutil.disk_usage", lambda _: usage(1000, 0, needed(160) + 99))
    with pytest.raises(NoRoom) as refused:
        ran(tmp_path / "run", at_work.batches(40, 7), rows=160, beside=100)
    assert (refused.value.need, refused.value.free) == (needed(160) + 100, needed(160) + 99)
    assert not (tmp_path / "run").exists()


@pytest.fixture
def small_disk(tmp_path, monkeypatch):
    """A disk with little room, and what makes room: a small tmpfs; a writer with a quota where none may be mounted."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=48k", "tmpfs", disk], capture_output=True, check=False
    )
    if mounted.returncode == 0:
        yield disk, lambda: subprocess.run(["mount", "-o", "remount,size=4m", disk], check=True)
        subprocess.run(["umount", disk], check=True)
        return
    print("no tmpfs may be mounted here: a writer with a quota stands for it")
    left, write = [8_000], Path.write_bytes

    def quota(path, content):
        left[0] -= len(content)
        if left[0] < 0:
            write(path, content[: len(content) // 2])
            raise OSError(errno.ENOSPC, "full")
        return write(path, content)

    monkeypatch.setattr(Path, "write_bytes", quota)
    yield disk, lambda: left.__setitem__(0, 10**9)


@pytest.mark.long
def test_a_disk_that_runs_full_is_survived(small_disk, undisturbed):
    disk, make_room = small_disk
    batches = at_work.batches(40, 4)
    with pytest.raises(NoRoom) as full:
        ran(disk / "run", batches)
    assert full.value.need is None
    left = list((disk / "run" / "parts").iterdir())
    held = parts.Parts(disk / "run" / "parts")
    assert 0 < len(held.whole) < 10
    assert len(left) - 2 * len(held.whole) in (0, 1)  # a table whose note had no room does not count
    assert not [path for path in left if path.name.startswith(".")]
    make_room()
    ran(disk / "run", batches, resume=True)
    assert files(disk / "run") == undisturbed


# Farms that hurt


def test_a_farm_of_which_the_work_fails_is_set_aside_and_its_neighbours_are_not(tmp_path, undisturbed):
    names = [*at_work.names_of(40), "Fails 1", "Bursts 1"]
    batches = at_work.batches(names, 7)
    found = ran(tmp_path / "run", batches, at_work.hurts)
    assert [one[:2] for one in found.aside] == [("Bursts 1", "memory"), ("Fails 1", "failed")]
    assert found.aside[1][2] == "ValueError: nothing fits Fails 1"
    assert found.farms == 42
    assert files(tmp_path / "run") == undisturbed


def test_where_every_farm_fails_the_run_stops(tmp_path):
    with pytest.raises(TooManyAside):
        ran(tmp_path / "run", at_work.batches([f"Fails {n}" for n in range(60)], 10), at_work.hurts)


def test_halves_hold_every_farm_and_stand_once():
    (batch,) = at_work.batches(7, 7)
    first, second = halves(batch)
    assert (len(first), len(second)) == (3, 4)
    assert pd.concat([first.farms, second.farms]).equals(batch.farms)
    assert pd.concat([first.stands, second.stands]).equals(batch.stands)


# Processes


@pytest.mark.long
def test_processes_give_the_same_bytes_and_each_works_on_one_thread_and_is_begun_deaf(tmp_path, undisturbed):
    for workers in (1, 2):
        with Processes(workers) as crew:
            held_back = crew.submit(signal.pthread_sigmask, signal.SIG_BLOCK, ()).result()
            assert signal.SIGINT in held_back
            assert signal.SIGINT not in signal.pthread_sigmask(signal.SIG_BLOCK, ())
            ran(tmp_path / f"run {workers}", at_work.batches(40, 7), crew=crew)
            assert files(tmp_path / f"run {workers}") == undisturbed
            ran(tmp_path / f"threads {workers}", at_work.batches(3, 1), at_work.threads, crew=crew)
        assert set(pd.read_csv(tmp_path / f"threads {workers}" / "farms.csv")["threads"]) == {1}


@pytest.mark.long
def test_a_worker_ended_in_mid_run_changes_no_byte(tmp_path, undisturbed):
    said = tmp_path / "workers"
    said.mkdir()
    ended = []

    def batches():
        for batch in at_work.batches(40, 4):
            if not ended and (workers := list(said.iterdir())):
                ended.append(int(workers[0].name))
                os.kill(ended[0], signal.SIGKILL)
            yield batch

    with Processes(2) as crew:
        found = run_batches(
            partial(at_work.worker_says, str(said)), batches(), tmp_path / "run", ASKED, farms=40, crew=crew
        )
    assert ended
    assert found.aside == ()
    assert files(tmp_path / "run") == undisturbed


@pytest.mark.long
def test_a_farm_that_ends_its_worker_is_found_and_set_aside(tmp_path, undisturbed):
    names = [*at_work.names_of(3), "Dies 1", *at_work.names_of(6)[3:]]
    with Processes(2) as crew:
        found = ran(tmp_path / "run", at_work.batches(names, 2), at_work.hurts, crew=crew)
    assert found.aside == (("Dies 1", "lost", ""),)
    assert (found.farms, found.rows) == (7, 24)


INTERRUPTED = """
import sys
import farms_at_work as at_work
from renovation.__main__ import end_when_interrupted
from renovation.farms.engine import Processes
from renovation.farms.run import Asked, run_batches

if __name__ == "__main__":
    end_when_interrupted()
    asked = Asked("compare", {"stands.csv": "a1"}, {"": "b2"}, {"chunk": 7}, 1)
    with Processes(2) as crew:
        run_batches(at_work.slowly, at_work.batches(40, 1), sys.argv[1], asked, farms=40, crew=crew)
"""


@pytest.mark.long
def test_an_interrupted_run_leaves_no_worker_and_is_gone_on_with(tmp_path, undisturbed):
    folder, script = tmp_path / "run", tmp_path / "script.py"
    script.write_text(INTERRUPTED, "utf-8")
    running = subprocess.Popen(
        [sys.executable, str(script), str(folder)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        stderr=subprocess.PIPE,
        start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    while running.poll() is None and not list(folder.glob("parts/*.json")):
        with suppress(subprocess.TimeoutExpired):
            running.wait(0.05)
    os.killpg(running.pid, signal.SIGINT)  # as a terminal does: to the workers too
    assert (running.wait(), running.stderr.read()) == (130, b"")  # the pipe ends with the last worker
    held = parts.Parts(folder / "parts")
    assert 0 < len(held.whole) < 40
    ran(folder, at_work.batches(40, 1), resume=True)
    assert files(folder) == undisturbed
