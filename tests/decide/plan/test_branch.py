"""The planner's own branching beside HiGHS's on the same programmes; the programme in pieces beside the one of rows."""

import time
from dataclasses import replace

import numpy as np
import pytest
from random_farms import changed_planning, random_farm
from scipy.sparse import csr_array

from renovation.decide.plan import Program, build, solve_program
from renovation.decide.plan.branch import Pool, _Branching, branch
from renovation.decide.plan.pieces import in_pieces
from renovation.decide.plan.rows import formulate
from renovation.decide.plan.solver import Ends, settle


def lots(seed: int) -> tuple[Program, np.ndarray, Pool]:
    """Lots: what is made in six months (x, whole) shares the month and needs the machine to be set up (z)."""
    rng = np.random.default_rng(seed)
    months, things = 6, 3
    setups, made = np.arange(months), months + np.arange(months * things)
    width = months + months * things
    gain = np.concatenate([-rng.uniform(5, 40, months), rng.uniform(1, 9, months * things)])
    rows, high = [], []
    for month in range(months):
        row = np.zeros(width)
        row[made[month * things : (month + 1) * things]] = rng.uniform(0.5, 2, things)
        rows.append(row)
        high.append(rng.uniform(8, 20))
    waiting, none = [], []
    for x in made:
        row = np.zeros(width)
        row[x], row[setups[(x - months) // things]] = 1.0, -12.0
        waiting.append(row)
        none.append(0.0)
    upper = np.concatenate([np.ones(months), np.full(months * things, 12.0)])
    program = Program(
        gain, csr_array(np.array(rows)), np.full(months, -np.inf), np.array(high), np.zeros(width), upper,
        np.ones(width, dtype=bool), constant=50.0,
    )  # fmt: skip
    return program, setups, Pool(csr_array(np.array(waiting)), np.array(none))


def at_once(program: Program, pool: Pool) -> Program:
    """The programme with every row of the pool."""
    return program.with_rows(pool.rows, np.full(pool.high.size, -np.inf), pool.high)


@pytest.mark.parametrize("seed", range(12))
def test_branching_finds_what_highs_finds(seed):
    program, switches, pool = lots(seed)
    there = solve_program(at_once(program, pool))
    here = branch(program, switches, np.ones(switches.size), pool)
    assert here.status == "proven"
    assert here.value == pytest.approx(there.value, abs=1e-5)
    assert here.bound == pytest.approx(there.value, abs=1e-5)
    assert (pool.rows @ here.point <= pool.high + 1e-6).all()
    assert here.point[program.whole] == pytest.approx(np.round(here.point[program.whole]), abs=1e-5)
    gap = 0.01
    rough = branch(program, switches, np.ones(switches.size), pool, gap)
    assert rough.value >= there.value - gap * abs(there.value) - 1e-5
    assert there.value - 1e-5 <= rough.bound <= rough.value + gap * abs(rough.value) + 1e-5


@pytest.mark.parametrize("limit", ["LONG", "MANY"])
@pytest.mark.parametrize("seed", range(3))
def test_what_is_left_to_highs_is_solved_as_closely(monkeypatch, limit, seed):
    program, switches, pool = lots(seed)
    there = solve_program(at_once(program, pool))
    monkeypatch.setattr("renovation.decide.plan.branch." + limit, 1)
    here = branch(program, switches, np.ones(switches.size), pool)
    assert here.status == "proven"
    assert (here.value, here.bound) == (pytest.approx(there.value, abs=1e-5), pytest.approx(there.value, abs=1e-5))
    assert (pool.rows @ here.point <= pool.high + 1e-6).all()


@pytest.mark.parametrize("limit", ["LONG", "MANY"])
def test_with_a_rough_gap_the_work_done_ends_the_search(monkeypatch, limit):
    """HiGHS is not asked where the bound after so many nodes is near enough; where it is not, for no more than that."""
    monkeypatch.setattr("renovation.decide.plan.branch." + limit, 1)
    asked = []
    monkeypatch.setattr("renovation.decide.plan.branch._Branching.as_one", lambda self, _: asked.append(self.gap))
    for seed in range(3):
        program, switches, pool = lots(seed)
        best = solve_program(at_once(program, pool)).value
        weights = np.ones(switches.size)
        near = branch(program, switches, weights, pool, least=0.9 * best, rough_gap=0.5)
        assert asked == []
        assert near.status == "proven"
        assert best <= near.bound + 1e-6 <= near.value * 1.5 + 1e-5
        branch(program, switches, weights, pool, rough_gap=0.001)
        assert asked.pop() == 0.001


def test_what_is_known_is_only_beaten():
    program, switches, pool = lots(3)
    best = branch(program, switches, np.ones(switches.size), pool)
    none_better = branch(program, switches, np.ones(switches.size), pool, least=best.value)
    assert (none_better.status, none_better.point) == ("proven", None)
    assert none_better.bound == pytest.approx(best.value, abs=1e-5)
    better = branch(program, switches, np.ones(switches.size), pool, least=best.value - 1.0)
    assert better.value == pytest.approx(best.value, abs=1e-5)


def test_no_point_and_no_time_are_said():
    program, switches, pool = lots(1)
    impossible = replace(program, low=np.full(program.low.size, 1e4), high=np.full(program.high.size, np.inf))
    assert branch(impossible, switches, np.ones(switches.size), pool).status == "infeasible"
    halves = Program(
        np.ones(2), csr_array([[2.0, 2.0]]), np.array([1.0]), np.array([1.0]), np.zeros(2), np.ones(2), np.ones(2, bool)
    )
    nothing = Pool(csr_array((0, 2)), np.zeros(0))
    assert branch(halves, np.array([0]), np.ones(1), nothing).status == "infeasible"
    began = time.monotonic()
    stopped = branch(program, switches, np.ones(switches.size), pool, time_limit_seconds=0.0)
    assert (stopped.status, stopped.point) == ("stopped", None)
    assert stopped.bound >= branch(program, switches, np.ones(switches.size), pool).value
    assert time.monotonic() - began < 5


def test_time_that_is_up_within_a_relaxation_leaves_what_is_known(monkeypatch):
    """A linear programme whose numbers lie far apart may keep HiGHS for hours: the clock ends that too."""
    program, switches, pool = lots(1)
    best = branch(program, switches, np.ones(switches.size), pool).value
    monkeypatch.setattr("renovation.decide.plan.branch.A_LOOK", 0.0)
    solved, bounds = _Branching._solved, []
    for runs in range(40):
        left = iter([True] * runs)

        def in_time(self, left=left):
            self.until = time.monotonic() + (60.0 if next(left, False) else 0.0)
            return solved(self)

        monkeypatch.setattr(_Branching, "_solved", in_time)
        stopped = branch(program, switches, np.ones(switches.size), pool, time_limit_seconds=60.0)
        if stopped.status == "proven":
            break
        assert stopped.status == "stopped"
        assert stopped.point is None or stopped.value <= best + 1e-5
        bounds.append(np.inf if stopped.bound is None else stopped.bound)
    assert bounds[0] == np.inf
    assert np.isfinite(bounds).any()
    assert min(bounds) >= best - 1e-5


@pytest.mark.parametrize("seed", range(4))
def test_what_ends_a_solve_leaves_a_point_and_a_bound_that_hold(seed):
    program, _, pool = lots(seed)
    whole = at_once(program, pool)
    best = solve_program(whole)
    rough = settle(whole, 0.0, 60.0, Ends(wanted=0.9 * best.value))
    assert 0.9 * best.value <= rough.value <= best.value + 1e-6
    assert (pool.rows @ rough.point <= pool.high + 1e-6).all()
    assert rough.bound >= best.value - 1e-6
    bounded = settle(whole, 0.0, 60.0, Ends(enough=1.05 * best.value))
    assert best.value - 1e-6 <= bounded.bound <= 1.05 * best.value
    again = settle(whole, 0.0, 60.0, Ends(), known=best.point)
    assert (again.status, again.value, again.bound) == ("proven", *[pytest.approx(best.value, abs=1e-5)] * 2)
    impossible = replace(whole, low=np.full(whole.low.size, 1e4), high=np.full(whole.high.size, np.inf))
    assert settle(impossible, 0.0, 60.0, Ends()).status == "infeasible"


@pytest.mark.long
@pytest.mark.parametrize("limits", [{}, {"money_per_year": 700.0}, {"batch": {"side_graft": 30}}])
def test_counts_of_pieces_say_what_yes_and_no_say(limits):
    """Both programmes with every row written out have the same best plan."""
    farm, planning = random_farm(5, stands=2, ways=2, years=2, horizon=12)
    problem = build(farm, changed_planning(planning, **limits))
    rows = solve_program(formulate(problem, np.arange(problem.months)).program, 1e-7)
    pieces = in_pieces(problem)
    counts = solve_program(at_once(pieces.model.program, pieces.pool), 1e-7)
    branched = branch(pieces.model.program, pieces.switches, pieces.weights, pieces.pool, 1e-7)
    assert rows.value == pytest.approx(counts.value, rel=1e-6)
    assert rows.value == pytest.approx(branched.value, rel=1e-6)
