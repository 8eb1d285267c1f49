"""The measures against published appraisals, standards and the documentation of other programs."""

import numpy as np
import pytest

from renovation import money

# --------------------------------------------------------------------------------- published farm appraisals


def side_graft_farm(benefit_factor: float = 1.0, cost_factor: float = 1.0) -> money.Measures:
    """A two-year flow with the present values of Suharjo's side-graft farms at 18 % (evidence A1)."""
    # Derived from the printed cases: PV of revenue 117,329,680, of costs 69,640,887, of the negative years
    # 15,383,437.
    revenue, cost, negative = 117_329_680.0, 69_640_887.0, 15_383_437.0
    year = np.array([1.18, 1.18**2])
    benefits = benefit_factor * np.array([0.0, revenue]) * year
    costs = cost_factor * np.array([negative, cost - negative]) * year
    return money.appraise(benefits - costs, 0.18, benefits=benefits, costs=costs)


# Suharjo, Jurnal Morome 1(2), survey 2012, n = 300, IDR a farm: NPV and net B/C of four cases.
@pytest.mark.parametrize(
    ("benefits", "costs", "npv", "net_benefit_cost"),
    [
        (1.00, 1.00, 47_688_654, 4.10),
        (0.80, 1.00, 24_222_718, 2.58),  # price -20 %
        (0.82, 1.00, 26_569_317, 2.73),  # crop -18 %
        (1.00, 1.15, 37_242_521, 3.11),  # input prices +15 %
    ],
)
def test_side_graft_farms_konawe(benefits, costs, npv, net_benefit_cost):
    measures = side_graft_farm(benefits, costs)
    assert measures.npv == pytest.approx(npv, abs=200)  # the derived present values close to within 200 IDR
    assert measures.net_benefit_cost == pytest.approx(net_benefit_cost, abs=0.006)
    assert measures.benefit_cost == pytest.approx(benefits * 117_329_680 / (costs * 69_640_887))


def test_side_graft_farms_net_ratios_to_the_third_decimal():
    # Derived in evidence A1 from the same table: 2.575, 2.727 and 3.105.
    assert side_graft_farm(0.80).net_benefit_cost == pytest.approx(2.575, abs=0.0005)
    assert side_graft_farm(0.82).net_benefit_cost == pytest.approx(2.727, abs=0.0005)
    assert side_graft_farm(1.0, 1.15).net_benefit_cost == pytest.approx(3.105, abs=0.0005)


def test_rehabilitation_solok():
    # Buharman 2015, 20 years, 12 %: B/C 1.649, NPV 37,889,134; with costs +25 % and benefits +10 %: 1.452,
    # 32,930,170.
    benefits, costs = 96_269_926.0, 58_380_792.0  # derived from the two printed figures of the base case
    spread = 1.0 / float(money.net_present_value(np.ones(20), 0.12))
    flows = np.full(20, benefits * spread), np.full(20, costs * spread)
    base = money.appraise(flows[0] - flows[1], 0.12, benefits=flows[0], costs=flows[1])
    assert base.npv == pytest.approx(37_889_134, abs=1)
    assert base.benefit_cost == pytest.approx(1.649, abs=0.0005)
    worse = money.appraise(1.10 * flows[0] - 1.25 * flows[1], 0.12, benefits=1.10 * flows[0], costs=1.25 * flows[1])
    assert worse.npv == pytest.approx(32_920_929, abs=1)  # derived; printed 32,930,170, 0.03 % off
    assert worse.npv == pytest.approx(32_930_170, rel=3e-4)
    assert worse.benefit_cost == pytest.approx(1.452, abs=0.0015)  # the printed ratio is truncated


# Published NPV and net B/C of three Indonesian cases (evidence A7); N and P follow from P - N = NPV, P / N
# = ratio.
@pytest.mark.parametrize(
    ("npv", "ratio", "negative", "positive"),
    [
        (35_755_219, 1.68, 52_581_204, 88_336_423),  # Kulon Progo
        (109_756_751, 7.41, 17_122_738, 126_879_489),  # Mamuju
        (13_718_534, 1.94, 14_594_185, 28_312_719),  # Kolaka, side graft
    ],
)
def test_net_ratios_split_into_good_and_bad_years(npv, ratio, negative, positive):
    flow = np.array([-negative * 1.18, positive * 1.18**2])
    up, down = money.present_value_split(flow, 0.18)
    assert (float(up), float(down)) == pytest.approx((positive, negative), rel=1e-12)
    measures = money.appraise(flow, 0.18)
    assert measures.npv == pytest.approx(npv, abs=1.5)
    assert measures.net_benefit_cost == pytest.approx(ratio, abs=1e-6)


def test_farmer_training_ghana():
    # Norton et al. 2014: 401 US$ a hectare and year for 50 years is 20,050; over 252 it is 79.56.
    total = float(money.net_present_value(np.full(50, 401.0), 0.0))
    assert total == pytest.approx(20_050)
    assert money.return_per_day(total, 252.0) == pytest.approx(79.56, abs=0.005)
    assert float(money.equivalent_annual_value(total, 0.0, 50)) == pytest.approx(401)


# ------------------------------------------------------------------ evidence F: standards and documentation


# LO: help text of a free office suite's spreadsheet. NPF: numpy-financial documentation (after Gitman 2003).
@pytest.mark.parametrize(
    ("flow", "rate", "tolerance"),
    [
        ([-10000, 3500, 7600, 1000], 0.11332102823626, 1e-13),  # F1, LO
        ([-100, 39, 59, 55, 20], 0.28095, 5e-6),  # F2, NPF
        ([-100, 0, 0, 74], -0.0955, 5e-5),  # F3, NPF
    ],
)
def test_one_internal_rate(flow, rate, tolerance):
    found = money.irr(flow)
    assert found.verdict == "one"
    assert found.value == pytest.approx(rate, abs=tolerance)
    assert found.roots == (found.value,)


@pytest.mark.parametrize(
    ("flow", "rates"),
    [
        ([-5, 10.5, 1, -8, 1], [-0.87020125, 0.08859834, 0.70955953]),  # F4: 0.0886 NPF, all three derived
        ([-1600, 10000, -10000], [0.25, 4.0]),  # F5, textbook classic
        ([-100, 230, -132], [0.10, 0.20]),  # F6, derived
    ],
)
def test_several_internal_rates_are_not_unique(flow, rates):
    found = money.irr(flow)
    assert found.verdict == "several"
    assert found.value is None
    assert found.roots == pytest.approx(rates, abs=1e-8)


def test_no_internal_rate():
    assert money.irr([100, -200, 150]) == money.Irr(None, (), "none")  # F7, derived
    # By hand (121 - 220 + 150) / 1.331; the table of evidence gives 38.3170583, right to five decimals.
    npv = float(money.net_present_value([100, -200, 150], 0.10))
    assert npv == pytest.approx(51 / 1.331, rel=1e-14)
    assert npv == pytest.approx(38.3170583, abs=5e-6)
    assert money.irr([1, 2, 3]) == money.Irr(None, (), "none")  # F8, NPF


def test_net_present_value_with_the_first_figure_now_or_a_period_on():
    flow = [-40000, 5000, 8000, 12000, 30000]  # F9, NPF: 3065.22267
    assert float(money.net_present_value(flow, 0.08, first_period=0)) == pytest.approx(3065.22267, abs=5e-6)
    # F10, LO (OpenFormula NPV)
    assert float(money.net_present_value([10, 20, 30], 0.0875)) == pytest.approx(49.43212103817, abs=1e-11)


def test_modified_internal_rate():
    assert money.mirr([-5, 10, 15, 8], 0.5, 0.1) == pytest.approx(0.9416473767069, abs=1e-13)  # F11, LO


def test_effective_and_nominal_rate():
    assert money.effective_rate(0.0975, 4) == pytest.approx(0.10112312546, abs=5e-12)  # F16, LO
    assert money.nominal_rate(0.135, 12) == pytest.approx(0.12730316696, abs=5e-12)  # F16, LO
    assert money.nominal_rate(money.effective_rate(0.24, 12), 12) == pytest.approx(0.24, rel=1e-14)


def test_paybacks():
    # F17, F18, F19: training examples, recomputed; the first figure is an outlay made now.
    flow = [-1100, 300, 310, 320, 330, 340]
    assert money.payback(flow, first_period=0) == pytest.approx(3.5151515, abs=5e-8)
    flow = [-210, 85, 75, 85, 105]
    assert money.discounted_payback(flow, 0.11, first_period=0) == pytest.approx(3.1503681, abs=5e-8)
    assert money.discounted_payback([-10000] + [2600] * 6, 0.15, first_period=0) is None
    assert float(money.net_present_value([2600] * 6, 0.15)) == pytest.approx(9839.66, abs=0.005)


def test_equivalent_annual_value():
    # F20, general equation page, recomputed
    assert float(money.equivalent_annual_value(3_000_000, 0.10, 5)) == pytest.approx(791_392.44, abs=0.005)
    assert float(money.equivalent_annual_value(2_000_000, 0.10, 3)) == pytest.approx(804_229.61, abs=0.005)


# F21: bank training case ACA-TM-37, a pump set with and without project, 15 %, years 0 to 9.
PUMP_BENEFITS = np.array([0.0, 8000.0] + [12000.0] * 8)
PUMP_WITH_COSTS = np.array([6000.0, 4500.0] + [7000.0] * 8)
INCOME_WITHOUT = np.array([0.0] + [3000.0] * 9)


def test_pump_set_with_and_without_project():
    costs = PUMP_WITH_COSTS + INCOME_WITHOUT  # income foregone is a cost of the project
    flow = money.incremental(PUMP_BENEFITS - PUMP_WITH_COSTS, INCOME_WITHOUT)
    measures = money.appraise(flow, 0.15, benefits=PUMP_BENEFITS, costs=costs, first_period=0)
    benefit_pv = float(money.net_present_value(PUMP_BENEFITS, 0.15, first_period=0))
    cost_pv = float(money.net_present_value(costs, 0.15, first_period=0))
    # Printed with three-digit discount factors
    assert (benefit_pv, cost_pv) == pytest.approx((53_784, 51_545), abs=5)
    assert measures.npv == pytest.approx(2239, abs=1)
    assert measures.benefit_cost == pytest.approx(1.04, abs=0.005)
    # Full precision, derived
    assert (benefit_pv, cost_pv) == pytest.approx((53_780.746, 51_541.926), abs=5e-4)
    assert measures.npv == pytest.approx(2238.820, abs=5e-4)
    assert measures.benefit_cost == pytest.approx(1.0434369, abs=5e-8)
    assert measures.irr.value == pytest.approx(0.2361077, abs=5e-8)
    # Switching values, derived
    assert money.switching_change(measures.npv, benefit_pv) == pytest.approx(-0.041628653, abs=5e-10)
    assert money.switching_change(measures.npv, -cost_pv) == pytest.approx(0.043436871, abs=5e-10)
    assert money.switching_change(measures.npv, -6000.0) == pytest.approx(0.373136669, abs=5e-10)


def test_pump_price_by_two_points():
    def npv_at(pump_price: float) -> float:
        costs = PUMP_WITH_COSTS + INCOME_WITHOUT
        costs[0] = pump_price
        return float(money.net_present_value(PUMP_BENEFITS - costs, 0.15, first_period=0))

    price = money.switching_value(6000.0, npv_at(6000.0), 9000.0, npv_at(9000.0))
    assert price == pytest.approx(6000 * 1.373136669, abs=5e-6)  # F21, derived
    assert npv_at(price) == pytest.approx(0.0, abs=1e-8)


def test_benefit_cost_and_internal_rate_over_25_years():
    benefits, costs = np.array([0.0] + [7.1] * 25), np.array([52.0] + [0.5] * 25)
    measures = money.appraise(benefits - costs, 0.10, benefits=benefits, costs=costs, first_period=0)
    assert measures.irr.value == pytest.approx(0.1193475, abs=5e-8)  # F22, printed 11.935 %
    assert measures.benefit_cost == pytest.approx(1.1398775, abs=5e-8)  # printed 1.139877


def test_real_from_nominal_rate():
    # F23, derived: 20 % nominal under 12 % inflation, and the same NPV by either route
    real = money.real_rate(0.20, 0.12)
    assert real == pytest.approx(0.071428571, abs=5e-10)
    flow = np.array([-1000.0, 300.0, 400.0, 500.0, 200.0])
    constant = float(money.net_present_value(flow, real, first_period=0))
    current = float(money.net_present_value(flow * 1.12 ** np.arange(5), 0.20, first_period=0))
    assert (constant, current) == pytest.approx((186.7298765, 186.7298765), abs=5e-8)
