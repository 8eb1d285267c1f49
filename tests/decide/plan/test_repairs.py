"""Each change that is offered makes a plan possible, a step less does not; nothing is offered where none is broken."""

import itertools

import pytest
from factories import figure, operation, poor_farm, scenario, stand, technique_data
from tiny_farms import tiny_farm

from renovation.decide.plan import build, make_plan, repairs, solve
from renovation.inputs import Planning
from renovation.inputs.scenario import twelve


def solved_anew(farm):
    """Whether any plan of the farm keeps every promise, solved from nothing."""
    found = solve(build(farm))
    return found is not None and found.account.keeps_promises


def a_step_less(farm, repair):
    """The changed farm with the change one step smaller."""
    step, household, planning = repair.step, repair.scenario.household, repair.scenario.planning
    if repair.what == "living_costs":
        household = household.model_copy(
            update={"living_costs": tuple(c + step for c in twelve(household.living_costs))}
        )
    elif repair.what in ("savings", "floor"):
        household = household.model_copy(update={"savings": household.savings - step})
    elif repair.what == "loan":
        offer = planning.loan.model_copy(update={"limit": planning.loan.limit - step})
        planning = planning.model_copy(update={"loan": offer})
    elif repair.what == "hands":
        days = twelve(household.hired_days_limit)
        fewer = tuple(d - step if repair.month in (None, m) else d for m, d in enumerate(days, 1))
        household = household.model_copy(update={"hired_days_limit": fewer})
    else:
        planning = planning.model_copy(update={"money_per_year": planning.money_per_year - step})
    return repair.scenario.model_copy(update={"household": household, "planning": planning})


def broken_farms(seeds):
    """Tiny random farms whose money falls 12 below the floor by the plan that breaks least."""
    for seed in seeds:
        farm, planning = tiny_farm(seed)
        costs = tuple(cost + 1.0 for cost in twelve(farm.household.living_costs))

        def with_savings(savings, farm=farm, planning=planning, costs=costs):
            household = farm.household.model_copy(update={"savings": savings, "living_costs": costs})
            return farm.model_copy(update={"household": household, "planning": planning})

        why = make_plan(with_savings(5.0)).impossible
        if why is not None and why.eased.floor > 12:
            yield with_savings(why.eased.floor - 7.0)


def check(farms):
    """Every change offered to them suffices, a step less does not where that is claimed; how many of each kind."""
    offered = []
    for farm in farms:
        for repair in repairs(make_plan(farm)):
            assert solved_anew(repair.scenario)
            assert repair.plan.broken == ()
            assert not solved_anew(farm)
            if repair.smallest and repair.amount > repair.step:
                assert not solved_anew(a_step_less(farm, repair))
            offered.append((repair.what, repair.smallest))
    return offered


def test_each_change_makes_a_plan_possible_and_a_step_less_does_not():
    offered = check(itertools.islice(broken_farms(range(1, 20)), 1))
    assert {"living_costs", "savings"} <= {what for what, _ in offered}
    assert any(smallest for _, smallest in offered)


@pytest.mark.long
def test_so_on_many_farms():
    offered = check(broken_farms(range(3, 60)))
    assert {"living_costs", "savings"} <= {what for what, _ in offered}


def test_a_loan_bridges_the_months_before_a_yearly_income():
    """Money runs down by 30 less the crop's 3.33 a month to −283 until 1,000 come in December; then there is enough.

    The plan that breaks least lacks 276 in November. A loan of x leaves x less ten months' interest of 1.25 % by then.
    """
    income = (0.0,) * 11 + (1000.0,)
    farm = poor_farm(other_income=income).changed(appraisal__horizon_years=8, planning__years=1)
    offered = {repair.what: repair for repair in repairs(make_plan(farm))}
    assert {"savings", "loan"} <= set(offered)
    assert (offered["savings"].amount, offered["loan"].amount) == (280.0, 320.0)
    assert 310 * (1 - 10 * 0.0125) < 276 <= 320 * (1 - 10 * 0.0125)
    assert offered["loan"].loan_cost > 0
    assert {what for what, _ in check([farm])} == set(offered)


def test_too_few_hands_ask_for_days_and_for_nothing_that_does_not_help():
    crowded = stand(upkeep_days=3.0, untouched=True).model_dump()
    household = {"family_days": 1.0, "wage_per_day": 1.0, "savings": 1000.0, "hired_days_limit": 0.5}
    farm = scenario({}, stands=(crowded,), household=household)
    (repair,) = repairs(make_plan(farm, Planning(years=1)))
    # 10 trees × 3 days / 12 months = 2.5 days a month, of which 1.5 can be had: one more in every month
    assert (repair.what, repair.amount, repair.month, repair.smallest) == ("hands", 1.0, None, True)


def test_days_of_one_month_where_only_that_month_is_short():
    crowded = stand(upkeep_days=3.0, untouched=True).model_dump()
    days = tuple(1.0 if month == 4 else 5.0 for month in range(1, 13))
    farm = scenario(
        {},
        stands=(crowded,),
        household={"family_days": days, "wage_per_day": 1.0, "savings": 1e3, "hired_days_limit": 0.0},
    )
    (repair,) = repairs(make_plan(farm, Planning(years=1)))
    # 2.5 days in April, of which the family has 1
    assert (repair.what, repair.amount, repair.month) == ("hands", 2.0, 4)


def test_a_farm_whose_money_grows_first_may_start_later():
    """Nothing can be begun in the first year, and the old trees die: in the second there is money for it."""
    old = stand(crop_per_tree=2.0, decline_per_year=0.4).model_dump()
    way = technique_data(
        start_months=(1,), mature_crop=figure(4.0, "kg/tree/year"), operations={"work": operation("start", 0, 1.0)}
    )
    household = {"family_days": 0.0, "wage_per_day": 8.0, "savings": 40.0, "living_costs": 2.0}
    farm = scenario({"way_a": way}, stands=(old,), household=household)
    plan = make_plan(farm, Planning(years=1, batch={"way_a": 10}))
    later = next(repair for repair in repairs(plan) if repair.what == "later")
    assert later.plan.problem.years == 2
    assert later.plan.trees_in(1) == 0 < later.plan.trees_in(2)


def test_where_a_plan_keeps_its_promises_there_is_nothing_to_change():
    assert repairs(make_plan(poor_farm(savings=1000.0), Planning(years=1))) == ()


def test_a_person_who_has_had_enough_is_given_what_was_found():
    plan = make_plan(poor_farm(living_costs=6.0), Planning(years=1))
    shares = []
    assert repairs(plan, on_change=shares.append, cancel=lambda: True) == ()
    assert repairs(plan, on_change=shares.append) != ()
    assert shares[-1] == 1.0
