"""How fast the risk run is, and beside what: `pytest tests/benchmarks/test_risk_bench.py --benchmark-only`."""

import tracemalloc

import numpy as np
import pandas as pd
import pytest
from benchmarks.timing import processor_seconds, seconds
from risk_reference import one_future

from renovation.decide.risk import draw_futures, judge_all, lay_out, risk, strategies_of
from renovation.farm import by_project_month
from renovation.inputs import demo_scenario

FUTURES, LOOPED = 8192, 24
WAYS = ["side_graft", "rooted_cutting", "basal_shoot_graft"]


@pytest.fixture(scope="module")
def farm():
    farm = demo_scenario()
    assert farm.appraisal.horizon_years == 25
    return farm


def four(farm):
    found = strategies_of(farm, WAYS)
    assert [strategy.key for strategy in found] == ["plan", *WAYS]
    return found


def in_pandas(layout, futures, rows):
    """NPV and deepest point with one row per future and month, in pandas; takes as expected."""
    farm, side, other = layout.scenario, layout.flows.with_plan, layout.flows.without
    market, household, months = farm.market, farm.household, farm.appraisal.months
    first = farm.appraisal.start_calendar_month
    month = pd.DataFrame({"month": np.arange(months), "year": np.arange(months) // 12})
    for name, flows in (("with", side), ("without", other)):
        month[f"sales_{name}"], month[f"days_{name}"] = flows.sales, flows.days
        month[f"kg_{name}"] = flows.old_kg + flows.new_kg
        month[f"bought_{name}"] = flows.materials + flows.tools
        month[f"income_{name}"] = flows.other_income
    month["family"] = by_project_month(household.family_days, first, months)
    cash = layout.cash
    month["rest"] = cash.other_income - cash.money_out + cash.loan_payout - cash.loan_fee
    future = pd.DataFrame(
        {
            "future": np.repeat(np.arange(rows), futures.years),
            "year": np.tile(np.arange(futures.years), rows),
            **{n: getattr(futures, n)[:rows].ravel() for n in ("price", "crop", "wage", "inputs")},
        }
    )
    every = future.merge(month, on="year").sort_values(["future", "month"])
    for name in ("with", "without"):
        kg = every[f"kg_{name}"]
        gross = every[f"sales_{name}"] + market.deductions_per_kg * kg
        sales = gross * every["price"] * every["crop"] - market.deductions_per_kg * kg * every["crop"]
        days = every[f"days_{name}"] + (every["crop"] - 1) * market.harvest_days_per_kg * kg
        money = sales + every[f"income_{name}"] - every[f"bought_{name}"] * every["inputs"]
        day = household.wage_per_day * every["wage"]
        every[f"economic_{name}"] = money - days * day * household.labour_value
        every[f"cash_{name}"] = money - (days - every["family"]).clip(lower=0) * day
    every["change"] = (every["economic_with"] - every["economic_without"]) / (1 + farm.appraisal.discount_rate) ** (
        every["year"] + 1
    )
    every["flow"] = every["cash_with"] + every["rest"]
    every["balance"] = household.savings + every.groupby("future")["flow"].cumsum()
    found = every.groupby("future").agg(npv=("change", "sum"), deepest=("balance", "min"))
    return found["npv"].to_numpy(), found["deepest"].to_numpy()


def test_futures_beside_a_plain_loop_and_pandas(benchmark, farm):
    """8,192 futures × 25 years × 4 strategies, drawn and judged, months and loans included: the aim is 0.3 s."""
    benchmark.pedantic(risk, (farm, four(farm)), rounds=7, warmup_rounds=1)
    ours = benchmark.stats.stats.median if benchmark.stats else seconds(lambda: risk(farm, four(farm)), 5)

    processor = min(processor_seconds(lambda: risk(farm, four(farm))) for _ in range(5))
    still = farm.changed(risk__take_spread=0.0)
    futures = draw_futures(still.risk, 25)
    layouts = [lay_out(still, strategy) for strategy in four(still)]
    judged = judge_all(layouts, futures)

    def loop():
        for layout, found in zip(layouts, judged, strict=True):
            for row in range(LOOPED):
                factors = (futures.price[row], futures.crop[row], futures.wage[row], futures.inputs[row])
                npv, balance, _ = one_future(still, layout.strategy, *factors)
                assert found.npv[row] == pytest.approx(npv, abs=1e-6 * (1 + abs(npv)))
                assert found.deepest[row] == pytest.approx(balance.min(), abs=1e-6 * (1 + np.abs(balance).max()))

    def frames():
        for layout, found in zip(layouts, judged, strict=True):
            npv, deepest = in_pandas(layout, futures, 1024)
            assert np.allclose(found.npv[:1024], npv, rtol=1e-7, atol=1e-6)
            assert np.allclose(found.deepest[:1024], deepest, rtol=1e-7, atol=1e-6)

    looped = seconds(loop) * FUTURES / LOOPED
    framed = seconds(frames) * FUTURES / 1024
    held = seconds(lambda: judge_all(layouts, futures), 3)
    benchmark.extra_info.update(
        whole_run_ms=round(ours * 1e3),
        processor_ms=round(processor * 1e3),
        takes_as_expected_ms=round(held * 1e3),
        plain_loop_s=round(looped, 1),
        pandas_s=round(framed, 1),
    )
    print(f"\nrisk {ours:.2f} s, {processor:.2f} s of the processor at best")
    print(f"takes as expected {held:.2f} s; loop {looped:.0f} s; pandas {framed:.1f} s")
    assert looped > 20 * held
    assert framed > 3 * held


def test_time_grows_with_the_futures_and_memory_stays_small(benchmark, farm):
    """Linear growth, and less than 1 GiB at the default number of futures."""
    strategies = four(farm)
    benchmark.pedantic(risk, (farm, strategies, 1024), rounds=3, warmup_rounds=1)
    times = {draws: seconds(lambda draws=draws: risk(farm, strategies, draws), 3) for draws in (8192, 16_384, 32_768)}
    tracemalloc.start()
    risk(farm, strategies)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    benchmark.extra_info.update(
        seconds={str(draws): round(t, 2) for draws, t in times.items()}, peak_mib=round(peak / 2**20)
    )
    print(f"seconds {times}, peak {peak / 2**20:.0f} MiB")
    assert peak < 2**30
    # twice the futures take about twice the time beyond what does not grow; a busy machine blurs it
    assert times[32_768] < 4 * 1.6 * times[8192]
