"""What can be agreed where a loan is behind: by paper; on random farms what is offered fits, a step less does not."""

from dataclasses import replace

import numpy as np
import pytest
from money.test_running_loans import contract, later
from random_farms import with_plan

from renovation.decide.held import as_held
from renovation.decide.lending import repayment_means
from renovation.decide.near_loans import step_of
from renovation.farm import farm_flows, household_cash, loan_terms
from renovation.money.loan_fit import RepaymentMeans, fits
from renovation.money.loan_late import (
    MOST_TOP_UP,
    agreed_anew,
    agreements,
    further_sum,
    means_beside,
    shifted,
    stretched,
)
from renovation.money.loan_near import LONGER, LONGEST_GRACE
from renovation.money.loan_terms import LoanError, LoanTerms
from renovation.money.loans import schedule

TERMS = LoanTerms(120.0, ((-1, 1.0),), 0.0, 10, running=True)
"""Ten instalments of 12 from month 0 on, without interest."""


def found(terms, flow, step=1.0, calendar_month=1, **means):
    given = RepaymentMeans(np.asarray(flow, float), **{"savings": 0.0, "floor": 0.0, "cover_target": 0.5, **means})
    plan = schedule(terms, given.horizon_months, calendar_month)
    return {one.kind: (one.months, one.terms.amount) for one in agreements(plan, given, calendar_month, step)}


def test_what_fits_needs_no_agreement_and_what_nothing_mends_gets_none():
    assert found(TERMS, np.full(36, 12.0)) == {}
    assert found(TERMS, np.full(36, -1.0), savings=1.0) == {}


def test_by_paper_a_dry_half_year():
    """Nothing comes in for six months, then 24 a month; 30 is saved, which pays two instalments and a half.

    Begun k months later 6 − k instalments fall in the dry months, two where k = 4. Over n months more six of
    120/(10 + n) must not pass 30: n = 14. A further sum A of month 0 is repaid in nine parts from month 1 on, five of
    them by month 5, where the family has 30 − 72 + A·4/9: 94.5 would do, more than half of the loan. With 60 saved
    A = 12·9/4 = 27.
    """
    dry = [0.0] * 6 + [24.0] * 42
    assert found(TERMS, dry, savings=30.0) == {"shift": (4, 120.0), "stretch": (14, 120.0)}
    assert found(TERMS, dry, savings=60.0)["top_up"] == (0, 27.0)


def test_a_harvest_loan_moves_by_whole_years():
    """Repaid each December; the next one brings nothing."""
    terms = replace(TERMS, term_months=36, repayment="harvest", harvest_months=(12,))
    flow = np.zeros(84)
    flow[23::12] = 60.0
    assert found(terms, flow)["shift"] == (12, 120.0)
    assert "stretch" not in found(terms, flow)


@pytest.mark.parametrize("seed", range(12))
def test_agreed_anew_and_moved_by_nothing_it_is_the_loan_as_it_stands(seed):
    terms = contract(seed)
    ago = 1 + seed % 7
    balance = float(schedule(terms, 120, 4).balance[ago - 1])
    running = later(terms, ago, owed=round(balance + 50, 2))
    plan = schedule(running, 110, (3 + ago) % 12 + 1)
    anew = schedule(agreed_anew(plan), 110, (3 + ago) % 12 + 1)
    assert anew.debt_service.tolist() == plan.debt_service.tolist()
    assert anew.balance.tolist() == plan.balance.tolist()
    assert anew.payout.tolist() == plan.payout.tolist()


def holds(terms, means, calendar_month):
    try:
        return fits(schedule(terms, means.horizon_months, calendar_month), means).holds
    except LoanError:
        return False


def check(seeds):
    """Every agreement on random farms that owe too much; how many did not fit, and what was offered by kind."""
    misfits, offered = 0, {"shift": 0, "stretch": 0, "top_up": 0}
    for seed in seeds:
        farm = with_plan(seed)
        rng = np.random.default_rng([seed, 14])
        people = {"living_costs": 0.0, "savings": 0.0, "floor": 0.0}
        farm = farm.model_copy(update={"household": farm.household.model_copy(update=people)})
        held = as_held(farm, farm.plan)
        cash = household_cash(held, farm_flows(held, held.plan), ())
        means, calendar_month = repayment_means(held, cash, 0), farm.appraisal.start_calendar_month
        dip = -float(np.minimum.accumulate(np.cumsum(means.flow_by_month))[:60].min())
        means = replace(means, savings=max(0.0, dip), cover_target=float(rng.choice([0.2, 1.2])))
        asked = loan_terms(held, farm.loans[0])
        unit, kind = asked.unit, str(rng.choice(["level", "equal_principal", "harvest"]))
        amount = 10.0
        while True:  # the first of growing debts that does not fit
            terms = replace(
                asked,
                amount=amount,
                payouts=((-14, 1.0),),
                term_months=(30, 42)[seed % 2],
                grace_months=(0, 12, 16)[seed % 3],
                repayment=kind,
                harvest_months=(4, 10, 11) if kind == "harvest" else (),
                running=True,
                owed=amount,
            )
            plan = schedule(terms, means.horizon_months, calendar_month)
            if not fits(plan, means).holds or amount > 1e6:
                break
            amount = float(np.ceil(amount * 1.3))
        stands, step = fits(plan, means).holds, step_of(amount, unit)
        misfits += not stands
        made = agreements(plan, means, calendar_month, step)
        assert not (stands and made)
        anew, beside, stride = agreed_anew(plan), means_beside(plan, means), 12 if kind == "harvest" else 1
        for one in made:
            offered[one.kind] += 1
            if one.kind == "top_up":
                assert step <= one.terms.amount <= MOST_TOP_UP * amount
                assert holds(one.terms, beside, calendar_month)
                less = one.terms.amount - step
                assert not (less and holds(further_sum(plan, less), beside, calendar_month))
                continue
            move, most = (shifted, LONGEST_GRACE) if one.kind == "shift" else (stretched, LONGER)
            assert stride <= one.months <= most
            assert holds(move(anew, one.months), means, calendar_month)
            assert not any(holds(move(anew, k), means, calendar_month) for k in range(stride, one.months, stride))
    return misfits, offered


def test_an_agreement_fits_and_a_step_less_does_not_on_some_farms():
    misfits, offered = check(range(2))
    assert misfits
    assert sum(offered.values())


@pytest.mark.long
def test_so_on_seventy_farms():
    misfits, offered = check(range(70))
    print(misfits, offered)
    assert misfits >= 60
    assert min(offered.values()) >= 5
