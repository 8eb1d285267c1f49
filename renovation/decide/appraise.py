"""Measures of a pair of accounts, with and without: what `compare` and the plan are told by (method §5)."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from renovation.farm import (
    FarmFlows,
    Flows,
    by_year,
)
from renovation.inputs import Scenario
from renovation.money import Measures, appraise_many, benefit_cost_ratio, incremental, net_present_value, return_per_day
from renovation.money.flows import zero_small
from renovation.money.measures import MeasuresMany
from renovation.types import FloatArray


def appraise_plan(scenario: Scenario, flows: FarmFlows) -> Measures:
    """Every measure of a whole plan, tools included, beside the farm as it is (method §5).

    Example:
        >>> from renovation.farm import farm_flows
        >>> from renovation.inputs import demo_scenario
        >>> s = demo_scenario()
        >>> appraise_plan(s, farm_flows(s, [])).npv
        0.0
    """
    return Accounts(scenario, ((flows.with_plan, flows.without),)).measures(0)


def changes_by_year(with_plan: FloatArray, without: FloatArray) -> FloatArray:
    """Incremental flow by project year, (..., H), of two accounts by month, (..., T); what rounding leaves is 0."""
    return zero_small(incremental(by_year(with_plan), by_year(without)))


def worth_of_change(scenario: Scenario, with_plan: FloatArray, without: FloatArray) -> FloatArray:
    """What is called worth everywhere: the NPV of the change between two economic accounts (method §5), (...,).

    with_plan, without: (..., T) economic account by month, in which a day of anybody's work costs wage × labour value
    and no loan stands. The flow of project year y is discounted by (1+r)^y.

    Example (two years; 10 more in the second, at 10 % a year):
        >>> from renovation.inputs import demo_scenario
        >>> farm = demo_scenario()
        >>> at_ten = farm.appraisal.model_copy(update={"discount_rate": 0.1})
        >>> farm = farm.model_copy(update={"appraisal": at_ten})
        >>> round(float(worth_of_change(farm, np.repeat([5.0, 15.0], 12) / 12, np.full(24, 5 / 12))), 6)
        8.264463
    """
    return net_present_value(changes_by_year(with_plan, without), scenario.appraisal.discount_rate)


@dataclass(frozen=True, eq=False)
class Accounts:
    """Pairs (with, without) of economic accounts, appraised together once one of them is asked about (method §5).

    What is asked of many pairs at once costs little more than of one.
    """

    scenario: Scenario
    pairs: tuple[tuple[Flows, Flows], ...]

    @cached_property
    def _sides(self) -> tuple[FloatArray, FloatArray]:
        """Economic accounts by month with and without, (pairs, T) each."""
        first, second = (np.stack([pair[side].economic for pair in self.pairs]) for side in (0, 1))
        return first, second

    @cached_property
    def npv(self) -> FloatArray:
        """NPV of each pair, (pairs,)."""
        return worth_of_change(self.scenario, *self._sides)

    @cached_property
    def _many(self) -> MeasuresMany:
        appraisal = self.scenario.appraisal
        return appraise_many(
            changes_by_year(*self._sides),
            appraisal.discount_rate,
            finance_rate=appraisal.finance_rate,
            reinvest_rate=appraisal.reinvestment_rate,
        )

    def measures(self, place: int) -> Measures:
        """Every measure of the pair at a place."""
        rate = self.scenario.appraisal.discount_rate
        return self._many.single(place, benefit_cost=_benefit_cost(rate, *self.pairs[place]))


def _benefit_cost(rate: float, with_plan: Flows, without: Flows) -> float | None:
    """PV of incremental benefits over that of incremental costs; None where the latter is not above 0.

    Each is snapped to 0 on its own scale, so that rounding makes no ratio where nothing changes.
    """
    benefits = incremental(by_year(with_plan.benefits), by_year(without.benefits))
    costs = incremental(by_year(with_plan.costs), by_year(without.costs))
    return benefit_cost_ratio(float(net_present_value(benefits, rate)), float(net_present_value(costs, rate)))


def per_day_worked(scenario: Scenario, with_plan: Flows, without: Flows) -> float | None:
    """Per tree: PV of incremental benefits less materials over PV of incremental days; None if not above 0."""
    rate = scenario.appraisal.discount_rate
    money = (with_plan.benefits - with_plan.materials) - (without.benefits - without.materials)
    days = with_plan.days - without.days
    return return_per_day(float(net_present_value(by_year(money), rate)), float(net_present_value(by_year(days), rate)))


def per_family_day(scenario: Scenario, flows: FarmFlows) -> float | None:
    """Per farm: PV of incremental farm cash over PV of incremental family days; None where not above 0."""
    rate = scenario.appraisal.discount_rate
    days = flows.with_plan.family_days - flows.without.family_days
    return return_per_day(
        float(net_present_value(by_year(flows.cash_change), rate)),
        float(net_present_value(by_year(days), rate)),
    )
