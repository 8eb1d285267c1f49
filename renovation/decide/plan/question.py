"""The planning problem as arrays: every start that could be made, what one tree of it does, what limits it.

Building it is the first of three steps (build, solve, read back). A candidate is one stand, technique and
planning year; its start is the first month of that project year that suits the technique's calendar and nursery.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np

from renovation.decide.compare import techniques_for
from renovation.farm import by_project_month, by_year, loan_terms, month_labels, net_prices, setting_of
from renovation.inputs import Loan, Scenario
from renovation.inputs.planning import LoanOffer, Planning
from renovation.money.loans import to_constant_prices, unit_schedule
from renovation.tree import Profile, profile, untouched
from renovation.types import BoolArray, FloatArray, IntArray
from renovation.words import smallest_unit

Reason = Literal["nursery_before_start", "no_month"]

ENOUGH_YEARS_AFTER = 10
"""The horizon must outrun the planning years by so many, or late starts are undervalued (method §8)."""


@dataclass(frozen=True)
class Candidate:
    """Trees of one stand that could be started with one technique in one planning year (counted from 1)."""

    stand: int
    technique: str
    year: int
    start: int


class Group(NamedTuple):
    """What is used in a year or not: a technique, on one stand where only a batch of that stand is worth starting."""

    technique: str
    year: int
    stand: int | None


@dataclass(frozen=True)
class LeftOut:
    """A technique that cannot be started in a planning year, and why."""

    technique: str
    year: int
    reason: Reason
    earliest: int | None


@dataclass(frozen=True)
class ToolNeed:
    """A tool and the months in which it is at work: `need` (G, T), one row for each technique and year."""

    name: str
    price: float
    life_months: float
    need: BoolArray


@dataclass(frozen=True)
class Eased:
    """What promises are eased by where no plan keeps them all: money, days a month, money a year."""

    floor: float = 0.0
    hands: float = 0.0
    money: float = 0.0

    def more(self, promise: str, amount: float) -> "Eased":
        """The same with one promise eased further."""
        return replace(self, **{promise: getattr(self, promise) + amount})


@dataclass(frozen=True, eq=False)
class PlanProblem:
    """Everything a plan is judged by; n candidates, T months of horizon, A = T + the months valued after it.

    cash, days: (n, A) change per tree in cash before labour and in person-days. base_cash, base_days: (A,) the
    farm left alone. household: (T,) other income − living costs. family_days: (A,). stated_hired_limit: (T,) or
    None. discount: (A,) 1/(1+r)^((t+1)/12). scions, plants, spending: (n, H) units or money of each project
    year per tree. loan_unit: (T,) net payout less debt service of a loan of 1, constant prices; None without
    an offer. group: (n,) what of each candidate is used or not as one; groups: its technique, its year, and its
    stand where the technique has a smallest batch. new_crown: (n,) whether a new crown is made.
    """

    scenario: Scenario
    planning: Planning
    candidates: tuple[Candidate, ...]
    left_out: tuple[LeftOut, ...]
    cash: FloatArray
    days: FloatArray
    base_cash: FloatArray
    base_days: FloatArray
    household: FloatArray
    family_days: FloatArray
    stated_hired_limit: FloatArray | None
    discount: FloatArray
    scions: FloatArray
    plants: FloatArray
    spending: FloatArray
    tools: tuple[ToolNeed, ...]
    group: IntArray
    groups: tuple[Group, ...]
    new_crown: BoolArray
    loan_unit: FloatArray | None
    eased: Eased = Eased()
    practice: FloatArray | None = None
    """(n, H) grafts made in each project year per tree, where takes rest on practice that the plan must bring."""
    practice_needed: FloatArray | None = None
    """(H,) grafts that must be made before each project year."""

    @property
    def months(self) -> int:
        """The horizon T."""
        return int(self.household.size)

    @property
    def years(self) -> int:
        """The planning years: project years in which work on a tree may start."""
        return self.planning.years_of(self.scenario.appraisal.horizon_years)

    @property
    def floor(self) -> float:
        """The balance the plan does not go below: the household's floor, less what it is eased by."""
        return self.scenario.household.floor - self.eased.floor

    @cached_property
    def hired_limit(self) -> FloatArray | None:
        """(T,) days that can be hired, with what they are eased by; None where there is no limit."""
        stated = self.stated_hired_limit
        return None if stated is None else stated + self.eased.hands

    @cached_property
    def money_limit(self) -> FloatArray | None:
        """(H,) money of each project year, with what it is eased by; None where there is no limit."""
        limit = self.yearly(self.planning.money_per_year)
        return None if limit is None else limit + self.eased.money

    @property
    def wage(self) -> float:
        """Money for a hired day."""
        return self.scenario.household.wage_per_day

    @property
    def money_unit(self) -> float:
        """The currency's smallest unit: promises are kept to half of it."""
        return smallest_unit(self.scenario.appraisal.currency)

    @cached_property
    def trees(self) -> IntArray:
        """(S,) trees of each stand."""
        return np.array([stand.trees for stand in self.scenario.stands], dtype=np.int64)

    @cached_property
    def stand(self) -> IntArray:
        """(n,) stand of each candidate."""
        return np.array([c.stand for c in self.candidates], dtype=np.int64)

    @cached_property
    def year(self) -> IntArray:
        """(n,) planning year of each candidate, from 1."""
        return np.array([c.year for c in self.candidates], dtype=np.int64)

    @cached_property
    def months_named(self) -> tuple[str, ...]:
        """Calendar month `YYYY-MM` of each project month."""
        return month_labels(self.scenario.appraisal.start, self.months)

    @cached_property
    def most_trees_per_year(self) -> int | None:
        """Trees that may be started in a planning year, by the share of the farm's trees that is allowed."""
        share = self.planning.most_share_per_year
        open_to_it = sum(stand.trees for stand in self.scenario.stands if not stand.untouched)
        return None if share is None else int(np.floor(share * open_to_it + 1e-9))

    @cached_property
    def undervalues_late_starts(self) -> bool:
        """Whether fewer than ten years are counted after the planning years."""
        counted = self.scenario.appraisal.horizon_years + self.planning.years_after_horizon
        return counted < self.years + ENOUGH_YEARS_AFTER

    def yearly(self, limit: float | tuple[float, ...] | None) -> FloatArray | None:
        """Lay a limit of a year along the project years, (H,); the last number holds from then on."""
        if limit is None:
            return None
        stated = np.atleast_1d(np.asarray(limit, dtype=np.float64))
        return stated[np.minimum(np.arange(self.months // 12), stated.size - 1)]


def build(
    scenario: Scenario, planning: Planning | None = None, candidates: tuple[Candidate, ...] | None = None
) -> PlanProblem:
    """Lay out the planning problem of a scenario (method §8).

    planning: the scenario's own where None. candidates: every start that could be made where None. Raises
    LoanError for an offer that cannot be, ValueError where the planning years or the years after reach beyond what
    a scenario may hold.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> problem = build(demo_scenario(), Planning(years=2))
        >>> {c.year for c in problem.candidates}
        {1, 2}
    """
    planning = scenario.planning if planning is None else planning
    _refuse(scenario, planning)
    tail = _lengthened(scenario, planning)
    possible, left_out = _candidates(scenario, planning)
    candidates = possible if candidates is None else candidates
    columns = _columns(scenario, tail, candidates)
    used = [Group(c.technique, c.year, c.stand if c.technique in planning.batch else None) for c in candidates]
    groups = tuple(dict.fromkeys(used))
    household, appraisal = scenario.household, scenario.appraisal
    first, months, every = appraisal.start_calendar_month, appraisal.months, tail.appraisal.months
    limit = household.hired_days_limit
    return PlanProblem(
        scenario=scenario,
        planning=planning,
        candidates=candidates,
        left_out=left_out,
        cash=columns.cash,
        days=columns.days,
        base_cash=columns.base_cash,
        base_days=columns.base_days,
        household=by_project_month(household.other_income, first, months)
        - by_project_month(household.living_costs, first, months),
        family_days=by_project_month(household.family_days, first, every),
        stated_hired_limit=None if limit is None else by_project_month(limit, first, months),
        discount=(1 + appraisal.discount_rate) ** (-(np.arange(every) + 1) / 12),
        scions=columns.scions,
        plants=columns.plants,
        spending=columns.spending,
        tools=_tools(scenario, groups, columns.touched),
        group=np.array([groups.index(group) for group in used], dtype=np.int64),
        groups=groups,
        new_crown=np.array([scenario.techniques[c.technique].mature_crop.value > 0 for c in candidates], dtype=bool),
        loan_unit=_loan_unit(scenario, planning.loan) if planning.loan else None,
    )


def _refuse(scenario: Scenario, planning: Planning) -> None:
    """Refuse what the numbers of a scenario and its planning cannot mean together."""
    years = scenario.appraisal.horizon_years
    if planning.years_of(years) > years:
        raise ValueError(f"{planning.years} planning years in a horizon of {years}")
    if years + planning.years_after_horizon > 40:
        raise ValueError(f"{planning.years_after_horizon} years after a horizon of {years} pass 40")
    if planning.value_per_family_day > scenario.household.wage_per_day:
        raise ValueError("a family day worth more than a hired one would have the family idle and hire")


def start_in_year(scenario: Scenario, technique_key: str, year: int) -> int | LeftOut:
    """First project month of a project year that suits a technique's calendar and nursery, or why none does."""
    technique = scenario.techniques[technique_key]
    suits = [
        month
        for month in range(12 * (year - 1), 12 * year)
        if (scenario.appraisal.start_calendar_month - 1 + month) % 12 + 1 in technique.start_months
    ]
    ready = [month for month in suits if month + technique.earliest_month >= 0]
    if ready:
        return ready[0]
    if suits:
        return LeftOut(technique_key, year, "nursery_before_start", -technique.earliest_month)
    return LeftOut(technique_key, year, "no_month", None)


def _candidates(scenario: Scenario, planning: Planning) -> tuple[tuple[Candidate, ...], tuple[LeftOut, ...]]:
    """Every start that could be made, and the techniques and years that have none."""
    years = range(1, planning.years_of(scenario.appraisal.horizon_years) + 1)
    starts = {(key, year): start_in_year(scenario, key, year) for key in scenario.techniques for year in years}
    candidates = [
        Candidate(position, key, year, start)
        for position, stand in enumerate(scenario.stands)
        if not stand.untouched
        for key in techniques_for(scenario, stand.name)
        for year in years
        if isinstance(start := starts[key, year], int)
    ]
    used = {key for stand in scenario.stands if not stand.untouched for key in techniques_for(scenario, stand.name)}
    left = [found for found in starts.values() if isinstance(found, LeftOut) and found.technique in used]
    return tuple(candidates), tuple(left)


def _lengthened(scenario: Scenario, planning: Planning) -> Scenario:
    """The scenario with its horizon lengthened by the years after it."""
    years = planning.years_after_horizon
    if not years:
        return scenario
    longer = scenario.appraisal.model_copy(update={"horizon_years": scenario.appraisal.horizon_years + years})
    return scenario.model_copy(update={"appraisal": longer})


@dataclass(frozen=True, eq=False)
class _Columns:
    """The arrays of `PlanProblem` that are gathered candidate by candidate."""

    cash: FloatArray
    days: FloatArray
    base_cash: FloatArray
    base_days: FloatArray
    scions: FloatArray
    plants: FloatArray
    spending: FloatArray
    touched: dict[tuple[str, int], BoolArray]


def _columns(scenario: Scenario, tail: Scenario, candidates: Sequence[Candidate]) -> _Columns:
    """Profile the tree of every candidate; months after the horizon come from the lengthened scenario."""
    months, every = scenario.appraisal.months, tail.appraisal.months
    number, years = len(candidates), months // 12
    cash, days = np.zeros((number, every)), np.zeros((number, every))
    yearly = {name: np.zeros((number, years)) for name in ("scion", "plant", "money")}
    base_cash, base_days = np.zeros(every), np.zeros(every)
    touched: dict[tuple[str, int], BoolArray] = {}
    rows: dict[tuple[int, str], list[int]] = {}
    for row, candidate in enumerate(candidates):
        rows.setdefault((candidate.stand, candidate.technique), []).append(row)
    alone = [_money_and_days(tail, untouched(stand, setting_of(tail)), None) for stand in scenario.stands]
    for stand, (stand_cash, stand_days) in zip(scenario.stands, alone, strict=True):
        base_cash += stand.trees * stand_cash[0]
        base_days += stand.trees * stand_days[0]
    for (position, key), members in rows.items():
        technique, stand = scenario.techniques[key], scenario.stands[position]
        starts = [candidates[row].start for row in members]
        tree = profile(technique, stand, scenario.supplies, setting_of(scenario), starts)
        tree_cash, tree_days = _money_and_days(scenario, tree, technique.material)
        if every > months:
            longer = profile(technique, stand, scenario.supplies, setting_of(tail), starts)
            more_cash, more_days = _money_and_days(tail, longer, technique.material)
            tree_cash = np.concatenate([tree_cash, more_cash[:, months:]], axis=1)
            tree_days = np.concatenate([tree_days, more_days[:, months:]], axis=1)
        cash[members] = tree_cash - alone[position][0]
        days[members] = tree_days - alone[position][1]
        for name, units in _demand_by_year(scenario, key, tree).items():
            yearly[name][members] = units
        at_work_by_start = np.asarray((tree.touched > 0).any(axis=0))
        for row, at_work in zip(members, at_work_by_start, strict=True):
            touched[key, candidates[row].year] = at_work
    return _Columns(cash, days, base_cash, base_days, yearly["scion"], yearly["plant"], yearly["money"], touched)


def _money_and_days(scenario: Scenario, tree: Profile, material: str | None) -> tuple[FloatArray, FloatArray]:
    """Cash before labour and person-days of one tree, (S, T) each."""
    sales = tree.old_kg * net_prices(scenario)
    if material is not None:
        sales = sales + tree.new_kg * net_prices(scenario, material)
    return sales + tree.other_income - tree.materials_cost, tree.days


def _demand_by_year(scenario: Scenario, key: str, tree: Profile) -> dict[str, FloatArray]:
    """Scions, plants and money for materials of operations, by project year, (S, H) each."""
    items = scenario.supplies.items
    found = {"money": by_year(tree.operation_cost)}
    for kind in ("scion", "plant"):
        per_tree = np.array(
            [
                sum(use.demand for item, use in op.materials.items() if items[item].counts_as == kind)
                for op in scenario.techniques[key].operations.values()
            ]
        )
        if per_tree.any():
            found[kind] = by_year(np.tensordot(per_tree, tree.touched, axes=1))
    return found


def _tools(
    scenario: Scenario,
    groups: Sequence[Group],
    touched: dict[tuple[str, int], BoolArray],
) -> tuple[ToolNeed, ...]:
    """Each tool of the techniques that can be started, with its months of need."""
    names = dict.fromkeys(tool for group in groups for tool in scenario.techniques[group.technique].tools)
    tools = []
    for name in names:
        tool = scenario.supplies.tools[name]
        need = np.array(
            [
                touched[group.technique, group.year] & (name in scenario.techniques[group.technique].tools)
                for group in groups
            ]
        )
        tools.append(ToolNeed(name, tool.price.value, tool.lasts_years.value * 12, need))
    return tuple(tools)


def offered_loan(offer: LoanOffer, amount: float) -> Loan:
    """The contract for an amount of the loan on offer."""
    terms = {name: value for name, value in offer.model_dump().items() if name != "limit"}
    return Loan.model_validate({**terms, "amount": amount})


def _loan_unit(scenario: Scenario, offer: LoanOffer) -> FloatArray:
    """Net payout less debt service by month of a loan of 1, unrounded, in constant prices, (T,)."""
    unit = smallest_unit(scenario.appraisal.currency)
    whole = max(unit, np.floor(offer.limit / unit + 1e-6) * unit)
    terms = loan_terms(scenario, offered_loan(offer, whole))
    appraisal = scenario.appraisal
    flow = unit_schedule(terms, appraisal.months, appraisal.start_calendar_month).net_flow
    return to_constant_prices(flow, appraisal.inflation)
