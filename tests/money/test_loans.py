"""Loan arithmetic and schedules against published figures, numpy-financial, and identities."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal

import numpy as np
import numpy_financial as npf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from renovation.money import effective_rate, nominal_rate
from renovation.money.loan_terms import LoanError, LoanTerms, balance_after_grace, instalment, instalment_months
from renovation.money.loans import Schedule, schedule, to_constant_prices, unit_schedule

HORIZON = 480  # 40 years, the longest there is


def plain(rate_per_period: float, periods: int, grace: int = 0, **more: object) -> LoanTerms:
    """Terms whose month stands for any period: the scheduler charges the nominal rate over twelve a step."""
    return LoanTerms(
        amount=1000.0,
        payouts=((0, 1.0),),
        nominal_rate_per_year=12 * rate_per_period,
        term_months=periods,
        grace_months=grace,
        **more,  # type: ignore[arg-type]
    )


# --- published figures ---------------------------------------------------------------------------------


def test_payment_of_numpy_financials_example():
    # numpy-financial documentation, pmt: 200000 over 15 years at 7.5 % -> -1854.0247200054619.
    assert instalment(200_000, 0.075 / 12, range(1, 181)) == pytest.approx(1854.0247200054619, rel=1e-14)
    unit = unit_schedule(LoanTerms(1.0, ((0, 1.0),), 0.075, 180), HORIZON, 1)
    assert 200_000 * unit.debt_service[1:181] == pytest.approx(1854.0247200054619, rel=1e-12)


def test_interest_part_of_the_fifth_of_seven_payments():
    # Help text of the free office suite's Calc, IPMT: 5 % a period, 5th of 7, 15000 -> -352.97.
    unit = unit_schedule(plain(0.05, 7), HORIZON, 1)
    assert 15_000 * unit.interest[5] == pytest.approx(352.9734225148, abs=5e-11)


def test_interest_lines_of_numpy_financials_example():
    # numpy-financial documentation, ipmt: 2500 at 8.24 % a year over 12 months; total 112.98.
    printed = [17.17, 15.79, 14.40, 13.01, 11.60, 10.18, 8.76, 7.32, 5.88, 4.42, 2.96, 1.49]
    terms = LoanTerms(2500.0, ((0, 1.0),), 0.0824, 12)
    unit = unit_schedule(terms, HORIZON, 1)
    assert np.round(2500 * unit.interest[1:13], 2).tolist() == printed
    assert 2500 * unit.total_interest == pytest.approx(112.98308424, abs=5e-9)
    # The lender's own schedule, interest and instalments in whole cents, stays within a cent of it.
    rounded = schedule(terms, HORIZON, 1)
    assert np.abs(np.round((rounded.interest[1:13] - printed) * 100)).max() <= 1
    assert set(rounded.debt_service[1:12]) == {217.75}
    assert rounded.balance[12] == 0.0


def test_cumulative_interest_and_principal_of_the_second_year():
    # Help text of Calc, CUMIPMT_ADD and CUMPRINC_ADD: 0.75 % a month, 360 months, 125000, periods 13 to 24.
    unit = unit_schedule(plain(0.0075, 360), HORIZON, 1)
    assert 125_000 * unit.interest[13:25].sum() == pytest.approx(11_135.23, abs=0.005)
    assert 125_000 * unit.principal[13:25].sum() == pytest.approx(934.1071, abs=5e-5)


def test_effective_and_nominal_rates():
    # Help text of Calc, EFFECTIVE: 9.75 % in 4 periods -> 10.11 %; NOMINAL: 13.5 % in 12 -> 12.73 %.
    assert effective_rate(0.0975, 4) == pytest.approx(0.10112312546, abs=5e-12)
    assert nominal_rate(0.135, 12) == pytest.approx(0.12730316696, abs=5e-12)
    assert effective_rate(0.0, 12) == 0.0


def test_quarterly_grace_with_interest_added():
    # Terms as in a published Philippine cacao loan (figures derived): 1000, 8 % nominal by quarters, 12
    # quarters nothing, 16 level. The project's own loans are monthly: this goes through the period functions,
    # and through the scheduler with a quarter in the place of a month.
    owed = balance_after_grace(1000, 0.02, 12, "added")
    assert owed == pytest.approx(1268.2417945625, abs=5e-11)
    assert instalment(owed, 0.02, range(1, 17)) == pytest.approx(93.4061678009, abs=5e-11)
    unit = unit_schedule(plain(0.02, 28, 12, grace_interest="added"), HORIZON, 1)
    assert 1000 * unit.balance[12] == pytest.approx(1268.2417945625, abs=5e-11)
    assert 1000 * unit.debt_service[13:29] == pytest.approx(93.4061678009, abs=5e-11)
    assert unit.debt_service[:13].tolist() == [0.0] * 13


@pytest.mark.parametrize(
    ("grace_interest", "owed", "during_grace", "level"),
    # Terms as in a published Belize cacao loan (figures derived): 1000, 8 %, 10 years, 4 of grace, yearly.
    [("added", 1360.48896, 0.0, 294.2946948427), ("paid", 1000.0, 80.0, 216.3153862290)],
)
def test_ten_years_with_four_of_grace(grace_interest, owed, during_grace, level):
    assert balance_after_grace(1000, 0.08, 4, grace_interest) == pytest.approx(owed, abs=5e-11)
    assert instalment(owed, 0.08, range(1, 7)) == pytest.approx(level, abs=5e-11)
    unit = unit_schedule(plain(0.08, 10, 4, grace_interest=grace_interest), HORIZON, 1)
    assert 1000 * unit.debt_service[1:5] == pytest.approx(during_grace, abs=1e-10)
    assert 1000 * unit.debt_service[5:11] == pytest.approx(level, abs=5e-11)


def test_rejuvenation_loan_of_three_years_with_one_of_grace():
    # Lending practice, Philippines: rejuvenation of old trees 3 years with 1 of grace, interest added.
    terms = LoanTerms(60_000.0, ((2, 0.5), (5, 0.5)), 0.08, 36, grace_months=12, grace_interest="added", fee_share=0.03)
    loan = schedule(terms, 120, 6)
    assert loan.instalment_months == tuple(range(15, 39))
    assert (loan.payout[2], loan.fee[2], loan.payout[5]) == (29_100.0, 900.0, 29_100.0)
    # By hand: the halves grow for 12 and 9 months; 24 level instalments clear them.
    owed = 30_000 * (1 + 0.08 / 12) ** 12 + 30_000 * (1 + 0.08 / 12) ** 9
    assert loan.balance[14] == pytest.approx(owed, abs=0.06)  # twelve roundings of half a cent
    assert loan.debt_service[15] == pytest.approx(float(-npf.pmt(0.08 / 12, 24, owed)), abs=0.01)
    assert loan.balance[38] == 0.0


def test_rural_bank_loan_repaid_september_to_december():
    # Lending practice, Ghana: rural bank, at most 12 months, repaid September to December.
    terms = LoanTerms(2_000.0, ((0, 1.0),), 0.30, 12, repayment="harvest", harvest_months=(9, 10, 11, 12))
    loan = schedule(terms, 24, start_calendar_month=1)
    assert np.flatnonzero(loan.debt_service).tolist() == [8, 9, 10, 11]
    assert len(set(loan.debt_service[8:11])) == 1
    unit = unit_schedule(terms, 24, 1)
    assert 2_000 * npf.npv(0.025, unit.debt_service) == pytest.approx(2_000, rel=1e-13)


# --- a second program: numpy-financial -------------------------------------------------------------------


def random_loans(count: int) -> list[tuple[LoanTerms, float, int, int]]:
    """Level loans of many sizes: terms, rate a month, grace, number of instalments."""
    rng = np.random.default_rng(20)
    loans = []
    for _ in range(count):
        amount = float(np.round(10 ** rng.uniform(2, 7), 2))
        rate, grace, number = rng.uniform(0.001, 0.6), int(rng.integers(0, 48)), int(rng.integers(1, 240))
        terms = LoanTerms(amount, ((0, 1.0),), rate, grace + number, grace_months=grace)
        loans.append((terms, rate / 12, grace, number))
    return loans


def test_two_hundred_loans_equal_numpy_financial():
    for terms, rate, grace, number in random_loans(200):
        unit = unit_schedule(terms, HORIZON, 1)
        life = slice(grace + 1, grace + number + 1)
        per = np.arange(1, number + 1)
        level = -npf.pmt(rate, number, terms.amount)
        assert terms.amount * unit.debt_service[life] == pytest.approx(level, rel=1e-9)
        interest = -npf.ipmt(rate, per, number, terms.amount)
        principal = -npf.ppmt(rate, per, number, terms.amount)
        assert terms.amount * unit.interest[life] == pytest.approx(interest, rel=1e-9, abs=1e-9 * level)
        assert terms.amount * unit.principal[life] == pytest.approx(principal, rel=1e-9, abs=1e-9 * level)


def test_two_hundred_rounded_loans_stay_within_their_rounding():
    for terms, rate, grace, number in random_loans(200):
        loan = schedule(terms, HORIZON, 1)
        level = -npf.pmt(rate, number, terms.amount)
        per = np.arange(1, number + 1)
        first, last = grace + 1, grace + number
        # An instalment rounded up can clear the debt some payments early; up to then every one is the level.
        cleared = first + int(np.argmin(loan.balance[first : last + 1]))
        assert loan.debt_service[first:cleared] == pytest.approx(level, abs=0.005 + 1e-9 * level)
        # Each month adds at most half a cent by its interest and half a cent by its instalment, at interest.
        drift = 0.01 * np.cumsum((1 + rate) ** per)
        exact = terms.amount + np.cumsum(npf.ppmt(rate, per, number, terms.amount))
        assert (np.abs(loan.balance[first : last + 1] - exact) <= drift + 1e-9 * terms.amount).all()
        assert loan.balance[last] == 0.0


def test_rounding_is_half_up_as_decimal_arithmetic_has_it():
    # Python's decimal module as the second program: exact tenths, no binary numbers, a lender's half up.
    cent = Decimal("0.01")
    for amount, percent, number in (("1230.50", "12", 7), ("999.99", "6", 24), ("250.50", "24", 5)):
        rate = Decimal(percent) / 1200
        level = (Decimal(amount) * rate / (1 - (1 + rate) ** -number)).quantize(cent, ROUND_HALF_UP)
        owed, interest_lines, payments = Decimal(amount), [], []
        for k in range(1, number + 1):
            interest = (owed * rate).quantize(cent, ROUND_HALF_UP)
            payment = owed + interest if k == number else level
            owed += interest - payment
            interest_lines.append(float(interest))
            payments.append(float(payment))
        loan = schedule(LoanTerms(float(amount), ((0, 1.0),), float(percent) / 100, number), HORIZON, 1)
        assert loan.interest[1 : number + 1].tolist() == interest_lines
        assert loan.debt_service[1 : number + 1].tolist() == payments


def test_a_half_that_binary_numbers_cannot_hold_rounds_up():
    # 14.50 at 1 % a month is 0.145 exactly; as a float product it comes out at or a hair below the half.
    loan = schedule(LoanTerms(14.50, ((0, 1.0),), 0.12, 12, grace_months=11), HORIZON, 1)
    assert loan.interest[1] == 0.15
    # 0.29 * 50 is 14.499999999999998 in binary numbers: an interest of 14.5 units all the same.
    loan = schedule(LoanTerms(50.0, ((0, 1.0),), 0.29 * 12, 2, grace_months=1, unit=1.0), HORIZON, 1)
    assert loan.interest[1] == 15.0


# --- identities ------------------------------------------------------------------------------------------


@st.composite
def any_terms(draw: st.DrawFn) -> LoanTerms:
    """Every kind of loan that fits 40 years."""
    unit = draw(st.sampled_from([0.001, 0.01, 0.05, 0.25, 1.0, 5.0, 100.0]))
    amount = draw(st.integers(1, 10**8)) * unit
    grace = draw(st.integers(0, 60))
    offsets = sorted(draw(st.sets(st.integers(0, grace), min_size=1, max_size=4)))
    weights = draw(st.lists(st.integers(1, 9), min_size=len(offsets), max_size=len(offsets)))
    first = draw(st.integers(0, 30))
    repayment = draw(st.sampled_from(["level", "equal_principal", "harvest"]))
    months = draw(st.sets(st.integers(1, 12), min_size=1)) if repayment == "harvest" else set()
    return LoanTerms(
        amount=round(amount / unit) * unit,
        payouts=tuple(
            (first + month - offsets[0], weight / sum(weights)) for month, weight in zip(offsets, weights, strict=True)
        ),
        nominal_rate_per_year=draw(st.one_of(st.just(0.0), st.floats(0.0, 1.0), st.sampled_from([0.08, 0.24]))),
        term_months=grace + draw(st.integers(12, 180)),
        grace_months=grace,
        grace_interest=draw(st.sampled_from(["paid", "added"])),
        repayment=repayment,
        harvest_months=tuple(months),
        fee_share=draw(st.sampled_from([0.0, 0.01, 0.025, 0.3])),
        unit=unit,
    )


def in_units(loan: Schedule) -> dict[str, np.ndarray]:
    """Every line in smallest units, as exact whole numbers; anything else is not money."""
    lines = {}
    for name in ("payout", "fee", "interest", "interest_added", "principal", "debt_service", "balance"):
        units = getattr(loan, name) / loan.terms.unit
        assert np.abs(units - np.round(units)).max() <= 1e-9 * max(1.0, np.abs(units).max()), name
        lines[name] = np.round(units).astype(np.int64)
    return lines


@given(any_terms(), st.integers(1, 12))
def test_every_schedule_clears_the_debt_and_adds_up(terms, start):
    loan = schedule(terms, HORIZON, start)
    lines = in_units(loan)
    assert loan.balance[loan.instalment_months[-1] :].tolist() == [0.0] * (HORIZON - loan.instalment_months[-1])
    moved = lines["payout"] + lines["fee"] + lines["interest_added"] - lines["principal"]
    assert (np.cumsum(moved) == lines["balance"]).all()
    assert (lines["interest"] + lines["principal"] == lines["debt_service"]).all()
    assert (lines["payout"] + lines["fee"]).sum() == round(terms.amount / terms.unit)
    assert all(line.min() >= 0 for line in lines.values())
    # Principal is paid in instalment months only, and nothing up to the month of the first payout.
    assert set(np.flatnonzero(lines["principal"])) <= set(loan.instalment_months)
    assert not lines["debt_service"][: terms.first_month + 1].any()


@given(any_terms(), st.integers(1, 12))
def test_unrounded_payments_are_worth_the_payouts_at_the_contract_rate(terms, start):
    # By substitution: whatever the kind, payments discounted at j/12 are worth the payouts before the fee.
    unit = unit_schedule(terms, HORIZON, start)
    discount = (1 + terms.rate_per_month) ** -np.arange(HORIZON)
    gross = unit.payout + unit.fee
    assert unit.debt_service @ discount == pytest.approx(gross @ discount, rel=1e-9)
    assert unit.balance[-1] == 0.0


@given(any_terms(), st.integers(1, 12))
def test_harvest_instalments_are_worth_the_balance_at_the_end_of_grace(terms, start):
    if terms.repayment != "harvest":
        terms = LoanTerms(
            terms.amount,
            ((0, 1.0),),
            terms.nominal_rate_per_year,
            60,
            18,
            "added",
            "harvest",
            (5, 11),
            unit=terms.unit,
        )
    unit = unit_schedule(terms, HORIZON, start)
    due = np.array(unit.instalment_months)
    assert set((start - 1 + due) % 12 + 1) <= set(terms.harvest_months)
    worth = unit.debt_service[due] @ (1 + terms.rate_per_month) ** (terms.end_of_grace - due.astype(float))
    assert worth == pytest.approx(unit.balance[terms.end_of_grace], rel=1e-9)
    assert unit.debt_service[due] == pytest.approx(unit.debt_service[due[0]], rel=1e-9)
    # Between harvests the debt grows by its interest.
    quiet = [m for m in range(terms.end_of_grace + 1, due[-1]) if m not in set(due)]
    grown = unit.balance[np.array(quiet, dtype=int) - 1] * (1 + terms.rate_per_month)
    assert unit.balance[quiet] == pytest.approx(grown, rel=1e-12)


@given(any_terms(), st.integers(1, 12))
def test_a_loan_at_rate_0_without_fee_moves_money_in_time_and_makes_none(terms, start):
    free = replace(terms, nominal_rate_per_year=0.0, fee_share=0.0)
    loan = schedule(free, HORIZON, start)
    assert in_units(loan)["payout"].sum() == in_units(loan)["debt_service"].sum()
    assert loan.total_interest == 0.0
    assert loan.total_fee == 0.0
    assert loan.net_flow.sum() == pytest.approx(0, abs=1e-9 * free.amount)


@given(any_terms(), st.integers(1, 12))
def test_rounding_moves_each_line_little(terms, start):
    # Interest, instalment and payout are each off by half a unit at most; a month's error grows at the rate.
    loan, unit = schedule(terms, HORIZON, start), unit_schedule(terms, HORIZON, start)
    months = np.arange(HORIZON)
    # A rounded instalment stands against a balance already off: three half units a month cover all of it.
    drift = 1.5 * terms.unit * np.cumsum((1 + terms.rate_per_month) ** months)
    exact = terms.amount * unit.balance
    assert (np.abs(loan.balance - exact) <= 2 * drift + 1e-9 * exact.max()).all()


def test_harvest_in_all_twelve_months_is_the_level_loan():
    level = schedule(LoanTerms(5_000.0, ((3, 1.0),), 0.18, 30, 6), 60, 4)
    harvest = schedule(
        LoanTerms(5_000.0, ((3, 1.0),), 0.18, 30, 6, repayment="harvest", harvest_months=tuple(range(1, 13))),
        60,
        4,
    )
    assert harvest.debt_service.tolist() == level.debt_service.tolist()
    assert harvest.balance.tolist() == level.balance.tolist()
    assert harvest.total_interest == pytest.approx(level.total_interest)


def test_equal_principal_by_hand():
    # 1200 at 12 %, 12 instalments: 100 of principal and 1 % of what is owed, 12, 11, ... 1.
    loan = schedule(LoanTerms(1_200.0, ((0, 1.0),), 0.12, 12, repayment="equal_principal"), 24, 1)
    assert loan.interest[1:13].tolist() == [float(x) for x in range(12, 0, -1)]
    assert loan.principal[1:13].tolist() == [100.0] * 12


def test_payouts_add_up_and_bear_interest_from_the_month_after():
    # Thirds of 100.00 are paid as 33.33, 33.34, 33.33 (cumulative shares rounded).
    third = 1 / 3
    loan = schedule(LoanTerms(100.0, ((0, third), (1, third), (2, third)), 0.12, 14, grace_months=2), 24, 1)
    assert loan.payout[:3].tolist() == [33.33, 33.34, 33.33]
    assert loan.interest[:4].tolist() == [0.0, 0.33, 0.67, 1.0]


def test_a_tiny_loan_that_rounding_clears_early():
    # 7 units over 12 months: 0.58 rounds up to 1, so seven instalments of 1 clear it and five are 0.
    loan = schedule(LoanTerms(7.0, ((0, 1.0),), 0.0, 12, unit=1.0), 24, 1)
    assert loan.debt_service[1:13].tolist() == [1.0] * 7 + [0.0] * 5
    # 5 over 12 months: 0.42 rounds down to 0, so the last instalment takes it all.
    loan = schedule(LoanTerms(5.0, ((0, 1.0),), 0.0, 12, unit=1.0), 24, 1)
    assert loan.debt_service[1:13].tolist() == [0.0] * 11 + [5.0]


def test_prices_of_month_0():
    # A year's inflation is gone at the end of month 11: 112 nominal is 100.
    real = to_constant_prices(np.full((2, 24), 112.0), 0.12)
    assert real[:, 11] == pytest.approx(100.0)
    assert real[:, 23] == pytest.approx(112 / 1.12**2)
    assert to_constant_prices([5.0], 0.0).tolist() == [5.0]
    with pytest.raises(LoanError) as refused:
        to_constant_prices([5.0], -1.0)
    assert refused.value.code == "inflation_out_of_range"


def test_table_is_tidy():
    table = schedule(LoanTerms(1_200.0, ((1, 1.0),), 0.12, 12), 24, start_calendar_month=12).table()
    assert len(table) == 24
    assert table.loc[1, ["project_year", "calendar_month"]].tolist() == [1, 1]
    assert table.debt_service.sum() == pytest.approx(1_200 + table.interest.sum())


def test_schedules_cannot_be_changed():
    loan = schedule(LoanTerms(100.0, ((0, 1.0),), 0.12, 12), 24, 1)
    with pytest.raises(ValueError, match="read-only"):
        loan.balance[0] = 1.0


# --- refusals --------------------------------------------------------------------------------------------

GOOD = {"amount": 1_000.0, "payouts": ((0, 1.0),), "nominal_rate_per_year": 0.1, "term_months": 24}


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"amount": 0.0}, "amount_not_positive"),
        ({"amount": math.nan}, "amount_not_positive"),
        ({"amount": 10.005}, "amount_not_whole_units"),
        ({"amount": 1e15}, "amount_too_large"),
        ({"unit": 0.03}, "unit_not_a_currency_unit"),
        ({"unit": 0.0}, "unit_not_a_currency_unit"),
        ({"nominal_rate_per_year": -0.01}, "rate_out_of_range"),
        ({"nominal_rate_per_year": 12.0}, "rate_out_of_range"),
        ({"nominal_rate_per_year": math.nan}, "rate_out_of_range"),
        ({"fee_share": 1.0}, "fee_out_of_range"),
        ({"payouts": ()}, "payouts_missing"),
        ({"payouts": ((3, 0.5), (1, 0.5)), "grace_months": 6}, "payout_months_not_rising"),
        ({"payouts": ((-1, 1.0),)}, "payout_months_not_rising"),
        ({"payouts": ((0, 0.5), (1, 0.4)), "grace_months": 6}, "payout_shares_not_one"),
        ({"payouts": ((0, 0.5), (7, 0.5)), "grace_months": 6}, "payout_after_grace"),
        ({"unit": 1e-320}, "unit_not_a_currency_unit"),
        ({"grace_months": -1}, "grace_not_whole_months"),
        ({"grace_months": True}, "grace_not_whole_months"),
        ({"term_months": 12.5}, "term_not_whole_months"),
        ({"grace_months": 24}, "term_within_grace"),
        ({"repayment": "balloon"}, "repayment_unknown"),
        ({"grace_interest": "waived"}, "grace_interest_unknown"),
        ({"repayment": "harvest"}, "harvest_months_missing"),
        ({"repayment": "harvest", "harvest_months": (0, 13)}, "harvest_months_wrong"),
        ({"harvest_months": (10,)}, "harvest_months_not_used"),
    ],
)
def test_terms_that_contradict_themselves(change, code):
    with pytest.raises(LoanError) as refused:
        LoanTerms(**(GOOD | change))
    assert refused.value.code == code
    assert code.replace("_", " ") in str(refused.value)


def test_a_payout_in_the_last_month_of_grace_is_taken():
    assert LoanTerms(**(GOOD | {"payouts": ((2, 0.5), (8, 0.5)), "grace_months": 6})).end_of_grace == 8


def test_last_instalment_must_fall_within_the_horizon():
    terms = LoanTerms(**(GOOD | {"payouts": ((12, 1.0),)}))
    assert schedule(terms, 37, 1).balance[36] == 0.0
    with pytest.raises(LoanError) as refused:
        schedule(terms, 36, 1)
    assert (refused.value.code, refused.value.facts) == (
        "last_instalment_after_horizon",
        {"month": 36, "last_allowed": 35},
    )
    # In harvest months only, the last instalment may fall well before the term ends: that is what counts.
    harvest = LoanTerms(**(GOOD | {"payouts": ((12, 1.0),), "repayment": "harvest", "harvest_months": (6,)}))
    assert schedule(harvest, 36, 1).balance[29] == 0.0


def test_a_harvest_loan_without_a_harvest_in_its_time():
    terms = LoanTerms(**(GOOD | {"term_months": 8, "repayment": "harvest", "harvest_months": (12,)}))
    with pytest.raises(LoanError) as refused:
        instalment_months(terms, start_calendar_month=1)
    assert refused.value.code == "no_harvest_month_to_repay_in"
    with pytest.raises(LoanError) as refused:
        instalment_months(terms, start_calendar_month=0)
    assert refused.value.code == "calendar_month_out_of_range"


def test_a_debt_that_outgrows_the_units():
    terms = LoanTerms(1e12, ((0, 1.0),), 9.0, 240, 200, "added")
    with pytest.raises(LoanError) as refused:
        schedule(terms, HORIZON, 1)
    assert refused.value.code == "amount_too_large"


def test_no_period_to_repay_in():
    for periods in ((), (0, 1)):
        with pytest.raises(LoanError) as refused:
            instalment(100, 0.01, periods)
        assert refused.value.code == "no_period_to_repay_in"
