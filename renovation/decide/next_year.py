"""Next year's farm: this year's and a season's record make the farm twelve months on (method §11).

    crop today        today · (1 − δ) · (1 + e) / 2,  e = kg weighed / kg expected with the trees as they were
    money             × (1 + π): constant prices of the new first month; loans stay as their contracts state them
    savings           as counted, else as expected with all that is recorded
    trees under way   from the record (`cohorts`); a try that was due and not made falls in the new first month

Takes and prices by project year move on by a year, and so do limits by year. Later starts of the old plan are kept: the
plan carried on. Nothing is silent: every figure that was taken over or assumed has its note.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from renovation.decide.cohorts import YEAR, Group, Note, Went, season_went
from renovation.decide.held import as_held
from renovation.decide.next_parts import (
    dry_per_kg_sold,
    guesses_after,
    loans_after,
    moved_by_a_year,
    offer_after,
    savings_expected,
    tools_left,
)
from renovation.farm import expected_price_path
from renovation.inputs import (
    FrozenDict,
    GraftRecord,
    Problem,
    Scenario,
    ScenarioError,
    SeasonRecord,
    Treatment,
    UnderWay,
    month_count,
    year_month,
)
from renovation.inputs.findings import problems_of
from renovation.inputs.planning import WorkDone
from renovation.inputs.season_checks import trees_begun

Table = dict[str, Any]


@dataclass(frozen=True)
class NextYear:
    """The farm twelve months on, and line by line what was taken over and what was assumed."""

    farm: Scenario
    notes: tuple[Note, ...]


@dataclass(frozen=True)
class Carried:
    """The parts of next year's file: its tables, and apart from them what counts trees and money."""

    tables: Table
    under_way: tuple[UnderWay, ...]
    plan: tuple[Treatment, ...]
    savings: float
    notes: tuple[Note, ...]
    nothing_left: bool
    """Whether every tree is under way: no file can hold such a farm, for it would have nothing to compare."""


def next_year(farm: Scenario, record: SeasonRecord, *, as_planned: bool = False) -> NextYear:
    """The farm that starts twelve months later, with what the record says and the rest as expected.

    The record fits the farm: `inputs.season_problems` finds nothing. as_planned: whether planned starts and due tries
    of which nothing is recorded went as expected; else they were not made. Errors: ScenarioError for a farm in its last
    year, for money that is reckoned below 0 and was not counted, for a farm whose every tree is under way,
    and for what the new file would not accept.

    Example:
        >>> from renovation.inputs import SeasonRecord, demo_scenario
        >>> farm = demo_scenario("few_hands")
        >>> later = next_year(farm, SeasonRecord(season=farm.appraisal.start, money_in_hand=90000.0)).farm
        >>> later.appraisal.start, later.appraisal.horizon_years, later.household.savings
        ('2027-09', 24, 90000.0)
    """
    if farm.appraisal.horizon_years == 1:
        raise _refused("last_year")
    carried = carry_on(farm, record, as_planned=as_planned)
    if carried.savings < 0:
        raise _refused("money_below_zero", money=-carried.savings, currency=farm.appraisal.currency)
    if carried.nothing_left:
        raise _refused("nothing_left")
    data = {
        **carried.tables,
        "under_way": tuple(entry.model_dump() for entry in carried.under_way),
        "plan": tuple(entry.model_dump() for entry in carried.plan),
        "household": {**carried.tables["household"], "savings": carried.savings},
    }
    data["guessed"] = guesses_after(farm, data, record)
    try:
        return NextYear(Scenario.model_validate(data), carried.notes)
    except ValidationError as error:
        raise ScenarioError(*problems_of(error, Scenario, data, currency=farm.appraisal.currency)) from None


def carry_on(farm: Scenario, record: SeasonRecord, *, as_planned: bool = False) -> Carried:
    """The parts of next year's file; numbers of trees need not be whole, and nothing is validated."""
    # what is expected of the season is what was held when it began; the new file states takes as the old one did
    went = season_went(as_held(farm, farm.plan), record, as_planned=as_planned)
    first = year_month(month_count(farm.appraisal.start) + YEAR)
    years = farm.appraisal.horizon_years - 1
    data = farm.model_dump(exclude={"under_way", "plan"})
    data["appraisal"] |= {"start": first, "horizon_years": years}
    notes = [Note("moved.start", {"month": first, "n": years}, assumed=False), *went.notes]
    notes += moved_by_a_year(farm, data)
    notes += _crops(farm, record, went, data)
    notes += _price(farm, record, data)
    data["tools_owned"] = tools_left(farm, went)
    loans, said = loans_after(farm, record, went)
    data["loans"] = tuple(loan.model_dump() for loan in loans)
    standing = tuple(went.standing())
    for stand in data["stands"]:
        gone = int(went.emptied.get(stand["name"], 0))
        stand |= {"trees": stand["trees"] - gone, "empty_places": stand["empty_places"] + gone}
    free = _free(farm, standing, data)
    plan, more = _plan_carried_on(farm, standing, dict(free))
    notes += [*said, *more, *_records(farm, record, data), *offer_after(farm, loans, first, data)]
    _comparison(farm, free, data)
    if any(stand.tree_loss_per_year for stand in farm.stands):
        notes.append(Note("trees.to_count", {}))
    counted = record.money_in_hand is not None
    savings = record.money_in_hand if record.money_in_hand is not None else savings_expected(farm, record, went)
    notes.append(Note("money.counted" if counted else "money.expected", {"money": savings}, assumed=not counted))
    under_way = tuple(group.entry(farm) for group in standing)
    nothing_left = not any(trees > 0 for (_, works_on), trees in free.items() if works_on == "trees")
    return Carried(data, under_way, plan, savings, tuple(notes), nothing_left)


def _crops(farm: Scenario, record: SeasonRecord, went: Went, data: Table) -> Iterator[Note]:
    """Today's crop of each stand, corrected half-way to what was weighed."""
    by_stand, dry = record.kg_by_stand, dry_per_kg_sold(farm)
    weighed_as = {s.name: s.part_of if s.part_of in by_stand else s.name for s in farm.stands}
    expected: dict[str | None, float] = {}
    for stand, weighed in weighed_as.items():
        expected[weighed] = expected.get(weighed, 0.0) + went.kg_of(stand)
    only_by_stand = all(sale.stand is not None for sale in record.sales if sale.kg is not None)
    of_all = sum(kg for name, kg in expected.items() if name in by_stand or not only_by_stand)
    ratio = record.kg * dry / of_all if record.kg is not None and of_all else 1.0
    for stand in data["stands"]:
        name = stand["name"]
        weighed = weighed_as[name]
        e = by_stand[weighed] * dry / expected[weighed] if weighed in by_stand and expected[weighed] else ratio
        part, key = (stand["pods"], "pods_per_tree") if stand["pods"] else (stand, "crop_per_tree")
        part[key] *= (1 - stand["decline_per_year"]) * (1 + e) / 2
        facts = {"stand": name, "share": e, "n": part[key]}
        yield Note("crop.weighed" if record.kg is not None else "crop.expected", facts, assumed=record.kg is None)


def _price(farm: Scenario, record: SeasonRecord, data: Table) -> Iterator[Note]:
    """The price got in place of a constant price, or of today's of a reverting path; a typed path moves on."""
    market, risk, got = data["market"], data["risk"], record.price_per_kg
    part = market["wet_beans"] or market
    if farm.risk.price_path == "typed":
        risk["price_by_year"] = risk["price_by_year"][1:] or risk["price_by_year"]
        if got:
            yield Note("price.typed", {"price": got})
        return
    level = part["price_per_kg"] * risk["long_run_price"]
    if farm.risk.price_path == "reverting":
        part["price_per_kg"] *= float(expected_price_path(farm)[0])
    if got:
        part["price_per_kg"] = got
    if farm.risk.price_path == "reverting" and part["price_per_kg"]:
        risk["long_run_price"] = level / part["price_per_kg"]
    code = "price.got" if got else "price.expected"
    yield Note(code, {"price": part["price_per_kg"]}, assumed=not got)


Free = dict[tuple[str, str], float]
"""By stand and by what is worked on, the trees or empty places that are not under way."""


def _free(farm: Scenario, standing: Sequence[Group], data: Table) -> Free:
    """What is left for a plan at the season's end."""
    free: Free = {}
    for stand in data["stands"]:
        free[stand["name"], "trees"] = stand["trees"]
        free[stand["name"], "empty places"] = stand["empty_places"]
    for group in standing:
        free[group.stand, farm.techniques[group.technique].works_on] -= group.trees
    return free


def _plan_carried_on(farm: Scenario, standing: Sequence[Group], free: Free) -> tuple[tuple[Treatment, ...], list[Note]]:
    """Later starts of the old plan, the earliest first, on trees that are still free; what is left out of them."""
    begun = {(group.stand, group.technique, group.start) for group in standing}
    plan, notes = [], []
    for entry in sorted(farm.plan, key=lambda entry: entry.start):
        start, technique = farm.month_of(entry.start), farm.techniques[entry.technique]
        facts = {"stand": entry.stand, "technique": entry.technique, "month": entry.start}
        if start < YEAR or (entry.stand, entry.technique, start) in begun:
            continue
        here = entry.stand, technique.works_on
        trees = int(min(entry.trees, free[here])) if start + technique.earliest_month >= YEAR else 0
        if trees < entry.trees:
            code = "plan.fewer" if start + technique.earliest_month >= YEAR else "plan.no_nursery"
            notes.append(Note(code, {**facts, "n": entry.trees, "left": trees}))
        if trees > 0:
            free[here] -= trees
            plan.append(entry.model_copy(update={"trees": trees}))
    if plan:
        notes.insert(0, Note("plan.carried_on", {"n": sum(entry.trees for entry in plan)}, assumed=False))
    return tuple(plan), notes


def _records(farm: Scenario, record: SeasonRecord, data: Table) -> Iterator[Note]:
    """Grafts counted this season join the records of the seasons before, one for each way."""
    sums: dict[str, list[int]] = {}
    for cohort in record.cohorts:
        for one in cohort.tries:
            if one.made and one.taken is not None:
                total = sums.setdefault(cohort.technique, [0, 0])
                total[0], total[1] = total[0] + one.made, total[1] + one.taken
    for key, (made, taken) in sums.items():
        if made == taken and min(farm.techniques[key].take.value) == 1:
            continue  # a way that cannot fail has nothing to learn
        work = _work(farm, record, key, made, taken)
        names: Table = {"technique": key, "season": farm.appraisal.start, "work": work}
        entry = GraftRecord.model_construct(**names, made=made, taken=taken)
        data["planning"]["records"] = (*data["planning"]["records"], entry.model_dump(warnings=False))
        yield Note("records.added", {"technique": key, "made": made, "took": taken}, assumed=False)


def _work(farm: Scenario, record: SeasonRecord, key: str, made: int, taken: int) -> dict[str, WorkDone]:
    """Days of each operation of a way that were counted, where it was done on any tree of the record."""
    begun = sum(trees_begun(cohort) for cohort in record.cohorts if cohort.technique == key and cohort.tries)
    found = {}
    for row in record.days:
        if row.technique != key or row.operation is None or row.family is row.hired is None:
            continue
        anchor = farm.techniques[key].operations[row.operation].anchor
        trees = {"start": begun, "established": taken, "never": made - taken}.get(anchor, made)
        if trees > 0:
            days = (row.family or 0.0) + (row.hired or 0.0)
            found[row.operation] = WorkDone(days=days, trees=trees if anchor == "start" else None)
    return found


def _comparison(farm: Scenario, left: Free, data: Table) -> None:
    """Weigh no more trees than are free, and where the stand has none left those of the first that has."""
    free = {name: trees for (name, works_on), trees in left.items() if works_on == "trees"}
    comparison = data["comparison"]
    name = comparison["stand"] or farm.stands[0].name
    if free[name] <= 0:
        comparison["stand"] = next((other for other, trees in free.items() if trees > 0), comparison["stand"])
        comparison["trees"] = None
    elif comparison["trees"] is not None and comparison["trees"] > free[name]:
        comparison["trees"] = None


def _refused(code: str, **facts: Any) -> ScenarioError:
    return ScenarioError([Problem("", "", f"next_error.{code}", facts=FrozenDict(facts))])
