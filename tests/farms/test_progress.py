"""The time left of a run, against a second way to work it out."""

import numpy as np
import pytest

from renovation.farms.progress import time_left


def test_eight_of_ten_runs_end_within_the_range():
    """Simulated: batches of like farms whose seconds scatter about their mean, forty done and sixty to come."""
    rng = np.random.default_rng(4)
    inside = 0
    for _ in range(2000):
        costs = rng.gamma(9.0, 0.3, 100)
        left = time_left([(5, cost) for cost in costs[:40]], 60 * 5, 1)
        inside += left.low <= costs[40:].sum() <= left.high
    assert inside / 2000 == pytest.approx(0.8, abs=0.03)


def test_nothing_is_said_before_two_batches_are_finished():
    assert time_left([], 10, 2) is None
    assert time_left([(5, 1.0)], 10, 2) is None


def test_workers_share_the_time():
    costs = [(5, 1.0), (5, 3.0)]
    assert time_left(costs, 20, 1).seconds == 2 * time_left(costs, 20, 2).seconds == 8.0
