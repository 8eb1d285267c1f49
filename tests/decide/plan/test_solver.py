"""The solver layer on published programmes: cash management, the vegetable farm, its duals."""

import time
from dataclasses import replace

import numpy as np
import pytest

from renovation.decide.plan import Program, relax, solve_program
from renovation.decide.plan.clock import Cancelled, Clock
from renovation.decide.plan.solver import relative_gap


def cash_management() -> Program:
    """G1: Cornuejols & Tütüncü, Optimization Methods in Finance, ch. 3.

    Months 1–6 need 150, 100, −200, 200, −50, −300. Columns: credit x1–x5 (≤ 100, 1 % a month), 90-day paper y1–y3
    (2 %), surplus z1–z5 (0.3 % a month), and the money v in month 6.
    """
    needs = [150.0, 100, -200, 200, -50, -300]
    rows = np.zeros((6, 14))
    x, y, z = (lambda i: i), (lambda i: 5 + i), (lambda i: 8 + i)
    for month in range(6):
        if month < 5:
            rows[month, x(month)] = 1
            rows[month, z(month)] = -1
        if month > 0:
            rows[month, x(month - 1)] = -1.01
            rows[month, z(month - 1)] = 1.003
        if month < 3:
            rows[month, y(month)] = 1
        else:
            rows[month, y(month - 3)] = -1.02
    rows[5, 13] = -1
    upper = np.full(14, np.inf)
    upper[:5] = 100
    gain = np.zeros(14)
    gain[13] = 1
    return Program(gain, rows, np.array(needs), np.array(needs), np.zeros(14), upper, np.zeros(14, dtype=bool))


def vegetable_farm() -> Program:
    """G2: Hazell 1971, AJAE 53:53–62: land, labour and a rotation."""
    rows = np.array([[1.0, 1, 1, 1], [25, 36, 27, 87], [-1, 1, -1, 1]])
    return Program(
        np.array([253.0, 443, 284, 516]),
        rows,
        np.full(3, -np.inf),
        np.array([200.0, 10000, 0]),
        np.zeros(4),
        np.full(4, np.inf),
        np.zeros(4, dtype=bool),
    )


def test_cash_management_reaches_the_published_optimum():
    for answer in (solve_program(cash_management()), relax(cash_management())):
        assert answer.status == "proven"
        assert answer.value == pytest.approx(92.4969491525, abs=1e-8)
        assert answer.point is not None
        assert answer.point[5:8] == pytest.approx([150, 100, 151.944167], abs=1e-6)
        assert answer.point[10] == pytest.approx(351.944167, abs=1e-6)
        assert answer.point[4] == pytest.approx(52, abs=1e-6)


def test_the_vegetable_farm_and_what_one_more_unit_is_worth():
    answer = solve_program(vegetable_farm())
    assert answer.value == pytest.approx(77996.0784, abs=5e-5)
    assert answer.point == pytest.approx([0, 27.45098, 100, 72.54902], abs=5e-6)
    duals = relax(vegetable_farm()).worth_of_high
    assert duals == pytest.approx([318.411765, 1.431373, 73.058824], abs=5e-7)


def test_a_dual_is_what_solving_again_gains():
    farm = vegetable_farm()
    base = solve_program(farm).value
    assert base is not None
    for row, dual in enumerate(relax(farm).worth_of_high):
        more = farm.high.copy()
        more[row] += 1
        again = solve_program(replace(farm, high=more)).value
        assert again is not None
        assert again - base == pytest.approx(dual, rel=1e-6)


def test_duals_of_bounds_and_of_lower_limits():
    """Maximise 3a + 2b, a ≤ 4, a + b ≤ 6, b ≥ 1: by hand the bound is worth 1, the row 2, the lower limit nothing."""
    program = Program(
        np.array([3.0, 2]),
        np.array([[1.0, 1], [0, 1]]),
        np.array([-np.inf, 1.0]),
        np.array([6.0, np.inf]),
        np.zeros(2),
        np.array([4.0, np.inf]),
        np.zeros(2, dtype=bool),
    )
    found = relax(program)
    assert found.value == pytest.approx(16)
    assert found.worth_of_upper[0] == pytest.approx(1)
    assert found.worth_of_high[0] == pytest.approx(2)
    assert found.worth_of_low[1] == pytest.approx(0)
    dearer = relax(replace(program, low=np.array([-np.inf, 3.0])))
    assert dearer.worth_of_low[1] == pytest.approx(-1)


def test_whole_numbers_status_and_bound():
    knapsack = Program(
        np.array([10.0, 13, 7]),
        np.array([[3.0, 4, 2]]),
        np.array([-np.inf]),
        np.array([6.0]),
        np.zeros(3),
        np.ones(3),
        np.ones(3, dtype=bool),
        constant=100.0,
    )
    answer = solve_program(knapsack)
    assert answer.status == "proven"
    assert answer.value == pytest.approx(120)
    assert answer.gap == pytest.approx(0, abs=1e-9)
    impossible = solve_program(replace(knapsack, low=np.array([10.0]), high=np.array([np.inf])))
    assert (impossible.status, impossible.point, impossible.value) == ("infeasible", None, None)
    endless = replace(knapsack, upper=np.full(3, np.inf), high=np.array([np.inf]))
    assert solve_program(endless).status in ("unbounded", "infeasible", "failed")


def test_a_gap_is_of_the_whole_value():
    assert relative_gap(100.0, 101.0) == pytest.approx(0.01)
    assert relative_gap(-100.0, -99.0) == pytest.approx(0.01)
    assert relative_gap(0.0, 0.0) == 0
    assert relative_gap(0.0, 1.0) is None
    assert relative_gap(1e-320, 1.0) is None
    assert relative_gap(None, 1.0) is None


@pytest.mark.long
def test_a_programme_in_a_process_gives_the_same_answer():
    here, there = solve_program(vegetable_farm()), Clock(30, lambda: False).solve(vegetable_farm(), 0.0)
    assert there.value == pytest.approx(here.value)
    assert there.point == pytest.approx(here.point)


def hard_programme(size: int = 60) -> Program:
    """A market split: nobody solves thirty of these rows in a minute."""
    rng = np.random.default_rng(5)
    rows = rng.integers(0, 100, (7, size)).astype(float)
    half = np.floor(rows.sum(axis=1) / 2)
    wide = np.hstack([rows, np.eye(7), -np.eye(7)])
    gain = np.concatenate([np.zeros(size), -np.ones(14)])
    whole = np.arange(size + 14) < size
    upper = np.concatenate([np.ones(size), np.full(14, np.inf)])
    return Program(gain, wide, half, half, np.zeros(size + 14), upper, whole)


def test_a_cancel_ends_the_solver_at_once():
    began = time.monotonic()
    with pytest.raises(Cancelled):
        Clock(60, lambda: time.monotonic() - began > 1.0).solve(hard_programme(), 0.0)
    assert time.monotonic() - began < 15


def test_a_time_limit_is_not_a_proof():
    answer = solve_program(hard_programme(), 0.0, 1.0)
    assert answer.status == "stopped"
    assert answer.value is None or answer.bound is None or answer.bound > answer.value
