"""Many farms measured on a machine that does nothing else: time, memory, and what sharing out costs.

    python tests/benchmarks/many_farms.py overhead
    python tests/benchmarks/many_farms.py workers
    python tests/benchmarks/many_farms.py whole 100000 1000000
    python tests/benchmarks/many_farms.py book 10000

The aims: sharing out takes at most 5 % more than the same work in a loop; two workers do 1.8 times the work of one; a
million farms are compared and written on two cores within 5 minutes, in at most 1.2 times the memory of 100,000. Memory
is the sum over the processes of a run of what is theirs and their share of what they share (Linux, PSS), its highest.
Farms are invented: two stands and a loan each, eight ways, 25 years. A million need 8 GB of disk where `--folder` says.
"""

import argparse
import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from statistics import median

import psutil

from renovation.farms import check, compare_many, invent
from renovation.farms.engine import Processes, work
from renovation.farms.parts import encoded
from renovation.inputs import demo_scenario
from renovation.inputs.document import save_scenario

ROUNDS = 5
TOLD = 0.2
"""Seconds between two looks at the memory."""


def table(folder: Path, farms: int) -> tuple[Path, Path]:
    """A template and a table of farms of two stands."""
    scenario, stands = folder / "template.toml", folder / f"stands {farms}.parquet"
    template = demo_scenario()
    assert (len(template.techniques), template.appraisal.horizon_years) == (8, 25)
    invent.STANDS, invent.WITHOUT_LOAN = (0.0, 1.0, 0.0), 0.0
    stands.write_bytes(invent.invented_file(invent.invent(farms, 1, template), str(stands), 1, template))
    save_scenario(template, scenario)
    return scenario, stands


def shared(crew, batches):
    """Seconds that a crew takes, its workers begun."""
    began = time.perf_counter()
    for _ in work(crew, compare_many, enumerate(batches)):
        pass
    return time.perf_counter() - began


def alone(batches):
    """Seconds of the same work in a loop, without and with its tables made ready to be written."""
    began, writing = time.perf_counter(), 0.0
    for batch in batches:
        found = compare_many(batch)
        ready = time.perf_counter()
        encoded(found)
        writing += time.perf_counter() - ready
    took = time.perf_counter() - began
    return took - writing, took


def batches_of(folder, farms):
    """Batches as a run has them."""
    _, stands = table(folder, farms)
    return list(check(demo_scenario(), stands, tried=0).batches())


def overhead(folder, farms):
    """One worker beside a loop, by turns."""
    batches = batches_of(folder, farms)
    with Processes(1) as crew:
        shared(crew, batches[:2])
        alone(batches[:2])
        rounds = [(*alone(batches), shared(crew, batches)) for _ in range(ROUNDS)]
    bare, ready, ours = (median(times) for times in zip(*rounds, strict=True))
    more = median(ours / ready for _, ready, ours in rounds) - 1
    print(f"{farms} farms: bare calls {bare:.2f} s, with tables ready to be written {ready:.2f} s, engine {ours:.2f} s")
    beside = 100 * (ours / bare - 1)
    print(f"engine overhead {100 * more:+.1f} % (aim: at most 5 %); beside the bare calls {beside:+.1f} %")


def workers(folder, farms):
    """Two workers beside one, by turns."""
    batches = batches_of(folder, farms)
    with Processes(1) as one, Processes(2) as two:
        shared(one, batches[:2])
        shared(two, batches[:8])
        rounds = [(shared(one, batches), shared(two, batches)) for _ in range(ROUNDS)]
    times = median(first / second for first, second in rounds)
    print(f"{farms} farms, seconds by one worker and by two: " + ", ".join(f"{a:.2f} {b:.2f}" for a, b in rounds))
    print(f"two workers do {times:.2f} times the work of one (aim: at least 1.8)")


class Memory:
    """The highest memory of a process and those that it began, bytes (PSS), looked at while it runs."""

    def __init__(self, process: subprocess.Popen) -> None:
        self.highest, self.parts = 0, ()
        self._process = psutil.Process(process.pid)
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._look)
        self._thread.start()

    def _look(self) -> None:
        while not self._over.wait(TOLD):
            held = []
            try:
                for one in (self._process, *self._process.children(recursive=True)):
                    held.append(one.memory_full_info().pss)
            except psutil.Error:
                continue
            if sum(held) > self.highest:
                self.highest, self.parts = sum(held), tuple(held)

    def end(self) -> None:
        self._over.set()
        self._thread.join()


def processor():
    """Seconds of processors that processes begun here have taken, those that ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def command(folder, what, farms):
    """A whole run by the command: seconds, the highest memory, and what its folder tells."""
    scenario, stands = table(folder, farms)
    out = folder / "out"
    words = ["farms", what, str(scenario), str(stands), "-o", str(out), "--workers", "2"]
    began, before = time.perf_counter(), processor()
    running = subprocess.Popen([sys.executable, "-m", "renovation", *words], stdout=subprocess.DEVNULL)
    memory = Memory(running)
    code = running.wait()
    took = time.perf_counter() - began
    memory.end()
    worked = processor() - before
    assert code == 0
    told = json.loads((out / "run.json").read_text())
    size = sum(path.stat().st_size for path in out.rglob("*") if path.is_file())
    shutil.rmtree(out)
    stands.unlink()
    each = ", ".join(f"{part / 1e6:.0f}" for part in memory.parts)
    print(f"{what}, {farms} farms, {told['rows']} rows, {size / 1e9:.2f} GB: {took:.1f} s ({took / 60:.2f} min)")
    print(f"  {worked:.0f} s of processors; on two that nobody else wants it cannot take less than {worked / 2:.0f} s")
    print(f"  {told['seconds']:.1f} s of work and writing, the rest checks and the summary")
    print(f"  memory at its highest {memory.highest / 1e6:.0f} MB ({each})")
    sys.stdout.flush()
    return took, memory.highest


def whole(folder, *numbers):
    """Runs of so many farms each, and how far memory and time grow."""
    found = [command(folder, "compare", farms) for farms in numbers]
    if len(found) > 1:
        longer, larger = (last / first for first, last in zip(found[0], found[-1], strict=True))
        print(f"memory {larger:.2f} times (aim: at most 1.2), time {longer:.1f} times")
    print(f"aim for a million farms: at most 5 min; at this pace {found[-1][0] / numbers[-1] * 1e6 / 60:.1f} min")


def main():
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("what", choices=["overhead", "workers", "whole", "book"])
    asked.add_argument("farms", type=int, nargs="*")
    asked.add_argument("--folder", default=None)
    args = asked.parse_args()
    print(f"{os.cpu_count()} cores, load before {os.getloadavg()[0]:.2f}")
    with tempfile.TemporaryDirectory(dir=args.folder) as name:
        folder = Path(name)
        if args.what == "book":
            command(folder, "book", *(args.farms or [10_000]))
        elif args.what == "whole":
            whole(folder, *(args.farms or [100_000, 1_000_000]))
        else:
            {"overhead": overhead, "workers": workers}[args.what](folder, *(args.farms or [20_000]))


if __name__ == "__main__":
    main()
