"""Loans judged on the money there is: paper cases, brute force through the scenario, and changed scenarios."""

import json

import numpy as np
import pytest
from factories import loan_data as loan
from factories import scenario
from factories import ten_a_month as farm
from farm_files import FARMS
from hypothesis import given, settings
from hypothesis import strategies as st

from renovation.decide.lending import appraise_loans, at_price, best_harvest_months
from renovation.farm import by_year, farm_flows, household_cash
from renovation.inputs import ScenarioError, load_scenario, season_from_window
from renovation.money.loans import unit_schedule


def first(some_farm):
    return appraise_loans(some_farm).loans[0]


# --- cases for paper -----------------------------------------------------------------------------------


def test_coverage_by_paper():
    """12 instalments of 10 from month 1: 110 due in year 1, 10 in year 2; 120 a year from the farm."""
    rows = first(farm(loan(), people={"living_costs": 5.0, "other_income": 2.0})).as_stated.cover_rows()
    assert rows[0]["debt_service"] == pytest.approx(110.0)
    assert rows[0]["cover_farm_only"] == pytest.approx(120 / 110)
    assert rows[0]["cover_after_living"] == pytest.approx((120 + 24 - 60) / 110)
    # Bands: below 1.10 high risk, above 1.50 good (Kohl 2023).
    assert (rows[0]["band_farm_only"], rows[0]["band_after_living"]) == ("high_risk", "high_risk")
    assert rows[1]["cover_farm_only"] == pytest.approx(12.0)
    assert (rows[1]["band_farm_only"], rows[1]["band_after_living"]) == ("good", "good")
    assert rows[2] == {
        "year": 3,
        "debt_service": 0.0,
        "cover_farm_only": None,
        "band_farm_only": None,
        "cover_after_living": None,
        "band_after_living": None,
    }


def test_the_loan_test_says_on_what_coverage_is_measured():
    # 120/110 = 1.09 on the farm alone, (120 + 24)/110 = 1.31 with other income.
    people = {"other_income": 2.0}
    assert first(farm(loan(), people=people)).as_stated.holds
    told = first(farm(loan(), people=people, test={"farm_only": True})).as_stated
    assert not told.holds
    assert (told.breaks_first.kind, told.breaks_first.period) == ("cover", 1)
    assert told.breaks_first.value == pytest.approx(120 / 110)


def test_the_first_instalment_that_cannot_be_paid_by_paper():
    """5 a month is lost: 115 after month 0, 15 less each month, 10 after month 7, so 5 for the 10 of month 8."""
    judged = first(farm(loan(), people={"living_costs": 15.0}))
    due = judged.first_missed
    assert (due.month, due.label, due.kind) == (8, "2027-09", "instalment")
    assert due.available == pytest.approx(5.0)
    assert due.left == pytest.approx(-5.0)
    assert (due.amount, due.amount_nominal) == (pytest.approx(10.0), 10.0)
    assert [d.missed for d in judged.dues] == [False] * 7 + [True] * 5
    assert not judged.as_stated.holds


def test_the_earliest_broken_condition_is_named():
    """The balance is broken in month 8; coverage of year 1 is only known in month 11."""
    told = first(farm(loan(), people={"living_costs": 15.0})).as_stated.breaks_first
    assert (told.kind, told.period) == ("floor", 8)
    late = first(farm(loan(), people={"living_costs": 5.0})).as_stated.breaks_first
    assert (late.kind, late.period) == ("cover", 1)
    assert first(farm(loan())).as_stated.breaks_first.kind == "cover"  # 120 / 110 is below 1.10
    assert first(farm(loan(amount=60.0))).as_stated.breaks_first is None


def test_interest_in_grace_is_a_payment_of_its_own():
    """1 % a month on 120 for six months of grace, then level."""
    judged = first(farm(loan(rate_per_year=0.12, grace_months=6)))
    assert [due.kind for due in judged.dues] == ["interest"] * 6 + ["instalment"] * 6
    assert [due.amount_nominal for due in judged.dues[:6]] == [1.2] * 6


def test_payments_beside_the_harvest_by_paper():
    """All of the crop in May and June: of 12 monthly instalments 10 fall outside; in harvest months none does."""
    shares = tuple(0.5 if month in (5, 6) else 0.0 for month in range(1, 13))
    judged = first(farm(loan(), shares=shares, people={"savings": 200.0}))
    assert judged.outside_harvest == 10
    assert judged.harvest_months == (5, 6)
    assert [row.payments for row in judged.calendar] == [1] * 12
    assert judged.calendar[4].harvest_share == 0.5
    assert judged.harvest.schedule.instalment_months == (4, 5)
    assert judged.harvest.schedule.debt_service[[4, 5]].tolist() == [60.0, 60.0]
    in_harvest = first(farm(loan(repayment="harvest", harvest_months=(5, 6)), shares=shares, people={"savings": 200.0}))
    assert in_harvest.outside_harvest == 0
    assert [row.paid_nominal for row in in_harvest.calendar] == [0.0] * 4 + [60.0] * 2 + [0.0] * 6


def test_harvest_terms_that_find_no_harvest_are_left_out():
    shares = tuple(0.5 if month in (1, 2) else 0.0 for month in range(1, 13))
    judged = first(farm(loan(term_months=9, grace_months=3), shares=shares))
    assert judged.harvest is None
    assert "harvest" not in judged.verdicts


def test_largest_loan_by_paper():
    """11 instalments of a year each a twelfth: 1.1 · 11/12 · a ≤ 120, so a ≤ 119.0082...; nothing else binds."""
    judged = first(farm(loan()))
    assert judged.as_stated.largest.amount == 119.0
    assert (judged.as_stated.largest.limit.kind, judged.as_stated.largest.limit.period) == ("cover", 1)


def test_years_and_currency_stand_beside_no_loan_at_all():
    lending = appraise_loans(farm())
    assert lending.loans == ()
    assert lending.as_dict()["loans"] == []


def test_other_loans_count_in_coverage_and_balance():
    """A second loan of 60 asks 55 of year 1: 120 / 165 for both; 60 and 120 arrive in month 0."""
    lending = appraise_loans(farm(loan(), loan(name="Tool loan", amount=60.0)))
    for judged in lending.loans:
        assert judged.as_stated.cover_farm_only[0] == pytest.approx(120 / 165)
        assert judged.as_stated.fit.balance[0] == pytest.approx(10 + 180)
        np.testing.assert_allclose(judged.as_stated.fit.balance, lending.cash.with_plan.balance)
    # Before the first loan's own 10 in month 1, the other's 5 is paid: 190 + 10 − 5.
    assert lending.loans[0].dues[0].available == pytest.approx(195.0)
    assert lending.loans[1].dues[0].available == pytest.approx(190.0)


# --- through the scenario: brute force and changed scenarios -------------------------------------------

terms = st.fixed_dictionaries(
    {
        "amount": st.integers(1, 400).map(float),
        "rate_per_year": st.sampled_from([0.0, 0.08, 0.24]),
        "term_months": st.sampled_from([14, 24, 36]),
        "grace_months": st.sampled_from([0, 6, 12]),
        "grace_interest": st.sampled_from(["paid", "added"]),
        "fee_share": st.sampled_from([0.0, 0.02]),
    }
)
ways = st.sampled_from(
    [
        {"repayment": "level"},
        {"repayment": "equal_principal"},
        {"repayment": "harvest", "harvest_months": (2, 5, 8, 11)},
    ]
)
families = st.fixed_dictionaries(
    {
        "living_costs": st.sampled_from([0.0, 6.0, 9.0]),
        "other_income": st.sampled_from([0.0, 3.0]),
        "savings": st.sampled_from([0.0, 50.0]),
        "floor": st.sampled_from([0.0, 20.0]),
        "savings_rate": st.sampled_from([0.0, 0.04]),
    }
)
seasons = st.sampled_from([(1 / 12,) * 12, (0.0, 0.0, 0.0, 0.4, 0.4, 0.0, 0.0, 0.0, 0.0, 0.0, 0.2, 0.0)])


@st.composite
def farms(draw):
    others = draw(st.booleans())
    loans = [loan(**draw(terms), **draw(ways))]
    if others:
        loans.append(loan(name="Tool loan", amount=15.0, payouts=({"month": "2027-07"},)))
    return farm(
        *loans,
        people=draw(families),
        shares=draw(seasons),
        test={"cover": draw(st.sampled_from([1.1, 1.5])), "farm_only": draw(st.booleans())},
        appraisal={
            "start": "2027-01",
            "horizon_years": 5,
            "discount_rate": 0.1,
            "currency": "USD",
            "inflation": draw(st.sampled_from([0.0, 0.05])),
        },
    )


def keeps_all(some_farm, amount):
    """Every condition of the first loan at an unrounded amount, written out plainly from method §§6 and 7."""
    cash = household_cash(some_farm, farm_flows(some_farm, some_farm.plan))
    side, test = cash.with_plan, some_farm.loan_test
    unit = unit_schedule(cash.schedules[0].terms, side.balance.size, 1)
    rise = (1 + some_farm.appraisal.inflation) ** ((np.arange(side.balance.size) + 1) / 12)
    payout, service = amount * unit.payout / rise, amount * unit.debt_service / rise
    for other in cash.schedules[1:]:
        payout, service = payout + other.payout / rise, service + other.debt_service / rise
    monthly = (1 + some_farm.household.savings_rate) ** (1 / 12) - 1
    held, lowest = some_farm.household.savings, np.inf
    for t in range(service.size):
        held += monthly * max(0.0, held)
        held += side.farm_cash[t] + side.other_income[t] - side.living_costs[t] + payout[t] - service[t]
        lowest = min(lowest, held)
    cash_for_it = side.farm_cash if test.farm_only else side.money_in - side.living_costs
    due = by_year(service)
    covered = by_year(cash_for_it)[due > 0] / due[due > 0]
    return lowest >= some_farm.household.floor - 1e-9 and (covered >= test.cover - 1e-9).all()


@settings(max_examples=60)
@given(farms())
def test_the_largest_loan_is_the_largest(some_farm):
    """One cent more breaks a condition, one less keeps all; where none fits, no amount of a wide net does."""
    largest = first(some_farm).as_stated.largest
    if largest.amount is None:
        assert not any(keeps_all(some_farm, amount) for amount in (0.01, 0.5, *range(1, 600, 7)))
        return
    assert keeps_all(some_farm, largest.amount)
    assert not keeps_all(some_farm, largest.amount + 0.01)
    if largest.amount - 0.01 >= largest.lowest:
        assert keeps_all(some_farm, largest.amount - 0.01)
    # What the scenario states as the amount does not matter to what would fit.
    assert first(some_farm.changed(loans__0__amount=77.0)).as_stated.largest == largest


def book_keeps_all(some_farm):
    """Whether the household's own book, its rounded schedules in it, keeps floor and coverage."""
    side = household_cash(some_farm, farm_flows(some_farm, some_farm.plan)).with_plan
    cash = side.farm_cash if some_farm.loan_test.farm_only else side.money_in - side.living_costs
    due = by_year(side.debt_service)
    short = by_year(cash) < some_farm.loan_test.cover * due - 1e-9
    return not side.months_below_floor and not short[due > 0].any()


@settings(max_examples=25)
@given(farms())
def test_graces_equal_the_book_kept_for_each_grace(some_farm):
    stated = first(some_farm).as_stated
    assert stated.holds == book_keeps_all(some_farm)
    fitting = []
    for grace in range(stated.terms.term_months):
        try:
            changed = some_farm.changed(loans__0__grace_months=grace)
        except ScenarioError:  # a grace that outlasts the last harvest month is refused with the scenario
            continue
        if book_keeps_all(changed):
            fitting.append(grace)
    told = [found and found.grace_months for found in (stated.shortest_grace, stated.latest_start)]
    assert told == ([min(fitting), max(fitting)] if fitting else [None, None])


@settings(max_examples=15)
@given(farms(), st.lists(st.floats(0.01, 0.9), min_size=1, max_size=6, unique_by=lambda share: round(share, 4)))
def test_lower_prices_equal_the_changed_scenario(some_farm, shares):
    assert list(first(some_farm).at_price) == [0.9, 0.8, 0.67]
    judged = first(some_farm.changed(loan_test__lower_prices=tuple(shares)))
    assert list(judged.at_price) == pytest.approx([1 - share for share in shares])
    for factor in judged.at_price:
        changed = some_farm.changed(market__price_per_kg=12.0 * factor)
        assert judged.at_price[factor].summary() == first(changed).as_stated.summary()


@settings(max_examples=15)
@given(farms())
def test_level_and_harvest_equal_the_changed_scenario(some_farm):
    judged = first(some_farm)
    level = some_farm.changed(loans__0__repayment="level", loans__0__harvest_months=())
    assert judged.level.summary() == first(level).as_stated.summary()
    in_harvest = {"loans__0__repayment": "harvest", "loans__0__harvest_months": judged.harvest_months}
    if len(judged.harvest_months) == 12:
        assert judged.harvest is None
        return
    if judged.harvest is None:
        with pytest.raises(ScenarioError):
            some_farm.changed(**in_harvest)
        return
    harvest = some_farm.changed(**in_harvest)
    assert judged.harvest.summary() == first(harvest).as_stated.summary()


@pytest.mark.long
@settings(max_examples=25)
@given(farms())
def test_every_payment_stands_beside_the_household_book(some_farm):
    lending = appraise_loans(some_farm)
    balance = lending.cash.with_plan.balance
    for judged in lending.loans:
        plan = judged.as_stated.schedule
        np.testing.assert_allclose(judged.as_stated.fit.balance, balance, atol=1e-9)
        assert sum(due.amount_nominal for due in judged.dues) == pytest.approx(plan.debt_service.sum())
        assert sum(row.payments for row in judged.calendar) == len(judged.dues)
        for due in judged.dues:
            assert due.left == pytest.approx(balance[due.month], abs=1e-9)
            assert due.available - due.amount == pytest.approx(due.left, abs=1e-9)
            assert due.interest_nominal + due.principal_nominal == pytest.approx(due.amount_nominal)
            if abs(due.left) > 1e-9:
                assert due.missed == (due.available < due.amount)
    json.dumps(lending.as_dict(), allow_nan=False)


def test_a_lower_price_lowers_wet_beans_too():
    wet = {
        "wet_beans": {"price_per_kg": 3.0, "dry_per_wet": 0.3},
        "season": {"shares": (1 / 12,) * 12},
    }
    assert at_price(scenario(market=wet), 0.8).market.dry_price_per_kg == pytest.approx(8.0)


def test_harvest_months_of_a_window():
    # International Cocoa Organization, harvest windows: Ecuador, main March to June, mid December and January.
    assert best_harvest_months(season_from_window("Ecuador", mid_share=0.1)) == (3, 4, 5, 6)
    assert best_harvest_months(farm().market.season) == tuple(range(1, 13))


@pytest.mark.parametrize("path", FARMS, ids=lambda path: path.stem)
def test_every_scenario_is_judged(path):
    lending = appraise_loans(load_scenario(path))
    told = json.loads(json.dumps(lending.as_dict(), allow_nan=False))
    assert len(told["loans"]) == len(lending.scenario.loans)
    for judged in lending.loans:
        assert list(judged.verdicts_table()["case"]) == list(judged.verdicts)
        assert len(judged.dues_table()) == len(judged.dues)
        assert len(judged.cover_table()) == lending.scenario.appraisal.horizon_years


def test_an_odd_debt_that_cannot_be_counted_at_harvest_leaves_the_loan_judged():
    """At 200 % a year 10^14 cents are 0.75 · 10^16 after 28 months, and pass 2^53 before the next harvest."""
    dear = loan(amount=1e12, term_months=60, rate_per_year=2.0, grace_months=28, grace_interest="added")
    judged = first(farm(dear, shares=(*(0.0,) * 11, 1.0)))
    assert judged.harvest is None
    assert judged.as_stated.schedule.debt_service.sum() > 1e12
