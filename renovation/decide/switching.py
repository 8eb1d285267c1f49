"""Break-even (switching) values: where a technique just pays, and where two techniques tie (method §5).

NPV of the incremental economic account is linear in price, wage and mature crop, and a polynomial of degree
J or less in a take that is the same in every season, so that each value is found in closed form.
"""

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Any

import numpy as np

from renovation.decide.appraise import worth_of_change
from renovation.decide.drivers import CROP, PRICE, WAGE, highest_take
from renovation.decide.plain import fields_of
from renovation.farm import (
    Begun,
    FarmFlows,
    Treated,
    by_year,
    expected_price_path,
    net_prices,
    setting_of,
    tool_costs,
    tool_purchases,
    tree_flows,
)
from renovation.inputs import Scenario, Stand, Supplies, Technique
from renovation.money import (
    crossover_rates,
    net_present_value,
    sample_points,
    switching_value,
    switching_values,
    tie_value,
)
from renovation.tree import Profile, Setting, profile
from renovation.types import FloatArray

_TREES_KEPT = 32
"""Ways whose trees by take are remembered, each some 300 kB: a change of a price or a wage moves none of them."""


@dataclass(frozen=True)
class Line:
    """NPV as a line in one driver: at `value` it is `npv`, and it rises by `slope` per unit of the driver."""

    value: float
    npv: float
    slope: float

    @property
    def other_value(self) -> float:
        """A second value of the driver, to fix the line: 0, or 1 where the driver stands at 0."""
        return 0.0 if self.value else 1.0

    def at(self, value: float) -> float:
        """NPV at a value of the driver."""
        return self.npv + self.slope * (value - self.value)

    def zero(self) -> float | None:
        """The value of the driver at which NPV is 0; None at no value from 0 up."""
        other = self.other_value
        return _not_negative(switching_value(self.value, self.npv, other, self.at(other)))

    def tie(self, line: "Line") -> float | None:
        """The value of the driver at which two techniques have the same NPV; None at no value from 0 up."""
        other = self.other_value
        here, there = (self.npv, line.at(self.value)), (self.at(other), line.at(other))
        return _not_negative(tie_value(self.value, here, other, there))


@dataclass(frozen=True)
class TakeCurve:
    """NPV at J + 1 constant takes from 0 to `highest`: enough points to fix the polynomial."""

    highest: float
    takes: FloatArray
    npv: FloatArray

    @cached_property
    def _others(self) -> FloatArray:
        """(J + 1, J) the other points beside each."""
        return np.array([np.delete(self.takes, i) for i in range(self.takes.size)])

    def at(self, take: float) -> float:
        """NPV at one constant take: the polynomial through the points, as Lagrange wrote it."""
        weights = np.prod((take - self._others) / (self.takes[:, None] - self._others), axis=1)
        return float(self.npv @ weights)

    def of(self, takes: FloatArray) -> FloatArray:
        """NPV at each of many constant takes, (N,); one above the highest is worth what the highest is."""
        apart = np.minimum(takes, self.highest)[:, None, None] - self._others
        return np.asarray(np.prod(apart / (self.takes[:, None] - self._others), axis=2) @ self.npv)

    def equals(self, level: float) -> tuple[float, ...]:
        """Every take at which the NPV is `level`, ascending; none where the NPV is `level` at every take."""
        above = self.npv - level
        return switching_values(self.takes, above, 0.0, self.highest) if above.any() else ()


@dataclass(frozen=True)
class BreakEven:
    """Values of a driver at which the technique just pays; None (for take: empty) where no value does.

    price_per_kg: money/kg dry before deductions. wage_per_day: money/person-day. mature_crop: kg/tree/year.
    `take`: shares, the same in every season and attempt. `lines`, `take_curve` and `flow` (incremental economic
    account by project year) say how NPV moves, for ties with another technique.
    """

    price_per_kg: float | None
    wage_per_day: float | None
    mature_crop: float | None
    lines: dict[str, Line]
    take_curve: TakeCurve | None
    flow: FloatArray

    @cached_property
    def take(self) -> tuple[float, ...]:
        """Every take at which the technique just pays, ascending."""
        return self.take_curve.equals(0.0) if self.take_curve else ()

    def as_dict(self) -> dict[str, Any]:
        """The four values, None or empty for blank."""
        return fields_of(self, "price_per_kg", "wage_per_day", "mature_crop", "take")


@dataclass(frozen=True)
class Ties:
    """Values of a driver at which two techniques have the same NPV; discount rates may be several or none."""

    price_per_kg: float | None
    wage_per_day: float | None
    discount_rates: tuple[float, ...]
    take_of_first: tuple[float, ...]

    def as_dict(self) -> dict[str, Any]:
        """Stable keys, None or empty for blank."""
        return fields_of(self)


def break_even(scenario: Scenario, flows: FarmFlows, takes: TakeCurve | None) -> BreakEven:
    """Break-even values of flows with one treatment, tools included, the other figures as the scenario states.

    Price (today's, later years in proportion): slope = PV of kg sold more, new crop counted 1 + premium. Wage:
    slope = −labour value · PV of person-days more. Mature crop: slope = PV of a kg of new crop less the work of
    picking it. A value below 0 is none. Take: roots in [0, highest] of the NPV's polynomial in a constant take.
    """
    flow = by_year(flows.economic_change)
    npv = _npv(scenario, flows.economic_change)
    lines = _lines(scenario, flows.treated[0], npv)
    return BreakEven(
        price_per_kg=lines[PRICE].zero(),
        wage_per_day=lines[WAGE].zero(),
        mature_crop=lines[CROP].zero() if CROP in lines else None,
        lines=lines,
        take_curve=takes,
        flow=flow,
    )


def tie_values(first: BreakEven, second: BreakEven) -> Ties:
    """Where two techniques tie: in price, wage, discount rate and, the second as it is, the first's take."""
    price, wage = (first.lines[name].tie(second.lines[name]) for name in (PRICE, WAGE))
    takes = first.take_curve.equals(second.lines[PRICE].npv) if first.take_curve else ()
    rates = tuple(rate for rate in crossover_rates(first.flow, second.flow) if rate >= 0)
    return Ties(price, wage, rates, takes)


def _not_negative(value: float | None) -> float | None:
    """A price, wage or crop below 0 is no value at all."""
    return None if value is None or value < 0 else value


def _npv(scenario: Scenario, monthly: FloatArray) -> float:
    """NPV of a monthly flow, discounted by project year."""
    return float(net_present_value(by_year(monthly), scenario.appraisal.discount_rate))


def _lines(scenario: Scenario, treated: Treated, npv: float) -> dict[str, Line]:
    """NPV of all treated trees as a line in price, wage and (where there is a new crown) mature crop."""
    technique, tree, left_alone = treated.technique, treated.tree, treated.left_alone
    household, market = scenario.household, scenario.market
    premium = market.premium.get(technique.material, 0.0)
    kg = (tree.old_kg[0] + tree.new_kg[0] * (1 + premium) - left_alone.old_kg[0]) * expected_price_path(scenario)
    days = tree.days[0] - left_alone.days[0]
    trees = treated.treatment.trees
    lines = {
        PRICE: Line(market.dry_price_per_kg, npv, trees * _npv(scenario, kg)),
        WAGE: Line(household.wage_per_day, npv, -trees * household.labour_value * _npv(scenario, days)),
    }
    mature = technique.mature_crop.value
    if mature > 0:
        picking = household.wage_per_day * household.labour_value * market.harvest_days_per_kg
        worth = tree.new_kg[0] * (net_prices(scenario, technique.material) - picking)
        lines[CROP] = Line(mature, npv, trees * _npv(scenario, worth) / mature)
    return lines


def take_curve(scenario: Scenario, flows: FarmFlows) -> TakeCurve | None:
    """NPV of flows with one treatment at J + 1 constant takes; None where nothing has to take (a pruning).

    Tools are those that any take between 0 and 1 calls for: at 0 exactly, work on living grafts needs none.
    """
    treated = flows.treated[0]
    treatment, technique = treated.treatment, treated.technique
    if technique.family == "prune":
        return None
    stand, start = scenario.found_by(treatment.technique, treatment.stand), int(treated.tree.starts[0])
    takes, trees = _by_take(technique, stand, scenario.supplies, setting_of(scenario), start)
    now = flows.each[0][0].economic
    change = treatment.trees * (tree_flows(scenario, trees, technique.material).economic - now)
    months = scenario.appraisal.months
    at_work: list[Treated | Begun] = [*flows.begun, replace(treated, tree=trees)]
    bought = tool_purchases(scenario.supplies, at_work, months, scenario.tools_owned)
    change += flows.with_plan.tools - tool_costs(scenario.supplies, bought, months)
    npv = worth_of_change(scenario, flows.with_plan.economic + change, flows.without.economic)
    return TakeCurve(highest_take(technique), takes, npv)


def worth_by_take(scenario: Scenario, treated: Treated) -> TakeCurve:
    """Incremental NPV of one tree, tools left out, by a take that is the same in every season and try."""
    technique, treatment = treated.technique, treated.treatment
    start = int(treated.tree.starts[0])
    takes, trees = _by_take(technique, scenario.stand(treatment.stand), scenario.supplies, setting_of(scenario), start)
    alone = tree_flows(scenario, treated.left_alone).economic
    npv = worth_of_change(scenario, tree_flows(scenario, trees, technique.material).economic, alone)
    return TakeCurve(highest_take(technique), takes, npv)


@lru_cache(maxsize=_TREES_KEPT)
def _by_take(
    technique: Technique, stand: Stand, supplies: Supplies, setting: Setting, start: int
) -> tuple[FloatArray, Profile]:
    """J + 1 constant takes from 0 to the highest, and the tree under each; not to be written to, for it is shared."""
    takes = sample_points(0.0, highest_take(technique), technique.attempts.value)
    return takes, profile(technique, stand, supplies, setting, np.full(takes.size, start), takes[:, None])
