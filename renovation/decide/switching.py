"""Break-even (switching) values: where a technique just pays, and where two techniques tie (method §5).

NPV of the incremental economic account is linear in price, wage and mature crop, and a polynomial of degree
J or less in a take that is the same in every season, so that each value is found in closed form.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from renovation.farm import FarmFlows, by_year, net_prices, setting_of, tree_flows
from renovation.inputs import Scenario, Treatment
from renovation.money import crossover_rates, net_present_value, polynomial_roots, switching_value, tie_value
from renovation.tree import Profile, profile

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Line:
    """NPV as a line in one driver: at `value` it is `npv`, and it rises by `slope` per unit of the driver."""

    value: float
    npv: float
    slope: float


@dataclass(frozen=True)
class TakeCurve:
    """NPV at equally spread takes from 0 to `highest`: enough points to fix the polynomial."""

    takes: FloatArray
    npv: FloatArray


@dataclass(frozen=True)
class BreakEven:
    """Values of a driver at which the technique just pays; None (for take: empty) where no value does.

    price_per_kg: money/kg dry before deductions. wage_per_day: money/person-day. mature_crop: kg/tree/year.
    take: shares, the same in every season and attempt. `lines`, `take_curve` and `flow` (incremental economic
    account by project year) say how NPV moves, for ties with another technique.
    """

    price_per_kg: float | None
    wage_per_day: float | None
    mature_crop: float | None
    take: tuple[float, ...]
    lines: dict[str, Line]
    take_curve: TakeCurve | None
    flow: FloatArray

    def as_dict(self) -> dict[str, Any]:
        """The four values, None or empty for blank."""
        return {
            "price_per_kg": self.price_per_kg,
            "wage_per_day": self.wage_per_day,
            "mature_crop": self.mature_crop,
            "take": list(self.take),
        }


@dataclass(frozen=True)
class Ties:
    """Values of a driver at which two techniques have the same NPV; discount rates may be several or none."""

    price_per_kg: float | None
    wage_per_day: float | None
    discount_rates: tuple[float, ...]
    take_of_first: tuple[float, ...]

    def as_dict(self) -> dict[str, Any]:
        """Stable keys, None or empty for blank."""
        return {
            "price_per_kg": self.price_per_kg,
            "wage_per_day": self.wage_per_day,
            "discount_rates": list(self.discount_rates),
            "take_of_first": list(self.take_of_first),
        }


def break_even(
    scenario: Scenario, treatment: Treatment, tree: Profile, left_alone: Profile, flows: FarmFlows
) -> BreakEven:
    """Break-even values of one treatment, tools included, the other figures as the scenario states them.

    Price: slope = PV of kg sold more, new crop counted 1 + premium. Wage: slope = −labour value · PV of
    person-days more. Mature crop: slope = PV of a kg of new crop less the work of picking it. A value below 0
    is none. Take: roots in [0, highest] of the NPV's polynomial in a constant take.
    """
    flow = by_year(flows.economic_change)
    npv = _npv(scenario, flows.economic_change)
    lines = _lines(scenario, treatment, tree, left_alone, npv)
    takes = _take_curve(scenario, treatment, flows)
    values = {name: _not_negative(switching_value(line.value, line.npv, line.slope)) for name, line in lines.items()}
    return BreakEven(
        price_per_kg=values["price_per_kg"],
        wage_per_day=values["wage_per_day"],
        mature_crop=values.get("mature_crop"),
        take=polynomial_roots(takes.takes, takes.npv) if takes else (),
        lines=lines,
        take_curve=takes,
        flow=flow,
    )


def tie_values(first: BreakEven, second: BreakEven) -> Ties:
    """Where two techniques tie: in price, wage, discount rate and, with the second as it is, the first's take."""
    lines = {
        name: _not_negative(
            tie_value(
                first.lines[name].value,
                first.lines[name].npv,
                first.lines[name].slope,
                second.lines[name].npv,
                second.lines[name].slope,
            )
        )
        for name in ("price_per_kg", "wage_per_day")
    }
    takes: tuple[float, ...] = ()
    if first.take_curve:
        level = second.lines["price_per_kg"].npv
        takes = polynomial_roots(first.take_curve.takes, first.take_curve.npv - level)
    rates = tuple(rate for rate in crossover_rates(first.flow, second.flow) if rate >= 0)
    return Ties(lines["price_per_kg"], lines["wage_per_day"], rates, takes)


def _not_negative(value: float | None) -> float | None:
    """A price, wage or crop below 0 is no value at all."""
    return None if value is None or value < 0 else value


def _npv(scenario: Scenario, monthly: FloatArray) -> float:
    """NPV of a monthly flow, discounted by project year."""
    return float(net_present_value(by_year(monthly), scenario.appraisal.discount_rate))


def _lines(
    scenario: Scenario, treatment: Treatment, tree: Profile, left_alone: Profile, npv: float
) -> dict[str, Line]:
    """NPV of all treated trees as a line in price, wage and (where there is a new crown) mature crop."""
    technique = scenario.techniques[treatment.technique]
    household, market = scenario.household, scenario.market
    premium = market.premium.get(technique.material, 0.0)
    kg = tree.old_kg[0] + tree.new_kg[0] * (1 + premium) - left_alone.old_kg[0]
    days = tree.days[0] - left_alone.days[0]
    trees = treatment.trees
    lines = {
        "price_per_kg": Line(market.dry_price_per_kg, npv, trees * _npv(scenario, kg)),
        "wage_per_day": Line(
            household.wage_per_day, npv, -trees * household.labour_value * _npv(scenario, days)
        ),
    }
    mature = technique.mature_crop.value
    if mature > 0:
        picking = household.wage_per_day * household.labour_value * market.harvest_days_per_kg
        worth = tree.new_kg[0] * (net_prices(scenario, technique.material) - picking)
        lines["mature_crop"] = Line(mature, npv, trees * _npv(scenario, worth) / mature)
    return lines


def _take_curve(scenario: Scenario, treatment: Treatment, flows: FarmFlows) -> TakeCurve | None:
    """NPV at J + 1 constant takes; None where nothing has to take (a pruning)."""
    technique = scenario.techniques[treatment.technique]
    if technique.family == "prune":
        return None
    factors = technique.attempt_factor.value if technique.attempt_factor else (1.0,)
    highest = min(1.0, 1 / max(factors)) if max(factors) > 0 else 1.0
    takes = np.linspace(0.0, highest, technique.attempts.value + 1)
    at = _npv_at_take(scenario, treatment, flows)
    return TakeCurve(takes, np.array([at(float(take)) for take in takes]))


def _npv_at_take(scenario: Scenario, treatment: Treatment, flows: FarmFlows) -> Callable[[float], float]:
    """NPV of all treated trees as a function of one constant take; tools stay as they were bought."""
    technique = scenario.techniques[treatment.technique]
    stand = scenario.stand(treatment.stand)
    setting = setting_of(scenario)
    start = scenario.month_of(treatment.start)
    tools = flows.with_plan.tools
    # the untouched trees' account: with the plan, less the treated trees as they now are
    now = tree_flows(scenario, profile(technique, stand, scenario.supplies, setting, [start]), technique.material)
    base = flows.economic_change + tools - treatment.trees * now.economic

    def at(take: float) -> float:
        tree = profile(technique, stand, scenario.supplies, setting, [start], np.array([take]))
        economic = tree_flows(scenario, tree, technique.material).economic
        return _npv(scenario, base + treatment.trees * economic - tools)

    return at
