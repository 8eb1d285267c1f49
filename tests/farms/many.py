"""Random invented farms in a batch: stands, crops, trees under way, takes, prices and loans of their own."""

import numpy as np
import pandas as pd

from renovation.farms import Batch
from renovation.inputs import Loan, Payout, Scenario, demo_scenario, month_count, year_month

TAKEN = ("taken.1", "taken.2")


def invented(number: int, seed: int, template: Scenario | None = None, *, plain: bool = False) -> Batch:
    """So many farms of one to three stands. plain: only columns that have an array form, nothing under way."""
    rng = np.random.default_rng(seed)
    template = template or demo_scenario()
    names = [f"Farm {place:05d}" for place in range(number)]
    grafts = [key for key, way in template.techniques.items() if way.family == "graft"]
    price, wage = template.market.dry_price_per_kg, template.household.wage_per_day
    farms = pd.DataFrame(
        {
            "household.wage_per_day": wage * rng.uniform(0.5, 1.5, number),
            "household.labour_value": rng.choice([1.0, 0.6, 0.0], number),
            "household.savings": price * rng.uniform(0, 300, number),
            "household.living_costs": price * rng.uniform(5, 60, number),
            "household.family_days": rng.uniform(2, 30, number),
            "household.family_days.4": np.where(rng.random(number) < 0.5, rng.uniform(0, 9, number), np.nan),
            "market.deductions_per_kg": price * rng.uniform(0, 0.1, number),
            "market.harvest_days_per_kg": rng.uniform(0, 0.2, number),
            f"techniques.{grafts[0]}.mature_crop": rng.uniform(0.3, 2.0, number),
            f"techniques.{grafts[-1]}.shade": rng.uniform(0, 0.6, number),
        },
        index=pd.Index(names, name="farm"),
    )
    if template.market.price_per_kg is not None:
        farms["market.price_per_kg"] = price * rng.uniform(0.4, 1.6, number)
    take = rng.uniform(0, 1, number) / max(1.0, template.techniques[grafts[0]].highest_factor[0])
    farms[f"techniques.{grafts[0]}.take"] = np.where(rng.random(number) < 0.7, take, np.nan)
    of_farm = np.repeat(np.arange(number), rng.integers(1, 4, number))
    size = of_farm.size
    stands = pd.DataFrame(
        {
            "farm": np.array(names)[of_farm],
            "stand": [f"Stand {place}" for place in range(size)],
            "stands.trees": rng.integers(20, 900, size),
            "stands.crop_per_tree": np.where(rng.random(size) < 0.7, rng.uniform(0, 1, size), np.nan),
            "stands.decline_per_year": rng.uniform(-0.02, 0.12, size),
            "stands.upkeep_days": rng.uniform(0, 0.05, size),
            "stands.upkeep_inputs": price * rng.uniform(0, 0.1, size),
        }
    )
    return Batch(template, farms, stands) if plain else _with_rare_things(rng, template, farms, stands)


def with_loans(template: Scenario) -> Scenario:
    """The template with loans of every kind: level, equal principal, after harvests, and one that runs already."""
    first = month_count(template.appraisal.start)
    amount = float(round(template.market.dry_price_per_kg * 200))

    def loan(name, *months, **terms):
        payouts = tuple(Payout(month=year_month(first + month), share=1 / len(months)) for month in months)
        return Loan(name=name, amount=amount, payouts=payouts, rate_per_year=0.12, term_months=60, **terms)

    loans = (
        loan("Level", 2, 14, grace_months=18, fee_share=0.02),
        loan("Principal", 5, repayment="equal_principal", grace_months=12, grace_interest="added"),
        loan("Harvest", 3, repayment="harvest", harvest_months=(4, 5, 10, 11), grace_months=6),
        loan("Running", -20, running=True, owed=float(round(amount * 0.8))),
    )
    return template.model_copy(update={"loans": loans})


def _loans(rng, template, farms) -> None:
    """Amounts, rates and what is owed of each loan; 0 says that a farm does not have it."""
    for loan in template.loans:
        amount = np.round(loan.amount * rng.uniform(0.2, 2, len(farms)))
        farms[f"loans.{loan.name}.amount"] = np.where(rng.random(len(farms)) < 0.3, 0.0, amount)
    farms["loans.Level.rate_per_year"] = rng.choice([0.08, 0.2, np.nan], len(farms))
    farms["loans.Harvest.term_months"] = rng.choice([48, 72], len(farms))
    farms["loans.Running.owed"] = np.where(rng.random(len(farms)) < 0.4, np.round(loan.amount * 0.5), np.nan)


def _with_rare_things(rng, template, farms, stands) -> Batch:
    """Empty places, losses, ways that a stand allows, trees under way, rates and tries of a farm's own."""
    size, ways = len(stands), list(template.techniques)
    stands["stands.empty_places"] = rng.integers(0, 60, size)
    stands["stands.tree_loss_per_year"] = rng.choice([0.0, 0.02], size)
    stands["stands.pods_lost"] = rng.choice([0.0, 0.1], size)
    stands["stands.techniques"] = np.where(rng.random(size) < 0.3, " ".join(ways[:3]), None)
    first = month_count(template.appraisal.start)
    for key in ways[:2]:
        begun = rng.random(size) < 0.4
        trees = stands["stands.trees"].to_numpy() // 3
        tries = min(2, template.techniques[key].attempts.value)
        ago = template.techniques[key].gap_months.value * 2 + rng.integers(0, 2, size)
        stands[f"under_way.{key}.trees"] = np.where(begun, trees, np.nan)
        stands[f"under_way.{key}.start"] = np.where(begun, [year_month(first - int(back)) for back in ago], None)
        for number in range(tries):
            stands[f"under_way.{key}.taken.{number + 1}"] = np.where(begun, rng.integers(0, trees // 4 + 1), np.nan)
        left = trees - sum(stands[f"under_way.{key}.taken.{number + 1}"].fillna(0) for number in range(tries))
        gone = left if template.techniques[key].attempts.value == tries else left // 3
        stands[f"under_way.{key}.given_up"] = np.where(begun, gone, np.nan)
    farms["appraisal.discount_rate"] = rng.choice([0.08, 0.12], len(farms))
    farms["household.savings_rate"] = rng.choice([0.0, 0.03], len(farms))
    farms["household.floor"] = template.market.dry_price_per_kg * rng.choice([0.0, 20.0], len(farms))
    if any(loan.name == "Running" for loan in template.loans):
        _loans(rng, template, farms)
    return Batch(template, farms, stands)
