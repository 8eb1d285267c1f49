"""Planned and happened: a season's figures beside what was expected of them, and why the money differs (method §11).

The closing balance expected of the plan is turned into the one that was counted by swapping one cause at a time, in the
order of `CAUSES`: what was expected of it for what was recorded, all later causes still as expected. Each recorded sum
is laid over the twelve months in proportion to what was expected there, evenly where nothing was. A cause's part of the
difference is what its swap changes, so the parts sum to the whole; what no cause explains is a part of its own.

- trees: those begun, in the months they were begun, each way's tries and takes as expected of them; crop, work and
  supplies follow.
- take: what took, and which tries were made.
- crop: kilograms sold, at the expected price; the work of harvest follows.
- price: what a kilogram brought.
- work: wages paid, or the hired days at the wage.
- supplies: spent on supplies and tools.
- household: living costs, other income, and what was paid on loans.

Money is said in money of the season's end: constant prices of the farm × (1 + inflation), as next year's farm has them.
A record speaks in money of the season; loans are nominal.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from renovation.decide.cohorts import DUST, YEAR, Group, Went, season_went
from renovation.decide.held import as_held
from renovation.decide.next_parts import dry_kg_sold, dry_per_kg_sold
from renovation.decide.signed import SignedLoan, signed_loans
from renovation.farm import (
    FarmFlows,
    HouseholdCash,
    expected_price_path,
    farm_flows,
    household_cash,
    net_prices,
    setting_of,
)
from renovation.farm.standing import months_of_tries
from renovation.inputs import Scenario, SeasonRecord, Technique, UnderWay
from renovation.money.loan_cover import balance
from renovation.money.loans import Schedule
from renovation.tree import attempts, attempts_under_way
from renovation.types import FloatArray

CAUSES = ("trees", "take", "crop", "price", "work", "supplies", "household")
UNEXPLAINED = "unexplained"


@dataclass(frozen=True)
class Figure:
    """One figure of the season. happened: None where it was not counted. unit: trees, kg, days, price or money."""

    name: str
    unit: str
    planned: float
    happened: float | None
    stand: str | None = None
    technique: str | None = None
    loan: str | None = None

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return dict(vars(self))


@dataclass(frozen=True)
class Part:
    """What one cause adds to the closing balance, or takes from it."""

    cause: str
    money: float


@dataclass(frozen=True, eq=False)
class Happened:
    """A season looked back upon. planned, happened: closing balances. counted: whether the latter was counted, not
    reckoned from what is recorded. parts: by cause in the order of `CAUSES`, what none explains last."""

    farm: Scenario
    record: SeasonRecord
    figures: tuple[Figure, ...]
    planned: float
    happened: float
    counted: bool
    parts: tuple[Part, ...]

    @property
    def difference(self) -> float:
        """What happened less what was planned: the sum of the parts."""
        return self.happened - self.planned

    def as_dict(self) -> dict[str, Any]:
        """Plain data, stable keys."""
        return {
            "season": self.record.season,
            "currency": self.farm.appraisal.currency,
            "figures": [figure.as_dict() for figure in self.figures],
            "planned": self.planned,
            "happened": self.happened,
            "counted": self.counted,
            "difference": self.difference,
            "parts": {part.cause: part.money for part in self.parts},
        }


def planned_and_happened(farm: Scenario, record: SeasonRecord, *, as_planned: bool = False) -> Happened:
    """Set a season's record beside what this farm's plan made expect of its first year.

    The record fits the farm: `inputs.season_problems` finds nothing. as_planned: as for `cohorts.season_went`. Raises
    as `farm_flows` and `household_cash` do.

    Example (nothing recorded but the price, at three quarters of the expected one; the plan went as planned):
        >>> from renovation.inputs import demo_scenario
        >>> farm = demo_scenario("few_hands").changed(plan=())
        >>> found = planned_and_happened(farm, SeasonRecord(season=farm.appraisal.start, price_per_kg=1800.0))
        >>> [part.cause for part in found.parts if part.money]
        ['price']
    """
    farm = as_held(farm, farm.plan)
    went = season_went(farm, record, as_planned=as_planned)
    stages = _Stages(farm, record, went)
    years, left = stages.all(), stages.spent.unnamed
    dearer = 1 + farm.appraisal.inflation
    closing = [dearer * year.closing(farm) for year in years]
    reckoned = closing[-1] if left is None else closing[-1] - left
    happened = reckoned if record.money_in_hand is None else record.money_in_hand
    parts = [Part(cause, after - before) for cause, before, after in zip(CAUSES, closing, closing[1:], strict=False)]
    parts.append(Part(UNEXPLAINED, happened - closing[-1]))
    figures = tuple(_figures(farm, record, went, stages, (closing[0], happened)))
    return Happened(farm, record, figures, closing[0], happened, record.money_in_hand is not None, tuple(parts))


@dataclass(frozen=True, eq=False)
class _Year:
    """Twelve months of a farm and its household, (12,) each, constant prices: kg of dry beans, days, money."""

    kg: FloatArray
    sales: FloatArray
    between: FloatArray
    days: FloatArray
    family: FloatArray
    wages: FloatArray
    supplies: FloatArray
    living: FloatArray
    income: FloatArray
    lent: FloatArray
    service: FloatArray

    @classmethod
    def of(cls, flows: FarmFlows, cash: HouseholdCash) -> "_Year":
        """The first year of a farm with its plan."""
        farm, side, year = flows.with_plan, cash.with_plan, slice(0, YEAR)
        return cls(
            kg=(farm.old_kg + farm.new_kg)[year],
            sales=farm.sales[year],
            between=farm.other_income[year],
            days=farm.days[year],
            family=farm.family_days_available[year],
            wages=farm.wages[year],
            supplies=(farm.materials + farm.tools)[year],
            living=side.living_costs[year],
            income=side.other_income[year],
            lent=(side.loan_payout - side.loan_fee)[year],
            service=side.debt_service[year],
        )

    def closing(self, farm: Scenario) -> float:
        """The balance at the year's end."""
        earned = self.sales + self.between + self.income + self.lent
        spent = self.wages + self.supplies + self.living + self.service
        return float(balance(farm.household.savings, earned - spent, farm.household.savings_rate)[-1])


@dataclass(frozen=True)
class _Spent:
    """Money spent as recorded, None where it is not known. unnamed: what is left of a whole of which more than one part
    is not known, once these are taken as expected."""

    supplies: float | None
    wages: float | None
    household: float | None
    unnamed: float | None


class _Stages:
    """The year as planned, and once more after each swap."""

    def __init__(self, farm: Scenario, record: SeasonRecord, went: Went) -> None:
        """Work out the years that need a farm of their own: as planned, as begun, as it took."""
        self.farm, self.record, self.went = farm, record, went
        self.dearer = 1 + farm.appraisal.inflation
        planned = farm_flows(farm, farm.plan)
        self.cash = household_cash(farm, planned, farm.loans)
        self.planned = _Year.of(planned, self.cash)
        begun = _with(farm, [*farm.under_way, *(group.entry(farm) for group in _begun(farm, went))])
        self.begun = self._year(begun, farm_flows(begun, ()))
        self.took = self._year(went.flows.scenario, went.flows)

    def _year(self, farm: Scenario, flows: FarmFlows) -> _Year:
        return _Year.of(flows, household_cash(farm, flows, farm.loans))

    def all(self) -> list[_Year]:
        """The planned year, and the year after each cause in the order of `CAUSES`."""
        years = [self.planned, self.begun, self.took]
        for swap in (self._crop, self._price, self._work, self._supplies, self._household):
            years.append(swap(years[-1]))
        return years

    @cached_property
    def signed(self) -> tuple[SignedLoan, ...]:
        """Each loan with what was paid out and paid in the season."""
        return signed_loans(self.farm, self.record, self.went)

    def plan_of(self, one: SignedLoan) -> Schedule:
        """The contract's own schedule."""
        return self.cash.schedules[[loan.name for loan in self.cash.loans].index(one.loan.name)]

    @cached_property
    def kg(self) -> float | None:
        """Dry beans sold."""
        return dry_kg_sold(self.farm, self.record, self.went)

    @cached_property
    def spent(self) -> _Spent:
        """What is recorded of the money spent, a part that alone is not known told by the whole."""
        said = self.record.spent
        wages = said.wages
        if wages is None and self.record.hired_days is not None:
            wages = self.record.hired_days * self.farm.household.wage_per_day * self.dearer
        parts = {"supplies": said.supplies, "wages": wages, "household": said.household}
        unknown = [name for name, part in parts.items() if part is None]
        if said.in_all is None:
            return _Spent(**parts, unnamed=None)
        rest = said.in_all - sum(part or 0.0 for part in parts.values())
        if len(unknown) == 1:
            return _Spent(**{**parts, unknown[0]: rest}, unnamed=None)
        year = self._price(self._crop(self.took))
        expected = {"supplies": year.supplies, "wages": year.wages, "household": year.living}
        return _Spent(**parts, unnamed=rest - self.dearer * sum(float(expected[name].sum()) for name in unknown))

    def _crop(self, year: _Year) -> _Year:
        if self.kg is None:
            return year
        kg = _laid(year.kg, self.kg, setting_of(self.farm).season[:YEAR])
        each = np.divide(year.sales, year.kg, out=net_prices(self.farm)[:YEAR].copy(), where=year.kg > 0)
        days = year.days + (kg - year.kg) * self.farm.market.harvest_days_per_kg
        wages = np.maximum(0.0, days - year.family) * self.farm.household.wage_per_day
        return replace(year, kg=kg, sales=kg * each, days=days, wages=wages)

    def _price(self, year: _Year) -> _Year:
        if self.record.price_per_kg is None:
            return year
        dry = self.record.price_per_kg / dry_per_kg_sold(self.farm) / self.dearer
        return replace(year, sales=year.kg * (dry - self.farm.market.deductions_per_kg))

    def _work(self, year: _Year) -> _Year:
        return replace(year, wages=self._paid(year.wages, self.spent.wages))

    def _supplies(self, year: _Year) -> _Year:
        return replace(year, supplies=self._paid(year.supplies, self.spent.supplies))

    def _household(self, year: _Year) -> _Year:
        service, lent = float(year.service.sum()), float(year.lent.sum())
        for one in self.signed:
            plan = self.plan_of(one)
            service += (one.paid - float(plan.debt_service[:YEAR].sum())) / self.dearer
            lent += (one.received - float(plan.payout[:YEAR].sum())) / self.dearer
        return replace(
            year,
            lent=_laid(year.lent, lent),
            living=self._paid(year.living, self.spent.household),
            income=self._paid(year.income, self.record.other_income),
            service=_laid(year.service, service),
        )

    def _paid(self, expected: FloatArray, recorded: float | None) -> FloatArray:
        """A recorded sum over the months; as expected where none is recorded."""
        return expected if recorded is None else _laid(expected, recorded / self.dearer)


def _laid(expected: FloatArray, whole: float, otherwise: FloatArray | None = None) -> FloatArray:
    """A sum over the twelve months in proportion to what was expected; where nothing was, evenly, or as `otherwise`."""
    total = float(expected.sum())
    if total:
        return expected * (whole / total)
    return np.full(YEAR, whole / YEAR) if otherwise is None else whole * otherwise


def _begun(farm: Scenario, went: Went) -> list[Group]:
    """The trees begun in the season, as they were begun: nothing tried on them yet."""
    found: dict[tuple[str, str, int], float] = {}
    for group in went.groups:
        names = (group.stand, group.technique, group.start)
        found[names] = found.get(names, 0.0) + group.trees
    for entry in farm.under_way:
        found[entry.stand, entry.technique, farm.month_of(entry.start)] -= entry.trees
    return [Group(*names, trees) for names, trees in found.items() if trees > DUST]


def _with(farm: Scenario, under_way: Sequence[Any]) -> Scenario:
    """The farm with other trees under way and no plan; numbers of trees need not be whole."""
    return farm.model_copy(update={"under_way": tuple(under_way), "plan": ()}).known_as(farm)


# Figure by figure


def _figures(
    farm: Scenario, record: SeasonRecord, went: Went, stages: _Stages, closing: tuple[float, float]
) -> Iterator[Figure]:
    """Every figure of the season that was expected or counted; the closing balance last."""
    yield from _trees(farm, went)
    year, dearer, dry = stages.planned, stages.dearer, dry_per_kg_sold(farm)
    price = float(expected_price_path(farm)[0]) * farm.market.dry_price_per_kg * dry * dearer
    yield Figure("kg_sold", "kg", float(year.kg.sum()) / dry, None if stages.kg is None else stages.kg / dry)
    yield Figure("price_per_kg", "price", price, record.price_per_kg)
    family = np.minimum(year.days, year.family)
    yield Figure("family_days", "days", float(family.sum()), record.family_days)
    yield Figure("hired_days", "days", float((year.days - family).sum()), record.hired_days)
    said = stages.spent
    by_days = record.spent.wages is None and record.hired_days is not None
    for name, expected, counted in (
        ("spent_on_supplies", year.supplies, said.supplies),
        ("spent_on_wages", year.wages, None if by_days else said.wages),
        ("spent_on_household", year.living, said.household),
        ("other_income", year.income, record.other_income),
    ):
        yield Figure(name, "money", float(expected.sum()) * dearer, counted)
    for one in stages.signed:
        plan, entry, name = stages.plan_of(one), one.entry, one.loan.name
        lines = (plan.debt_service[:YEAR].sum(), plan.balance[YEAR - 1], plan.payout[:YEAR].sum())
        due, owed, came = map(float, lines)
        if one.withheld or (entry and entry.received):
            yield Figure("loan_received", "money", came, one.received if entry and entry.received else None, loan=name)
        if due or owed or entry is not None:
            yield Figure("loan_paid", "money", due, entry.paid_in_all if entry else None, loan=name)
            yield Figure("loan_owed", "money", owed, entry.owed if entry else None, loan=name)
    yield Figure("money_in_hand", "money", closing[0], None if record.money_in_hand is None else closing[1])


def _trees(farm: Scenario, went: Went) -> Iterator[Figure]:
    """Trees begun in the season, and trees that took in it, by stand and way."""
    counts: dict[tuple[str, str], list[float]] = {}

    def add(stand: str, technique: str, *numbers: float) -> None:
        sums = counts.setdefault((stand, technique), [0.0] * 4)
        counts[stand, technique] = [total + number for total, number in zip(sums, numbers, strict=True)]

    for entry in farm.plan:
        start = farm.month_of(entry.start)
        if entry.trees and start < YEAR:
            share = _share_planned(farm, start, farm.techniques[entry.technique])
            add(entry.stand, entry.technique, entry.trees, 0, entry.trees * share, 0)
    for waits in farm.under_way:
        add(waits.stand, waits.technique, 0, 0, waits.waiting * _share_waiting(farm, waits), 0)
    for group in _begun(farm, went):
        if group.start < YEAR:
            add(group.stand, group.technique, 0, group.trees, 0, 0)
    for group in went.groups:
        took = sum(n for n, month in zip(group.taken, group.tried, strict=True) if month >= 0)
        add(group.stand, group.technique, 0, 0, 0, took)
    for (stand, technique), (planned, begun, to_take, took) in counts.items():
        where = {"stand": stand, "technique": technique}
        if planned or begun:
            yield Figure("begun", "trees", planned, begun, **where)
        if to_take or took:
            yield Figure("took", "trees", to_take, took, **where)


def _share_planned(farm: Scenario, start: int, technique: Technique) -> float:
    """The share of trees begun in a month that is expected to take within the season."""
    appraisal = farm.appraisal
    calendar = appraisal.start_calendar_month
    tries = attempts(technique, np.array([start]), appraisal.months, start_calendar_month=calendar)
    return float(tries.succeeds[0, tries.month[0] < YEAR].sum())


def _share_waiting(farm: Scenario, entry: UnderWay) -> float:
    """The share of the trees under way that wait which is expected to take within the season."""
    technique, appraisal = farm.techniques[entry.technique], farm.appraisal
    start, calendar = farm.month_of(entry.start), appraisal.start_calendar_month
    made = np.asarray(months_of_tries(farm, entry), dtype=np.int64)
    tries = attempts_under_way(technique, start, made, appraisal.months, start_calendar_month=calendar)
    return float(tries.succeeds[made.size, tries.month[made.size] < YEAR].sum())
