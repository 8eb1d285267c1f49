"""How long the careful plan takes and on what: `pytest tests/benchmarks/test_careful_bench.py --benchmark-only`."""

import time

import numpy as np
import pytest

from renovation.decide.plan import learned_plan
from renovation.decide.plan.clock import Clock
from renovation.decide.risk import careful, draw_futures
from renovation.decide.risk.careful_search import CarefulSearch
from renovation.decide.risk.judge import stray_of, strayed
from renovation.inputs import demo_names, demo_scenario

LINES = 20


@pytest.fixture(scope="module")
def plan():
    """A demo farm on which caution costs something, with few planning years."""
    return learned_plan(demo_scenario("first_grafters").changed(planning__years=2)).plan


def timed(call, clock, name):
    """The same call, its seconds and its times added up under a name."""

    def run(*args, **facts):
        began = time.perf_counter()
        try:
            return call(*args, **facts)
        finally:
            spent, times = clock.get(name, (0.0, 0))
            clock[name] = spent + time.perf_counter() - began, times + 1

    return run


@pytest.mark.benchmark(group="careful")
def test_the_careful_plan_and_its_parts(benchmark, plan, monkeypatch):
    """The whole search and the judging on fresh futures; of it the solver, trying plans out, and learning rows."""
    clock = {}
    for name in ("solve", "at_once", "branch"):
        monkeypatch.setattr(Clock, name, timed(getattr(Clock, name), clock, name))
    for name in ("_see", "_learn"):
        monkeypatch.setattr(CarefulSearch, name, timed(getattr(CarefulSearch, name), clock, name))
    monkeypatch.setattr(careful, "judged_on", timed(careful.judged_on, clock, "judging"))
    began = time.perf_counter()
    found = benchmark.pedantic(careful.careful_plan, (plan,), rounds=1)
    whole = time.perf_counter() - began
    parts = {name: f"{spent:.2f} s in {times}" for name, (spent, times) in clock.items()}
    benchmark.extra_info.update(whole=f"{whole:.2f} s", rounds=found.rounds, cost=round(found.cost), **parts)
    print(f"careful plan {whole:.1f} s, {found.rounds} rounds: {parts}")
    assert found.settled
    assert not found.same
    assert sum(spent for spent, _ in clock.values()) <= whole * 1.01
    assert clock["_learn"][0] < whole / 2  # rows are cheap beside the plans they are learned from


@pytest.mark.benchmark(group="careful")
@pytest.mark.parametrize("name", demo_names())
def test_both_plans_of_a_demo_farm(benchmark, name):
    """From the farm to the careful plan, and to the first plan that can be shown: 30 s and 3 s are what is asked."""
    told = []
    began = time.perf_counter()

    def tell(learned):
        told.append((time.perf_counter() - began, learned.plan))

    found = benchmark.pedantic(careful.plan_carefully, (demo_scenario(name),), {"on_expected": tell}, rounds=1)
    whole, first = time.perf_counter() - began, told[0][0]
    npv, kept = found.answers[careful.CAREFUL].expected_npv, found.kept[careful.CAREFUL].value
    benchmark.extra_info.update(whole=round(whole, 1), first=round(first, 1), npv=round(npv), kept=round(kept, 4))
    print(f"{name}: first plan {first:.1f} s, careful {whole:.1f} s, NPV {npv:.0f}, promise kept in {kept:.2%}")
    assert told[0][1].breaches == ()
    assert found.at_floor
    assert found.holds


def candidate_by_candidate(search, seen, until, layouts):
    """The slopes of a row, each candidate's tree worked out in every future and month on its own."""
    factors = (seen.futures.price, seen.futures.crop, seen.futures.inputs, seen.futures.wage)
    price, crop, inputs, wage = (np.repeat(one[seen.rows], 12, axis=1) for one in factors)
    market = search.scenario.market
    slopes = []
    for layout in layouts:
        stray = stray_of(layout, seen.futures)
        some = None if stray is None else stray[seen.rows]
        sales, kg, days, supplies = strayed(layout.change_by_month, layout.outcomes_by_month, some)
        earned = sales * price * crop + (price - 1) * crop * market.deductions_per_kg * kg
        work = days + (crop - 1) * market.harvest_days_per_kg * kg
        cash = earned - supplies * inputs - work * wage * search.problem.wage * seen.hired
        cash += layout.flows.with_plan.other_income - layout.flows.without.other_income
        slopes.append((cash * until).sum(axis=1).mean())
    return np.array(slopes)


@pytest.mark.benchmark(group="careful")
def test_a_row_beside_a_loop_over_candidates(benchmark, plan):
    """The same slopes, at least three times as fast; takes by season are known to both beforehand."""
    years = plan.scenario.appraisal.horizon_years
    search = CarefulSearch(plan, draw_futures(plan.scenario.risk, years, careful.TRAINING, 1), None, None)
    seen = search._see(search.start, search.futures)
    until = np.arange(search.problem.months) <= seen.month[:, None]
    layouts = [search._one_tree(i) for i in range(len(search.problem.candidates))]
    looped = candidate_by_candidate(search, seen, until, layouts)
    assert search._slopes(seen, until) == pytest.approx(looped, rel=1e-9, abs=1e-9)
    began = time.perf_counter()
    candidate_by_candidate(search, seen, until, layouts)
    slow = time.perf_counter() - began
    began = time.perf_counter()
    for _ in range(LINES):
        search._line(search.start, seen)
    ours = (time.perf_counter() - began) / LINES
    benchmark.pedantic(search._line, (search.start, seen), rounds=LINES)
    benchmark.extra_info.update(row_ms=round(ours * 1e3, 1), loop_ms=round(slow * 1e3, 1), candidates=len(layouts))
    print(f"one row {ours * 1e3:.1f} ms, candidate by candidate {slow * 1e3:.0f} ms, {len(layouts)} candidates")
    assert slow > 3 * ours
