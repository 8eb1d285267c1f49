"""A loan after signing: paid as due it is the schedule; missed, by paper; nothing is lost between paid and owed."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from renovation.money.loan_account import loan_account, paid_in_turn
from renovation.money.loan_terms import LoanTerms
from renovation.money.loans import schedule

KINDS = {"level": (), "equal_principal": (), "harvest": (3, 10, 11)}
PAPER = LoanTerms(1000.0, ((0, 1.0),), 0.12, term_months=4, repayment="equal_principal")


@st.composite
def plans(draw):
    """A contract of up to two payouts, running or not, its balance stated otherwise or not."""
    kind, grace = draw(st.sampled_from(sorted(KINDS))), draw(st.integers(0, 20))
    ago = draw(st.integers(0, 9))
    term = max(grace, ago) + draw(st.integers(13, 40))
    share, second = draw(st.floats(0.1, 0.9)), draw(st.integers(0, grace))
    payouts = ((-ago, share), (second - ago, 1 - share)) if second else ((-ago, 1.0),)
    terms = LoanTerms(
        amount=draw(st.integers(10_000, 900_000)) / 100,
        payouts=payouts,
        nominal_rate_per_year=draw(st.floats(0, 0.6)),
        term_months=term,
        grace_months=grace,
        grace_interest=draw(st.sampled_from(["paid", "added"])),
        repayment=kind,
        harvest_months=KINDS[kind],
        fee_share=draw(st.sampled_from([0.0, 0.02])),
        running=ago > 0,
        owed=draw(st.sampled_from([None, 321.09])) if ago else None,
    )
    return schedule(terms, 84, draw(st.integers(1, 12)))


@settings(max_examples=20, deadline=None)
@given(plans(), st.floats(0, 1))
def test_paid_as_due_it_is_the_schedule_byte_for_byte(plan, late_rate):
    found = loan_account(plan, plan.debt_service, late_rate)
    for line, expected in (
        (found.due, plan.debt_service),
        (found.paid, plan.debt_service),
        (found.balance, plan.balance),
        (found.to_interest, plan.interest_in_payment),
    ):
        assert line.tobytes() == expected.tobytes()
    assert found.interest.tolist() == pytest.approx(plan.interest_charged.tolist(), abs=1e-9)
    assert found.to_principal.tolist() == pytest.approx(plan.principal_in_payment.tolist(), abs=1e-9)
    assert (found.late.any(), found.ahead.any(), found.late_charge.any(), found.overpaid) == (False, False, False, 0)


@settings(max_examples=20, deadline=None)
@given(plans(), st.lists(st.integers(0, 90_000), min_size=1, max_size=84), st.floats(0, 1))
def test_paid_and_owed_are_lent_and_interest(plan, cents, late_rate):
    paid = np.array(cents) / 100
    found = loan_account(plan, paid, late_rate)
    lent = found.owed_before + (plan.payout + plan.fee)[: paid.size].sum()
    charged = found.interest.sum() + found.late_charge.sum()
    assert paid.sum() - found.overpaid + found.balance[-1] == pytest.approx(lent + charged, abs=1e-6)
    assert (found.to_interest + found.to_principal).tolist() == pytest.approx(found.paid.tolist(), abs=1e-9)
    assert min(found.balance.min(), found.to_interest.min(), found.to_principal.min(), found.overpaid) >= 0
    apart = found.late - found.ahead
    assert apart.tolist() == pytest.approx((found.balance - plan.balance[: paid.size]).tolist(), abs=1e-6)


def test_a_missed_instalment_by_paper():
    """1,000 at 12 %, parts of 250: 260 paid, 257.50 missed, 255 paid, the rest paid in the last month.

    Month 3: interest 1 % of 757.50 = 7.575, half up 7.58; 255 pays 7.50 + 7.58 first, 239.92 comes off 750.
    """
    found = loan_account(schedule(PAPER, 12, 1), [0.0, 260.0, 0.0, 255.0, 600.0])
    assert found.due.tolist() == [0.0, 260.0, 257.5, 255.0, 252.5]
    assert found.interest.tolist() == [0.0, 10.0, 7.5, 7.58, 5.1]
    assert found.to_interest.tolist() == [0.0, 10.0, 0.0, 15.08, 5.1]
    assert found.to_principal.tolist() == [0.0, 250.0, 0.0, 239.92, 510.08]
    assert found.balance.tolist() == [1000.0, 750.0, 757.5, 510.08, 0.0]
    assert found.late.tolist() == [0.0, 0.0, 257.5, 260.08, 0.0]
    assert found.overpaid == pytest.approx(600 - 515.18)


def test_a_late_charge_is_the_contracts_own_and_on_what_is_late_alone():
    """6 % a year more on 257.50 is 1.2875, half up 1.29; without any in the contract there is none."""
    found = loan_account(schedule(PAPER, 12, 1), [0.0, 260.0, 0.0, 255.0], late_rate_per_year=0.06)
    assert found.late_charge.tolist() == [0.0, 0.0, 0.0, 1.29]
    assert found.balance[-1] == 511.37


def test_ahead_counts_towards_what_falls_due():
    found = loan_account(schedule(PAPER, 12, 1), [0.0, 520.0, 0.0])
    assert (found.ahead[1], found.late.max()) == (260.0, 0.0)


@pytest.mark.parametrize("paid", [[-1.0], [float("nan")], [0.0] * 13, [[1.0]]])
def test_payments_that_cannot_be_are_refused(paid):
    with pytest.raises(ValueError, match="payments must be"):
        loan_account(schedule(PAPER, 12, 1), paid)


@settings(max_examples=20, deadline=None)
@given(st.lists(st.integers(0, 1000), min_size=1, max_size=12), st.integers(0, 9000))
def test_a_sum_known_as_a_whole_is_laid_on_what_was_due(due, whole):
    paid = paid_in_turn(due, float(whole))
    assert (paid.sum(), paid.min() >= 0) == (whole, True)
    assert (paid[:-1] <= due[:-1]).all()
