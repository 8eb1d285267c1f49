"""The sheet of years: what the farm brings and costs with the plan and without it, and the change between them."""

import numpy as np

from renovation.decide.dossier import Dossier
from renovation.farm import by_year
from renovation.money import discount_factors, incremental, zero_small
from renovation.show.workbook.balance import difference, year_columns
from renovation.show.workbook.book import Book, Sheet
from renovation.show.workbook.months import TOP
from renovation.show.workbook.table import Column, Table, numbers
from renovation.types import FloatArray


def _column(
    book: Book, key: str, values: FloatArray, formula: str, first: str | None = None, kind: str = "flow"
) -> Column:
    head = book.words(f"workbook.column.{key}", currency=book.currency)
    return Column(key, head, kind, numbers(values), formula, first, width=12)


def parts_table(book: Book, sheet: Sheet, dossier: Dossier) -> Table:
    """Crop, sales, days, supplies, tools and farm cash by year, with the plan beside without it."""
    plan, alone = dossier.flows.with_plan, dossier.flows.without
    new = "+".join(f"SUM({{plan.new_kg_{key}.year}})" for key in dossier.new_kg) or "0"

    def pair(key: str, kind: str = "flow") -> list[Column]:
        return [
            _column(book, f"{key}_with", by_year(getattr(plan, key)), f"=SUM({{plan.{key}.year}})", kind=kind),
            _column(book, f"{key}_without", by_year(getattr(alone, key)), f"=SUM({{alone.{key}.year}})", kind=kind),
        ]

    columns = [
        *year_columns(book, dossier),
        _column(book, "old_kg_with", by_year(plan.old_kg), "=SUM({plan.old_kg.year})", kind="kg"),
        _column(book, "new_kg_with", by_year(plan.new_kg), f"={new}", kind="kg"),
        _column(book, "old_kg_without", by_year(alone.old_kg), "=SUM({alone.old_kg.year})", kind="kg"),
        *pair("sales"),
        _column(book, "between_with", by_year(plan.other_income), "=SUM({plan.between.year})"),
        *pair("materials"),
        _column(book, "tools_with", by_year(plan.tools), "=SUM({plan.tools.year})"),
        *pair("days", "days"),
        *pair("hired_days", "days"),
        *pair("cash"),
    ]
    return Table(book, sheet, TOP, columns)


def change_table(book: Book, sheet: Sheet, dossier: Dossier) -> Table:
    """The economic account by year, the change, and what its measures are worked out with."""
    rate, years = dossier.scenario.appraisal.discount_rate, dossier.years
    plan, alone = dossier.flows.with_plan, dossier.flows.without
    values = {
        "benefits_with": by_year(plan.benefits),
        "benefits_without": by_year(alone.benefits),
        "costs_with": by_year(plan.costs),
        "costs_without": by_year(alone.costs),
    }
    values["net_with"], values["net_without"] = by_year(plan.economic), by_year(alone.economic)
    change = dossier.change_by_year
    factor = discount_factors(rate, years)
    flow = zero_small(change)
    discounted = flow * factor
    total, total_discounted = np.cumsum(flow), np.cumsum(zero_small(discounted))
    number = np.arange(1.0, years + 1)
    labour = "SUM({%s.days.year})*wage_per_day*labour_value"
    formulas = {
        "benefits_with": "=SUM({plan.sales.year})+SUM({plan.between.year})",
        "benefits_without": "=SUM({alone.sales.year})",
        "costs_with": f"={labour % 'plan'}+SUM({{plan.materials.year}})+SUM({{plan.tools.year}})",
        "costs_without": f"={labour % 'alone'}+SUM({{alone.materials.year}})",
        "net_with": "=SUM({plan.economic.year})",
        "net_without": "=SUM({alone.economic.year})",
    }
    columns = [
        *year_columns(book, dossier),
        *(_column(book, key, values[key], formula) for key, formula in formulas.items()),
        _column(
            book,
            "benefits_change",
            incremental(values["benefits_with"], values["benefits_without"]),
            difference("benefits_with", "benefits_without"),
        ),
        _column(
            book,
            "costs_change",
            incremental(values["costs_with"], values["costs_without"]),
            difference("costs_with", "costs_without"),
        ),
        _column(book, "change", change, difference("net_with", "net_without")),
        _column(book, "factor", factor, "=(1+discount_rate)^-{year}", kind="factor"),
        _column(book, "discounted", discounted, "={change}*{factor}"),
        _column(book, "total", total, "={total.before}+{change}", first="={change}"),
        _column(
            book,
            "total_discounted",
            total_discounted,
            f"={{total_discounted.before}}+{_unless_small('discounted')}",
            first=f"={_unless_small('discounted')}",
        ),
        _column(book, "behind", number * _behind(total, flow), _behind_formula("total", "change"), kind="count"),
        _column(
            book,
            "behind_discounted",
            number * _behind(total_discounted, zero_small(discounted)),
            _behind_formula("total_discounted", "discounted"),
            kind="count",
        ),
    ]
    return Table(book, sheet, TOP, columns)


def _behind(total: FloatArray, flow: FloatArray) -> FloatArray:
    """1 in a year at whose end the running total is below zero (method §5, payback)."""
    return np.asarray(total < -1e-9 * np.abs(flow).max(), dtype=np.float64)


def _largest(key: str) -> str:
    return f"1E-9*MAX(MAX({{{key}.all}}),-MIN({{{key}.all}}))"


def _unless_small(key: str) -> str:
    return f"IF(ABS({{{key}}})<{_largest(key)},0,{{{key}}})"


def _behind_formula(total: str, flow: str) -> str:
    return f"=IF({{{total}}}<-{_largest(flow)},{{year}},0)"


def write_years(book: Book, table: Table, key: str, plan: Table, alone: Table) -> None:
    """Write a table of years with its title."""
    book.text(table.sheet, 0, 0, book.words(f"workbook.sheet.{key}"), "title")
    book.text(table.sheet, 1, 0, book.words(f"workbook.about.{key}"), "note")
    table.write({"plan": plan, "alone": alone})
    book.pages(table.sheet, TOP - 1, (table.last_row, table.last_column), fixed_columns=2)
