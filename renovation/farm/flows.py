"""The farm with and without a plan, by month: crop, work, money in two accounts (method §4).

A plan is a list of treatments; the trees they do not touch carry on. Everything but the tools is linear in
the number of trees:

    with(t) = without(t) + Σ trees · (profile − untouched)(t) + tools(t)

Trees under way stand on both sides (`standing`).
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import numpy as np

from renovation.farm.prices import net_prices
from renovation.farm.standing import Begun, trees_under_way
from renovation.farm.trees import by_project_month, setting_of, tree_left_alone, tree_treated
from renovation.inputs import FrozenDict, Scenario, Supplies, Technique, Treatment
from renovation.tree import Profile, Setting
from renovation.types import BoolArray, FloatArray

MANY = 4_000
"""Figures from which month added to month is quicker than `sum`, which adds the twelve of a row in the same order."""


def by_year(monthly: FloatArray) -> FloatArray:
    """Sum months into project years along the last axis: (..., 12·H) to (..., H).

    Example:
        >>> by_year(np.ones(24)).tolist()
        [12.0, 12.0]
    """
    by_month = monthly.reshape(*monthly.shape[:-1], -1, 12)
    if monthly.size < MANY or not monthly.flags.c_contiguous:
        return np.asarray(by_month.sum(axis=-1))
    each = [by_month[..., month] for month in range(12)]
    total = ((each[0] + each[1]) + (each[2] + each[3])) + ((each[4] + each[5]) + (each[6] + each[7]))
    for month in each[8:]:
        total += month
    return np.asarray(total)


def rows_by_year(series: Mapping[str, FloatArray]) -> list[dict[str, Any]]:
    """One dict per project year: `year`, counted from 1, then the sum of each series by month (12·H,) in it.

    Example:
        >>> rows_by_year({"days": np.ones(24)})
        [{'year': 1, 'days': 12.0}, {'year': 2, 'days': 12.0}]
    """
    yearly = {name: by_year(values).tolist() for name, values in series.items()}
    each = zip(*yearly.values(), strict=True)
    return [{"year": year, **dict(zip(yearly, sums, strict=True))} for year, sums in enumerate(each, start=1)]


@dataclass(frozen=True)
class Flows:
    """What happens month by month, each (T,); for one tree or a whole farm.

    old_kg, new_kg: kg of dry beans. sales: money after deductions. other_income: money of the temporary crop, of
    permanent shade and of payments; payments: those alone.
    days: person-days. materials: money for supplies. tools: money. wage_per_day, labour_value: as the scenario
    states. family_days: person-days the family has; none for a single tree.
    """

    old_kg: FloatArray
    new_kg: FloatArray
    sales: FloatArray
    other_income: FloatArray
    days: FloatArray
    materials: FloatArray
    tools: FloatArray
    family_days_available: FloatArray
    wage_per_day: float
    labour_value: float
    payments: FloatArray

    @cached_property
    def benefits(self) -> FloatArray:
        """Sales after deductions and the temporary crop."""
        return self.sales + self.other_income

    @cached_property
    def labour_cost(self) -> FloatArray:
        """Every person-day at the wage × the labour value (the economic account)."""
        return self.days * (self.wage_per_day * self.labour_value)

    @cached_property
    def costs(self) -> FloatArray:
        """Labour, supplies and tools of the economic account."""
        return self.labour_cost + self.materials + self.tools

    @cached_property
    def economic(self) -> FloatArray:
        """Economic account: benefits less costs."""
        return self.benefits - self.costs

    @cached_property
    def family_days(self) -> FloatArray:
        """Person-days the family works: up to what it has in that month."""
        return np.minimum(self.days, self.family_days_available)

    @cached_property
    def hired_days(self) -> FloatArray:
        """Person-days beyond the family's own."""
        return self.days - self.family_days

    @cached_property
    def wages(self) -> FloatArray:
        """Money paid to hired hands."""
        return self.hired_days * self.wage_per_day

    @cached_property
    def cash(self) -> FloatArray:
        """Cash account of the farm: benefits less supplies, tools and hired hands."""
        return self.benefits - self.materials - self.tools - self.wages


@dataclass(frozen=True)
class Treated:
    """One treatment with its tree: the unit that flows are summed from."""

    treatment: Treatment
    technique: Technique
    tree: Profile
    left_alone: Profile


@dataclass(frozen=True)
class FarmFlows:
    """The same farm without the plan and with it, and the work of the plan by name.

    bought: tools bought, pieces in each month, (T,) each. treated: the treatments that make up the plan, each with
    its tree. each: the flows of one such tree, treated and left alone. begun: the trees under way, which stand in all
    of these and without the plan as well. scenario: whose farm it is.
    """

    scenario: Scenario
    without: Flows
    with_plan: Flows
    bought: Mapping[str, FloatArray]
    treated: tuple[Treated, ...]
    each: tuple[tuple[Flows, Flows], ...] = ()
    begun: tuple[Begun, ...] = ()

    @cached_property
    def work(self) -> Mapping[str, FloatArray]:
        """Person-days of each kind of work, (T,) each: an operation's key, `upkeep`, `harvest`, `intercrop`."""
        return _work(self.scenario, setting_of(self.scenario), self.treated, self.begun)

    @cached_property
    def demand(self) -> Mapping[str, FloatArray]:
        """Units of each supply that operations use, (T,) each."""
        return _demand([*_counted(self.treated), *_counted(self.begun)], self.scenario.appraisal.months)

    @cached_property
    def economic_change(self) -> FloatArray:
        """Incremental economic account, with less without, (T,)."""
        return self.with_plan.economic - self.without.economic

    @cached_property
    def cash_change(self) -> FloatArray:
        """Incremental cash account, with less without, (T,)."""
        return self.with_plan.cash - self.without.cash


def treated_trees(scenario: Scenario, treatments: Iterable[Treatment], setting: Setting | None = None) -> list[Treated]:
    """Profile the tree of each treatment that treats any; raises as `profile` does."""
    setting = setting or setting_of(scenario)
    result = []
    for treatment in treatments:
        if treatment.trees == 0:
            continue
        stand = scenario.found_by(treatment.technique, treatment.stand)
        technique = scenario.techniques[treatment.technique]
        start = scenario.month_of(treatment.start)
        tree = tree_treated(technique, stand, scenario.supplies, setting, start)
        result.append(Treated(treatment, technique, tree, tree_left_alone(stand, setting)))
    return result


def tool_purchases(
    supplies: Supplies,
    treated: Sequence[Treated | Begun],
    months: int,
    owned: Mapping[str, float] = FrozenDict(),
) -> dict[str, FloatArray]:
    """Pieces of each tool bought in each month, (T,) each (method §3, Tools).

    A tool is bought in the month of the first operation that needs it, and again at the first such operation
    after it has worn out. It serves any number of trees and techniques. owned: months that a tool still serves.
    """
    needed: dict[str, BoolArray] = {}
    for item in treated:
        at_work = (item.tree.touched[:, 0, :] > 0).any(axis=0)
        for tool in item.technique.tools:
            needed[tool] = needed.get(tool, np.zeros(months, dtype=bool)) | at_work
    return pieces_bought(supplies, needed, owned)


def pieces_bought(
    supplies: Supplies, needed: Mapping[str, BoolArray], owned: Mapping[str, float] = FrozenDict()
) -> dict[str, FloatArray]:
    """The same, from the months, (T,), in which each tool is needed."""
    bought = {}
    for tool, at_work in needed.items():
        life = supplies.tools[tool].lasts_years.value * 12
        pieces = np.zeros(at_work.size)
        worn_out = owned.get(tool, 0.0)
        at = np.flatnonzero(at_work)
        while (place := int(np.searchsorted(at, worn_out))) < at.size:
            pieces[at[place]] = 1.0
            worn_out = float(at[place]) + life
        bought[tool] = pieces
    return bought


def tool_costs(supplies: Supplies, bought: Mapping[str, FloatArray], months: int) -> FloatArray:
    """Money for the tools bought, by month, (T,)."""
    cost = np.zeros(months)
    for tool, pieces in bought.items():
        cost += pieces * supplies.tools[tool].price.value
    return cost


def tree_flows(scenario: Scenario, tree: Profile, material: str | None = None) -> Flows:
    """The economic account of one tree; no tools, no family days. All starts of the profile at once: (S, T).

    material: the planting material whose premium the new crop earns. The flows of a profile with one start are
    (T,).
    """
    rows = 0 if len(tree.starts) == 1 else slice(None)
    old_kg, new_kg, days = tree.old_kg[rows], tree.new_kg[rows], tree.days[rows]
    nothing = np.zeros_like(days)
    return Flows(
        old_kg=old_kg,
        new_kg=new_kg,
        sales=old_kg * net_prices(scenario) + new_kg * net_prices(scenario, material),
        other_income=tree.other_income[rows],
        days=days,
        materials=tree.materials_cost[rows],
        tools=nothing,
        family_days_available=nothing,
        wage_per_day=scenario.household.wage_per_day,
        labour_value=scenario.household.labour_value,
        payments=tree.payments[rows],
    )


_LINEAR = ("old_kg", "new_kg", "sales", "other_income", "days", "materials", "payments")


def farm_left_alone(scenario: Scenario) -> Flows:
    """The whole farm by month without any plan: free trees carry on, declining, those under way are seen through."""
    setting = setting_of(scenario)
    return _sum_stands(scenario, setting, trees_under_way(scenario, setting))


def farm_flows(
    scenario: Scenario,
    treatments: Iterable[Treatment],
    without: Flows | None = None,
    now: int = 0,
    setting: Setting | None = None,
) -> FarmFlows:
    """The whole farm by month, left alone and with the treatments.

    without: `farm_left_alone(scenario)`, where a caller has it already. now: the month up to which the tries of trees
    under way were counted: month 0, or a later one where the farm is looked back upon.
    Raises StartTooEarly where a nursery would fall before month 0, ValueError for a start outside the horizon
    or more trees treated than a stand has free.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> s = demo_scenario()
        >>> flows = farm_flows(s, [])
        >>> bool((flows.economic_change == 0).all())
        True
    """
    setting = setting or setting_of(scenario)
    treated = treated_trees(scenario, treatments, setting)
    _refuse_too_many(scenario, treated)
    begun = trees_under_way(scenario, setting, now)
    without = without or _sum_stands(scenario, setting, begun)
    totals = {name: getattr(without, name).copy() for name in _LINEAR}
    each = [
        (tree_flows(scenario, item.tree, item.technique.material), tree_flows(scenario, item.left_alone))
        for item in treated
    ]
    for item, (tree, alone) in zip(treated, each, strict=True):
        for name in _LINEAR:
            totals[name] += item.treatment.trees * (getattr(tree, name) - getattr(alone, name))
    bought = tool_purchases(scenario.supplies, [*begun, *treated], setting.months, scenario.tools_owned)
    tools = tool_costs(scenario.supplies, bought, setting.months)
    stated = {f.name: getattr(without, f.name) for f in fields(Flows) if f.name not in (*_LINEAR, "tools")}
    return FarmFlows(
        scenario=scenario,
        without=without,
        with_plan=Flows(**totals, tools=tools, **stated),
        bought=bought,
        treated=tuple(treated),
        each=tuple(each),
        begun=begun,
    )


def _refuse_too_many(scenario: Scenario, treated: Sequence[Treated]) -> None:
    """Refuse a plan that treats more trees, or plants more empty places, than a stand has free."""
    asked: dict[tuple[str, str], int] = {}
    for item in treated:
        here = item.treatment.stand, item.technique.works_on
        asked[here] = asked.get(here, 0) + item.treatment.trees
    for plot in scenario.plots:
        number = asked.pop((plot.name, plot.works_on), 0)
        if number > plot.free:
            raise ValueError(f"{number} {plot.works_on} treated in {plot.name}, which has {plot.free}")
    if asked:
        raise ValueError(f"nothing to plant on in {next(iter(asked))[0]}")


def _sum_stands(scenario: Scenario, setting: Setting, begun: Sequence[Begun]) -> Flows:
    """All free trees left alone, and the trees under way."""
    totals = {name: np.zeros(setting.months) for name in _LINEAR}
    for stand in scenario.stands:
        tree = tree_flows(scenario, tree_left_alone(stand, setting))
        for name in _LINEAR:
            totals[name] += scenario.free_trees(stand.name) * getattr(tree, name)
    for entry in begun:
        trees = tree_flows(scenario, entry.tree, entry.technique.material)
        for name in _LINEAR:
            totals[name] += getattr(trees, name)
    bought = tool_purchases(scenario.supplies, begun, setting.months, scenario.tools_owned)
    household = scenario.household
    start = scenario.appraisal.start_calendar_month
    return Flows(
        **totals,
        tools=tool_costs(scenario.supplies, bought, setting.months),
        family_days_available=by_project_month(household.family_days, start, setting.months),
        wage_per_day=household.wage_per_day,
        labour_value=household.labour_value,
    )


def _counted(items: Sequence[Treated | Begun]) -> Iterator[tuple[float, Treated | Begun]]:
    """How many trees stand for one row of each profile: those treated, or 1 where the row is all of them."""
    return ((item.treatment.trees if isinstance(item, Treated) else 1.0, item) for item in items)


def _work(
    scenario: Scenario, setting: Setting, treated: Sequence[Treated], begun: Sequence[Begun]
) -> dict[str, FloatArray]:
    """Person-days of each kind of work on the farm with the plan."""
    kinds = {"harvest": "harvest_days", "upkeep": "upkeep_days", "intercrop": "intercrop_days"}
    work = {kind: np.zeros(setting.months) for kind in kinds}
    for stand in scenario.stands:
        tree = tree_left_alone(stand, setting)
        for kind, name in kinds.items():
            work[kind] += scenario.free_trees(stand.name) * getattr(tree, name)[0]
    for trees, item in (*_counted(treated), *_counted(begun)):
        for kind, name in kinds.items():
            change = getattr(item.tree, name)[0]
            if isinstance(item, Treated):
                change = change - getattr(item.left_alone, name)[0]
            work[kind] += trees * change
        for key, touched in zip(item.tree.operations, item.tree.touched[:, 0], strict=True):
            days = trees * touched * item.technique.operations[key].days.value
            work[key] = work.get(key, np.zeros(setting.months)) + days
    return work


def _demand(counted: Iterable[tuple[float, Treated | Begun]], months: int) -> dict[str, FloatArray]:
    """Units of each supply that the operations use, losses before use included."""
    demand: dict[str, FloatArray] = {}
    for trees, item in counted:
        for key, touched in zip(item.tree.operations, item.tree.touched[:, 0], strict=True):
            for supply, use in item.technique.operations[key].materials.items():
                units = trees * touched * use.demand
                demand[supply] = demand.get(supply, np.zeros(months)) + units
    return demand
