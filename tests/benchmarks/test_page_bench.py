"""How long a page takes to follow a change: `pytest tests/benchmarks/test_page_bench.py --benchmark-only`."""

import pytest
from screens.visiting import farm, run, visit


@pytest.mark.benchmark(group="page")
@pytest.mark.parametrize("page", ["cash", "lender"])
def test_a_change_is_followed(benchmark, page):
    """A page is to follow a change of a number in half a second on one core."""
    at = visit(page, farm="cooperative_nursery")
    wages = iter(range(45_000, 46_000))

    def change():
        at.session_state["scenario"] = farm(at).changed(household__wage_per_day=float(next(wages)))
        run(at)

    benchmark.pedantic(change, rounds=5, warmup_rounds=1)
