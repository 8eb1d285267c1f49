"""The farm with and without: identities on random farms, tools, cash and economic accounts by hand."""

import numpy as np
import pytest
from factories import figure, operation, scenario, stand, technique_data, techniques, use
from hypothesis import given, settings
from hypothesis import strategies as st

from renovation.farm import by_project_month, by_year, farm_flows, setting_of, tree_flows
from renovation.inputs import Treatment, demo_scenario
from renovation.tree import profile, untouched


def treat(trees, start="2027-07", way="way_a", name="Lower field"):
    return Treatment(stand=name, technique=way, trees=trees, start=start)


@settings(max_examples=40)
@given(techniques())
def test_no_trees_is_no_change(data):
    flows = farm_flows(scenario({"way_a": data}), [treat(0)])
    for name in ("old_kg", "new_kg", "sales", "days", "economic", "cash"):
        np.testing.assert_array_equal(getattr(flows.with_plan, name), getattr(flows.without, name))


@settings(max_examples=40)
@given(techniques(), st.integers(1, 5))
def test_everything_but_tools_is_linear_in_trees(data, factor):
    data["tools"] = ()
    farm = scenario({"way_a": data})
    one = farm_flows(farm, [treat(1)])
    many = farm_flows(farm, [treat(factor)])
    np.testing.assert_allclose(many.economic_change, factor * one.economic_change, rtol=1e-9, atol=1e-9)
    for name, units in one.demand.items():
        np.testing.assert_allclose(many.demand[name], factor * units, rtol=1e-9, atol=1e-12)


@settings(max_examples=40)
@given(techniques(), techniques())
def test_two_treatments_add_up(first, second):
    farm = scenario({"way_a": first, "way_b": second})
    both = farm_flows(farm, [treat(2), treat(3, "2028-01", "way_b")])
    parts = [farm_flows(farm, [treat(2)]), farm_flows(farm, [treat(3, "2028-01", "way_b")])]
    np.testing.assert_allclose(
        both.with_plan.days - both.without.days,
        sum(part.with_plan.days - part.without.days for part in parts),
        rtol=1e-9,
        atol=1e-9,
    )


@settings(max_examples=40)
@given(techniques())
def test_the_farm_is_its_trees(data):
    """Ten trees of which three are treated are three profiles and seven untouched trees."""
    farm = scenario({"way_a": data})
    flows = farm_flows(farm, [treat(3)])
    setting = setting_of(farm)
    way = farm.techniques["way_a"]
    tree = tree_flows(farm, profile(way, farm.stands[0], farm.supplies, setting, [6]), way.material)
    alone = tree_flows(farm, untouched(farm.stands[0], setting))
    np.testing.assert_allclose(
        flows.with_plan.economic + flows.with_plan.tools, 3 * tree.economic + 7 * alone.economic, atol=1e-9
    )


@settings(max_examples=40)
@given(techniques())
def test_work_by_name_sums_to_all_days(data):
    flows = farm_flows(scenario({"way_a": data}), [treat(4)])
    np.testing.assert_allclose(sum(flows.work.values()), flows.with_plan.days, atol=1e-9)


@settings(max_examples=40)
@given(techniques(), st.floats(0, 30), st.floats(0, 20))
def test_family_and_hired_days_make_all_days(data, family, wage):
    farm = scenario({"way_a": data}, household={"family_days": family, "wage_per_day": wage, "savings": 0.0})
    flow = farm_flows(farm, [treat(10)]).with_plan
    np.testing.assert_allclose(flow.family_days + flow.hired_days, flow.days, atol=1e-9)
    assert (flow.family_days <= family + 1e-12).all()
    np.testing.assert_allclose(flow.cash - flow.economic, flow.labour_cost - flow.wages, atol=1e-9)


def test_accounts_by_hand():
    """One month: 10 trees bear 10/12 kg, 4 money a kg less 0.5; 3 days of work, 2 of the family's own, 8 a day."""
    way = technique_data(operations={"graft": operation("start", 0, 1.5)})
    farm = scenario(
        {"way_a": way},
        household={"family_days": 2.0, "wage_per_day": 8.0, "labour_value": 0.5, "savings": 0.0},
        market={
            "price_per_kg": 4.0,
            "deductions_per_kg": 0.5,
            "premium": {"clone": 0.25},
            "season": {"shares": (1 / 12,) * 12},
            "harvest_days_per_kg": 0.0,
        },
    )
    flow = farm_flows(farm, [treat(2, "2027-01")]).with_plan
    sales = 8 / 12 * 3.5 + 2 / 12 * (4 * 1.25 - 0.5)
    assert flow.sales[0] == pytest.approx(sales)
    assert flow.economic[0] == pytest.approx(sales - 3 * 8 * 0.5)
    assert flow.cash[0] == pytest.approx(sales - 1 * 8)


def test_the_calendar_month_of_a_try_is_the_farms_by_hand():
    """Nothing takes in March: begun in March all ten trees keep their old crown; begun in April none does.

    1 kg a tree and year before, 2 kg after: 10 kg a year, or 20 from April on.
    """
    way = technique_data(
        mature_crop=figure(2.0, "kg/tree/year"),
        take_by_month=figure((1.0, 1.0, 0.0, *(1.0,) * 9), "factor by calendar month"),
    )
    farm = scenario({"way_a": way})
    assert farm.appraisal.start == "2027-01"
    march, april = (farm_flows(farm, [treat(10, start)]).with_plan for start in ("2027-03", "2027-04"))
    assert march.new_kg.sum() == 0
    assert by_year(march.old_kg)[1] == pytest.approx(10)
    assert by_year(april.new_kg)[1] == pytest.approx(20)
    assert by_year(april.old_kg)[1] == 0


def test_tools_are_bought_when_needed_and_again_when_worn_out():
    """Knife lasts 2 years, shears 3; work in months 6, 18, 30, 42: knife in 6 and 30, shears in 6 and 42."""
    way = technique_data(operations={"graft": operation("start", 0, 1.0, every=12, times=4)}, tools=("knife", "shears"))
    flows = farm_flows(scenario({"way_a": way}), [treat(1)])
    assert np.flatnonzero(flows.bought["knife"]).tolist() == [6, 30]
    assert np.flatnonzero(flows.bought["shears"]).tolist() == [6, 42]
    assert flows.with_plan.tools[[6, 30, 42]].tolist() == [30.0, 10.0, 20.0]


def test_two_techniques_share_a_tool():
    way = technique_data(operations={"graft": operation("start", 0, 1.0)}, tools=("knife",))
    farm = scenario({"way_a": way, "way_b": way})
    flows = farm_flows(farm, [treat(1), treat(1, "2028-07", "way_b")])
    assert flows.bought["knife"].sum() == 1


def test_an_operation_that_touches_no_tree_needs_no_tool():
    """A graft that never takes has no work on living grafts, hence no shears for it."""
    way = technique_data(
        take=figure((0.0,), "share by project year"),
        operations={"cut_back": operation("established", 8, 1.0)},
        tools=("shears",),
    )
    assert not farm_flows(scenario({"way_a": way}), [treat(1)]).bought["shears"].any()


def test_more_trees_than_the_stand_has_are_refused():
    with pytest.raises(ValueError, match="11 trees treated in Lower field, which has 10"):
        farm_flows(scenario(), [treat(5), treat(6)])


def test_demand_counts_what_is_lost_before_use():
    way = technique_data(operations={"graft": operation("start", 0, 0.0, materials={"scion": use(2.0, 0.2)})})
    flows = farm_flows(scenario({"way_a": way}), [treat(4)])
    assert flows.demand["scion"][6] == pytest.approx(10.0)


def test_twelve_months_follow_the_calendar():
    months = tuple(float(m) for m in range(1, 13))
    assert by_project_month(months, 4, 14).tolist() == [4, 5, 6, 7, 8, 9, 10, 11, 12, 1, 2, 3, 4, 5]


def test_a_year_is_twelve_months():
    assert by_year(np.arange(24.0)).tolist() == [66, 210]


@pytest.mark.parametrize("rows", [1, 20, 400])
def test_a_row_has_the_same_sums_by_year_whatever_stands_beside_it(rows):
    months = np.random.default_rng(4).normal(size=(rows, 480)) * np.pi
    assert by_year(months).tolist() == [by_year(row).tolist() for row in months]
    assert by_year(np.asfortranarray(months)) == pytest.approx(by_year(months), abs=1e-12)
    assert by_year(np.ones((3, 36))).shape == (3, 3)


def test_a_pod_count_is_a_crop():
    """20 pods, 25 to the kilogram, a quarter lost: 0.6 kg (method §2)."""
    counted = {"pods_per_tree": 20.0, "pods_per_kg": 25.0, "lost_share": 0.25}
    assert stand(crop_per_tree=None, pods=counted).kg_per_tree == pytest.approx(0.6)


def test_a_tree_is_worked_out_once_for_all_who_state_the_same_and_nobody_writes_to_it():
    farm = demo_scenario()
    dearer = farm.changed(household__wage_per_day=9.5)
    one, other = (farm_flows(each, each.plan).treated[0] for each in (farm, dearer))
    assert one.tree is other.tree
    with pytest.raises(ValueError, match="read-only"):
        one.tree.old_rate[0, 0] = 1.0
    harder = farm.changed(market__harvest_days_per_kg=0.5)
    assert farm_flows(harder, harder.plan).treated[0].tree is not one.tree
