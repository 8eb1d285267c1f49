"""Times taken by hand, for what stands beside a benchmark in the same run."""

import time
from collections.abc import Callable
from statistics import median


def seconds(call: Callable[[], object], rounds: int = 1) -> float:
    """Median wall time of a call."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return median(times)


def processor_seconds(call: Callable[[], object]) -> float:
    """Time of the processor that a call takes: other work on the machine stretches it less."""
    start = time.process_time()
    call()
    return time.process_time() - start
