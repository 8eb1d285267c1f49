"""How far a run is, and how long it may still take (pure)."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

TENTH = 1.2815515655446004
"""Standard deviations between the middle and the ninth tenth of a normal distribution."""


@dataclass(frozen=True)
class Left:
    """Seconds that are left: expected, and between what in eight cases of ten."""

    seconds: float
    low: float
    high: float


def time_left(costs: Sequence[tuple[int, float]], farms: int, workers: int) -> Left | None:
    """How long the farms that are left may take; None before two batches are finished.

    costs: of each finished batch its farms and a worker's seconds. farms: how many are left. With c̄ the seconds of a
    farm, s² the variance of the batches about c̄·farms, n batches finished and k left, all like those:
    left = c̄·farms ± 1.28·s·√(k + k²/n), shared among the workers (the usual prediction interval of a sum).

    Example (like batches leave no doubt):
        >>> time_left([(10, 2.0), (10, 2.0), (10, 2.0)], 100, 2)
        Left(seconds=10.0, low=10.0, high=10.0)
    """
    n, done = len(costs), sum(count for count, _ in costs)
    if n < 2 or not done:
        return None
    each = sum(seconds for _, seconds in costs) / done
    variance = sum((seconds - each * count) ** 2 for count, seconds in costs) / (n - 1)
    k = farms / (done / n)
    spread = TENTH * math.sqrt(variance * (k + k * k / n)) / workers
    middle = each * farms / workers
    return Left(middle, max(middle - spread, 0.0), middle + spread)
