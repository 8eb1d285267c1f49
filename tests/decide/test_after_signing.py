"""After signing: ways on with their costs, and what the months to come look like without a payout to come."""

import json

import numpy as np
import pytest
from decide.test_next_year import farm, tried
from decide.test_signed import COUNTED, paid
from factories import loan_data, ten_a_month

from renovation.decide.after_signing import after_signing
from renovation.inputs import LoanRecord, SeasonRecord

HARD = loan_data(
    amount=200.0,
    payouts=({"month": "2026-12"},),
    running=True,
    rate_per_year=0.12,
    term_months=19,
    owed=180.0,
)
"""180 owed in 19 instalments of some 10.70, where ten a month come in."""


def only(scenario, record=None):
    (one,) = after_signing(scenario, record).loans
    return one


def test_a_loan_that_is_not_running_has_nothing_after_signing():
    assert after_signing(ten_a_month(loan_data())).loans == ()


def test_costs_follow_from_the_schedules():
    base = ten_a_month(HARD)
    one = only(base)
    stands = one.as_it_stands
    assert (stands.holds, stands.more_paid, stands.npv, one.owed) == (False, 0.0, 0.0, 180.0)
    kinds = [way.kind for way in one.ways]
    assert "stretch" in kinds
    for way in one.ways:
        assert way.holds
        assert way.largest == way.service.max()
        gave, gives = stands.service.sum() - stands.payout.sum(), way.service.sum() - way.payout.sum()
        assert way.more_paid == pytest.approx(gives - gave)
        assert way.more_paid > 0
        # no fee: whatever is agreed at the contract's rate costs that rate, (1 + 0.12/12)^12 − 1
        assert way.effective_per_year == pytest.approx(1.01**12 - 1, abs=2e-3)
        assert set(way.holds_at) == set(base.loan_test.price_factors)
        months = np.arange(way.service.size) + 1
        net = (way.payout - way.service) - (stands.payout - stands.service)
        assert way.npv == pytest.approx(float((net / (1 + base.appraisal.discount_rate) ** (months / 12)).sum()))
    without_interest = base.changed(appraisal__discount_rate=0.0)
    for way in only(without_interest).ways:
        assert way.npv == pytest.approx(-way.more_paid)


def test_one_month_less_of_the_stretch_does_not_fit():
    """Of ten a month 1/1.1 may go: 180 at 1 % in n parts of 9.09 at most is n ≥ 22.2, so 23, four more than 19."""
    way = next(way for way in only(ten_a_month(HARD)).ways if way.kind == "stretch")
    assert (way.months, way.largest <= 10.0) == (4, True)


def test_a_missed_instalment_is_late_and_as_it_stands_it_is_spread():
    base = ten_a_month(loan_data(rate_per_year=0.12, term_months=24))
    months = [(month, 0.0 if month == 3 else 5.65) for month in range(2, 13)]
    record = SeasonRecord(season="2027-01", money_in_hand=50.0, loans=(paid(*months),))
    one = only(base, record)
    assert one.season.late > 5.65
    assert one.as_it_stands.holds
    assert one.ways == ()
    told = json.loads(json.dumps(after_signing(base, record).as_dict()))
    row = told["loans"][0]["account"][2]
    assert (row["month"], row["due"], row["paid"], row["late"]) == ("2027-03", 5.65, 0.0, 5.65)


def test_without_a_payout_to_come_the_months_to_come_hold_less():
    trees = {"stand": "Lower field", "technique": "way_a", "trees": 4, "start": "2026-03", "taken": (2,)}
    running = {"payouts": ({"month": "2026-12", "share": 0.5}, {**COUNTED["payouts"][1]}), "running": True}
    base = farm(loans=(loan_data(**{**COUNTED, **running}),), under_way=(trees,), plan=())
    (ahead,) = only(base).ahead
    assert (ahead.check.status, ahead.check.missing) == ("waiting", 1)
    assert ahead.lowest_without <= ahead.lowest
    assert after_signing(base).as_dict()["loans"][0]["payouts_to_come"][0]["missing"] == 1


def test_a_loan_whose_first_payout_did_not_come_is_still_to_come():
    """Three live trees before June, none is counted; the other half comes in March of the year after."""
    parts = ({"month": "2027-06", "share": 0.5, "live_trees": 3}, {"month": "2028-03", "share": 0.5, "live_trees": 1})
    base = farm(loans=(loan_data(**{**COUNTED, "payouts": parts, "grace_months": 10}),))
    one = only(base, SeasonRecord(season="2027-01", cohorts=(tried((4, 0)),), money_in_hand=50.0))
    assert (one.judged.loan.running, one.judged.loan.amount, one.owed) == (False, 60.0, 0.0)
    (ahead,) = one.ahead
    assert (ahead.check.status, ahead.check.label) == ("waiting", "2028-03")
    assert ahead.lowest_without == pytest.approx(one.judged.as_stated.means.flow_by_month.cumsum().min() + 50.0)


def test_a_farm_in_its_last_year_still_has_its_account():
    base = farm(appraisal={"start": "2027-01", "horizon_years": 1, "currency": "USD"}, loans=(), plan=())
    base = base.changed(loans=(loan_data(term_months=11),))
    record = SeasonRecord(season="2027-01", loans=(LoanRecord(loan="Tree loan", paid=20.0),))
    found = after_signing(base, record)
    assert (found.now, found.refused is not None) == (None, True)
    assert found.loans[0].season.late == pytest.approx(100.0, abs=0.05)
    assert found.loans[0].owed == found.loans[0].season.late


def test_trees_counted_in_the_season_stand_in_the_account():
    base = farm(loans=(loan_data(**COUNTED),))
    one = only(base, SeasonRecord(season="2027-01", cohorts=(tried((4, 1)),), money_in_hand=50.0))
    assert [check.status for check in one.season.payouts] == ["by_contract", "withheld"]
    assert one.judged.loan.amount == 60.0
