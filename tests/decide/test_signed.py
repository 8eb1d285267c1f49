"""Loans after signing: paid by month, payouts against counted trees, and what next year's farm makes of both."""

import pytest
from decide.test_next_year import after, codes, farm, tried
from factories import loan_data

from renovation.decide.cohorts import Group, season_went
from renovation.decide.happened import planned_and_happened
from renovation.decide.signed import live_trees, payouts_to_come, signed_loans
from renovation.inputs import Loan, LoanMoney, LoanRecord, SeasonRecord, season_problems

PARTS = {"rate_per_year": 0.12, "term_months": 24, "repayment": "equal_principal", "amount": 240.0}
"""Parts of 10 over two years, and 1 % a month."""
TWO = ({"month": "2027-01", "share": 0.5}, {"month": "2027-06", "share": 0.5, "live_trees": 3})
COUNTED = {"payouts": TWO, "grace_months": 6, "rate_per_year": 0.0, "term_months": 30, "amount": 120.0}
"""60 at once and 60 in June, where three live trees are counted before."""


def paid(*months, **more):
    rows = (LoanMoney(month=f"2027-{month:02}", paid=money) for month, money in months)
    return LoanRecord(loan="Tree loan", by_month=tuple(rows), **more)


def got(*months):
    rows = (LoanMoney(month=f"2027-{month:02}", received=money) for month, money in months)
    return LoanRecord(loan="Tree loan", by_month=tuple(rows))


def signed(base, *cohorts, loans=()):
    record = SeasonRecord(season="2027-01", cohorts=cohorts, loans=loans)
    assert season_problems(record, base) == []
    return signed_loans(base, record, season_went(base, record))[0]


def test_a_missed_instalment_bears_interest_and_next_years_balance_follows():
    """12.40 and 12.30 paid; 12.20 of April missed: 222.20 at 1 % is 2.222; May pays 12.10, after 2.20 and 2.22."""
    base = farm(loans=(loan_data(**PARTS),))
    as_due = signed(base).account.due
    assert as_due[:5].tolist() == [0.0, 12.4, 12.3, 12.2, 12.1]
    months = [(month + 1, 0.0 if month == 3 else float(as_due[month])) for month in range(1, 12)]
    one = signed(base, loans=(paid(*months),))
    assert one.account.balance[2:5].tolist() == [220.0, 222.2, 212.32]
    assert one.account.to_interest[4] == 4.42
    assert one.account.late[:5].tolist() == [0.0, 0.0, 0.0, 12.2, 12.32]
    later = after(base, loans=(paid(*months),)).farm.loans[0]
    assert (later.running, later.owed) == (True, float(one.account.balance[-1]))
    assert later.owed == pytest.approx(130 + one.late)
    assert one.late == pytest.approx(12.2 * 1.01**8, abs=0.05)


def test_paid_as_due_nothing_is_stated_and_the_lenders_word_stands_beside_the_account():
    base = farm(loans=(loan_data(**PARTS),))
    as_due = [(month + 1, float(money)) for month, money in enumerate(signed(base).account.due) if month]
    found = after(base, loans=(paid(*as_due),))
    assert found.farm.loans[0].owed is None
    said = after(base, loans=(paid(*as_due, owed=150.0),))
    assert said.farm.loans[0].owed == 150.0
    assert "loan.lender_differs" in codes(said)


@pytest.mark.parametrize(("took", "status", "missing"), [(1, "withheld", 2), (3, "by_contract", 0)])
def test_a_payout_comes_when_enough_live_trees_are_counted_before_it(took, status, missing):
    """Four trees grafted in March; those of a second try in August come too late for June."""
    base = farm(loans=(loan_data(**COUNTED),))
    one = signed(base, tried((4, took), (4 - took, 4 - took)))
    check = one.payouts[1]
    assert (check.status, check.missing, check.counted) == (status, missing, took)
    assert (one.paid_out.amount, one.received) == ((60.0, 60.0) if missing else (120.0, 120.0))


@pytest.mark.parametrize(("works", "before", "counted"), [((), 8, 4), (("way_b",), 8, 1), ((), 7, 3)])
def test_only_the_loans_works_count_and_only_tries_made_before(works, before, counted):
    trees = [Group("Hill", "way_a", 2, 4, (2, 1), (2, 4)), Group("Hill", "way_b", 7, 2, (1,), (7,))]
    assert live_trees(trees, Loan.model_validate(loan_data(works=works)), before) == counted


def test_what_did_not_come_is_not_owed_nor_in_hand():
    base = farm(loans=(loan_data(**COUNTED),))
    whole, half = (after(base, tried((4, took)), money_in_hand=None) for took in (3, 1))
    assert (whole.farm.loans[0].amount, half.farm.loans[0].amount) == (120.0, 60.0)
    assert "loan.trees_missing" in codes(half)
    received = after(base, tried((4, 1)), money_in_hand=None, loans=(got((1, 60.0), (6, 60.0)),))
    assert received.farm.loans[0].amount == 120.0
    # in hand: 60 less came, and 2.50 a month less is due from August on
    assert received.farm.household.savings - half.farm.household.savings == pytest.approx(60 - 5 * 2.5)


def test_a_part_of_a_payout_in_another_month_and_none_at_all():
    base = farm(loans=(loan_data(**COUNTED),))
    part = after(base, tried((4, 1)), loans=(got((1, 60.0), (5, 20.0)),)).farm.loans[0]
    assert (part.amount, [payout.month for payout in part.payouts]) == (80.0, ["2027-01", "2027-05"])
    assert [payout.share for payout in part.payouts] == [0.75, 0.25]
    none = after(base, loans=(got((1, 0.0), (6, 0.0)),))
    assert (none.farm.loans, "loan.not_paid_out" in codes(none)) == ((), True)


def test_planned_and_happened_counts_what_came_and_what_was_paid_among_the_household():
    base = farm(loans=(loan_data(**COUNTED),))
    record = SeasonRecord(season="2027-01", cohorts=(tried((4, 1)),), loans=(got((1, 60.0)),))
    found = planned_and_happened(base, record)
    assert {part.cause: part.money for part in found.parts}["household"] == pytest.approx(-60 + 5 * 2.5)
    assert [(one.planned, one.happened) for one in found.figures if one.name == "loan_received"] == [(120.0, 60.0)]


def test_payouts_to_come_stand_beside_the_trees_under_way():
    trees = {"stand": "Lower field", "technique": "way_a", "trees": 4, "start": "2026-03", "taken": (2,)}
    base = farm(loans=(loan_data(**COUNTED),), under_way=(trees,), plan=())
    first, second = payouts_to_come(base, base.loans[0])
    assert (first.status, second.status, second.missing) == ("to_come", "waiting", 1)
