"""Coverage, balance and the searches, against plain loops, brute force and published bands."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy_financial as npf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from renovation.money.loan_cover import balance, cover_band, cover_by_year, debt_cover, first_missed, missed
from renovation.money.loan_fit import RepaymentMeans, compare_terms, fits
from renovation.money.loan_search import FAR, GraceFit, largest_amount, largest_amounts, latest_start, shortest_grace
from renovation.money.loan_terms import MOST_UNITS, LoanError, LoanTerms, instalment_months
from renovation.money.loans import flows_by_grace, schedule, unit_schedule


def means(flow, savings=0.0, floor=0.0, target=1.1, **more) -> RepaymentMeans:
    return RepaymentMeans(np.asarray(flow, dtype=float), savings, floor, target, **more)


# --- a second reading of the method, month by month in plain Python ---------------------------------------


def margins(terms: LoanTerms, held: RepaymentMeans, amount: float, start: int) -> dict[tuple[str, int], float]:
    """What each condition has to spare at an amount, unrounded: ("cover", year) and ("floor", month)."""
    unit = unit_schedule(terms, held.horizon_months, start)
    months = held.horizon_months
    price = [(1 + held.inflation_per_year) ** ((t + 1) / 12) for t in range(months)]
    other_in = [0.0] * months if held.other_payout is None else held.other_payout.tolist()
    other_out = [0.0] * months if held.other_service is None else held.other_service.tolist()
    out = [(amount * unit.debt_service[t] + other_out[t]) / price[t] for t in range(months)]
    into = [(amount * unit.payout[t] + other_in[t]) / price[t] for t in range(months)]
    spare: dict[tuple[str, int], float] = {}
    for year in range(1, months // 12 + 1):
        service = sum(out[12 * (year - 1) : 12 * year])
        cash = float(sum(held.cash_for_cover[12 * (year - 1) : 12 * year]))
        if service > 0:
            spare["cover", year] = cash - held.cover_target * service
    have = held.savings
    for t in range(months):
        have += max(0.0, have) * ((1 + held.savings_rate_per_year) ** (1 / 12) - 1)
        have += float(held.flow_by_month[t]) + into[t] - out[t]
        spare["floor", t] = have - held.floor
    return spare


def slack(held: RepaymentMeans) -> float:
    """Binary rounding of sums this large."""
    return 1e-9 * (1 + float(np.abs(held.flow_by_month).max()) + abs(held.savings) + abs(held.floor))


@st.composite
def cases(draw: st.DrawFn) -> tuple[LoanTerms, RepaymentMeans, int]:
    """A loan and the money to repay it, many of them near the edge of fitting."""
    years = draw(st.integers(3, 6))
    yearly = draw(st.lists(st.integers(-30, 200), min_size=years, max_size=years))
    shares = np.array(draw(st.lists(st.integers(0, 6), min_size=12, max_size=12))) + 0.5
    flow = np.concatenate([y * shares / shares.sum() for y in yearly])
    grace = draw(st.integers(0, 12))
    second = draw(st.integers(1, grace)) if grace else 0
    repayment = draw(st.sampled_from(["level", "equal_principal", "harvest"]))
    terms = LoanTerms(
        1.0,
        ((0, 0.6), (second, 0.4)) if second else ((0, 1.0),),
        draw(st.sampled_from([0.0, 0.08, 0.3])),
        grace + draw(st.integers(12, 22)),
        grace,
        draw(st.sampled_from(["paid", "added"])),
        repayment,
        (4, 10) if repayment == "harvest" else (),
        draw(st.sampled_from([0.0, 0.02])),
        draw(st.sampled_from([0.01, 1.0])),
    )
    rate = draw(st.sampled_from([0.0, 0.0, 0.04]))
    lowest = 0 if rate else -40
    extra = {"savings_rate_per_year": rate, "inflation_per_year": draw(st.sampled_from([0.0, 0.06]))}
    if draw(st.booleans()):
        extra["other_service"] = np.where(np.arange(12 * years) < 18, 1.25, 0.0)
    if draw(st.booleans()):
        extra["cover_cash_by_month"] = flow + draw(st.sampled_from([2.0, 80.0]))
    savings, floor = draw(st.integers(lowest, 60)), draw(st.integers(lowest, 20))
    return (
        terms,
        means(flow, savings, floor, draw(st.sampled_from([0.5, 1.1, 1.5])), **extra),
        draw(st.integers(1, 12)),
    )


@settings(max_examples=300)
@given(cases())
def test_one_unit_more_breaks_the_named_condition_and_the_amount_keeps_all(case):
    terms, held, start = case
    found = largest_amount(terms, held, start)
    if found.amount is None:
        return
    limit = (found.limit.kind, found.limit.period)
    at, beyond = (margins(terms, held, found.amount + k * terms.unit, start) for k in (0, 1))
    assert min(at.values()) >= -slack(held)
    assert beyond[limit] <= slack(held)
    assert beyond[limit] < at[limit]
    far = margins(terms, held, 1.01 * (found.amount + terms.unit) + 1, start)
    assert far[limit] < 0
    # One unit less keeps all, down to the lowest amount; one less than that breaks what asks for it.
    if found.amount - terms.unit >= found.lowest:
        assert min(margins(terms, held, found.amount - terms.unit, start).values()) >= -slack(held)
    assert min(margins(terms, held, found.lowest, start).values()) >= -slack(held)
    if found.need is not None:
        below = margins(terms, held, found.lowest - terms.unit, start)
        assert below[found.need.kind, found.need.period] <= slack(held)
        assert below[found.need.kind, found.need.period] < at[found.need.kind, found.need.period] + slack(held)


@settings(max_examples=60)
@given(cases())
def test_the_range_of_whole_amounts_is_found_by_trying_every_one(case):
    terms, held, start = case
    terms = replace(terms, unit=1.0)
    found = largest_amount(terms, held, start)
    least = {a: min(margins(terms, held, float(a), start).values()) for a in range(1, 1200, 11)}
    edge = slack(held)
    for amount, spare in least.items():
        inside = found.amount is not None and found.lowest <= amount <= found.amount
        if spare < -edge:
            assert not inside, amount
        if spare > edge:
            assert inside, amount


def test_largest_loan_by_hand():
    # 11 a month, target 1.1, twelve instalments without interest from month 1: eleven twelfths of the loan
    # fall due in year 1, so a · 11/12 · 1.1 ≤ 132: a ≤ 130.909...
    terms = LoanTerms(1.0, ((0, 1.0),), 0.0, 12)
    found = largest_amount(terms, means(np.full(24, 11.0)), 1)
    assert found.amount == 130.90
    assert (found.limit.kind, found.limit.period, found.need) == ("cover", 1, None)
    assert found.limit.value == pytest.approx(132 / (130.91 * 11 / 12))
    assert found.limit.value < 1.1


def test_a_trough_asks_for_a_least_amount():
    # Month 0 costs 50 with nothing saved: less than 50 leaves the balance below 0. Crops pay from month 12.
    flow = np.zeros(36)
    flow[0], flow[12:] = -50.0, 10.0
    terms = LoanTerms(1.0, ((0, 1.0),), 0.0, 24, grace_months=12)
    found = largest_amount(terms, means(flow), 1)
    assert found.lowest == 50.0
    assert (found.need.kind, found.need.period, found.need.value) == ("floor", 0, pytest.approx(-0.01))
    # Years 2 (eleven instalments) and 3 (one): 120 ≥ 1.1 · 11/12 · a, so a ≤ 119.00826.
    assert (found.amount, found.limit.kind, found.limit.period) == (119.0, "cover", 2)
    # A trough deeper than any loan that can be served: none fits, and both conditions are named.
    flow[0] = -130.0
    none = largest_amount(terms, means(flow), 1)
    assert (none.amount, none.lowest) == (None, 130.0)
    assert (none.need.period, none.limit.kind, none.limit.period) == (0, "cover", 2)
    assert none.limit.value == pytest.approx(120 / (130 * 11 / 12))


def test_what_no_amount_can_mend_is_named():
    # The balance is below its floor before the payout comes.
    flow = np.full(36, 10.0)
    flow[2] = -100.0
    terms = LoanTerms(1.0, ((6, 1.0),), 0.1, 12)
    none = largest_amount(terms, means(flow), 1)
    assert (none.amount, none.limit.kind, none.limit.period) == (None, "floor", 2)
    assert none.limit.value == pytest.approx(-80.0)
    # A year of debt service for another loan alone that is already short.
    other = np.zeros(36)
    other[24:] = 20.0
    none = largest_amount(terms, means(np.full(36, 10.0), savings=500.0, other_service=other), 1)
    assert (none.amount, none.limit.kind, none.limit.period, none.limit.value) == (None, "cover", 3, 0.5)


@pytest.mark.parametrize("number", range(2, 19))
def test_a_loan_that_is_repaid_cannot_mend_a_later_hole(number):
    # At a rate that inflation eats up, the loan is worth nothing once it is repaid, but for what binary numbers
    # leave of 1 − 1: no loan, however large, may count that as help.
    flow = np.full(36, 10.0)
    flow[30] = -1_000.0
    held = means(flow, inflation_per_year=1.01**12 - 1)
    none = largest_amount(LoanTerms(1.0, ((0, 1.0),), 0.12, number), held, 1)
    assert (none.amount, none.limit.kind, none.limit.period) == (None, "floor", 30)


@pytest.mark.parametrize("repayment", ["level", "equal_principal", "harvest"])
@pytest.mark.parametrize("early", [-3.0, 50.0])
@pytest.mark.parametrize("rate", [5e-324, 1e-320, 1e-200, 1e-20, 1e-17])
def test_interest_of_which_no_amount_makes_a_unit_is_none(rate, early, repayment):
    # The largest loan pays less than half a unit of interest in grace: the bank books 0, as without interest.
    held = means(np.concatenate([np.full(24, early), np.full(48, 100.0)]), savings=200.0)
    months = (11, 12) if repayment == "harvest" else ()
    free = LoanTerms(1.0, ((0, 1.0),), 0.0, 60, grace_months=24, repayment=repayment, harvest_months=months)
    tiny = largest_amount(replace(free, nominal_rate_per_year=rate), held, 1)
    assert tiny == largest_amount(free, held, 1)
    assert tiny.amount > 1000.0


def test_a_loan_that_must_be_served_from_a_loss_fits_in_no_amount():
    none = largest_amount(LoanTerms(1.0, ((0, 1.0),), 0.1, 11), means(np.full(12, -1.0), savings=100.0), 1)
    assert (none.amount, none.limit.kind, none.limit.period) == (None, "cover", 1)


def test_farm_only_coverage_still_keeps_the_households_balance():
    # The farm earns 20 a month and the family keeps 1 of it. Coverage after living costs allows little; on
    # the farm alone it allows more than the 36 saved in three years can pay the interest of: then the balance
    # in the month of the last instalment is the limit.
    terms = LoanTerms(1.0, ((0, 1.0),), 0.12, 35)
    level = -npf.pmt(0.01, 35, 1.0)
    family = largest_amount(terms, means(np.full(36, 1.0)), 1)
    assert family.limit.kind == "cover"
    assert family.limit.period in (2, 3)  # twelve instalments each: a tie
    assert family.amount == np.floor(100 * 12 / (1.1 * 12 * level)) / 100
    farm = largest_amount(terms, means(np.full(36, 1.0), cover_cash_by_month=np.full(36, 20.0)), 1)
    assert (farm.limit.kind, farm.limit.period) == ("floor", 35)
    assert farm.amount == np.floor(100 * 36 / (35 * level - 1)) / 100


def test_inflation_lightens_a_nominal_debt():
    terms = LoanTerms(1.0, ((0, 1.0),), 0.2, 36)
    dear, light = (
        largest_amount(terms, means(np.full(48, 10.0), inflation_per_year=pi), 1).amount for pi in (0.0, 0.15)
    )
    assert light > dear


def test_many_series_at_once_are_the_single_ones():
    rng = np.random.default_rng(3)
    flows = rng.normal(6, 20, (40, 48))
    terms = LoanTerms(1.0, ((0, 1.0),), 0.12, 24, 6)
    together = largest_amounts(terms, means(flows, savings=60.0), 1)
    for flow, amount in zip(flows, together, strict=True):
        single = largest_amount(terms, means(flow, savings=60.0), 1).amount
        assert (single is None and np.isnan(amount)) or single == amount
    assert 0 < np.isnan(together).sum() < 40


def test_interest_on_savings_with_a_floor_below_0_is_refused_not_guessed():
    held = means(np.full(24, 5.0), savings=10.0, floor=-5.0, savings_rate_per_year=0.03)
    with pytest.raises(LoanError) as refused:
        largest_amount(LoanTerms(1.0, ((0, 1.0),), 0.1, 12), held, 1)
    assert refused.value.code == "savings_interest_below_zero"


# --- grace ------------------------------------------------------------------------------------------------


@settings(max_examples=60)
@given(cases(), st.integers(5, 300))
def test_graces_are_the_ends_of_what_trying_every_one_finds(case, units):
    terms, held, start = case
    terms = replace(terms, amount=units * terms.unit)
    good = {}
    for grace in range(terms.payouts[-1][0], terms.term_months):
        try:
            loan = schedule(replace(terms, grace_months=grace), held.horizon_months, start)
        except LoanError:
            continue
        if fits(loan, held).holds:
            good[grace] = loan.first_instalment_month
    shortest, latest = shortest_grace(terms, held, start), latest_start(terms, held, start)
    if not good:
        assert shortest is None
        assert latest is None
        return
    assert (shortest.grace_months, shortest.first_instalment_month) == (min(good), good[min(good)])
    assert latest.first_instalment_month == max(good.values())
    assert shortest.schedule.instalment_months[-1] <= terms.last_month


def tried_one_by_one(terms, held, start, longest_first):
    """The plain search: every grace's schedule worked out and judged by itself, from one end."""
    candidates = range(terms.payouts[-1][0] - terms.first_month, terms.term_months)
    for grace in reversed(candidates) if longest_first else candidates:
        try:
            loan = schedule(replace(terms, grace_months=grace), held.horizon_months, start)
        except LoanError as error:
            if error.code == "no_harvest_month_to_repay_in":
                continue
            raise
        if fits(loan, held).holds:
            return grace, loan.debt_service.tolist()
    return None


def ended(search):
    """What a search finds, or the code and the facts of its refusal."""
    try:
        return search()
    except LoanError as error:
        return error.code, error.facts


@st.composite
def long_loans(draw: st.DrawFn) -> tuple[LoanTerms, RepaymentMeans, int]:
    """Loans of many kinds, a few of which grow beyond what whole units can hold, and money that may do for them."""
    years = draw(st.integers(2, 8))
    rng = np.random.default_rng(draw(st.integers(0, 10**6)))
    first = draw(st.integers(0, 6))
    gap = draw(st.integers(0, 5))
    repayment = draw(st.sampled_from(["level", "equal_principal", "harvest"]))
    harvest = tuple(int(m) + 1 for m in rng.choice(12, draw(st.integers(1, 3)), replace=False))
    unit = draw(st.sampled_from([0.01, 1.0, 1000.0]))
    terms = LoanTerms(
        draw(st.integers(3, 10**6)) * unit,
        ((first, 0.37), (first + gap, 0.63)) if gap else ((first, 1.0),),
        draw(st.sampled_from([0.0, 0.0824, 0.3, 10.0])),
        term_months=draw(st.integers(gap + 1, 12 * years - first - 1)),
        grace_months=gap,
        grace_interest=draw(st.sampled_from(["paid", "added"])),
        repayment=repayment,
        harvest_months=harvest if repayment == "harvest" else (),
        fee_share=draw(st.sampled_from([0.0, 0.03])),
        unit=unit,
    )
    flow = rng.normal(1, 1, 12 * years) * terms.amount * draw(st.sampled_from([0.05, 0.2]))
    flow[: draw(st.sampled_from([0, 12]))] *= 0.01  # so that repayment in the first year fits only now and then
    held = means(
        flow,
        savings=0.3 * terms.amount,
        target=draw(st.sampled_from([0.5, 1.1])),
        inflation_per_year=draw(st.sampled_from([0.0, 0.1])),
        savings_rate_per_year=draw(st.sampled_from([0.0, 0.02])),
        other_service=np.full(12 * years, 0.001 * terms.amount),
    )
    return terms, held, draw(st.integers(1, 12))


@settings(max_examples=150)
@given(long_loans())
def test_graces_found_all_at_once_are_those_found_one_by_one(case):
    terms, held, start = case
    for search, longest_first in ((shortest_grace, False), (latest_start, True)):
        slow = ended(lambda end=longest_first: tried_one_by_one(terms, held, start, end))
        found = ended(lambda search=search: search(terms, held, start))
        if isinstance(found, GraceFit):
            found = found.grace_months, found.schedule.debt_service.tolist()
        assert found == slow


def test_a_debt_too_large_for_floats_before_its_payment_is_told():
    """Owed in month 44 with the month's interest: more than 2^53 cents, though no month ends with so much."""
    terms = LoanTerms(3235.8, ((3, 1.0),), 10.0, 41, 39, "added", "harvest", (4, 5, 10))
    _, service, most = flows_by_grace(terms, range(39, 40), 48, start_calendar_month=9)
    loan = schedule(terms, 48, start_calendar_month=9)
    assert loan.balance.max() / 0.01 < MOST_UNITS < most[0]
    assert service[0, 44] != loan.debt_service[44]


@settings(max_examples=80)
@given(long_loans())
def test_flows_by_grace_are_the_schedules_own_to_the_last_bit(case):
    terms, held, start = case
    widest = replace(terms, grace_months=terms.payouts[-1][0] - terms.first_month)
    try:
        due = instalment_months(widest, start)
        graces = range(widest.grace_months, due[-1] - terms.first_month)
        payout, service, highest = flows_by_grace(terms, graces, held.horizon_months, start)
    except LoanError:
        return
    for row, grace in enumerate(graces):
        alone = replace(terms, grace_months=grace)
        if highest[row] > MOST_UNITS:
            continue  # no claim is made; `schedule` itself tells whether this loan can be
        loan = schedule(alone, held.horizon_months, start)
        assert service[row].tolist() == loan.debt_service.tolist()
        assert payout.tolist() == loan.payout.tolist()


def test_a_debt_near_the_largest_whole_number_is_still_exact():
    """Before its last payment of 7.67e15 cents 1.2e16 stand for a moment, more than a float holds to the cent."""
    terms = LoanTerms(567.94, ((0, 1.0),), 10.0, 44, grace_months=42, grace_interest="added")
    _, service, highest = flows_by_grace(terms, range(43), 48, start_calendar_month=1)
    assert highest[42] < MOST_UNITS
    assert service[42].tolist() == schedule(terms, 48, 1).debt_service.tolist()


def test_the_shortest_grace_by_hand():
    # Nothing comes in before month 18, ten a month from then on. 100 over 36 months without interest: with a
    # grace of g months each of the 36 − g instalments, the first in month g + 1, is 100 / (36 − g). The
    # payout could pay the first ones, but a year of debt service without cash has coverage 0: none in year 1.
    flow = np.zeros(48)
    flow[18:] = 10.0
    terms = LoanTerms(100.0, ((0, 1.0),), 0.0, 36)
    found = shortest_grace(terms, means(flow, target=1.2), 1)
    assert (found.grace_months, found.first_instalment_month) == (11, 12)
    late = latest_start(terms, means(flow, target=1.2), 1)
    # From the other end: with g = 35 all 100 fall due in month 36, in a year that brings 120: coverage 1.2.
    assert (late.grace_months, late.first_instalment_month) == (35, 36)
    assert shortest_grace(terms, means(flow / 100), 1) is None


# --- balance, coverage, missed instalments ----------------------------------------------------------------


def test_balance_is_savings_and_all_flows():
    rng = np.random.default_rng(1)
    flows = rng.normal(0, 100, (50, 60))
    held = balance(25.0, flows)
    assert held[:, -1] == pytest.approx(25 + flows.sum(axis=1))


def test_interest_on_savings_is_yearly_and_never_charged_on_a_hole():
    # 100 at 6 % effective is 106 after twelve months; a hole of 100 stays a hole of 100.
    assert balance(100.0, np.zeros(12), 0.06)[-1] == pytest.approx(106.0)
    assert balance(-100.0, np.zeros(12), 0.06)[-1] == -100.0
    flows = np.random.default_rng(2).normal(0, 10, (3, 36))
    together = balance(5.0, flows, 0.06)
    for series, held in zip(flows, together, strict=True):
        have = 5.0
        for t, flow in enumerate(series):
            have += max(0.0, have) * (1.06 ** (1 / 12) - 1) + flow
            assert held[t] == pytest.approx(have)
    with pytest.raises(LoanError):
        balance(0.0, np.zeros(12), -0.01)


def test_coverage_is_blank_without_debt_service():
    cover = debt_cover([[150.0, 80.0, 90.0]], [100.0, 0.0, 100.0])
    assert cover_by_year(cover[0]) == {1: 1.5, 2: None, 3: 0.9}
    with pytest.raises(LoanError) as refused:
        debt_cover([1.0], [-1.0])
    assert refused.value.code == "debt_service_negative"
    with pytest.raises(ValueError, match="finite"):
        debt_cover([np.nan], [1.0])


@pytest.mark.parametrize(
    ("cover", "band"),
    # Kohl 2023: above 1.50 good, 1.10 to 1.50 caution, below 1.10 high risk.
    [
        (2.0, "good"),
        (1.5001, "good"),
        (1.5, "caution"),
        (1.1, "caution"),
        (0.33 / 0.3, "caution"),
        (1.0999, "high_risk"),
        (-1.0, "high_risk"),
        (None, None),
        (float("nan"), None),
    ],
)
def test_bands(cover, band):
    assert cover_band(cover) == band


def test_missed_instalments():
    service = np.array([0.0, 10.0, 0.0, 10.0])
    assert first_missed(service, np.array([-5.0, 0.0, -1.0, 3.0])) is None
    assert first_missed(service, np.array([-5.0, 0.0, -1.0, -3.0])) == 3
    # Tenths that sum to a hair below 0 are 0.
    assert first_missed(np.array([1.0, 1.0, 1.0]), balance(0.3, np.array([-0.1, -0.1, -0.1]))) is None
    assert missed(service, np.full((2, 4), -1.0)).sum() == 4


def test_fit_names_every_broken_condition_and_shows_month_beside_money():
    # 120 without interest over 12 months, 5 a month coming in: 11 of 12 instalments in year 1.
    held = means(np.full(24, 5.0), floor=70.0, target=1.1)
    # The balance is 125 − 5t up to the last instalment in month 12, then rises again.
    fit = fits(schedule(LoanTerms(120.0, ((0, 1.0),), 0.0, 12), 24, 1), held)
    assert [(b.kind, b.period, b.value) for b in fit.broken] == [("cover", 1, 60 / 110), ("floor", 12, 65.0)]
    assert not fit.holds
    assert fit.cover.tolist() == [60 / 110, 6.0]
    assert fit.lowest_cover == 60 / 110
    year = fit.by_year()
    assert year.band.tolist() == ["high_risk", "good"]
    month = fit.by_month()
    assert month.debt_service.tolist() == [0.0] + [10.0] * 12 + [0.0] * 11
    assert month.balance.tolist() == fit.balance.tolist()


def test_a_year_without_debt_service_shows_blank():
    fit = fits(schedule(LoanTerms(120.0, ((0, 1.0),), 0.0, 11), 24, 1), means(np.full(24, 15.0)))
    assert fit.by_year().cover.tolist() == [1.5, None]
    assert fit.by_year().band.tolist() == ["caution", None]


def test_level_against_harvest_months():
    # All the money comes in October and November and the loan is spent at once: the level loan misses its
    # first instalment, the harvest loan none.
    season = np.zeros(48)
    season[9::12] = season[10::12] = 60.0
    terms = LoanTerms(200.0, ((0, 1.0),), 0.12, 36)
    both = compare_terms(terms, (10, 11), means(season, savings=-200.0), 1)
    assert (both.level_fit.first_missed, both.harvest_fit.first_missed) == (1, None)
    assert (both.level_fit.holds, both.harvest_fit.holds) == (False, True)
    assert both.harvest.instalment_months == (9, 10, 21, 22, 33, 34)
    # The debt stands longer before each harvest, so it costs more interest.
    assert both.harvest.total_interest > both.level.total_interest
    table = both.table()
    assert table.repayment.tolist() == ["level", "harvest"]
    assert table.instalments.tolist() == [36, 6]


@pytest.mark.parametrize(
    "wrong",
    [
        {"flow": np.zeros(13)},
        {"flow": np.full(12, np.nan)},
        {"flow": np.zeros(24), "other_service": np.zeros(12)},
        {"flow": np.zeros(24), "cover_cash_by_month": np.zeros(12)},
        {"flow": np.zeros(24), "target": 0.0},
        {"flow": np.zeros(24), "floor": np.inf},
        {"flow": np.zeros(24), "inflation_per_year": -1.0},
        {"flow": np.zeros(24), "savings_rate_per_year": -0.01},
    ],
)
def test_means_that_do_not_fit_together(wrong):
    with pytest.raises(ValueError, match=r".+"):
        means(**wrong)


def test_one_series_where_one_is_judged():
    loan = schedule(LoanTerms(100.0, ((0, 1.0),), 0.1, 12), 24, 1)
    with pytest.raises(ValueError, match="one cash series"):
        fits(loan, means(np.zeros((3, 24))))


def test_an_odd_target_next_to_nothing_is_met_by_an_amount_that_a_float_holds():
    terms = LoanTerms(1.0, ((0, 1.0),), 0.0, term_months=11, unit=1.0)
    easy = replace(means(np.full(12, 11.0)), cover_target=5e-324)
    amount = largest_amount(terms, easy, 1).amount
    assert MOST_UNITS < amount < 2 * FAR
    assert largest_amounts(terms, easy, 1) == amount
