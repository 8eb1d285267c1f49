"""The sheet of years: what the farm brings and costs with the plan and without it, and the change between them."""

import numpy as np

from renovation.decide.dossier import Dossier
from renovation.farm import by_year
from renovation.money import discount_factors, incremental, zero_small
from renovation.show.workbook.balance import difference, year_columns
from renovation.show.workbook.book import Book, Sheet
from renovation.show.workbook.months import TOP, new_kg_without
from renovation.show.workbook.table import SheetColumn, SheetTable, column
from renovation.show.workbook.trees import has_chance
from renovation.types import FloatArray


def parts_table(book: Book, sheet: Sheet, dossier: Dossier) -> SheetTable:
    """Crop, sales, days, supplies, tools and farm cash by year, with the plan beside without it."""
    plan, alone = dossier.flows.with_plan, dossier.flows.without
    new = "+".join(f"SUM({{plan.new_kg_{key}.year}})" for key in dossier.new_kg) or "0"
    new_without = "+".join(f"SUM({{alone.new_kg_{key}.year}})" for key in new_kg_without(dossier))
    begun = bool(dossier.flows.begun)

    def pair(key: str, kind: str = "flow") -> list[SheetColumn]:
        return [
            column(book, f"{key}_with", kind, by_year(getattr(plan, key)), f"=SUM({{plan.{key}.year}})"),
            column(book, f"{key}_without", kind, by_year(getattr(alone, key)), f"=SUM({{alone.{key}.year}})"),
        ]

    def without(key: str, values: FloatArray) -> list[SheetColumn]:
        return [column(book, f"{key}_without", "flow", by_year(values), f"=SUM({{alone.{key}.year}})")]

    chance = has_chance(dossier.scenario)
    paid, paid_without = (by_year(side.payments) for side in (plan, alone))
    between, between_without = by_year(plan.other_income - plan.payments), alone.other_income - alone.payments
    payments = [column(book, "payments_with", "flow", paid, "=SUM({plan.payments.year})")] if chance else []
    if chance and begun:
        formula = "=SUM({alone.payments.year})"
        payments.append(column(book, "payments_without", "flow", paid_without, formula))
    columns = [
        *year_columns(book, dossier),
        column(book, "old_kg_with", "kg", by_year(plan.old_kg), "=SUM({plan.old_kg.year})"),
        column(book, "new_kg_with", "kg", by_year(plan.new_kg), f"={new}"),
        column(book, "old_kg_without", "kg", by_year(alone.old_kg), "=SUM({alone.old_kg.year})"),
        *([column(book, "new_kg_without", "kg", by_year(alone.new_kg), f"={new_without}")] if begun else []),
        *pair("sales"),
        column(book, "between_with", "flow", between, "=SUM({plan.between.year})"),
        *(without("between", between_without) if begun else []),
        *payments,
        *pair("materials"),
        column(book, "tools_with", "flow", by_year(plan.tools), "=SUM({plan.tools.year})"),
        *(without("tools", alone.tools) if begun else []),
        *pair("days", "days"),
        *pair("hired_days", "days"),
        *pair("cash"),
    ]
    return SheetTable(book, sheet, TOP, columns)


def change_table(book: Book, sheet: Sheet, dossier: Dossier) -> SheetTable:
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
    # trees under way have a crop between them and tools without the plan too
    between, tools = (f"+SUM({{alone.{key}.year}})" if dossier.flows.begun else "" for key in ("between", "tools"))
    paid = "+SUM({plan.payments.year})" if has_chance(dossier.scenario) else ""
    if paid and dossier.flows.begun:
        between += "+SUM({alone.payments.year})"
    formulas = {
        "benefits_with": f"=SUM({{plan.sales.year}})+SUM({{plan.between.year}}){paid}",
        "benefits_without": f"=SUM({{alone.sales.year}}){between}",
        "costs_with": f"={labour % 'plan'}+SUM({{plan.materials.year}})+SUM({{plan.tools.year}})",
        "costs_without": f"={labour % 'alone'}+SUM({{alone.materials.year}}){tools}",
        "net_with": "=SUM({plan.economic.year})",
        "net_without": "=SUM({alone.economic.year})",
    }
    columns = [
        *year_columns(book, dossier),
        *(column(book, key, "flow", values[key], formula) for key, formula in formulas.items()),
        column(
            book,
            "benefits_change",
            "flow",
            incremental(values["benefits_with"], values["benefits_without"]),
            difference("benefits_with", "benefits_without"),
        ),
        column(
            book,
            "costs_change",
            "flow",
            incremental(values["costs_with"], values["costs_without"]),
            difference("costs_with", "costs_without"),
        ),
        column(book, "change", "flow", change, difference("net_with", "net_without")),
        column(book, "factor", "factor", factor, "=(1+discount_rate)^-{year}"),
        column(book, "discounted", "flow", discounted, "={change}*{factor}"),
        column(book, "total", "flow", total, "={total.before}+{change}", first="={change}"),
        column(
            book,
            "total_discounted",
            "flow",
            total_discounted,
            f"={{total_discounted.before}}+{_unless_small('discounted')}",
            first=f"={_unless_small('discounted')}",
        ),
        column(book, "behind", "count", number * _behind(total, flow), _behind_formula("total", "change")),
        column(
            book,
            "behind_discounted",
            "count",
            number * _behind(total_discounted, zero_small(discounted)),
            _behind_formula("total_discounted", "discounted"),
        ),
    ]
    return SheetTable(book, sheet, TOP, columns)


def _behind(total: FloatArray, flow: FloatArray) -> FloatArray:
    """1 in a year at whose end the running total is below zero (method §5, payback)."""
    return np.asarray(total < -1e-9 * np.abs(flow).max(), dtype=np.float64)


def _largest(key: str) -> str:
    return f"1E-9*MAX(MAX({{{key}.all}}),-MIN({{{key}.all}}))"


def _unless_small(key: str) -> str:
    return f"IF(ABS({{{key}}})<{_largest(key)},0,{{{key}}})"


def _behind_formula(total: str, flow: str) -> str:
    return f"=IF({{{total}}}<-{_largest(flow)},{{year}},0)"


def write_years(book: Book, table: SheetTable, key: str, plan: SheetTable, alone: SheetTable) -> None:
    """Write a table of years with its title."""
    book.text(table.sheet, 0, 0, book.words(f"workbook.sheet.{key}"), "title")
    book.note(table.sheet, book.words(f"workbook.about.{key}"), 1)
    table.write({"plan": plan, "alone": alone})
    book.pages(table.sheet, TOP - 1, (table.last_row, table.last_column), fixed_columns=2)
