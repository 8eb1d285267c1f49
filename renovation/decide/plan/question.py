"""The planner's question as arrays: what every candidate does, what the farm does without, and what must be kept.

Building it is the first of three steps: build the question, solve it, read the answer back.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from renovation.decide.plan.columns import (
    BEGUN,
    Batch,
    Candidate,
    Group,
    LeftOut,
    ToolNeed,
    candidates_of,
    columns_of,
    tool_needs,
)
from renovation.farm import by_project_month, flow_of_running_loans, loan_terms, month_labels
from renovation.inputs import Loan, Scenario
from renovation.inputs.appraisal import LONGEST_YEARS
from renovation.inputs.loans import LoanOffer
from renovation.inputs.planning import Planning
from renovation.money.loans import to_constant_prices, unit_schedule
from renovation.types import BoolArray, FloatArray, IntArray
from renovation.words import smallest_unit

ENOUGH_YEARS_AFTER = 10
"""The horizon must outrun the planning years by so many, or late starts are undervalued (method §8)."""


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
    an offer. group: (n,) what of each candidate is used or not as one; groups: its technique and start, which tools
    are bought for. batch: (n,) the batch that a candidate counts towards, −1 where it needs none; batches: stand,
    technique and year of each. new_crown: (n,) whether a new crown is made.
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
    running: FloatArray
    """(T,) payouts to come less debt service of the running loans, constant prices; in `household`."""
    begun: Mapping[str, FloatArray]
    """(H,) `scion`, `plant` and `money` that the trees under way use in each project year."""
    tools: tuple[ToolNeed, ...]
    group: IntArray
    groups: tuple[Group, ...]
    batch: IntArray
    batches: tuple[Batch, ...]
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
    def value_per_family_day(self) -> float:
        """Money that a day of the family's own work costs: as stated, else the wage × the labour value (method §8)."""
        household, stated = self.scenario.household, self.planning.value_per_family_day
        return household.wage_per_day * household.labour_value if stated is None else stated

    @property
    def money_unit(self) -> float:
        """The currency's smallest unit: promises are kept to half of it."""
        return smallest_unit(self.scenario.appraisal.currency)

    @cached_property
    def trees(self) -> IntArray:
        """(S,) trees, or empty places, of each plot that may be treated: those that are not under way."""
        return np.array([plot.free for plot in self.scenario.plots], dtype=np.int64)

    @cached_property
    def always(self) -> BoolArray:
        """(G,) whether a group is at work whatever is planned."""
        return np.array([group == BEGUN for group in self.groups], dtype=bool)

    def narrowed(self, kept: IntArray) -> "PlanProblem":
        """The same question of some of the candidates alone, by their places."""
        used = np.unique(np.append(self.group[kept], np.flatnonzero(self.always)))
        tools = tuple(replace(tool, need=tool.need[used]) for tool in self.tools)
        return replace(
            self,
            candidates=tuple(self.candidates[place] for place in kept),
            **{name: getattr(self, name)[kept] for name in ("cash", "days", "scions", "plants", "spending")},
            tools=tuple(tool for tool in tools if tool.need.any()),
            group=np.searchsorted(used, self.group[kept]),
            groups=tuple(self.groups[place] for place in used),
            batch=self.batch[kept],
            new_crown=self.new_crown[kept],
            practice=None if self.practice is None else self.practice[kept],
        )

    def units_limit(self, promise: Literal["scions", "plants"]) -> FloatArray | None:
        """(H,) scions or plants of each project year that the trees under way leave; None where there is no limit."""
        stated = self.planning.scions_per_year if promise == "scions" else self.planning.plants_per_year
        limit = self.yearly(stated)
        return None if limit is None else np.maximum(0.0, limit - self.begun[promise.removesuffix("s")])

    @cached_property
    def stand(self) -> IntArray:
        """(n,) plot of each candidate."""
        return np.array([c.stand for c in self.candidates], dtype=np.int64)

    @cached_property
    def year(self) -> IntArray:
        """(n,) planning year of each candidate, from 1."""
        return np.array([c.year for c in self.candidates], dtype=np.int64)

    @cached_property
    def least_of_batch(self) -> IntArray:
        """(B,) trees that are the fewest worth starting of each batch."""
        return np.array([self.planning.batch[batch.technique] for batch in self.batches], dtype=np.int64)

    @cached_property
    def months_named(self) -> tuple[str, ...]:
        """Calendar month `YYYY-MM` of each project month."""
        return month_labels(self.scenario.appraisal.start, self.months)

    @cached_property
    def most_trees_per_year(self) -> int | None:
        """Trees that may be started in a planning year, by the share of the farm's trees and empty places."""
        share = self.planning.most_share_per_year
        open_to_it = sum(plot.stand.trees for plot in self.scenario.plots if not plot.stand.untouched)
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
    possible, left_out = candidates_of(scenario, planning)
    candidates = possible if candidates is None else candidates
    columns = columns_of(scenario, tail, candidates)
    used = [Group(c.technique, c.start) for c in candidates]
    standing = [BEGUN] if scenario.under_way else []
    together = [Batch(c.stand, c.technique, c.year) if c.technique in planning.batch else None for c in candidates]
    place_of = {group: place for place, group in enumerate(dict.fromkeys([*used, *standing]))}
    batch_of = {batch: place for place, batch in enumerate(dict.fromkeys(b for b in together if b is not None))}
    household, appraisal = scenario.household, scenario.appraisal
    first, months, every = appraisal.start_calendar_month, appraisal.months, tail.appraisal.months
    limit = household.hired_days_limit
    running = flow_of_running_loans(scenario)
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
        - by_project_month(household.living_costs, first, months)
        + running,
        running=running,
        family_days=by_project_month(household.family_days, first, every),
        stated_hired_limit=None if limit is None else by_project_month(limit, first, months),
        discount=(1 + appraisal.discount_rate) ** (-(np.arange(every) + 1) / 12),
        scions=columns.scions,
        plants=columns.plants,
        spending=columns.spending,
        begun=columns.begun,
        tools=tool_needs(scenario, tuple(place_of), columns.touched),
        group=np.array([place_of[group] for group in used], dtype=np.int64),
        groups=tuple(place_of),
        batch=np.array([-1 if batch is None else batch_of[batch] for batch in together], dtype=np.int64),
        batches=tuple(batch_of),
        new_crown=np.array([scenario.techniques[c.technique].mature_crop.value > 0 for c in candidates], dtype=bool),
        loan_unit=_loan_unit(scenario, planning.loan) if planning.loan else None,
    )


def _refuse(scenario: Scenario, planning: Planning) -> None:
    """Refuse what the numbers of a scenario and its planning cannot mean together."""
    years = scenario.appraisal.horizon_years
    if planning.years_of(years) > years:
        raise ValueError(f"{planning.years} planning years in a horizon of {years}")
    if years + planning.years_after_horizon > LONGEST_YEARS:
        raise ValueError(f"{planning.years_after_horizon} years after a horizon of {years} pass {LONGEST_YEARS}")
    if (planning.value_per_family_day or 0.0) > scenario.household.wage_per_day:
        raise ValueError("a family day worth more than a hired one would have the family idle and hire")


def _lengthened(scenario: Scenario, planning: Planning) -> Scenario:
    """The scenario with its horizon lengthened by the years after it."""
    years = planning.years_after_horizon
    if not years:
        return scenario
    longer = scenario.appraisal.model_copy(update={"horizon_years": scenario.appraisal.horizon_years + years})
    return scenario.model_copy(update={"appraisal": longer})


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
