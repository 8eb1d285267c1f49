"""Tables of the printed report that stand nowhere else: plan, stands, months, schedules, what the family states."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Literal

import numpy as np
from pydantic import BaseModel

from renovation.decide import Comparison
from renovation.decide.lending import Lending, LoanAppraisal
from renovation.farm import HouseholdCash, Labour
from renovation.inputs import Declared, Scenario, declared, unit_words
from renovation.show import tables
from renovation.show.cash_sentences import year_names
from renovation.show.sentences import rate, small_sum, way_name
from renovation.show.tables import NO_BREAK, Column, Table
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


def glance(lending: Lending, comparison: Comparison, words: Words) -> Table:
    """The figures that decide, one a row, each as it stands in the parts that follow."""
    cash, currency = lending.cash, lending.cash.currency
    side = cash.with_plan
    years = year_names(cash.start, side.gap_years, words) or words("lending.cell.none")
    lowest = {"money": words.round_money(side.deepest, currency), "month": words.month(cash.months[side.deepest_month])}
    rows = [
        (words("report.glance.gap_years"), years),
        (words("report.glance.deepest"), words("report.glance.money_in_month", **lowest)),
        (words("report.glance.reserve"), words.round_money(side.reserve_needed, currency)),
    ]
    for judged in lending.loans:
        rows += _loan_glance(judged, words)
    for key in dict.fromkeys(k for k in (comparison.headline, comparison.against, comparison.best) if k):
        cells = {name: tables.measure_cell(comparison, key, name, words) for name in ("npv", "payback_years")}
        name = way_name(comparison.scenario, key, words)
        rows.append((words("report.glance.way", way=name), words("report.glance.worth", **cells)))
    columns = (_column("what", words), _column("figure", words))
    return Table(words("report.table.glance"), columns, tuple(rows))


def _loan_glance(judged: LoanAppraisal, words: Words) -> list[tuple[str, str]]:
    """Whether a loan fits, its tightest year, the largest that fits."""
    verdict = judged.as_stated
    cover = verdict.cover_after_living
    lowest = _blank(words) if np.isnan(cover).all() else words.number(float(np.nanmin(cover)), 2)
    amount = verdict.largest.amount
    largest = words("lending.cell.none") if amount is None else words.money(amount, judged.currency)
    cells = {
        "fits": words(f"lending.cell.{'yes' if verdict.holds else 'no'}"),
        "cover": lowest,
        "largest": largest,
    }
    return [(words(f"report.glance.{key}", loan=judged.loan.name), cell) for key, cell in cells.items()]


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
    return Table(words("report.table.months"), columns, _monthly(cash.months[:months], shown.values(), words))


def _monthly(months: Sequence[str], series: Iterable[Any], words: Words) -> tuple[tuple[str, ...], ...]:
    """One row per month: its name and the figures, each column with the decimals that it needs."""
    columns = [[_amount(float(v), _digits(values), words) for v in values] for values in series]
    return tuple((_month(month, words), *cells) for month, *cells in zip(months, *columns, strict=True))


def _amount(value: float, digits: int, words: Words) -> str:
    """A number, or a dash for nothing."""
    return words.number(value, digits) if value else _blank(words)


def _digits(values: Any) -> int:
    """No decimals where the largest figure has three digits or more."""
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
    return Table(words("report.table.labour_months"), columns, _monthly(labour.months[:months], shown.values(), words))


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
    rows = _monthly([labour.months[m] for m in chosen], [values[chosen] for values in series.values()], words)
    return Table(words("report.table.short_months"), columns, rows)


# Loans


def loan_terms(judged: LoanAppraisal, words: Words) -> Table:
    """What the contract says, one term a row."""
    loan, currency = judged.loan, judged.currency
    paid_out = [
        words("report.cell.payout", month=words.month(p.month), money=words.money(p.share * loan.amount, currency))
        for p in loan.payouts
    ]
    cells = {
        "amount": words.money(loan.amount, currency),
        "payouts": ", ".join(paid_out),
        "rate_per_year": rate(loan.rate_per_year, words),
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
            rows.append((name, _value(value, said.unit, currency, words), unit, _source(said, value, words)))
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
    return words(f"report.unit.{unit}") if f"report.unit.{unit}" in words else unit_words(words, unit, currency)


def _source(said: Declared, value: Any, words: Words) -> str:
    """Whose number it is: the family's own, or the default with its source."""
    if said.required or value != said.default:
        return words("report.cell.stated_by_family")
    if said.source is None:
        return words("report.cell.left_at_default")
    source = words(f"source.{said.source}")
    if said.citation:
        source = words("cell.with_citation", source=source, citation=said.citation)
    return words("report.cell.default", source=source)
