"""When to renovate: published replacement and rotation problems, the marginal rule, and the farm's own curves."""

import numpy as np
import pytest
from factories import figure, operation, scenario, stand, technique_data
from hypothesis import assume, given
from hypothesis import strategies as st

from renovation.decide.compare import weigh
from renovation.decide.replacement import renewal_curve, start_curves, when_to_renovate
from renovation.inputs import demo_scenario
from renovation.money.replacement import (
    land_expectation,
    marginal_age,
    perpetuity_of,
    renewal_under_loss,
    replacement,
    rotation_values,
)

AGES = np.arange(6)
EARNINGS = 50 - 2.5 * AGES - 2.5 * AGES**2


def test_asset_replacement():
    """G4: Miranda & Fackler 2002, Applied Computational Economics and Finance, §7.6.2."""
    result = replacement(EARNINGS, 75.0, 0.9)
    published = [216.56004653, 190.62227392, 172.91363769, 169.90404187, 169.90404187]
    assert result.values == pytest.approx(published, abs=5e-8)
    assert result.replace.tolist() == [False, False, False, True, True]
    assert result.age == 4


def test_asset_replacement_by_cycles():
    """G4: the value at age 1 of replacing every 1 … 5 years; the best cycle is the programme's value."""
    renewed = EARNINGS[0] - 75
    cycles = [perpetuity_of([*EARNINGS[1:n], renewed], 0.9) for n in range(1, 6)]
    assert cycles == pytest.approx([-250, 118.421053, 207.564576, 216.560047, 186.314132], abs=5e-7)


def test_dairy_cow_replacement():
    """Miranda & Fackler, CompEcon DDP09: yield 8 + 2a − 0.2a², price 150, a new cow 500, gone after age 10.

    There a cow's milk of the year is had before she is kept or replaced; here the choice comes first. So what is asked
    is the worth at the end of a year: the next year's milk of the cow kept, or of a heifer, both a year away.
    """
    milk = 150 * (8 + 2 * np.arange(1, 12) - 0.2 * np.arange(1, 12) ** 2)
    result = replacement(0.9 * milk, 500.0, 0.9)
    assert result.age == 8
    assert milk[0] + result.values[0] == pytest.approx(17231.74388607, abs=5e-8)


def test_forest_under_fire():
    """I6: MDP toolbox, forest example: S = 3, r1 = 4, r2 = 2, fire 0.1, discount 0.9: wait always."""
    result = renewal_under_loss([0.0, 0.0, 4.0], [0.0, 1.0, 2.0], 0.1, 0.9)
    assert result.values == pytest.approx([26.244, 29.484, 33.484], abs=5e-4)
    assert not result.replace.any()


@given(st.lists(st.floats(-50, 100), min_size=2, max_size=8), st.floats(0, 0.9), st.floats(0.02, 0.3))
def test_the_best_land_expectation_under_loss_is_that_of_the_replacement_programme(flows, loss, rate):
    """What stands at the beginning of year i earns f_i at its end; then it is lost with chance h, or renewed.

    Two programs: cycles with their chance of ending early, and policy iteration; the oldest has to be renewed.
    """
    earned, years = np.array(flows), np.arange(len(flows))
    lev = land_expectation(earned * (1 - loss) ** years, rate, (1 - loss) ** (years + 1))
    kept = np.where(years == len(flows) - 1, -1e6, earned)
    programme = renewal_under_loss(kept, earned, loss, 1 / (1 + rate))
    assert lev.max() == pytest.approx(programme.values[0] / (1 + rate), rel=1e-7, abs=1e-6)


def test_the_renewal_curve_of_a_farm_counts_the_chance_of_loss():
    """Second loop: cycles of the same yearly flows, ended early where the tree is lost."""
    farm = demo_scenario()
    farm = farm.changed(**{f"stands__{place}__tree_loss_per_year": 0.08 for place in range(len(farm.stands))})
    curve, plain = (renewal_curve(one, "side_graft") for one in (farm, demo_scenario()))
    nursery = -farm.techniques["side_graft"].earliest_month
    rate, worth, early, standing = farm.appraisal.discount_rate, 0.0, 0.0, 1.0
    for year, flow in enumerate(curve.flows, start=1):
        worth += flow / (1 + rate) ** year
        before, standing = standing, 0.92 ** ((12 * year - nursery) / 12)
        early += (before - standing) / (1 + rate) ** year
        assert curve.lev[year - 1] == pytest.approx(worth / (1 - early - standing / (1 + rate) ** year))
    assert curve.highest < plain.highest


@given(
    st.lists(st.floats(-50, 100), min_size=2, max_size=9),
    st.floats(0, 200),
    st.floats(0.5, 0.97),
)
def test_replacement_solves_its_own_equation(earnings, cost, factor):
    """Bellman's equation holds at every age, found here by value iteration instead of cycles."""
    result = replacement(earnings, cost, factor)
    values = np.zeros(len(earnings) - 1)
    for _ in range(3000):
        renew = earnings[0] - cost + factor * values[0]
        values = np.array([max(earnings[a] + factor * values[a], renew) for a in range(1, len(earnings) - 1)] + [renew])
    assert result.values == pytest.approx(values, abs=1e-6, rel=1e-6)


def test_faustmann():
    """G5: a university exercise, recomputed: V(t) = 100t² − 1.25t³, net price 3, planting 1200, 3 %."""
    t = np.arange(1, 61)
    single, perpetual = rotation_values(3 * (100 * t**2 - 1.25 * t**3), 1200.0, 0.03)
    published = {
        2: (-97.16, -1692.61),
        4: (2851.50, 25571.03),
        6: (7166.47, 44097.07),
        8: (12440.99, 59076.62),
        10: (18332.47, 71637.47),
    }
    for year, (once, for_ever) in published.items():
        assert single[year - 1] == pytest.approx(once, abs=0.005)
        assert perpetual[year - 1] == pytest.approx(for_ever, abs=0.005)
    assert (int(np.argmax(perpetual)) + 1, int(np.argmax(single)) + 1) == (28, 38)


def test_faustmann_as_yearly_flows():
    """G5 again: planting at the start and the stand's growth as income give the same land expectation values."""
    t = np.arange(61)
    value = 3 * (100 * t**2 - 1.25 * t**3)
    _, perpetual = rotation_values(value[1:], 1200.0, 0.03)
    # a stand worth W(t) yields its growth less the interest on itself: Σ v^i (W_i − 1.03 W_{i−1}) = v^n W_n
    flows = value[1:] - 1.03 * value[:-1]
    flows[0] -= 1200 * 1.03
    lev = land_expectation(flows, 0.03)
    assert lev == pytest.approx(perpetual, rel=1e-9)
    assert marginal_age(flows, 0.03) == 28


@given(
    st.floats(-200, -20),
    st.floats(5, 120),
    st.integers(2, 12),
    st.floats(0.5, 0.95),
    st.floats(0.02, 0.3),
)
def test_the_marginal_rule_finds_the_greatest_land_expectation_value(cost, top, rise, fade, rate):
    """Income that rises to a peak and then fades: the rule and the maximum name the same age."""
    years = np.arange(60)
    income = np.where(years < rise, top * (years + 1) / rise, top * fade ** (years - rise + 1.0))
    flows = np.concatenate([[cost], income])
    lev = land_expectation(flows, rate)
    assume(lev.max() > 1e-6)
    best = int(np.argmax(lev)) + 1
    assume(best < lev.size)
    age = marginal_age(flows, rate)
    assert age is not None
    assert lev[age - 1] == pytest.approx(lev[best - 1], rel=1e-9)


def test_refusals():
    with pytest.raises(ValueError, match="above 0"):
        land_expectation([1.0], 0.0)
    with pytest.raises(ValueError, match="at least one flow"):
        perpetuity_of([], 0.9)
    with pytest.raises(ValueError, match="between 0 and 1"):
        perpetuity_of([1.0], 1.0)
    with pytest.raises(ValueError, match="older age"):
        replacement([1.0], 1.0, 0.9)


def test_the_first_start_is_worth_what_the_comparison_says():
    farm = demo_scenario()
    by_hand = weigh(farm, "River field", 1, "side_graft", 2)
    curve = next(c for c in start_curves(farm, farm.stands[0], 5) if c.technique == "side_graft")
    assert (curve.years[0], curve.months[0]) == (1, 2)
    assert curve.npv[0] == pytest.approx(by_hand.per_tree.npv, rel=1e-9)


def test_a_start_is_worth_what_the_comparison_says_on_any_expected_price():
    """Method §9: expected prices are a path by year; the worth of a start follows it as the comparison does."""
    farm = demo_scenario().changed(risk__price_path="reverting", risk__long_run_price=0.6)
    by_hand = weigh(farm, "River field", 1, "side_graft", 2)
    curve = next(c for c in start_curves(farm, farm.stands[0], 5) if c.technique == "side_graft")
    assert curve.npv[0] == pytest.approx(by_hand.per_tree.npv, rel=1e-9)


def test_ever_after_is_judged_at_the_price_that_settles():
    """A price that stands at half from year 2 on: trees renewed for ever earn half, old trees from year 2 on."""
    farm = demo_scenario()
    halved = farm.changed(risk__price_path="typed", risk__price_by_year=(1.0, 0.5))
    at_half = farm.changed(market__price_per_kg=farm.market.dry_price_per_kg / 2)
    found, wanted = when_to_renovate(halved), when_to_renovate(at_half)
    assert [curve.highest for curve in found.renewals] == pytest.approx([curve.highest for curve in wanted.renewals])
    for rule, other in zip(found.old_trees, wanted.old_trees, strict=True):
        assert rule.income[1:] == pytest.approx(other.income[1:], rel=1e-9)
        assert rule.income[0] > other.income[0]


def test_a_late_start_is_seen_as_long_as_the_first():
    """A stand and a technique without seasons or decline: waiting a year only discounts by a year."""
    way = technique_data(
        mature_crop=figure(3.0, "kg/tree/year"),
        operations={"work": operation("start", 0, 0.5)},
    )
    farm = scenario({"way_a": way})
    (curve,) = start_curves(farm, farm.stands[0], 4)
    assert curve.npv == pytest.approx(curve.npv[0] * 1.1 ** -np.arange(4), rel=1e-9)
    assert curve.best_year == 1


def test_a_tree_not_worth_renewing_has_no_best_year():
    way = technique_data(mature_crop=figure(0.5, "kg/tree/year"))
    farm = scenario({"way_a": way}, stands=(stand(crop_per_tree=2.0).model_dump(),))
    result = when_to_renovate(farm)
    assert result.starts[0].best_year is None
    assert all(rule.year is None for rule in result.old_trees)


def test_a_crown_that_ages_is_renewed():
    """Full crop from year 1 to 8, then down to nothing at 20: found also by trying every age over many cycles."""
    way = technique_data(
        mature_crop=figure(2.0, "kg/tree/year"),
        new_crown=figure(((0.0, 1.0), (96.0, 1.0), (240.0, 0.0)), "months, share"),
        operations={"work": operation("start", 0, 3.0)},
    )
    curve = renewal_curve(scenario({"way_a": way}), "way_a")
    assert curve is not None
    rate = 0.1
    cycles = []
    for age in range(1, 40):
        once = curve.flows[:age] @ (1 + rate) ** -np.arange(1.0, age + 1)
        cycles.append(sum(once * (1 + rate) ** (-age * k) for k in range(800 // age)))
    assert curve.best_age == int(np.argmax(cycles)) + 1
    assert curve.highest == pytest.approx(max(cycles), rel=1e-6)
    assert curve.best_age == marginal_age(curve.flows, rate)
    assert curve.rent == pytest.approx(rate * curve.highest)


def test_renewing_for_ever_is_the_work_of_practised_hands():
    """Method §3: a take's last entry holds from then on, and so for all renewals but the first few."""
    farm = demo_scenario()
    practised = farm.techniques["side_graft"].take.model_copy(update={"value": (0.75,)})
    way = farm.techniques["side_graft"].model_copy(update={"take": practised})
    sure = farm.model_copy(update={"techniques": {**farm.techniques, "side_graft": way}})
    found, wanted = (renewal_curve(one, "side_graft") for one in (farm, sure))
    assert found.lev == pytest.approx(wanted.lev, rel=1e-12)


def test_old_trees_are_kept_while_they_earn_their_rent():
    way = technique_data(mature_crop=figure(2.0, "kg/tree/year"), operations={"work": operation("start", 0, 3.0)})
    declining = stand(crop_per_tree=2.2, decline_per_year=0.1).model_dump()
    farm = scenario({"way_a": way}, stands=(declining,))
    rule = when_to_renovate(farm).old_trees[0]
    assert rule.year is not None
    assert rule.income[rule.year - 1] < rule.rent <= rule.income[rule.year - 2]


def test_without_discounting_there_is_no_land_expectation_value():
    result = when_to_renovate(demo_scenario().changed(appraisal__discount_rate=0.0))
    assert result.starts
    assert (result.renewals, result.old_trees) == ((), ())


def test_tables_and_data():
    result = when_to_renovate(demo_scenario(), 3)
    assert set(result.starts_table().columns) == {"stand", "technique", "year", "start", "npv"}
    assert len(result.renewals_table()) == 50 * len(result.renewals)
    assert result.as_dict()["starts"][0]["starts"][0]["year"] == 1
