"""Loans paid out before month 0: the same contract, cut; set anew where the lender says that more or less is owed."""

from dataclasses import replace

import numpy as np
import pytest

from renovation.money.loan_terms import LoanError, LoanTerms
from renovation.money.loans import schedule

LINES = ("payout", "fee", "interest", "interest_added", "principal", "debt_service", "balance")


def contract(seed: int) -> LoanTerms:
    """A random contract of up to three payouts, the first in month 0."""
    rng = np.random.default_rng(seed)
    grace = int(rng.integers(0, 30))
    months = sorted({0, *(int(m) for m in rng.integers(0, grace + 1, 2))})
    shares = rng.dirichlet(np.ones(len(months)))
    kind = str(rng.choice(["level", "equal_principal", "harvest"]))
    return LoanTerms(
        amount=round(float(rng.uniform(100, 5000)), 2),
        payouts=tuple(zip(months, shares.tolist(), strict=True)),
        nominal_rate_per_year=float(rng.choice([0.0, rng.uniform(0.02, 0.3)])),
        term_months=grace + int(rng.integers(21, 60)),
        grace_months=grace,
        grace_interest=str(rng.choice(["paid", "added"])),  # type: ignore[arg-type]
        repayment=kind,  # type: ignore[arg-type]
        harvest_months=(3, 10, 11) if kind == "harvest" else (),
        fee_share=0.015,
    )


def later(terms: LoanTerms, months: int, **changes: object) -> LoanTerms:
    """The same contract as a farm that starts so many months later has it."""
    payouts = tuple((month - months, share) for month, share in terms.payouts)
    return replace(terms, payouts=payouts, running=True, **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", range(40))
def test_a_running_loan_is_its_contract_cut_at_month_0(seed):
    terms = contract(seed)
    ago = int(np.random.default_rng([seed, 1]).integers(1, 10))
    whole = schedule(terms, 120, start_calendar_month=4)
    cut = schedule(later(terms, ago), 120 - ago, start_calendar_month=(3 + ago) % 12 + 1)
    for line in LINES:
        assert getattr(cut, line).tolist() == getattr(whole, line)[ago:].tolist(), line
    assert cut.owed_before == cut.by_contract_before == whole.balance[ago - 1]
    assert cut.instalment_months == tuple(m - ago for m in whole.instalment_months if m >= ago)
    # a unit more is rounding, not another debt
    stated = later(terms, ago, owed=round(float(whole.balance[ago - 1]) + 0.01, 2))
    assert schedule(stated, 120 - ago, (3 + ago) % 12 + 1).debt_service.tolist() == cut.debt_service.tolist()


@pytest.mark.parametrize("repayment", ["level", "equal_principal"])
def test_another_balance_sets_the_instalments_left_anew(repayment):
    """As a loan of what is owed, paid out a month before and repaid over what is left of the term."""
    terms = LoanTerms(1000.0, ((0, 1.0),), 0.18, term_months=36, repayment=repayment)
    running = schedule(later(terms, 14, owed=777.77), 60, start_calendar_month=3)
    fresh = schedule(LoanTerms(777.77, ((0, 1.0),), 0.18, term_months=23, repayment=repayment), 61, 2)
    assert running.debt_service.tolist() == fresh.debt_service[1:].tolist()
    assert running.balance.tolist() == fresh.balance[1:].tolist()
    assert (running.owed_before, running.by_contract_before > 600) == (777.77, True)


def test_in_grace_the_instalments_are_set_at_its_end_with_payouts_to_come():
    """600 of 1,000 paid out, 660 said to be owed, 400 to come in month 2: at no interest 1,060 over ten months."""
    terms = LoanTerms(1000.0, ((-4, 0.6), (2, 0.4)), 0.0, 18, grace_months=8, running=True, owed=660.0)
    found = schedule(terms, 24, start_calendar_month=1)
    assert found.balance[:5].tolist() == [660.0, 660.0, 1060.0, 1060.0, 1060.0]
    assert found.debt_service[5:15].tolist() == [106.0] * 10
    assert not found.balance[14:].any()


def test_a_loan_that_is_over_or_not_paid_out_is_refused():
    terms = LoanTerms(100.0, ((0, 1.0),), 0.1, 12)
    with pytest.raises(LoanError, match="loan is over"):
        schedule(later(terms, 20), 24, 1)
    with pytest.raises(LoanError, match="running not paid out"):
        replace(terms, running=True)
    with pytest.raises(LoanError, match="owed not running"):
        replace(terms, owed=50.0)
