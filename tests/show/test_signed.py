"""After signing in words: each case says its own figures, and what fits nowhere is said to be that."""

import pytest
from decide.test_after_signing import HARD
from decide.test_next_year import farm, tried
from decide.test_signed import COUNTED, got, paid
from factories import loan_data, ten_a_month

from renovation.decide.after_signing import after_signing
from renovation.inputs import LoanRecord, SeasonRecord
from renovation.show.loans import signed
from renovation.words import Words

WORDS = Words("en")


def said(scenario, *loans, cohorts=(), **counted):
    """Account and what now, of the only loan."""
    record = SeasonRecord(season="2027-01", cohorts=cohorts, loans=loans, **{"money_in_hand": 50.0, **counted})
    found = after_signing(scenario, record)
    return signed.account_said(found, found.loans[0], WORDS), signed.now_said(found, found.loans[0], WORDS)


PLAIN = loan_data(rate_per_year=0.12, term_months=24)
AS_DUE = [(month, 5.65) for month in range(2, 13)]
"""Missed in March it is 5.65 · 1.01^9 = 6.18 in December, 6.19 with each month's interest rounded; 70 in February is
64.35 ahead, 71.08 in December, less 5.65 in each of ten months with interest, 59.11."""
MISSED = [(month, 0.0 if month == 3 else money) for month, money in AS_DUE]


@pytest.mark.parametrize(
    ("record", "first"),
    [
        (paid(*AS_DUE), "Tree loan: $62.15 was due in the season, and $62.15 was paid. Nothing is late at its end."),
        (paid(*MISSED), "Tree loan: $62.15 was due in the season, and $56.50 was paid. $6.19 is late at its end,"),
        (paid((2, 70.0)), "Tree loan: $62.15 was due in the season, and $70.00 was paid. $11.98 is paid ahead."),
        (paid((2, 300.0)), "Tree loan: $62.15 was due in the season, and $300.00 was paid. Nothing is owed any more."),
        (paid(*AS_DUE, owed=99.0), "Tree loan: $62.15 was due in the season, and $62.15 was paid. Nothing is late"),
    ],
)
def test_the_season_in_a_sentence(record, first):
    account, now = said(ten_a_month(PLAIN), record)
    assert account[0].replace("\xa0", " ").startswith(first)
    assert ("The lender says $99.00" in account[0]) == (record.owed is not None)
    assert any("more was paid than was owed" in line for line in account) == (record.paid_in_all == 300)
    assert bool(now) == ("late at its end" in account[0] and "Nothing is late" not in account[0])


def test_what_is_assumed_is_said():
    assert WORDS("signed.assumed_contract") in said(ten_a_month(PLAIN))[0]
    assert WORDS("signed.assumed_turn") in said(ten_a_month(PLAIN), LoanRecord(loan="Tree loan", paid=50.0))[0]
    assert len(said(ten_a_month(PLAIN), paid(*MISSED))[0]) == 2  # all is recorded but the payout


def test_late_but_spread_it_fits():
    (line,) = said(ten_a_month(PLAIN), paid(*MISSED))[1]
    assert line.endswith("That fits. Nothing else need be agreed, if the lender takes it so.")


def test_changes_that_fit_are_told_with_what_they_cost():
    found = after_signing(ten_a_month(HARD))
    one = found.loans[0]
    lead, *lines = signed.now_said(found, one, WORDS)
    assert "That does not fit." in lead
    assert len(lines) == len(one.ways)
    for way, line in zip(one.ways, lines, strict=True):
        assert WORDS.percent(way.effective_per_year, 2) in line
        assert WORDS.money(way.more_paid, "USD") in line
        assert WORDS.month(way.last) in line
        assert (WORDS("signed.now.at_no_price") in line) == (not any(way.holds_at.values()))
    table = signed.ways_table(found, one, WORDS)
    assert [row[1] for row in table.rows] == ["no"] + ["yes"] * len(one.ways)


def test_what_no_agreement_mends_is_said_to_be_that():
    """15 a month is spent and 10 comes in."""
    found = after_signing(ten_a_month(HARD, people={"living_costs": 15.0}))
    (line,) = signed.now_said(found, found.loans[0], WORDS)
    assert "No shift, no longer term and no further sum fits." in line
    assert "No agreement on it mends that." in line
    assert found.loans[0].ways == ()


@pytest.mark.parametrize(
    ("took", "record", "payout"),
    [
        (
            1,
            None,
            "Payout of June 2027: 2 live trees are missing of 3. $0.00 of $60.00 came. What did not come is not owed.",
        ),
        (3, None, "Payout of June 2027: 3 live trees were asked for, and 3 are counted. We take that $60.00 came."),
        (1, got((1, 60.0), (6, 60.0)), "Payout of June 2027: $60.00 came."),
        (
            3,
            got((1, 60.0), (6, 20.0)),
            "Payout of June 2027: $20.00 of $60.00 came. Agree with the lender on the rest.",
        ),
    ],
)
def test_a_payout_beside_its_count(took, record, payout):
    account, _ = said(farm(loans=(loan_data(**COUNTED),)), *filter(None, [record]), cohorts=(tried((4, took)),))
    assert any(line.replace("\xa0", " ").startswith(payout) for line in account)


def test_of_a_loan_that_was_not_paid_out_nothing_is_owed():
    loan = loan_data(**{**COUNTED, "payouts": ({"month": "2027-06", "live_trees": 3},)})
    account, now = said(farm(loans=(loan,)), cohorts=(tried((4, 1)),))
    assert (account[0], now) == ("Tree loan: nothing of it was paid out, so nothing is owed.", [])


def test_a_payout_to_come_waits_for_its_trees():
    trees = {"stand": "Lower field", "technique": "way_a", "trees": 4, "start": "2026-03", "taken": (2,)}
    running = {"payouts": ({"month": "2026-12", "share": 0.5}, {**COUNTED["payouts"][1]}), "running": True}
    for live, begins in ((3, "not yet. 1 live tree is missing of 3. Without it"), (2, "2 live trees are asked for")):
        loan = loan_data(**{**COUNTED, **running})
        loan["payouts"][1]["live_trees"] = live
        found = after_signing(farm(loans=(loan,), under_way=(trees,), plan=()))
        assert begins in signed.account_said(found, found.loans[0], WORDS)[1]


def test_in_the_last_year_it_is_said_why_nothing_can_be_agreed():
    base = farm(appraisal={"start": "2027-01", "horizon_years": 1, "currency": "USD"}, loans=(), plan=())
    _, now = said(base.changed(loans=(loan_data(term_months=11),)), LoanRecord(loan="Tree loan", paid=20.0))
    assert "looks at no year after its first" in now[0]
    over = said(farm(loans=(loan_data(term_months=11),)), LoanRecord(loan="Tree loan", paid=20.0))[1]
    assert over[0].startswith("Its last instalment is behind, and")


def test_the_terminal_has_all_of_it_and_the_contracts_late_charge():
    base = ten_a_month(loan_data(rate_per_year=0.12, term_months=24, late_rate_per_year=0.06))
    found = after_signing(base, SeasonRecord(season="2027-01", money_in_hand=50.0, loans=(paid(*MISSED),)))
    text = signed.signed_text(found, WORDS, 100)
    assert "Late charge, $" in text
    assert "its late charge of 6% a year" in " ".join(text.split())
    nothing = after_signing(ten_a_month(), SeasonRecord(season="2027-01", money_in_hand=50.0))
    assert WORDS("signed.nothing_in_season") in signed.signed_text(nothing, WORDS, 100)
