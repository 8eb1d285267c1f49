"""Parts of next year's farm that have nothing to do with trees: prices and years moved on, loans, tools, money."""

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from renovation.decide.cohorts import YEAR, Note, Went
from renovation.decide.signed import signed_loans
from renovation.farm import household_cash
from renovation.inputs import Loan, Scenario, SeasonRecord, month_count, year_month
from renovation.inputs.guesses import at
from renovation.words import smallest_unit

Table = dict[str, Any]
MONEY = {"wage_per_day", "living_costs", "other_income", "savings", "floor", "price_per_kg", "deductions_per_kg"}
MONEY |= {"upkeep_inputs", "money_per_year", "value_per_family_day", "value", "low", "high"}
"""Keys under which tables hold money; a figure's value, low and high where the figure is money."""
BY_YEAR = ("scions_per_year", "plants_per_year", "money_per_year")


def dry_per_kg_sold(farm: Scenario) -> float:
    """Kilograms of dry beans in one kilogram as the farm sells them.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> dry_per_kg_sold(demo_scenario())
        1.0
    """
    return farm.market.wet_beans.dry_per_wet if farm.market.wet_beans else 1.0


def dry_kg_sold(farm: Scenario, record: SeasonRecord, went: Went) -> float | None:
    """Dry beans sold; of stands not weighed, where only stands were, what was expected. None where nothing was."""
    if record.kg is None:
        return None
    by_stand = record.kg_by_stand
    kg = record.kg * dry_per_kg_sold(farm)
    if all(sale.stand is not None for sale in record.sales if sale.kg is not None):
        kg += sum(went.kg_of(one.name) for one in farm.stands if not by_stand.keys() & {one.name, one.part_of})
    return kg


def moved_by_a_year(farm: Scenario, data: Table) -> Iterator[Note]:
    """Put money into constant prices of the new first month, and what is stated by project year a year on, in place."""
    dearer = 1 + farm.appraisal.inflation
    if dearer != 1:
        _in_new_prices(data, dearer)
        yield Note("moved.prices", {"inflation": farm.appraisal.inflation})
    for way in data["techniques"].values():
        for take in filter(None, (way["take"], way["take_without_shade"])):
            for edge in ("value", "low", "high"):
                take[edge] = take[edge][1:] or take[edge]
    planning = data["planning"]
    for key in BY_YEAR:
        if isinstance(planning[key], tuple):
            planning[key] = planning[key][1:] or planning[key]
    years = data["appraisal"]["horizon_years"]
    if planning["years"] is not None and planning["years"] > years:
        planning["years"] = years
        yield Note("moved.planning_years", {"n": years})


def _in_new_prices(data: Table, dearer: float) -> None:
    """Put all money of a scenario's tables into constant prices a year on; loans are nominal and stay."""

    def times(value: Any) -> Any:
        return tuple(map(times, value)) if isinstance(value, tuple) else value and value * dearer

    parts = [data["household"], data["market"], data["planning"], *data["stands"]]
    parts += [data["market"]["wet_beans"]] if data["market"]["wet_beans"] else []
    for way in data["techniques"].values():
        parts += [way["upkeep_inputs"], *(span["income"] for span in way["intercrop"])]
    parts += [item["unit_cost"] for item in data["supplies"]["items"].values()]
    parts += [tool["price"] for tool in data["supplies"]["tools"].values()]
    for part in parts:
        for key in MONEY & part.keys():
            part[key] = times(part[key])


def tools_left(farm: Scenario, went: Went) -> dict[str, float]:
    """Months that each tool still serves at the season's end: since its last purchase, or as it was owned."""
    left = {tool: months - YEAR for tool, months in farm.tools_owned.items()}
    for tool, pieces in went.flows.bought.items():
        when = np.flatnonzero(pieces[:YEAR])
        if when.size:
            left[tool] = float(when[-1] + farm.supplies.tools[tool].lasts_years.value * 12 - YEAR)
    return {tool: months for tool, months in left.items() if months > 0}


def loans_after(farm: Scenario, record: SeasonRecord, went: Went) -> tuple[tuple[Loan, ...], list[Note]]:
    """The loans that are running or still to come at the season's end, and what is assumed of each.

    What is owed is what the lender says; else the balance of the loan's account by what was paid, interest on what is
    late among it (`signed`). A payout that did not come is left out of the contract.
    """
    unit = smallest_unit(farm.appraisal.currency)
    signed = {one.loan.name: one for one in signed_loans(farm, record, went)}
    kept: list[Loan] = []
    notes: list[Note] = []
    for loan in farm.loans:
        if loan.name not in signed:
            kept.append(loan)
            continue
        one = signed[loan.name]
        for check in one.withheld:
            facts: Table = {"loan": loan.name, "money": check.money, "month": check.label, "n": check.missing}
            notes.append(Note(f"loan.{'trees_missing' if check.missing else 'withheld'}", facts))
        if one.paid_out is None or one.plan is None or one.account is None:
            notes.append(Note("loan.not_paid_out", {"loan": loan.name}))
            continue
        if one.plan.terms.first_month >= YEAR:  # what was to come in the season did not; the rest is to come
            kept.append(one.paid_out)
            continue
        entry, plan, due = one.entry, one.plan, float(one.account.due.sum())
        by_contract, owed = float(plan.balance[YEAR - 1]), float(one.account.balance[-1])
        stated = entry is not None and entry.owed is not None
        facts = {"loan": loan.name, "money": owed, "due": due, "paid": None if entry is None else entry.paid_in_all}
        if entry is not None and entry.owed is not None:
            if facts["paid"] is not None and abs(entry.owed - owed) > unit:
                notes.append(Note("loan.lender_differs", {**facts, "owed": entry.owed}, assumed=False))
            owed = facts["money"] = entry.owed
        over = plan.instalment_months[-1] < YEAR
        if over or owed < unit / 2:
            code = "loan.over_owed" if owed >= unit / 2 else "loan.over"
            notes.append(Note(code, facts, assumed=not stated))
            continue
        changes: Table = {"running": True, "owed": None}
        if loan.owed is not None or abs(owed - by_contract) > unit:
            changes["owed"] = round(owed / unit) * unit
        kept.append(Loan.model_validate({**one.paid_out.model_dump(), **changes}))
        code = "loan.owed" if stated else "loan.paid" if facts["paid"] is not None else "loan.contract"
        notes.append(Note(code, facts, assumed=not stated))
    return tuple(kept), notes


def offer_after(farm: Scenario, loans: Sequence[Loan], first: str, data: Table) -> Iterator[Note]:
    """A loan on offer a year later where its months have passed; none where it was taken or would end too late."""
    offer = farm.planning.loan
    if offer is None:
        return
    if offer.name.casefold() in [loan.name.casefold() for loan in loans]:
        data["planning"]["loan"] = None
        yield Note("offer.taken", {"loan": offer.name})
    elif min(payout.month for payout in offer.payouts) < first:
        moved = [year_month(month_count(payout.month) + YEAR) for payout in offer.payouts]
        table = data["planning"]["loan"]
        table["payouts"] = tuple({**old, "month": new} for old, new in zip(table["payouts"], moved, strict=True))
        late = farm.month_of(min(moved)) + offer.term_months >= farm.appraisal.months
        if late:
            data["planning"]["loan"] = None
        yield Note("offer.too_late" if late else "offer.moved", {"loan": offer.name, "month": min(moved)})


def savings_expected(farm: Scenario, record: SeasonRecord, went: Went) -> float:
    """Money in hand at the season's end, expected with all that is recorded, in money of the new first month.

    The balance B(11) with the trees as they were begun and took, each recorded sum in place of what was expected for
    it. Beans sold and their price stand for the year's sales less deductions.
    """
    flows, dearer = went.flows.with_plan, 1 + farm.appraisal.inflation
    cash = household_cash(went.flows.scenario, went.flows, farm.loans)
    side, year = cash.with_plan, slice(0, YEAR)

    def expected(*series: Any) -> float:
        return float(sum(line[year].sum() for line in series)) * dearer

    money = float(side.balance[YEAR - 1]) * dearer
    money += _sales(farm, record, went, expected(flows.sales), dearer) - expected(flows.sales)
    out = {
        "supplies": expected(flows.materials, flows.tools),
        "wages": expected(flows.wages),
        "household": expected(side.living_costs),
    }
    spent = {name: getattr(record.spent, name) for name in out}
    if spent["wages"] is None and record.hired_days is not None:
        spent["wages"] = record.hired_days * farm.household.wage_per_day * dearer
    whole = sum(out[name] if spent[name] is None else spent[name] for name in out)
    money += sum(out.values()) - (whole if record.spent.in_all is None else record.spent.in_all)
    if record.other_income is not None:
        money += record.other_income - expected(side.other_income)
    plans = {loan.name: plan for plan, loan in zip(cash.schedules, cash.loans, strict=True)}
    for one in signed_loans(farm, record, went):
        plan = plans[one.loan.name]
        money += float(plan.debt_service[year].sum()) - one.paid + one.received - float(plan.payout[year].sum())
    return money


def _sales(farm: Scenario, record: SeasonRecord, went: Went, expected: float, dearer: float) -> float:
    """The season's sales after deductions: what was weighed at the price got, each as expected where not recorded."""
    kg = float((went.flows.with_plan.old_kg + went.flows.with_plan.new_kg)[:YEAR].sum())
    dry = dry_per_kg_sold(farm)
    counted = dry_kg_sold(farm, record, went)
    sold = kg if counted is None else counted
    if record.price_per_kg is not None:
        return sold * (record.price_per_kg / dry - farm.market.deductions_per_kg * dearer)
    return expected * sold / kg if kg else 0.0


def guesses_after(farm: Scenario, data: Table, record: SeasonRecord) -> Table:
    """What is still a guess a year on: all that was one and that the record does not tell, its range moved with it.

    data: the tables of the new file. A crop or a price that was g and is a·g has a range a times as far; money in hand
    and trees, which move by a sum, have theirs moved by the same sum, and no lower than the file may hold.
    """
    by_stand = record.kg_by_stand
    all_weighed = any(sale.stand is None and sale.kg is not None for sale in record.sales)
    told = {
        *(["household.savings"] if record.money_in_hand is not None else []),
        *(["market.price_per_kg"] if record.price_per_kg is not None else []),
        *(
            f"stands.{place}.crop_per_tree"
            for place, stand in enumerate(farm.stands)
            if all_weighed or by_stand.keys() & {stand.name, stand.part_of}
        ),
    }
    kept = {}
    for path, guess in farm.guessed.items():
        before, after = at(farm, path), at(data, path)
        if path in told or not isinstance(after, int | float):
            continue
        if path.endswith((".savings", ".trees")):
            least = min(after, 0.0 if path.endswith(".savings") else 1.0)
            low, high = (max(end + after - before, least) for end in (guess.low, guess.high))
        else:
            factor = after / before if before else 1.0
            low, high = guess.low * factor, guess.high * factor
        kept[path] = {"low": min(low, after), "high": max(high, after)}  # products are rounded
    return kept
