"""A farm whose plan was followed for a year, written down as it stands then: the identity of method §11."""

from typing import Any

import numpy as np

from renovation.farm import FarmFlows, HouseholdCash
from renovation.inputs import Scenario, Treatment, UnderWay, month_count, year_month
from renovation.tree import attempts

YEAR = 12


def a_year_on(scenario: Scenario, flows: FarmFlows, cash: HouseholdCash) -> Scenario:
    """The scenario that starts twelve months later, with expected counts of trees under way (not whole).

    flows, cash: of the scenario's own plan. Trees under way of the scenario itself are not read. Constant prices are
    those of the new month 0: all money but that of loans × (1 + inflation).
    """
    start = year_month(month_count(scenario.appraisal.start) + YEAR)
    data = scenario.model_dump()
    data["appraisal"] |= {"start": start, "horizon_years": scenario.appraisal.horizon_years - 1}
    for stand in data["stands"]:
        stand["crop_per_tree"] *= 1 - stand["decline_per_year"]
    for way in data["techniques"].values():
        for edge in ("value", "low", "high"):
            way["take"][edge] = way["take"][edge][1:] or way["take"][edge]
    path = data["risk"]["price_by_year"]
    data["risk"]["price_by_year"] = path[1:] or path
    data["plan"] = ()
    data["loans"] = tuple(
        {**loan, "running": any(payout["month"] < start for payout in loan["payouts"])} for loan in data["loans"]
    )
    dearer = 1 + scenario.appraisal.inflation
    _in_new_prices(data, dearer)
    data["tools_owned"] = _tools_left(scenario, flows)
    plan = [entry for entry in scenario.plan if entry.trees]
    new = Scenario.model_validate(data)
    savings = float(cash.with_plan.balance[YEAR - 1]) * dearer
    found = new.model_copy(
        update={
            "plan": tuple(entry for entry in plan if not _begun(scenario, entry)),
            "under_way": tuple(_written_down(scenario, entry) for entry in plan if _begun(scenario, entry)),
            "household": new.household.model_copy(update={"savings": savings}),
        }
    )
    vars(found)["digest"] = "of no file"  # which holds whole trees
    return found


def _in_new_prices(data: Any, dearer: float) -> None:
    """Put all money of a scenario's tables into constant prices a year on."""

    def times(value: Any) -> Any:
        return tuple(times(one) for one in value) if isinstance(value, tuple) else value and value * dearer

    parts = [data["household"], data["market"], *data["stands"]]
    parts += [figure for way in data["techniques"].values() for figure in _figures_of_money(way)]
    parts += [item["unit_cost"] for item in data["supplies"]["items"].values()]
    parts += [tool["price"] for tool in data["supplies"]["tools"].values()]
    for part in parts:
        for key in MONEY & part.keys():
            part[key] = times(part[key])


def _figures_of_money(way: Any) -> list[Any]:
    """The figures of a way that are money."""
    return [way["upkeep_inputs"], *(span["income"] for span in way["intercrop"])]


MONEY = {"wage_per_day", "living_costs", "other_income", "savings", "floor", "price_per_kg", "deductions_per_kg"}
MONEY |= {"upkeep_inputs", "value", "low", "high"}


def _tools_left(scenario: Scenario, flows: FarmFlows) -> dict[str, float]:
    """Months that each tool still serves: since its last purchase within the year."""
    left: dict[str, float] = {}
    for tool, pieces in flows.bought.items():
        when = np.flatnonzero(pieces[:YEAR])
        life = scenario.supplies.tools[tool].lasts_years.value * 12
        if when.size and when[-1] + life > YEAR:
            left[tool] = float(when[-1] + life - YEAR)
    return left


def _begun(scenario: Scenario, entry: Treatment) -> bool:
    """Whether a tree or its nursery has been begun within the year."""
    first = min(0, scenario.techniques[entry.technique].earliest_month)
    return scenario.month_of(entry.start) + first < YEAR


def _written_down(scenario: Scenario, entry: Treatment) -> UnderWay:
    """Expected counts by try, of the tries made within the year; after the last the rest is given up."""
    appraisal, technique = scenario.appraisal, scenario.techniques[entry.technique]
    first = np.array([scenario.month_of(entry.start)])
    tries = attempts(technique, first, appraisal.months, start_calendar_month=appraisal.start_calendar_month)
    done = int((tries.month[0] < YEAR).sum())
    taken = tuple((entry.trees * tries.succeeds[0, :done]).tolist())
    facts: dict[str, Any] = {"stand": entry.stand, "technique": entry.technique, "start": entry.start, "tried": ()}
    left = entry.trees - sum(taken) if done == technique.attempts.value else 0
    return UnderWay.model_construct(**facts, trees=entry.trees, taken=taken, given_up=left)
