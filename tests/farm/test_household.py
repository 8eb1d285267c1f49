"""The household's balance: a slow plain loop, paper cases, and what must hold on any farm with any loan."""

import json
from itertools import accumulate

import numpy as np
import pytest
from factories import operation, scenario, technique_data, techniques, use
from hypothesis import given, settings
from hypothesis import strategies as st

from renovation.farm import (
    CashSide,
    cash_gaps,
    deepest_month,
    dips,
    farm_flows,
    household_cash,
    loan_terms,
    reserve_needed,
)
from renovation.inputs import Loan, Payout, Treatment
from renovation.money.loan_terms import LoanError

MONTHS = 120


def treat(trees, start="2027-07", way="way_a"):
    return Treatment(stand="Lower field", technique=way, trees=trees, start=start)


def people(**changes):
    return {"family_days": 20.0, "wage_per_day": 8.0, "savings": 100.0, **changes}


def time(**changes):
    return {"start": "2027-01", "horizon_years": 10, "discount_rate": 0.1, "currency": "USD", **changes}


def farm_of_ten_a_month(**changes):
    """Ten trees, 10 kg a year, evenly ripe, at 12 a kg: 10 a month and no work."""
    market = {"price_per_kg": 12.0, "season": {"shares": (1 / 12,) * 12}, "harvest_days_per_kg": 0.0}
    return scenario(market=market, **changes)


def cash_of(farm, *treatments, loans=None):
    return household_cash(farm, farm_flows(farm, treatments), loans)


def loan(amount=120.0, **changes):
    data = {
        "name": "Tree loan",
        "amount": amount,
        "payouts": (Payout(month="2027-01"),),
        "rate_per_year": 0.0,
        "term_months": 12,
    }
    return Loan(**{**data, **changes})


@st.composite
def loans(draw, rate=None, fee=None):
    """Any loan that fits into ten years: payouts in grace, each way of repaying."""
    grace = draw(st.integers(0, 24))
    first = draw(st.integers(0, 30))
    term = draw(st.integers(grace + 12, 60))
    later = draw(st.integers(0, grace))
    months = sorted({first, first + later})
    share = 1.0 / len(months)
    repayment = draw(st.sampled_from(["level", "equal_principal", "harvest"]))
    return Loan(
        name=f"Loan {draw(st.integers(1, 10**6))}",
        amount=draw(st.integers(100, 500_000)) / 100,
        payouts=tuple(Payout(month=f"{2027 + m // 12}-{m % 12 + 1:02d}", share=share) for m in months),
        rate_per_year=draw(st.floats(0, 0.4)) if rate is None else rate,
        term_months=term,
        grace_months=grace,
        grace_interest=draw(st.sampled_from(["paid", "added"])),
        repayment=repayment,
        harvest_months=(3, 4, 11) if repayment == "harvest" else (),
        fee_share=draw(st.floats(0, 0.1)) if fee is None else fee,
    )


money = st.floats(-1e4, 1e4).map(lambda x: round(x, 2))
paid = st.floats(0, 1e4).map(lambda x: round(x, 2))


def series(amounts):
    return st.lists(amounts, min_size=36, max_size=36).map(np.array)


# --- §6 against a slow plain loop ----------------------------------------------------------------------


def slow_household(side):
    """Method §6, a month at a time, as a person would keep the book."""
    monthly = (1 + side.savings_rate_per_year) ** (1 / 12) - 1
    held, balances = side.savings, []
    for t in range(side.farm_cash.size):
        held = held + monthly * max(0.0, held)
        held += side.farm_cash[t] + side.other_income[t] - side.living_costs[t]
        held += side.loan_payout[t] - side.loan_fee[t] - side.debt_service[t]
        balances.append(held)
    gaps = []
    for y in range(side.farm_cash.size // 12):
        total = 0.0
        for t in range(12 * y, 12 * y + 12):
            total += side.farm_cash[t] + side.other_income[t] - side.living_costs[t] - side.debt_service[t]
        if total < 0:
            gaps.append(y + 1)
    lowest = min(balances)
    return balances, gaps, lowest, balances.index(lowest), max(0.0, side.floor - lowest)


@settings(max_examples=60)
@given(
    series(money),
    series(paid),
    series(paid),
    series(paid),
    st.floats(0, 1e4),
    st.floats(0, 1e3),
    st.sampled_from([0.0, 0.03, 0.5]),
)
def test_balance_and_gap_equal_the_plain_loop(farm_cash, living, payout, service, savings, floor, rate):
    side = CashSide(
        farm_cash=farm_cash,
        other_income=living[::-1],
        living_costs=living,
        loan_payout=payout,
        loan_fee=payout / 50,
        debt_service=service,
        savings=savings,
        floor=floor,
        savings_rate_per_year=rate,
    )
    balances, gaps, lowest, month, reserve = slow_household(side)
    largest = max(1.0, np.abs(balances).max())
    np.testing.assert_allclose(side.balance, balances, rtol=0, atol=1e-9 * largest)
    assert side.deepest == pytest.approx(lowest, abs=1e-9 * largest)
    assert side.balance[side.deepest_month] == pytest.approx(lowest, abs=2e-9 * largest)
    assert side.deepest_month <= month
    assert side.reserve_needed == pytest.approx(reserve, abs=1e-8 * largest)
    margin = side.margin.reshape(-1, 12).sum(axis=1)
    clear = {y + 1 for y in np.flatnonzero(np.abs(margin) > 1e-3)}  # a sum of nothing but dust has no sign
    assert set(side.gap_years) & clear == set(gaps) & clear
    before = [savings, *balances[:-1]]
    monthly = (1 + rate) ** (1 / 12) - 1
    expected = [monthly * max(0.0, held) for held in before]
    np.testing.assert_allclose(side.savings_interest, expected, atol=1e-9 * largest)


# --- identities ----------------------------------------------------------------------------------------


@settings(max_examples=40)
@given(techniques(), st.integers(0, 10), st.lists(loans(), max_size=3), st.sampled_from([0.0, 0.08]))
def test_final_balance_is_savings_and_all_flows(data, trees, some_loans, inflation):
    farm = scenario(
        {"way_a": data},
        household=people(living_costs=15.0, other_income=3.0),
        appraisal=time(inflation=inflation),
    )
    side = cash_of(farm, treat(trees), loans=some_loans).with_plan
    flows = (
        side.farm_cash.sum()
        + side.other_income.sum()
        - side.living_costs.sum()
        + side.loan_payout.sum()
        - side.loan_fee.sum()
        - side.debt_service.sum()
    )
    assert side.final_balance == pytest.approx(100.0 + flows, rel=1e-9, abs=1e-6)
    assert not side.savings_interest.any()


@settings(max_examples=60)
@given(loans(rate=0.0, fee=0.0))
def test_a_loan_at_no_rate_and_no_fee_moves_money_and_creates_none(some_loan):
    farm = farm_of_ten_a_month()
    cash = cash_of(farm, loans=[some_loan])
    assert cash.with_plan.final_balance == pytest.approx(cash.without.final_balance, abs=1e-6)
    out, back = cash.with_plan.loan_payout.sum(), cash.with_plan.debt_service.sum()
    assert out == pytest.approx(some_loan.amount)
    assert back == pytest.approx(some_loan.amount)


@settings(max_examples=40)
@given(loans(), st.sampled_from([-0.02, 0.0, 0.1]))
def test_a_loan_costs_its_interest_and_fee_in_its_own_money(some_loan, inflation):
    farm = farm_of_ten_a_month(appraisal=time(inflation=inflation))
    cash = cash_of(farm, loans=[some_loan])
    rise = (1 + inflation) ** ((np.arange(MONTHS) + 1) / 12)
    side = cash.with_plan
    nominal = ((side.loan_payout - side.loan_fee - side.debt_service) * rise).sum()
    plan = cash.schedules[0]
    assert nominal == pytest.approx(-(plan.interest.sum() + plan.interest_added.sum() + plan.fee.sum()), abs=1e-6)


@settings(max_examples=30)
@given(techniques(), st.integers(1, 10))
def test_without_the_plan_is_an_empty_plan_without_loans(data, trees):
    farm = scenario({"way_a": data}, household=people(living_costs=15.0))
    planned = cash_of(farm, treat(trees), loans=[loan()])
    empty = cash_of(farm, loans=[])
    for name in ("farm_cash", "balance", "debt_service", "margin"):
        np.testing.assert_array_equal(getattr(planned.without, name), getattr(empty.with_plan, name))
    assert planned.without.as_dict(planned.months) == empty.with_plan.as_dict(empty.months)
    assert empty.dip_years == ()


# --- cases for paper -----------------------------------------------------------------------------------


def test_a_steady_loss_by_paper():
    """10 from the farm, 1 from elsewhere, 12 to live on: 1 a month is lost from savings of 100."""
    farm = farm_of_ten_a_month(household=people(living_costs=12.0, other_income=1.0, floor=5.0))
    side = cash_of(farm, loans=[]).with_plan
    assert side.balance[[0, 1, 119]] == pytest.approx([99.0, 98.0, -20.0])
    assert side.gap_years == tuple(range(1, 11))
    assert (side.deepest, side.deepest_month) == (pytest.approx(-20.0), 119)
    assert side.reserve_needed == pytest.approx(25.0)
    # Below 5 from month 95 on, where 100 − 96 is 4.
    assert side.months_below_floor == tuple(range(95, 120))


def test_living_costs_by_calendar_month_make_the_dip_within_the_year():
    """School fees of 120 fall in September; the year breaks even: no gap year, yet −20 in a month."""
    fees = tuple(120.0 if month == 9 else 0.0 for month in range(1, 13))
    farm = farm_of_ten_a_month(household=people(living_costs=fees, savings=10.0))
    side = cash_of(farm, loans=[]).with_plan
    assert side.gap_years == ()
    assert side.balance[:9] == pytest.approx([20, 30, 40, 50, 60, 70, 80, 90, -20])
    assert side.balance[11] == pytest.approx(10.0)
    assert (side.deepest, side.deepest_month, side.reserve_needed) == (
        pytest.approx(-20.0),
        8,
        pytest.approx(20.0),
    )


def test_a_plan_by_paper():
    """Half the trees lose their crown in July 2027 and bear again a year later; each costs a bag of 0.5."""
    way = technique_data(
        new_crown={**technique_data()["new_crown"], "value": ((11.0, 0.0), (12.0, 2.0)),
                   "low": ((11.0, 0.0), (12.0, 2.0)), "high": ((11.0, 0.0), (12.0, 2.0))},
        operations={"graft": operation(materials={"bag": use(1.0)})},
    )  # fmt: skip
    farm = farm_of_ten_a_month(techniques={"way_a": way}, household=people(living_costs=8.0, savings=0.0))
    cash = cash_of(farm, treat(5), loans=[])
    side = cash.with_plan
    assert side.farm_cash[[5, 6, 7, 17, 18]] == pytest.approx([10.0, 2.5, 5.0, 5.0, 15.0])
    # Year 1: 6·10 + 2.5 + 5·5 − 96 = −8.5. Year 2: 6·5 + 6·15 − 96 = 24.
    assert [row["margin"] for row in side.year_rows()[:2]] == pytest.approx([-8.5, 24.0])
    assert side.gap_years == (1,)
    assert cash.without.gap_years == ()
    # 87.5 against 120 without the plan in year 1, 120 against 120 in year 2.
    assert cash.dip_years == (1,)
    # 6·2 − 5.5 − 5·3 − 6·3 is reached in June 2028.
    assert (side.deepest, cash.months[side.deepest_month]) == (pytest.approx(-26.5), "2028-06")


def test_a_loan_bridges_a_gap_and_does_not_remove_it():
    farm = farm_of_ten_a_month(household=people(living_costs=11.0, savings=0.0))
    alone = cash_of(farm, loans=[]).with_plan
    bridged = cash_of(farm, loans=[loan(240.0, term_months=24, grace_months=12, fee_share=0.05)]).with_plan
    assert 1 in alone.gap_years
    assert 1 in bridged.gap_years
    # 240 less a fee of 12, less 1 in the month.
    assert bridged.balance[0] == pytest.approx(227.0)
    # Twelve instalments of 20 from month 13 on: 228 − 14 − 20.
    assert bridged.balance[13] == pytest.approx(194.0)
    assert bridged.debt_service[12:14].tolist() == [0.0, 20.0]


def test_debt_service_can_make_a_gap_and_never_a_dip():
    farm = farm_of_ten_a_month(household=people(living_costs=5.0))
    cash = cash_of(farm, loans=[loan(1200.0)])
    # A payment of 100 in months 1 to 12: 11 in year 1, 1 in year 2; the farm leaves 5 a month.
    assert cash.with_plan.gap_years == (1, 2)
    assert cash.dip_years == ()
    assert cash.without.gap_years == ()


def test_nominal_instalments_weigh_less_under_inflation():
    farm = farm_of_ten_a_month(appraisal=time(inflation=0.12))
    side = cash_of(farm, loans=[loan()]).with_plan
    # 10 due in month 11 is worth 10 / 1.12; in month 12, 10 / 1.12^(13/12).
    assert side.debt_service[11] == pytest.approx(10 / 1.12)
    assert side.debt_service[12] == pytest.approx(10 / 1.12 ** (13 / 12))
    assert side.loan_payout[0] == pytest.approx(120 / 1.12 ** (1 / 12))


def test_savings_earn_interest_only_above_zero_and_outside_the_gap_test():
    farm = farm_of_ten_a_month(household=people(living_costs=30.0, savings=30.0, savings_rate=0.0627))
    side = cash_of(farm, loans=[]).with_plan
    monthly = 1.0627 ** (1 / 12) - 1
    first = 30 * (1 + monthly) - 20
    second = first * (1 + monthly) - 20
    assert side.balance[:3] == pytest.approx([first, second, second - 20])
    assert side.savings_interest[3:].tolist() == [0.0] * (MONTHS - 3)
    broke_even = farm_of_ten_a_month(household=people(living_costs=10.1, savings=1e6, savings_rate=0.5))
    assert 1 in cash_of(broke_even, loans=[]).with_plan.gap_years


# --- the array functions -------------------------------------------------------------------------------


def test_many_series_at_once_equal_one_at_a_time():
    generator = np.random.default_rng(3)
    money_in, money_out = generator.normal(10, 5, (5, 24)), generator.normal(9, 5, (5, 24))
    balances = np.array([list(accumulate(row)) for row in money_in - money_out])
    assert cash_gaps(money_in, money_out).shape == (5, 2)
    for n in range(5):
        assert cash_gaps(money_in, money_out)[n].tolist() == cash_gaps(money_in[n], money_out[n]).tolist()
        assert dips(money_in, money_out)[n].tolist() == dips(money_in[n], money_out[n]).tolist()
        assert deepest_month(balances)[n] == balances[n].tolist().index(min(balances[n]))
        assert reserve_needed(balances, 3.0)[n] == max(0.0, 3.0 - min(balances[n]))


def test_a_year_that_breaks_even_but_for_binary_dust_is_no_gap():
    assert 0.1 * 3 > 0.3  # what dust looks like
    out = np.full(12, 0.1)
    money_in = np.zeros(12)
    money_in[0] = 1.2 - 1e-12
    assert not cash_gaps(money_in, out).any()


# --- refusals ------------------------------------------------------------------------------------------


def test_a_payout_before_the_start_is_refused_by_name():
    with pytest.raises(LoanError) as refused:
        loan_terms(farm_of_ten_a_month(), loan(payouts=(Payout(month="2026-12"),)))
    assert refused.value.code == "payout_before_start"
    assert refused.value.facts["loan"] == "Tree loan"


def test_a_loan_that_outlasts_the_horizon_is_refused_by_name():
    with pytest.raises(LoanError) as refused:
        cash_of(farm_of_ten_a_month(), loans=[loan(term_months=120)])
    assert (refused.value.code, refused.value.facts["loan"]) == ("last_instalment_after_horizon", "Tree loan")


def test_the_smallest_unit_is_the_currencys():
    farm = farm_of_ten_a_month()
    assert loan_terms(farm, loan()).unit == 0.01
    # The CFA franc has no decimals in use (ISO 4217: exponent 0).
    francs = farm.appraisal.model_copy(update={"currency": "XOF"})
    assert loan_terms(farm.model_copy(update={"appraisal": francs}), loan()).unit == 1.0


# --- tables and json -----------------------------------------------------------------------------------


def test_tables_and_json_agree_with_the_arrays():
    farm = farm_of_ten_a_month(household=people(living_costs=12.0))
    cash = cash_of(farm, loans=[loan()])
    table, years = cash.table(), cash.years_table()
    assert len(table) == MONTHS
    assert table["balance"].iloc[-1] == cash.with_plan.final_balance
    assert years["margin"].sum() == pytest.approx(table["margin"].sum())
    assert years["balance"].iloc[-1] == cash.with_plan.final_balance
    told = json.loads(json.dumps(cash.as_dict(), allow_nan=False))
    assert told["with_plan"]["deepest"]["balance"] == cash.with_plan.deepest
    assert told["loans"] == ["Tree loan"]
    assert [row["year"] for row in told["with_plan"]["cash_gap_years"]] == list(cash.with_plan.gap_years)
