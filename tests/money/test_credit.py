"""The full cost of a loan, against the regulations that define it and a second library."""

import numpy as np
import pytest
import pyxirr
from hypothesis import assume, given
from hypothesis import strategies as st

from renovation.money import LoanTerms, contract_cost, credit_cost, instalment, schedule
from renovation.money.credit import whole_life


def flows(received: dict[int, float], paid: dict[int, float]) -> tuple[np.ndarray, np.ndarray]:
    size = max([*received, *paid]) + 1
    lines = np.zeros((2, size))
    for line, amounts in zip(lines, (received, paid), strict=True):
        for period, amount in amounts.items():
            line[period] = amount
    return lines[0], lines[1]


@pytest.mark.parametrize(
    ("payments", "printed", "digits"),
    [
        # 12 CFR Part 1026 (Regulation Z), Appendix J: single advance, regular monthly payments, (c)(1)(i)
        (dict.fromkeys(range(1, 25), 230.0), 9.69, 9.685708),
        # the same, (c)(2)(i): an irregular first payment. The six decimals are the issue's
        ({1: 250.0, **dict.fromkeys(range(2, 25), 230.0)}, 10.08, 10.082890),
    ],
)
def test_nominal_rates_of_regulation_z(payments: dict[int, float], printed: float, digits: float) -> None:
    found = credit_cost(*flows({0: 5000.0}, payments))
    assert found.nominal_per_year is not None
    assert round(100 * found.nominal_per_year, 2) == printed
    assert 100 * found.nominal_per_year == pytest.approx(digits, abs=5e-7)
    assert found.more_than_received == sum(payments.values()) - 5000


@pytest.mark.parametrize(("received", "printed"), [(1000.0, 12.96), (950.0, 16.9)])
def test_effective_rates_of_the_european_directive(received: float, printed: float) -> None:
    # Directive 90/88/EEC, Annex III as amended: ECU 1,000 for 1,200 after 546 days; then with 50 of costs kept back
    found = credit_cost(*flows({0: received}, {546: 1200.0}), periods_per_year=365)
    assert found.effective_per_year is not None
    assert round(100 * found.effective_per_year, 2 if printed == 12.96 else 1) == printed


def test_a_training_case_of_payouts_in_grace() -> None:
    # A lender's training case, as the issue gives it: three payouts a year apart, 12 % a year added in grace, then
    # 3 % a quarter over 20 quarters.
    owed = 1_000_000.0
    for payout in (1_500_000.0, 1_500_000.0):
        owed = owed * 1.12 + payout
    assert owed == pytest.approx(4_434_400.0)
    paid = instalment(owed, 0.03, range(1, 21))
    assert (round(paid), round(owed * 0.03), round(paid - owed * 0.03)) == (298_061, 133_032, 165_029)
    cost = credit_cost(*flows({0: owed}, dict.fromkeys(range(1, 21), paid)), periods_per_year=4)
    assert cost.nominal_per_year == pytest.approx(0.12)


KINDS = st.sampled_from(["level", "equal_principal", "harvest"])


@given(
    KINDS,
    st.sampled_from(["paid", "added"]),
    st.floats(0, 0.6),
    st.integers(6, 120),
    st.integers(0, 5),
    st.floats(0, 0.1),
    st.integers(1, 12),
)
def test_every_payment_is_interest_and_principal(
    kind: str, grace_interest: str, rate: float, term: int, grace: int, fee: float, first: int
) -> None:
    months = tuple(sorted({first, first % 12 + 1, (first + 5) % 12 + 1})) if kind == "harvest" else ()
    terms = LoanTerms(
        1200.0,
        ((0, 1.0),),
        rate,
        term + 12,
        grace,
        grace_interest,  # type: ignore[arg-type]
        kind,  # type: ignore[arg-type]
        months,
        fee,
    )
    plan = schedule(terms, 200, 3)
    interest, principal = plan.interest_in_payment, plan.principal_in_payment
    assert (interest >= 0).all()
    assert (principal >= -1e-9).all()
    np.testing.assert_allclose(interest + principal, plan.debt_service, atol=1e-9)
    # what joined the debt in grace is repaid as principal; everything else that was charged is paid as interest
    in_grace = plan.interest_added[: grace + 1].sum()
    assert principal.sum() == pytest.approx(1200.0 + in_grace, abs=1e-6)
    assert interest.sum() == pytest.approx(plan.total_interest - in_grace, abs=1e-6)
    cost = contract_cost(terms, 3)
    assume(cost.effective_per_year is not None and cost.more_than_received > 1.0)
    second = pyxirr.irr(plan.net_flow.tolist(), guess=rate / 12)
    assert second is not None
    assert cost.effective_per_year == pytest.approx((1 + second) ** 12 - 1, abs=1e-7)


def test_between_harvests_interest_is_not_nothing() -> None:
    terms = LoanTerms(1000.0, ((0, 1.0),), 0.12, 24, repayment="harvest", harvest_months=(6, 12))
    plan = schedule(terms, 36, 1)
    first = plan.instalment_months[0]
    assert plan.interest[first] == 0  # it joined the debt month by month
    assert plan.interest_in_payment[first] == pytest.approx(1000 * (1.01**first - 1), abs=0.05)


def test_a_running_loan_costs_what_its_contract_costs() -> None:
    new = LoanTerms(1000.0, ((0, 1.0),), 0.12, 24, repayment="harvest", harvest_months=(6, 12), fee_share=0.02)
    running = LoanTerms(
        1000.0, ((-7, 1.0),), 0.12, 24, repayment="harvest", harvest_months=(6, 12), fee_share=0.02, running=True
    )
    assert contract_cost(running, 8) == contract_cost(new, 1)
    cut, whole = schedule(running, 36, 8), whole_life(running, 8)
    np.testing.assert_array_equal(cut.interest_in_payment[:17], whole.interest_in_payment[7:24])


def test_a_flow_with_several_rates_is_given_them_all() -> None:
    # small enough for paper: 10 % and 20 % a period: (1 − 1.1x)(1 − 1.2x) = 1 − 2.3x + 1.32x²
    found = credit_cost([100.0, 0.0, 132.0], [0.0, 230.0, 0.0], periods_per_year=1)
    assert found.effective_per_year is None
    assert found.roots == pytest.approx((0.1, 0.2))


def test_money_below_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="0 or more"):
        credit_cost([-1.0, 0.0], [0.0, 1.0])
