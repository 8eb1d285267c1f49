"""Paybacks, present values, ratios and switching values: definitions, identities and second programs."""

import itertools
from fractions import Fraction

import numpy as np
import numpy_financial as npf
import pytest
import pyxirr
from hypothesis import given
from hypothesis import strategies as st

from renovation import money

flows = st.lists(st.integers(-1000, 1000), min_size=1, max_size=30)
rates = st.floats(-0.5, 1.0)


def payback_by_definition(flow, first_period):
    """Method §5 in words, in exact arithmetic: walk back from the horizon while nothing is owed."""
    total, points = Fraction(0), []
    for year, amount in enumerate(flow):
        total += amount
        points.append((year + first_period, total))
    if points[-1][1] < 0:
        return None
    for (year, owed), (_, later) in zip(reversed(points[:-1]), reversed(points[1:]), strict=True):
        if owed < 0:
            return float(year + -owed / (later - owed))
    return 0.0


@given(flows, st.sampled_from([0, 1]))
def test_payback_is_the_definition(flow, first_period):
    expected = payback_by_definition(flow, first_period)
    found = money.payback(flow, first_period=first_period)
    assert found == (None if expected is None else pytest.approx(expected, abs=1e-12))


@given(st.lists(st.lists(st.integers(-50, 50), min_size=8, max_size=8), min_size=1, max_size=10), rates)
def test_paybacks_of_many_are_those_of_each(rows, rate):
    plain, discounted = money.payback_many(rows), money.discounted_payback_many(rows, rate)
    for row, years, later in zip(rows, plain, discounted, strict=True):
        alone, alone_later = money.payback(row), money.discounted_payback(row, rate)
        assert (None if np.isnan(years) else years) == alone
        assert (None if np.isnan(later) else later) == alone_later


def test_payback_on_paper():
    assert money.payback([100.0, -20.0]) == 0.0  # never in debt
    assert money.payback([-100.0, 100.0]) == 2.0  # clear at the end of year 2
    assert money.payback([-100.0, 200.0]) == 1.5
    assert money.payback([-100.0, 150.0, -100.0, 200.0]) == 3.25  # in debt again: the last recovery counts
    assert money.payback([-100.0, 150.0, -100.0]) is None
    assert money.payback([-0.3, 0.1, 0.2]) == pytest.approx(3.0)  # -0.3 + 0.1 + 0.2 is -2.8e-17 in floats
    assert money.payback([-5.0]) is None
    assert money.discounted_payback([-100.0, 121.0], 0.21) == pytest.approx(2.0)


@given(flows, rates)
def test_npv_against_two_programs(flow, rate):
    size = float(np.abs(np.array(flow)) @ (1 + rate) ** -np.arange(len(flow), dtype=float)) * 3
    tolerance = 1e-12 * size + 1e-12
    now = float(money.net_present_value(flow, rate, first_period=0))
    later = float(money.net_present_value(flow, rate))
    assert now == pytest.approx(npf.npv(rate, flow), abs=tolerance)
    assert later == pytest.approx(pyxirr.npv(rate, flow, start_from_zero=False), abs=tolerance)


@given(flows, flows, rates, st.floats(-3, 3))
def test_npv_is_linear(first, second, rate, factor):
    length = min(len(first), len(second))
    a, b = np.array(first[:length], dtype=float), np.array(second[:length], dtype=float)
    left = float(money.net_present_value(a + factor * b, rate))
    right = float(money.net_present_value(a, rate)) + factor * float(money.net_present_value(b, rate))
    size = float(money.net_present_value(np.abs(a) + abs(factor) * np.abs(b), rate))
    assert left == pytest.approx(right, abs=1e-12 * size + 1e-12)


def test_npv_of_months_takes_the_effective_yearly_rate():
    months = np.random.default_rng(3).normal(0, 100, (4, 240))
    by_hand = [sum(f / 1.12 ** ((t + 1) / 12) for t, f in enumerate(row)) for row in months]
    assert money.net_present_value(months, 0.12, periods_per_year=12) == pytest.approx(by_hand, rel=1e-11)
    # A year's figure paid at the end of month 12 is worth what the yearly sum gives.
    once = np.zeros(12)
    once[11] = 100.0
    monthly = float(money.net_present_value(once, 0.12, periods_per_year=12))
    assert monthly == pytest.approx(float(money.net_present_value([100.0], 0.12)))


def test_npv_at_many_rates_has_one_column_for_each():
    table = np.random.default_rng(4).normal(0, 1, (2, 3, 5))
    several = money.net_present_value(table, [0.0, 0.1])
    assert several.shape == (2, 3, 2)
    assert several[..., 0] == pytest.approx(table.sum(axis=-1))
    assert several[..., 1] == pytest.approx(money.net_present_value(table, 0.1))


@given(flows, rates, rates)
def test_mirr_against_two_programs(flow, finance, reinvest):
    ours = money.mirr(flow, finance, reinvest)
    if len(flow) < 2 or max(flow) <= 0 or min(flow) >= 0:
        assert ours is None  # OpenFormula leaves it undefined without both signs
        return
    assert ours == pytest.approx(float(npf.mirr(flow, finance, reinvest)), rel=1e-9, abs=1e-12)
    assert ours == pytest.approx(pyxirr.mirr(flow, finance, reinvest), rel=1e-9, abs=1e-12)


@given(flows, rates)
def test_split_and_ratio_agree_with_npv(flow, rate):
    up, down = (float(v) for v in money.present_value_split(flow, rate))
    assert up >= 0.0
    assert down >= 0.0
    assert up - down == pytest.approx(float(money.net_present_value(flow, rate)), abs=1e-11 * (up + down) + 1e-12)
    ratio = float(money.net_benefit_investment_ratio(flow, rate))
    assert np.isnan(ratio) if down == 0.0 else ratio == pytest.approx(up / down)


@given(st.floats(-1e6, 1e6), st.floats(-0.2, 1.0), st.integers(1, 40))
def test_equivalent_annual_value_is_worth_the_npv(npv, rate, years):
    level = float(money.equivalent_annual_value(npv, rate, years))
    worth = float(money.net_present_value(np.full(years, level), rate))
    assert worth == pytest.approx(npv, rel=1e-11, abs=1e-9)
    # and numpy-financial's payment on a loan of that size
    if abs(rate) > 1e-6:
        assert level == pytest.approx(-float(npf.pmt(rate, years, npv)), rel=1e-7, abs=1e-9)


def test_blanks():
    assert money.benefit_cost_ratio(10.0, 0.0) is None
    assert money.benefit_cost_ratio(10.0, -1.0) is None
    assert money.return_per_day(10.0, 0.0) is None
    assert money.return_per_day(-10.0, 1e-320) is None
    assert money.return_per_day(10.0, -2.0) is None
    assert money.switching_change(10.0, 0.0) is None
    assert money.switching_value(1.0, 5.0, 2.0, 5.0) is None
    quiet = money.appraise([0.0, 0.0], 0.1)
    assert quiet.irr.verdict == "none"
    assert (quiet.npv, quiet.payback_years) == (0.0, 0.0)
    assert quiet.mirr is quiet.benefit_cost is quiet.net_benefit_cost is None


def test_appraise_and_appraise_many_give_the_same():
    table = np.random.default_rng(5).normal(10, 100, (40, 12))
    many = money.appraise_many(table, 0.12, finance_rate=0.18, reinvest_rate=0.06)
    for i, row in enumerate(table):
        one = money.appraise(row, 0.12, finance_rate=0.18, reinvest_rate=0.06).as_dict()
        for name in (
            "npv",
            "mirr",
            "net_benefit_cost",
            "equivalent_annual_value",
            "payback_years",
            "discounted_payback_years",
        ):
            figure = float(getattr(many, name)[i])
            assert one[name] == (None if np.isnan(figure) else pytest.approx(figure, rel=1e-12)), name
        value = float(many.irr.value[i])
        assert one["irr"]["value"] == (None if np.isnan(value) else pytest.approx(value, rel=1e-9))
    assert list(one) == [
        "npv",
        "irr",
        "mirr",
        "benefit_cost",
        "net_benefit_cost",
        "equivalent_annual_value",
        "payback_years",
        "discounted_payback_years",
    ]
    assert list(one["irr"]) == ["value", "roots", "verdict"]


@given(st.lists(st.floats(0.02, 0.98), min_size=1, max_size=4), st.floats(-100, 100))
def test_switching_values_of_a_polynomial(roots, scale):
    ordered = sorted(roots)
    if any(b - a < 0.03 for a, b in itertools.pairwise(ordered)) or abs(scale) < 1e-3:
        return
    points = money.sample_points(0.0, 1.0, len(roots) + 1)  # a degree too many must do no harm
    npvs = scale * np.prod([points - root for root in roots], axis=0)
    assert money.switching_values(points, npvs, 0.0, 1.0) == pytest.approx(ordered, abs=1e-8)


def test_switching_take_of_two_attempts():
    # By hand: NPV(p) = -100 + 90 p + 90 (1 - p) p - 20 (1 - p), zero where -90 p^2 + 200 p - 120 = 0: no
    # take saves it.
    points = money.sample_points(0.0, 1.0, 2)

    def npv(p, gain):
        return -100 + gain * p + gain * (1 - p) * p - 20 * (1 - p)

    assert money.switching_values(points, npv(points, 90.0), 0.0, 1.0) == ()
    # With 200: -200 p^2 + 420 p - 120 = 0 gives p = (420 - sqrt(80400)) / 400.
    take = money.switching_values(points, npv(points, 200.0), 0.0, 1.0)
    assert take == pytest.approx([(420 - 80400**0.5) / 400], abs=1e-12)


def test_switching_values_at_the_ends_and_doubled():
    points = money.sample_points(2.0, 4.0, 3)
    ends = money.switching_values(points, (points - 2.0) * (points - 4.0), 2.0, 4.0)
    assert ends == pytest.approx([2.0, 4.0], abs=1e-9)
    assert money.switching_values(points, (points - 3.0) ** 2, 2.0, 4.0) == pytest.approx([3.0], abs=1e-6)
    assert money.switching_values(points, points, 2.0, 4.0) == ()


def test_tie_of_two_techniques():
    # First: 100 + 100 v; second: 300 v; they tie at v = 0.5, worth 150 each.
    assert money.tie_value(0.0, (100.0, 0.0), 1.0, (200.0, 300.0)) == 0.5
    assert money.tie_value(0.0, (100.0, 0.0), 1.0, (200.0, 100.0)) is None


@pytest.mark.parametrize("rate", [-1.0, -2.0, np.nan, np.inf])
def test_rates_of_minus_one_and_less_are_refused(rate):
    calls = [
        lambda: money.net_present_value([1.0], rate),
        lambda: money.discount_factors(rate, 3),
        lambda: money.mirr([-1.0, 2.0], rate, 0.1),
        lambda: money.mirr([-1.0, 2.0], 0.1, rate),
        lambda: money.discounted_payback([1.0], rate),
        lambda: money.equivalent_annual_value(1.0, rate, 3),
        lambda: money.nominal_rate(rate, 12),
        lambda: money.real_rate(0.1, rate),
        lambda: money.appraise([1.0, 2.0], rate),
    ]
    for call in calls:
        with pytest.raises(ValueError, match="above -1"):
            call()


def test_other_bad_input_is_refused():
    with pytest.raises(ValueError, match="one length"):
        money.incremental([1.0], [1.0, 2.0])
    with pytest.raises(ValueError, match="both benefits and costs"):
        money.appraise([1.0], 0.1, benefits=[1.0])
    with pytest.raises(ValueError, match="must be the incremental flow"):
        money.appraise([1.0], 0.1, benefits=[2.0], costs=[0.0])
    with pytest.raises(ValueError, match="years must be 1 or more"):
        money.equivalent_annual_value(1.0, 0.1, 0)
    with pytest.raises(ValueError, match="two different values"):
        money.switching_value(1.0, 2.0, 1.0, 3.0)
    with pytest.raises(ValueError, match="every value"):
        money.switching_values([0.2, 0.8], [0.0, 0.0], 0.0, 1.0)
    with pytest.raises(ValueError, match="run upward"):
        money.sample_points(1.0, 1.0, 2)
    with pytest.raises(ValueError, match="periods per year"):
        money.effective_rate(0.1, 0)
    with pytest.raises(ValueError, match="finite"):
        money.return_per_day(np.nan, 1.0)


def test_what_a_caller_does_to_discount_factors_is_its_own_affair():
    money.discount_factors(0.1, 3)[:] = 0.0
    assert money.discount_factors(0.1, 3) == pytest.approx([1 / 1.1, 1 / 1.21, 1 / 1.331])
