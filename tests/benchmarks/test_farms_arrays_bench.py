"""How fast many farms are weighed: `pytest tests/benchmarks/test_farms_arrays_bench.py --benchmark-only`."""

import numpy as np
import pandas as pd
import pytest
from benchmarks.timing import processor_seconds
from farms.many import invented

from renovation.decide import compare
from renovation.farms import Batch
from renovation.farms.arrays import compare_many
from renovation.inputs import demo_scenario

FARMS, LOOPED = 4000, 12
MILLION, CORES, MINUTES = 1_000_000, 2, 5


def of_two_stands(number):
    """Farms of two stands, eight ways, 25 years; takes as the farms state them."""
    template = demo_scenario()
    assert (len(template.techniques), template.appraisal.horizon_years) == (8, 25)
    batch = invented(number, 3, template, plain=True)
    first = batch.stands.groupby("farm").head(1)
    stands = pd.concat([first, first.assign(stand="Other", **{"stands.trees": first["stands.trees"] + 7})])
    return Batch(template, batch.farms, stands.sort_values(["farm", "stand"], ignore_index=True))


def weighed(batch, name, stand, ways=None):
    """The numbers of the table, of one stand of one farm: its farm read, its ways weighed."""
    found = compare(batch.scenario(name), stand, techniques=ways)
    return [
        (
            outcome.measures,
            outcome.per_tree,
            outcome.return_per_day,
            outcome.return_per_family_day,
            outcome.break_even.as_dict(),
            outcome.most_money_out,
        )
        for outcome in found.outcomes.values()
    ]


@pytest.fixture(scope="module")
def batch():
    return of_two_stands(FARMS)


def test_arrays_beside_a_loop_of_compare_and_a_row_wise_apply(benchmark, batch):
    """A million farms within five minutes; how many times a loop of `compare` and a row-wise apply take longer.

    The loop reads each farm and asks for the same numbers. A farm, stand and way, 2026-11-29, other work beside:
    arrays 20 to 22 µs, loop 2.3 ms (110 times), apply 9.9 ms (450 times). Before a farm alone was made a quarter
    quicker the loop took 3.1 ms (140 times), the apply some 12 ms (590 times). The aims are 200 and 500 times.
    """
    rows = len(compare_many(batch))
    benchmark.pedantic(compare_many, (batch,), rounds=3, warmup_rounds=0)
    ours = min(processor_seconds(lambda: compare_many(batch)) for _ in range(3)) / rows
    stands = batch.stands[batch.stands.farm.isin(batch.farms.index[:LOOPED])]
    looped = processor_seconds(lambda: [weighed(batch, row.farm, row.stand) for row in stands.itertuples()])
    looped /= len(stands) * len(batch.template.techniques)
    ways = stands[:4].merge(pd.DataFrame({"technique": list(batch.template.techniques)}), how="cross")

    def of_row(row):
        return weighed(batch, row.farm, row.stand, [row.technique])[0]

    applied = processor_seconds(lambda: ways.apply(of_row, axis=1)) / len(ways)
    whole = ours * MILLION * 2 * 8 / CORES / 60
    benchmark.extra_info.update(
        microseconds=round(ours * 1e6, 1), times_loop=round(looped / ours), times_apply=round(applied / ours)
    )
    print(
        f"\na farm, stand and way {ours * 1e6:.1f} µs of one core; a million farms on two cores {whole:.1f} min; "
        f"loop {looped * 1e6:.0f} µs, {looped / ours:.0f} times; "
        f"apply {applied * 1e6:.0f} µs, {applied / ours:.0f} times"
    )
    assert looped / ours >= 80
    assert applied / ours >= 350
    assert whole <= MINUTES


def test_a_batch_with_cash_and_loans(benchmark, batch):
    """Balances and instalments of every way on top."""
    table = benchmark.pedantic(compare_many, (batch,), {"cash": True}, rounds=2)
    assert np.isfinite(table.deepest_balance).all()
