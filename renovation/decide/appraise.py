"""Measures of a pair of accounts, with and without: what `compare` and the plan are told by (method §5)."""

from renovation.farm import (
    FarmFlows,
    Flows,
    by_year,
)
from renovation.inputs import Scenario
from renovation.money import Measures, appraise_many, benefit_cost_ratio, incremental, net_present_value, return_per_day


def appraise_plan(scenario: Scenario, flows: FarmFlows) -> Measures:
    """Every measure of a whole plan, tools included, beside the farm left alone (method §5).

    Example:
        >>> from renovation.farm import farm_flows
        >>> from renovation.inputs import demo_scenario
        >>> s = demo_scenario()
        >>> appraise_plan(s, farm_flows(s, [])).npv
        0.0
    """
    return appraise(scenario, (flows.with_plan, flows.without))[0]


def appraise(scenario: Scenario, *sides: tuple[Flows, Flows]) -> tuple[Measures, ...]:
    """Every measure of each pair (with, without) of economic accounts, by project year (method §5)."""
    appraisal = scenario.appraisal
    rate = appraisal.discount_rate
    many = appraise_many(
        [incremental(by_year(with_plan.economic), by_year(without.economic)) for with_plan, without in sides],
        rate,
        finance_rate=appraisal.finance_rate,
        reinvest_rate=appraisal.reinvestment_rate,
    )
    return tuple(many.single(row, benefit_cost=_benefit_cost(rate, *pair)) for row, pair in enumerate(sides))


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
