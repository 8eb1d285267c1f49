"""Random invented farms for the planner's tests and benchmarks: default techniques, unlike stands, a loan."""

from typing import Any

import numpy as np

from renovation.decide.plan.question import offered_loan
from renovation.inputs import (
    Cohort,
    Scenario,
    SeasonRecord,
    Treatment,
    Try,
    month_count,
    read_scenario,
    year_month,
)
from renovation.inputs.loans import LoanOffer, Payout
from renovation.inputs.planning import Planning

YEAR = 12

WAYS = ("side_graft", "rooted_cutting", "grafted_seedling", "basal_shoot_graft", "hard_pruning", "bud_graft")


def random_farm(
    seed: int, stands: int = 4, ways: int = 3, years: int = 8, horizon: int = 20
) -> tuple[Scenario, Planning]:
    """A farm and its planning: hired labour by month, a loan on offer, tools, all drawn from the seed."""
    rng = np.random.default_rng(seed)
    trees = rng.integers(80, 500, stands)
    crops = rng.uniform(0.12, 0.5, stands)
    price, other = rng.uniform(2.5, 5), rng.uniform(20, 80)
    # the family lives on what the farm brings today, so that the floor binds while the new crowns grow
    living = other + rng.uniform(0.5, 0.9) * float(trees @ crops) * (price - 0.1) / 12
    lines = [
        f"consider = {list(WAYS[:ways])}".replace("'", '"'),
        '[about]\nname = "Random farm"\ninvented = true',
        f'[appraisal]\nstart = "2027-01"\nhorizon_years = {horizon}\ndiscount_rate = {rng.uniform(0.06, 0.15):.3f}',
        f'inflation = {rng.choice([0.0, 0.03])}\ncurrency = "USD"',
        "[household]",
        f"family_days = {[int(d) for d in rng.integers(8, 18, 12) * (1 + stands // 4)]}",
        f"wage_per_day = {rng.uniform(6, 14):.2f}",
        f"hired_days_limit = {[int(d) for d in rng.integers(3, 16, 12) * (1 + stands // 4)]}",
        f"living_costs = {living:.0f}\nother_income = {other:.0f}",
        f"savings = {living * rng.uniform(1, 5):.0f}\nfloor = {rng.choice([0, 50, 100])}",
        f"[market]\nprice_per_kg = {price:.2f}\ndeductions_per_kg = 0.1",
        'harvest_days_per_kg = 0.05\nseason = { window = "Ecuador" }',
    ]
    for number in range(stands):
        lines += [
            f'[[stands]]\nname = "Stand {number + 1}"\ntrees = {trees[number]}',
            f"crop_per_tree = {crops[number]:.3f}\ndecline_per_year = {rng.uniform(0.02, 0.08):.3f}",
            f"upkeep_days = {rng.uniform(0.015, 0.03):.4f}\nupkeep_inputs = {rng.uniform(0, 0.1):.3f}",
        ]
    offer = LoanOffer(
        name="Offer",
        limit=float(rng.integers(5, 30) * 100),
        payouts=(Payout(month="2027-04", share=0.5), Payout(month="2028-04", share=0.5)),
        rate_per_year=float(rng.uniform(0.06, 0.16)),
        term_months=int(rng.choice([60, 84, 96])),
        grace_months=int(rng.choice([12, 24, 36])),
        repayment="harvest",
        harvest_months=(3, 4, 5, 6),
    )
    planning = Planning(
        years=years, loan=offer, scions_per_year=float(rng.integers(300, 900)) if seed % 3 == 0 else None
    )
    return read_scenario("\n".join(lines), "random.toml"), planning


def changed_planning(planning: Planning, **changes: Any) -> Planning:
    """A validated copy with fields changed."""
    return Planning.model_validate({**planning.model_dump(), **changes})


def with_plan(seed: int) -> Scenario:
    """A random farm with a plan of some ten starts within five years, a price path by year and two loans."""
    farm, planning = random_farm(seed, stands=3, ways=6, horizon=12)
    rng = np.random.default_rng([seed, 11])
    first, free = month_count(farm.appraisal.start), {s.name: s.trees for s in farm.stands}
    plan = []
    for _ in range(10):
        name, key = rng.choice([s.name for s in farm.stands]), rng.choice(list(farm.techniques))
        way = farm.techniques[key]
        suited = [m for m in range(-min(0, way.earliest_month), 60) if (m % 12) + 1 in way.start_months]
        trees = int(rng.integers(0, free[name] // 3 + 1))
        free[name] -= trees
        plan.append(Treatment(stand=name, technique=key, trees=trees, start=year_month(first + rng.choice(suited))))
    paths = {
        "typed": {"price_by_year": tuple(rng.uniform(0.8, 1.2, 5).tolist())},
        "reverting": {"long_run_price": float(rng.uniform(0.7, 1.3))},
        "constant": {},
    }
    kind = list(paths)[seed % 3]
    risk = {"price_path": kind, **paths[kind]}
    assert planning.loan is not None
    lent = offered_loan(planning.loan, planning.loan.limit).model_dump()
    kind = {"repayment": str(rng.choice(["level", "equal_principal"])), "grace_interest": "added", "fee_share": 0.01}
    loans = (lent, {**lent, "name": "Other", "payouts": ({"month": "2027-02"},), "grace_months": 0, **kind})
    changes = {"plan": tuple(plan), "loans": loans, "risk": {**farm.risk.model_dump(), **risk}}
    return Scenario.model_validate({**farm.model_dump(), **changes})


def random_record(base: Scenario, seed: int) -> SeasonRecord:
    """What may have become of a plan's first year: fewer trees, tries left out or made on some, some given up."""
    rng = np.random.default_rng([seed, 12])
    cohorts = {}
    for entry in base.plan:
        technique, month = base.techniques[entry.technique], base.month_of(entry.start)
        names = {"stand": entry.stand, "technique": entry.technique, "start": entry.start}
        trees = int(rng.integers(0, entry.trees + 1))
        if not trees or month + min(0, technique.earliest_month) >= YEAR:
            continue
        if month >= YEAR:
            cohorts[tuple(names.values())] = Cohort(**names, prepared=trees)
            continue
        tries, waiting = [], {0: trees}
        for number in range(1, technique.attempts.value + 1):
            due, there = month + (number - 1) * technique.gap_months.value, waiting.get(number - 1, 0)
            if due >= YEAR or not there:
                break
            made = trees if number == 1 else int(rng.integers(0, there + 1))
            taken = int(rng.integers(0, made + 1))
            tries.append(Try(number=number, made=made, taken=taken))
            waiting = {**waiting, number - 1: there - made, number: made - taken}
        most = technique.attempts.value
        given_up = int(rng.integers(waiting.get(most, 0), sum(n for tried, n in waiting.items() if tried) + 1))
        cohorts[tuple(names.values())] = Cohort(**names, tries=tuple(tries), given_up=given_up)
    return SeasonRecord(season=base.appraisal.start, cohorts=tuple(cohorts.values()), money_in_hand=1000.0)
