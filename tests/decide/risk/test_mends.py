"""Where no careful plan keeps the floor: each change that is offered lets the plan keep it, on other futures."""

from dataclasses import replace

import numpy as np
import pytest
from factories import loan_offer
from risk_reference import lean_farm

from renovation.decide.plan import make_plan
from renovation.decide.risk import Strategy, draw_futures, judge, lay_out
from renovation.decide.risk.careful import careful_plan
from renovation.decide.risk.careful_rows import SHARE
from renovation.decide.risk.mends import _least, mends
from renovation.inputs.planning import Planning
from renovation.inputs.scenario import twelve

QUICK = Planning(years=2, time_limit_seconds=20.0)
ENOUGH = SHARE - 1.96 * np.sqrt(SHARE * (1 - SHARE) / 16_384)


def test_the_least_amount_is_the_one_found_by_trying_each():
    """Many random shortages, a relief that first helps and then costs as a loan does; amounts tried one by one."""
    rng = np.random.default_rng(4)
    for _ in range(30):
        short = rng.normal(-4, 5, (40, 6))
        relief = np.array([1.0, 1.0, 0.6, 0.2, -0.05, -0.1])
        share = rng.choice([0.3, 0.5, 0.7])
        steps = np.linspace(0, 60, 601)
        kept = [(short <= a * relief + 1e-9).all(axis=1).mean() for a in steps]
        tried = next((a for a, part in zip(steps, kept, strict=True) if part >= share - 1e-12), np.inf)
        found = _least(short, relief, share)
        assert tried - 0.1 - 1e-9 <= found <= tried + 1e-9 or (found > 60 and tried == np.inf)


def _kept(mend):
    """How often the changed farm keeps floor and instalments with the plan, on futures of a third seed."""
    farm = mend.scenario
    years, risk = farm.appraisal.horizon_years, farm.risk
    found = judge(lay_out(farm, mend.strategy), draw_futures(risk, years, 16_384, risk.seed + 99))
    return ((found.deepest >= farm.household.floor - 0.5) & ~found.missed.any(axis=1)).mean()


def _farms():
    """Money too short for any plan; without a loan, and with a small one on offer."""
    yield lean_farm(200.0), QUICK
    yield (
        lean_farm(200.0),
        QUICK.model_copy(update={"loan": loan_offer(limit=50.0, rate_per_year=0.05, term_months=120, grace_months=48)}),
    )


@pytest.mark.long
def test_each_change_that_is_offered_keeps_the_promise_on_a_third_set_of_futures():
    offered = []
    for farm, planning in _farms():
        found = careful_plan(make_plan(farm, planning), fresh=2048)
        assert not found.at_floor
        for mend in found.mends:
            assert _kept(mend) >= ENOUGH
            before, after = farm.household, mend.scenario.household
            if mend.what == "savings":
                assert after.savings == before.savings + mend.amount
                assert mend.amount >= before.floor - found.level - 1e-9  # no less than the level falls short by
            elif mend.what == "living_costs":
                less = np.array(twelve(before.living_costs)) - np.array(twelve(after.living_costs))
                assert less == pytest.approx(mend.amount)
            elif mend.what == "loan":
                assert mend.strategy.loans[0].amount == mend.amount == mend.loan.limit
            offered.append(mend.what)
    assert {"savings", "living_costs", "loan"} <= set(offered)


@pytest.mark.long
def test_a_family_that_can_save_starts_the_same_trees_a_year_later():
    farm = lean_farm(60.0).changed(household__other_income=36.0)
    plan = make_plan(farm, Planning(years=1, time_limit_seconds=20.0))
    bold = Strategy("bold", plan.treatments)
    draws = [draw_futures(farm.risk, 12, number, farm.risk.seed + number) for number in (1024, 2048)]
    assert judge(lay_out(farm, bold), draws[1]).deepest.min() < farm.household.floor
    later = next(one for one in mends(plan.problem, bold, *draws, 0.02) if one.what == "later")
    assert [t.start for t in later.strategy.treatments] == ["2028" + t.start[4:] for t in bold.treatments]
    assert [t.trees for t in later.strategy.treatments] == [t.trees for t in bold.treatments]
    assert _kept(later) >= ENOUGH > _kept(replace(later, strategy=bold))


def test_nothing_is_offered_that_nobody_would_call_small():
    farm = lean_farm(60.0).changed(household__living_costs=200.0)
    plan = make_plan(farm, QUICK, gap=0.05)
    draws = [draw_futures(farm.risk, 12, 128, seed) for seed in (1, 2)]
    assert mends(plan.problem, Strategy("it", plan.treatments), *draws, 0.0) == ()
