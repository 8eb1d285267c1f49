"""Tables of the printed report that stand nowhere else: plan, stands, months, schedules, what the family states."""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, Literal

import numpy as np
from pydantic import BaseModel

from renovation.decide import Comparison, Swing
from renovation.decide.lending import Lending, LoanAppraisal
from renovation.farm import HouseholdCash, Labour, by_year
from renovation.inputs import Declared, Figure, Scenario, Technique, declared
from renovation.money import incremental
from renovation.show.cash.sentences import year_name
from renovation.show.compare.sentences import rate, small_sum, way_in_sentence, way_name
from renovation.show.compare.tables import NO_BREAK, Column, Table, figure_unit
from renovation.types import FloatArray
from renovation.words import Words

FIRST_YEARS = 3
"""Years that are shown month by month."""


def _column(key: str, words: Words, align: Literal["left", "right"] = "left", **facts: str) -> Column:
    return Column(key, words(f"report.column.{key}", **facts), align)


def _month(year_month: str, words: Words) -> str:
    return words.month(year_month, "abbreviated").replace(" ", NO_BREAK)


def _blank(words: Words) -> str:
    return words("measure_cell.blank")


# At a glance


def glance(lending: Lending, new_kg: FloatArray, words: Words) -> Table:
    """Each loan beside the new crop: paid out, first crop, first instalment, tightest coverage.

    new_kg: (T,) kg of the new crowns by month. Without a plan no crop is told, without a loan the crop alone.
    """
    crop = _crop_glance(lending.cash, new_kg, words) if lending.scenario.plan else {}
    loans = [_loan_glance(judged, crop, words) for judged in lending.loans] or [crop]
    rows = tuple((words(f"report.glance.{key}"), *(loan[key] for loan in loans)) for key in loans[0])
    names = [judged.loan.name for judged in lending.loans] or [words("report.column.figure")]
    columns = [Column(f"figure_{place}", name) for place, name in enumerate(names)]
    return Table(words("report.table.glance"), (_column("what", words), *columns), rows)


def _crop_glance(cash: HouseholdCash, new_kg: FloatArray, words: Words) -> dict[str, str]:
    """The first month with a crop from new crowns, and the first year in which the farm brings more for the plan."""
    first = np.flatnonzero(new_kg > 0)
    more = np.flatnonzero(incremental(by_year(cash.with_plan.farm_cash), by_year(cash.without.farm_cash)) > 0)
    none = words("lending.cell.none")
    return {
        "first_crop": words.month(cash.months[first[0]]) if first.size else none,
        "brings_more": year_name(cash.start, int(more[0]) + 1, words) if more.size else none,
    }


def _loan_glance(judged: LoanAppraisal, crop: Mapping[str, str], words: Words) -> dict[str, str]:
    """One loan in the order of its life, the crop between payout and first instalment."""
    verdict, cover = judged.as_stated, judged.as_stated.cover_after_living
    plan, tightest = verdict.schedule, int(np.nanargmin(cover))
    first = plan.first_instalment_month
    asked = words.money(float(plan.debt_service[first]), judged.currency)
    facts = {
        "cover": words.number(float(cover[tightest]), 2),
        "year": year_name(verdict.start, tightest + 1, words),
        "target": words.number(verdict.means.cover_target, 2),
    }
    return {
        "paid_out": _payouts(judged, words),
        **crop,
        "first_instalment": words("report.cell.payout", month=words.month(verdict.label(first)), money=asked),
        "cover": words("report.glance.cover_in_year", **facts),
    }


def _payouts(judged: LoanAppraisal, words: Words) -> str:
    """What is paid out, in which months."""
    loan = judged.loan
    paid = [(words.month(p.month), words.money(p.share * loan.amount, judged.currency)) for p in loan.payouts]
    return ", ".join(words("report.cell.payout", month=month, money=money) for month, money in paid)


def planned(scenario: Scenario, words: Words) -> str:
    """What the loan is for: how many trees the plan renews, when, by which ways."""
    if not scenario.plan:
        return words("report.plan.none")
    trees: Counter[str] = Counter()
    for treatment in scenario.plan:
        trees[treatment.technique] += treatment.trees
    months = sorted(treatment.start for treatment in scenario.plan)
    parts = [
        words("report.answer.plan_part", trees=words.number(n), way=way_in_sentence(scenario, key, words))
        for key, n in trees.most_common()
    ]
    facts = {"trees": words("unit.trees", n=trees.total()), "parts": words.listing(parts)}
    facts |= {"first": words.month(months[0]), "last": words.month(months[-1])}
    return words("report.answer.plan" if months[0] != months[-1] else "report.answer.plan_at_once", **facts)


SOURCES = ("published", "common practice", "from memory", "invented")


def sources(scenario: Scenario, comparison: Comparison, swings: Sequence[Swing], words: Words) -> str:
    """How many figures of the plan's ways are of which source, and where the one that moves the answer most is from."""
    used = dict.fromkeys(treatment.technique for treatment in scenario.plan) or scenario.techniques
    found = [str(figure.source) for key in used for figure in figures_below(scenario.techniques[key])]
    parts = [
        words("report.answer.source_part", n=words.number(found.count(name)), source=words(f"source.{name}"))
        for name in SOURCES
        if name in found
    ]
    if own := found.count("own"):
        parts.append(words("report.answer.source_part_own", n=words.number(own)))
    said = [words("report.answer.sources", n=words.number(len(found)), parts=words.listing(parts))]
    alone = [swing for swing in swings if swing.driver != "together" and swing.span]
    if alone and comparison.headline:
        driver = max(alone, key=lambda swing: swing.width).driver
        source = _source_of(driver, scenario, scenario.techniques[comparison.headline], words)
        said.append(words("report.answer.source_of", driver=words(f"compare.driver.{driver}"), source=source))
    return " ".join(said)


def _source_of(driver: str, scenario: Scenario, technique: Technique, words: Words) -> str:
    """The source of a figure that an answer rests on, in words; what is no figure of the way the family states."""
    figure = technique.old_crown.curve if driver == "old_crown" else getattr(technique, driver, None)
    if isinstance(figure, Figure) and figure.source != "own":
        return words(f"source.{figure.source}")
    return _stated_by(scenario, words)


def _stated_by(scenario: Scenario, words: Words) -> str:
    """Whose number one is that a scenario states: the family's own, or invented with the farm."""
    return words("source.invented" if scenario.about.invented else "report.cell.stated_by_family")


def figures_below(node: object) -> Iterator[Figure[Any]]:
    """Every figure below a model, a table or a list, in order."""
    if isinstance(node, Figure):
        yield node
    elif isinstance(node, BaseModel):
        for name in type(node).model_fields:
            yield from figures_below(getattr(node, name))
    elif isinstance(node, Mapping):
        for value in node.values():
            yield from figures_below(value)
    elif isinstance(node, tuple):
        for value in node:
            yield from figures_below(value)


# The plan


def plan(scenario: Scenario, words: Words) -> Table:
    """What the family means to do: month, trees, stand, way; the sum of trees last."""
    ordered = sorted(scenario.plan, key=lambda item: item.start)
    rows = [
        (words.month(t.start), t.stand, way_name(scenario, t.technique, words), words.number(t.trees)) for t in ordered
    ]
    total = sum(treatment.trees for treatment in ordered)
    rows.append((words("report.row.total"), "", "", words.number(total)))
    columns = (
        _column("start", words),
        _column("stand", words),
        _column("way", words),
        _column("trees", words, "right"),
    )
    return Table(words("report.table.plan"), columns, tuple(rows))


def stands(scenario: Scenario, words: Words) -> Table:
    """The farm's stands: trees, crop today, and how many of the trees the plan treats, by which ways."""
    rows = []
    for stand in scenario.stands:
        here = [treatment for treatment in scenario.plan if treatment.stand == stand.name]
        ways = dict.fromkeys(way_name(scenario, treatment.technique, words) for treatment in here)
        rows.append(
            (
                stand.name,
                words.number(stand.trees),
                words.number(stand.kg_per_tree, 2),
                words.number(stand.kg_per_tree * stand.trees, 0),
                words.number(sum(treatment.trees for treatment in here)),
                ", ".join(ways) or words("report.cell.left_as_is"),
            )
        )
    names = ("trees", "crop_per_tree", "crop", "treated")
    columns = (
        _column("stand", words),
        *(_column(name, words, "right") for name in names),
        _column("ways", words),
    )
    return Table(words("report.table.stands"), columns, tuple(rows))


# Month by month


def cash_months(cash: HouseholdCash, words: Words, years: int = FIRST_YEARS) -> Table:
    """The balance month by month in the first years: its parts with the plan, and the balance without it."""
    side = cash.with_plan
    months = min(12 * years, side.balance.size)
    always = ("farm_cash", "balance", "balance_without")
    series = {
        "farm_cash": side.farm_cash,
        "other_income": side.other_income,
        "living_costs": side.living_costs,
        "debt_service": side.debt_service,
        "loan_payout": side.loan_payout - side.loan_fee,
        "savings_interest": side.savings_interest,
        "balance": side.balance,
        "balance_without": cash.without.balance,
    }
    shown = {key: values[:months] for key, values in series.items() if key in always or values[:months].any()}
    sign = words.currency_sign(cash.currency)
    columns = (
        _column("month", words),
        *(_column(key, words, "right", currency=sign) for key in shown),
    )
    return Table(words("report.table.months"), columns, _monthly(cash.months[:months], shown, words))


def _monthly(months: Sequence[str], series: Mapping[str, Any], words: Words) -> tuple[tuple[str, ...], ...]:
    """One row per month: its name and the figures; days to a tenth, money with the decimals that its column needs."""
    columns = [
        [_amount(float(v), 1 if key in DAYS else _digits(values), words) for v in values]
        for key, values in series.items()
    ]
    return tuple((_month(month, words), *cells) for month, *cells in zip(months, *columns, strict=True))


DAYS = ("days", "family_days", "hired_days", "hired_limit", "short_days")


def _amount(value: float, digits: int, words: Words) -> str:
    """A number, or a dash for nothing."""
    return words.number(value, digits) if value else _blank(words)


def _digits(values: Any) -> int:
    """No decimals where the largest sum of money has three digits or more."""
    return 0 if float(np.abs(values).max(initial=0.0)) >= 100 else 1


def labour_months(labour: Labour, words: Words, years: int = FIRST_YEARS) -> Table:
    """The work month by month in the first years: in all, by the family, hired and its cost, days too few."""
    months = min(12 * years, labour.days.size)
    series = {
        "days": labour.days,
        "family_days": labour.family_days,
        "hired_days": labour.hired_days,
        "hired_cost": labour.hired_cost,
        "short_days": labour.short_days,
    }
    shown = {key: values[:months] for key, values in series.items() if key != "short_days" or values[:months].any()}
    sign = words.currency_sign(labour.currency)
    columns = (
        _column("month", words),
        *(_column(key, words, "right", currency=sign) for key in shown),
    )
    return Table(words("report.table.labour_months"), columns, _monthly(labour.months[:months], shown, words))


def short_months(labour: Labour, words: Words) -> Table:
    """Every month in which there are not enough hands: the work, the family, the most to be hired, what is missing."""
    chosen = list(labour.short_months)
    limit = labour.hired_days - labour.short_days
    series = {
        "days": labour.days,
        "family_days": labour.family_days,
        "hired_limit": limit,
        "short_days": labour.short_days,
    }
    columns = (_column("month", words), *(_column(key, words, "right") for key in series))
    rows = _monthly([labour.months[m] for m in chosen], {key: values[chosen] for key, values in series.items()}, words)
    return Table(words("report.table.short_months"), columns, rows)


# Loans


def loan_terms(judged: LoanAppraisal, words: Words) -> Table:
    """What the contract says, one term a row."""
    loan, currency = judged.loan, judged.currency
    cells = {
        "amount": words.money(loan.amount, currency),
        "payouts": _payouts(judged, words),
        "rate_per_year": _contract_rate(loan.rate_per_year, words),
        "term_months": words.span(loan.term_months / 12),
        "grace_months": words.span(loan.grace_months / 12),
        "grace_interest": words(f"report.grace_interest.{loan.grace_interest}"),
        "repayment": words(f"report.repayment.{loan.repayment}"),
        "harvest_months": words.listing([words.month_name(month) for month in loan.harvest_months]),
        "fee_share": rate(loan.fee_share, words),
    }
    left_out = set() if loan.repayment == "harvest" else {"harvest_months"}
    left_out |= set() if loan.grace_months else {"grace_interest"}
    rows = [(words(f"field.Loan.{key}.label"), cell) for key, cell in cells.items() if key not in left_out]
    columns = (_column("term", words), _column("contract", words))
    return Table(words("report.table.terms", loan=loan.name), columns, tuple(rows))


def _contract_rate(rate_per_year: float, words: Words) -> str:
    """The nominal rate of a contract, and what it comes to in a year: (1 + j/12)^12 − 1."""
    effective = (1 + rate_per_year / 12) ** 12 - 1
    stated = rate(rate_per_year, words)
    return words("report.cell.rate", rate=stated, effective=words.percent(effective, 2)) if rate_per_year else stated


SCHEDULE = ("payout", "fee", "interest_added", "interest", "principal", "debt_service", "balance")
ALWAYS = ("interest", "principal", "debt_service", "balance")


def loan_schedule(judged: LoanAppraisal, words: Words) -> Table:
    """The contract month by month in its own money, from the first payout to the last instalment; sums last."""
    plan, currency = judged.as_stated.schedule, judged.currency
    first, last = plan.terms.first_month, max(plan.instalment_months[-1], plan.terms.first_month)
    digits = len(words.money(0, currency).partition(words.decimal_sign())[2])
    series = {name: getattr(plan, name)[first : last + 1] for name in SCHEDULE}
    shown = [name for name in SCHEDULE if name in ALWAYS or series[name].any()]
    rows = [
        (
            _month(judged.as_stated.label(first + at), words),
            *(_amount(float(series[n][at]), digits, words) for n in shown),
        )
        for at in range(last + 1 - first)
    ]
    sums = ["" if n == "balance" else _amount(float(series[n].sum()), digits, words) for n in shown]
    rows.append((words("report.row.total"), *sums))
    sign = words.currency_sign(currency)
    columns = (
        _column("month", words),
        *(Column(n, words(f"report.schedule.{n}", currency=sign), "right") for n in shown),
    )
    return Table(words("report.table.schedule", loan=judged.loan.name), columns, tuple(rows))


# What the family states

INPUTS: Mapping[str, Callable[[Scenario], BaseModel | None]] = {
    "appraisal": lambda scenario: scenario.appraisal,
    "household": lambda scenario: scenario.household,
    "market": lambda scenario: scenario.market,
    "wet_beans": lambda scenario: scenario.market.wet_beans,
    "loan_test": lambda scenario: scenario.loan_test,
}
"""The parts of a scenario that the family states as plain numbers; stands and loans have tables of their own."""


def stated(scenario: Scenario, words: Words) -> Table:
    """Every number that the family states of household, market, time and loan test; defaults name their source."""
    currency = scenario.appraisal.currency
    rows = []
    for part in INPUTS.values():
        model = part(scenario)
        for said, value in _fields(model) if model else ():
            if value is None or value == {}:
                continue
            name, unit = words(said.label_key), _unit(said.unit, currency, words)
            rows.append((name, _value(value, said.unit, currency, words), unit, _source(said, value, scenario, words)))
    columns = tuple(_column(key, words) for key in ("what", "value", "unit", "source"))
    return Table(words("report.table.stated"), columns, tuple(rows))


def stated_stands(scenario: Scenario, words: Words) -> Table:
    """Every number that the family states of each stand, one stand a column."""
    currency = scenario.appraisal.currency
    rows: dict[str, list[str]] = {}
    units: dict[str, str] = {}
    for place, stand in enumerate(scenario.stands):
        for model in (stand, stand.pods):
            for said, value in _fields(model) if model else ():
                name = words(said.label_key)
                if value is None or said.field == "name" or not said.unit:
                    continue
                units[name] = _unit(said.unit, currency, words)
                cells = rows.setdefault(name, [_blank(words)] * len(scenario.stands))
                cells[place] = _value(value, said.unit, currency, words)
    columns = (
        _column("what", words),
        _column("unit", words),
        *(Column(f"stand_{place}", stand.name, "right") for place, stand in enumerate(scenario.stands)),
    )
    stated_rows = tuple((name, units[name], *row) for name, row in rows.items())
    return Table(words("report.table.stated_stands"), columns, stated_rows)


def season(scenario: Scenario, words: Words) -> Table:
    """The share of the year's crop in each month, January to December."""
    shares = scenario.market.season.shares
    columns = (
        _column("what", words),
        *(Column(f"month_{m}", words.month_name(m, "abbreviated"), "right") for m in range(1, len(shares) + 1)),
    )
    row = (words("report.row.share"), *(words.percent(share, 1) if share else _blank(words) for share in shares))
    return Table(words("report.table.season"), columns, (row,))


def _fields(model: BaseModel) -> list[tuple[Declared, Any]]:
    """The fields of a model that are plain values, with their declarations."""
    found = [(declared(type(model), name), getattr(model, name)) for name in type(model).model_fields]
    return [(said, value) for said, value in found if not isinstance(value, BaseModel)]


def _value(value: Any, unit: str, currency: str, words: Words) -> str:
    """A stated value in words."""
    if isinstance(value, bool):
        return words(f"lending.cell.{'yes' if value else 'no'}")
    if isinstance(value, str):
        return words.month(value) if unit == "year-month" else value
    if isinstance(value, dict):
        named = [(words.name("material", k), _value(v, unit, currency, words)) for k, v in value.items()]
        return ", ".join(words("report.cell.named", name=name, value=cell) for name, cell in named)
    if isinstance(value, tuple):
        months = [
            words("report.cell.named", name=words.month_name(m, "abbreviated"), value=_value(v, unit, currency, words))
            for m, v in enumerate(value, start=1)
        ]
        return ", ".join(cell.replace(" ", NO_BREAK) for cell in months)
    if unit.startswith("money"):
        return small_sum(value, currency, words)
    if unit.startswith("share"):
        return rate(value, words)
    return words.number(value)


def _unit(unit: str, currency: str, words: Words) -> str:
    """The unit beside a stated value; shares are shown as percent, and money carries its sign already."""
    return words(f"report.unit.{unit}") if f"report.unit.{unit}" in words else figure_unit(unit, currency, words)


def _source(said: Declared, value: Any, scenario: Scenario, words: Words) -> str:
    """Whose number it is: what the scenario states, or the default with its source."""
    if said.required or value != said.default:
        return _stated_by(scenario, words)
    if said.source is None:
        return words("report.cell.left_at_default")
    source = words(f"source.{said.source}")
    if said.citation:
        source = words("cell.with_citation", source=source, citation=said.citation)
    return words("report.cell.default", source=source)
