"""Small farms and what is asked of them where the workers are tested: plain functions that a process can be given."""

import os
import time
from concurrent.futures import Future
from pathlib import Path

import numpy as np
import pandas as pd

from renovation.farms.batch import Batch
from renovation.farms.engine import Processes
from renovation.inputs import demo_scenario

CALM, DIES, FAILS, BURSTS = "Farm", "Dies", "Fails", "Bursts"


def names_of(farms: int) -> list[str]:
    return [f"{CALM} {number:04d}" for number in range(farms)]


def batches(farms: "int | list[str]", size: int, shuffled: "int | None" = None) -> list[Batch]:
    """Farms of two stands in batches; shuffled: the seed by which their rows are put in another order."""
    names = names_of(farms) if isinstance(farms, int) else farms
    number = {name: place for place, name in enumerate(names)}
    if shuffled is not None:
        names = np.random.default_rng(shuffled).permutation(names).tolist()
    found = []
    for at in range(0, len(names), size):
        some = names[at : at + size]
        table = pd.DataFrame(
            {"household.savings": [100.0 + number[name] for name in some]}, pd.Index(some, name="farm")
        )
        stands = pd.DataFrame(
            [(name, stand, trees + number[name]) for name in some for stand, trees in (("Hill", 100), ("River", 200))],
            columns=["farm", "stand", "stands.trees"],
        )
        found.append(Batch(demo_scenario(), table, stands))
    return found


def worth(batch: Batch) -> pd.DataFrame:
    """Two ways on every stand, their worth a number of its own for each; one column is blank for most farms."""
    stands = batch.stands.loc[batch.stands.index.repeat(2)].reset_index(drop=True)
    way = np.tile(["b way", "a way"], len(batch.stands))
    npv = np.sin(stands["stands.trees"].to_numpy() * 1.7) * 1e4 + (way == "a way")
    blank = np.where(stands["farm"] == "Farm 0003", 7.0, np.nan)
    return pd.DataFrame(
        {"farm": stands["farm"], "stand": stands["stand"], "way": way, "npv": npv, "payback_years": blank}
    )


def slowly(batch: Batch) -> pd.DataFrame:
    """The same, after a tenth of a second."""
    time.sleep(0.1)
    return worth(batch)


def worker_says(folder: str, batch: Batch) -> pd.DataFrame:
    """The same, once every worker has said in a folder who it is."""
    (Path(folder) / str(os.getpid())).touch()
    return slowly(batch)


def hurts(batch: Batch) -> pd.DataFrame:
    """The same, but for farms whose name says what they do to their worker."""
    for name in batch.farms.index:
        if name.startswith(DIES):
            os._exit(9)
        if name.startswith(FAILS):
            raise ValueError(f"nothing fits {name}")
        if name.startswith(BURSTS):
            raise MemoryError
    return worth(batch)


def spins(batch: Batch) -> pd.DataFrame:
    """The same, after work of some milliseconds a farm that one core does."""
    left = 100_000 * len(batch)
    while left:
        left -= 1
    return worth(batch)


def threads(batch: Batch) -> pd.DataFrame:
    """How many threads a worker's libraries take."""
    return pd.DataFrame({"farm": batch.farms.index, "threads": os.environ.get("OMP_NUM_THREADS")})


class Here(Processes):
    """Workers that are this process, so that a plain test begins none."""

    def __init__(self, workers=None):
        self.workers = workers or 1

    def submit(self, call, *args):
        future = Future()
        future.set_result(call(*args))
        return future

    def __exit__(self, *_):
        pass
