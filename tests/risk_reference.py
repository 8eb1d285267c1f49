"""One future of a farm worked out the slow way, from the public farm: for tests and benchmarks of the risk run.

Takes are set attempt by attempt in the technique itself, and the farm is worked out anew; nothing here knows of
outcomes laid out beforehand.
"""

import numpy as np
from factories import figure, operation, scenario, stand, technique_data

from renovation.farm import by_project_month, farm_flows, household_cash
from renovation.inputs import FrozenDict


def with_takes(scenario, treatments, takes):
    """The scenario and treatments with a technique of its own for each treatment, its attempts' chances set.

    takes: a function of technique and start month that gives (p_1, …, p_J).
    """
    techniques, changed = dict(scenario.techniques), []
    for number, treatment in enumerate(treatments):
        technique = scenario.techniques[treatment.technique]
        chances = tuple(float(p) for p in takes(technique, scenario.month_of(treatment.start)))
        sure = technique.take.model_copy(update={"value": (1.0,)})
        by_attempt = technique.take.model_copy(update={"value": chances})
        key = f"{treatment.technique}_{number}"
        techniques[key] = technique.model_copy(
            update={"take": sure, "attempt_factor": by_attempt, "take_by_month": None}
        )
        changed.append(treatment.model_copy(update={"technique": key}))
    return scenario.model_copy(update={"techniques": FrozenDict(techniques)}), changed


def one_future(scenario, strategy, price, crop, wage, inputs, takes=None):
    """NPV of the incremental economic account and the balance by month, year by year and month by month.

    price, crop, wage, inputs: (H,) factors. takes: as in `with_takes`.
    """
    farm, treatments = with_takes(scenario, strategy.treatments, takes) if takes else (scenario, strategy.treatments)
    flows = farm_flows(farm, treatments)
    market, household, appraisal = farm.market, farm.household, farm.appraisal
    family = by_project_month(household.family_days, appraisal.start_calendar_month, appraisal.months)
    economic, cash = {}, {}
    for name, side in (("with", flows.with_plan), ("without", flows.without)):
        economic[name], cash[name] = [], []
        for t in range(appraisal.months):
            y = t // 12
            kg = side.old_kg[t] + side.new_kg[t]
            gross = side.sales[t] + market.deductions_per_kg * kg
            sales = gross * price[y] * crop[y] - market.deductions_per_kg * kg * crop[y]
            days = side.days[t] + (crop[y] - 1) * market.harvest_days_per_kg * kg
            bought = (side.materials[t] + side.tools[t]) * inputs[y]
            day = household.wage_per_day * wage[y]
            economic[name].append(sales + side.other_income[t] - bought - days * day * household.labour_value)
            cash[name].append(sales + side.other_income[t] - bought - max(0.0, days - family[t]) * day)
    change = np.array(economic["with"]) - np.array(economic["without"])
    npv = sum(change[12 * y : 12 * y + 12].sum() / (1 + appraisal.discount_rate) ** (y + 1) for y in range(len(price)))
    held = household_cash(farm, flows, strategy.loans).with_plan
    balance, held_before = [], household.savings
    interest = (1 + household.savings_rate) ** (1 / 12) - 1
    for t in range(appraisal.months):
        money = cash["with"][t] + held.other_income[t] - held.living_costs[t] - held.debt_service[t]
        held_before += money + held.loan_payout[t] - held.loan_fee[t] + interest * max(0.0, held_before)
        balance.append(held_before)
    return float(npv), np.array(balance), np.array(cash["with"])


def lean_farm(savings=700.0):
    """One stand, one way that costs work and money at first and pays well later; little money in hand."""
    way = technique_data(
        take=figure((0.6,), "share by project year"),
        attempts=figure(2, "attempts"),
        gap_months=figure(6, "months"),
        mature_crop=figure(1.5, "kg/tree/year"),
        new_crown=figure(((12.0, 0.0), (36.0, 1.0)), "months, share"),
        operations={"graft": operation("attempt", 0, 0.2)},
    )
    return scenario(
        {"way_a": way},
        stands=(stand(trees=300, crop_per_tree=0.5, decline_per_year=0.05, upkeep_days=0.02).model_dump(),),
        household={
            "family_days": 8.0,
            "wage_per_day": 6.0,
            "living_costs": 38.0,
            "savings": savings,
            "floor": 50.0,
        },
        appraisal={"start": "2027-01", "horizon_years": 12, "discount_rate": 0.1, "currency": "USD"},
    )


def paid(farm):
    """The farm with a grant at the start of each way's work and a yearly payment for trees that live; some are lost."""
    payments = (
        {"name": "Grant", "anchor": "start", "month": 1, "amount": figure(0.7, f"{farm.appraisal.currency}/tree")},
        {
            "name": "Living",
            "anchor": "established",
            "month": 6,
            "until": 60,
            "amount": figure(0.4, f"{farm.appraisal.currency}/tree"),
        },
    )
    techniques = {
        key: {**way.model_dump(), "payments": payments, "tree_loss_per_year": figure(0.03, "share/year")}
        for key, way in farm.techniques.items()
    }
    return farm.changed(techniques=techniques, stands__0__tree_loss_per_year=0.02, stands__0__pods_lost=0.1)
