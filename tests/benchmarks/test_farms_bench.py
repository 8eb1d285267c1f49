"""Many farms: what sharing out costs, and what a second worker brings; run by its own command, never a test.

The aims: sharing out takes at most 5 % more than the same work in a loop, two workers do 1.8 times the work of one.
Both are measured beside each other in one run; other work on the machine moves the second.
"""

from functools import partial

import farms_at_work as at_work
import pytest
from benchmarks.timing import seconds

from renovation.farms.engine import Processes, work
from renovation.farms.parts import encoded
from renovation.farms.run import Asked, run_batches

BATCHES = 20


def loop(batches):
    """The same work without workers, its tables made ready to be written."""
    for batch in batches:
        encoded(at_work.spins(batch))


def shared(crew, batches):
    for _ in work(crew, at_work.spins, enumerate(batches)):
        pass


@pytest.fixture(params=[1, 2])
def crew(request):
    """Workers that have begun."""
    with Processes(request.param) as processes:
        shared(processes, at_work.batches(8, 1))
        yield processes


def test_work_shared_out(benchmark, crew):
    batches = at_work.batches(BATCHES * 100, 100)
    alone = seconds(partial(loop, batches), 3)
    benchmark.extra_info["a loop, seconds"] = alone
    benchmark.pedantic(shared, (crew, batches), rounds=3)
    benchmark.extra_info["a loop beside it"] = alone / benchmark.stats.stats.median


def test_a_run_in_a_folder(benchmark, crew, tmp_path):
    """The same with its parts written, and all of it sorted."""
    batches, folders = at_work.batches(BATCHES * 100, 100), iter(range(100))
    alone = seconds(partial(loop, batches), 3)

    def run():
        folder = tmp_path / str(next(folders))
        run_batches(at_work.spins, batches, folder, Asked("spins"), farms=BATCHES * 100, crew=crew)

    benchmark.pedantic(run, rounds=3)
    benchmark.extra_info["a loop beside it"] = alone / benchmark.stats.stats.median
