"""The household's balance by month and its years (method §6), in constant prices of the first month."""

from collections.abc import Sequence

import numpy as np

from renovation.decide.dossier import Dossier
from renovation.farm import by_year
from renovation.farm.labour import DUST
from renovation.show.workbook.book import Book, Sheet, quoted
from renovation.show.workbook.loans import BALANCE_SCALE, LoanSheet
from renovation.show.workbook.months import TOP, time_columns
from renovation.show.workbook.table import SheetColumn, SheetTable, Value, column, numbers
from renovation.types import FloatArray

CHART_TYPE = {"size": 10}
"""Type of a chart, as large as that of the cells."""
CHART_ROWS, PIXELS = 24, 17
"""Rows that a chart takes, and their height."""
SCALE_COLUMN = 11


def balance_table(book: Book, sheet: Sheet, dossier: Dossier) -> SheetTable:
    """Lay out the balance with the plan, and without it."""
    side, without = dossier.cash.with_plan, dossier.cash.without
    loans = [f"loan_{number}" for number in range(1, len(dossier.loans) + 1)]
    running = [name for name, (loan, _) in zip(loans, dossier.loans, strict=True) if loan.running]
    deflator = (1 + dossier.scenario.appraisal.inflation) ** ((np.arange(dossier.months) + 1) / 12)
    lowest = side.balance <= side.balance.min() + DUST * np.abs(side.balance).max()

    def real(line: str, loans: Sequence[str] = loans) -> str:
        """Nominal money of all loans, or of some, in constant prices."""
        return "=(" + "+".join(f"{{{loan}.{line}}}" for loan in loans) + ")/{deflator}" if loans else "=0"

    interest = "=savings_rate_per_month*MAX(0,{%s})"
    flows = "{farm_cash}+{other_income}-{living_costs}+{loan_payout}-{loan_fee}-{debt_service}+{savings_interest}"
    flows_without = "{farm_cash_without}+{other_income}-{living_costs}+{savings_interest_without}"
    if running:
        flows_without += "+{loan_payout_without}-{loan_fee_without}-{debt_service_without}"
    lines = {"loan_payout": "payout", "loan_fee": "fee", "debt_service": "service"}
    columns = [
        *time_columns(book, dossier),
        column(book, "deflator", "factor", deflator, "=(1+inflation)^({n}/12)"),
        column(book, "farm_cash", "flow", side.farm_cash, "={plan.cash}"),
        column(book, "other_income", "flow", side.other_income, "=INDEX(other_income_by_month,{calendar})"),
        column(book, "living_costs", "flow", side.living_costs, "=INDEX(living_costs_by_month,{calendar})"),
        column(book, "loan_payout", "flow", side.loan_payout, real("payout")),
        column(book, "loan_fee", "flow", side.loan_fee, real("fee")),
        column(book, "debt_service", "flow", side.debt_service, real("service")),
        column(
            book,
            "savings_interest",
            "flow",
            side.savings_interest,
            interest % "balance.before",
            first="=savings_rate_per_month*MAX(0,savings)",
        ),
        column(book, "balance", "flow", side.balance, f"={{balance.before}}+{flows}", first=f"=savings+{flows}"),
        column(book, "farm_cash_without", "flow", without.farm_cash, "={alone.cash}"),
        *(
            column(book, f"{key}_without", "flow", getattr(without, key), real(line, running))
            for key, line in lines.items()
            if running
        ),
        column(
            book,
            "savings_interest_without",
            "flow",
            without.savings_interest,
            interest % "balance_without.before",
            first="=savings_rate_per_month*MAX(0,savings)",
        ),
        column(
            book,
            "balance_without",
            "flow",
            without.balance,
            f"={{balance_without.before}}+{flows_without}",
            first=f"=savings+{flows_without}",
        ),
        column(
            book,
            "lowest",
            "count",
            lowest.astype(np.float64),
            f"=IF({{balance}}<=MIN({{balance.all}})+1E-9*{BALANCE_SCALE},1,0)",
        ),
    ]
    return SheetTable(book, sheet, TOP, columns)


def write_balance(
    book: Book, table: SheetTable, dossier: Dossier, plan: SheetTable, alone: SheetTable, loans: Sequence[LoanSheet]
) -> None:
    """Write the balance sheet; months that end below the floor stand out."""
    sheet, balance = table.sheet, table["balance"].all
    largest = float(np.abs(dossier.cash.with_plan.balance).max())
    book.text(sheet, 2, 0, book.words("workbook.largest_balance"), "note")
    book.formula(sheet, (2, SCALE_COLUMN), f"=MAX(MAX({balance}),-MIN({balance}))", "flow", largest)
    book.name(BALANCE_SCALE, sheet, (2, SCALE_COLUMN))
    book.text(sheet, 0, 0, book.words("workbook.sheet.balance"), "title")
    book.note(sheet, book.words("workbook.about.balance"), 1)
    table.write({"plan": plan, "alone": alone, **{loan.name: loan.table for loan in loans}})
    for key in ("balance", "balance_without"):
        place = table.place(key)
        below = {"type": "cell", "criteria": "<", "value": "balance_floor", "format": book.format("flow", "warn")}
        sheet.conditional_format(table.top, place, table.last_row, place, below)
    book.pages(sheet, TOP - 1, (table.last_row, table.last_column), fixed_columns=2)


def year_columns(book: Book, dossier: Dossier) -> list[SheetColumn]:
    """The project year, and the month it begins in."""
    words = book.words
    starts = [words.month(dossier.labels[12 * y]) for y in range(dossier.years)]
    return [
        SheetColumn(
            "year",
            words("workbook.column.year"),
            "count",
            list(range(1, dossier.years + 1)),
            width=7,
        ),
        SheetColumn("from_month", words("workbook.column.from_month"), "text", starts, width=16),
    ]


def _scale(first: str, second: str) -> str:
    """The largest amount of two columns: a difference below 1e-9 of it is nothing (method §5)."""
    ends = ",".join(f"MAX({{{key}.all}}),-MIN({{{key}.all}})" for key in (first, second))
    return f"1E-9*MAX({ends})"


def difference(first: str, second: str) -> str:
    """One column less another; what is too small to be more than rounding is 0."""
    return f"=IF(ABS({{{first}}}-{{{second}}})<{_scale(first, second)},0,{{{first}}}-{{{second}}})"


def _flag(first: str, second: str) -> str:
    """1 where one column is below another by more than rounding."""
    below = f"{{{second}}}-{{{first}}}"
    return f"=IF(AND({below}>0,{below}>={_scale(first, second)}),1,0)"


def _listed(flag: str, own: str) -> tuple[str, str]:
    """Formulas of a column that gathers the years flagged so far: for all rows, and for the first."""
    before = f"{{{own}.before}}"
    year = '{year}&""'
    formula = f'=IF({{{flag}}}=1,IF({before}="",{year},{before}&", "&{year}),{before})'
    return formula, f'=IF({{{flag}}}=1,{year},"")'


def _gathered(years: Sequence[int], horizon: int) -> list[Value]:
    """The texts of such a column."""
    return [", ".join(str(y) for y in years if y <= last) for last in range(1, horizon + 1)]


def household_years_table(book: Book, sheet: Sheet, dossier: Dossier) -> SheetTable:
    """Lay out the years of the household: money in and out, gaps and dips, the balance at the end."""
    side, without, years = dossier.cash.with_plan, dossier.cash.without, dossier.years
    running = any(loan.running for loan, _ in dossier.loans)

    def summed(key: str, values: FloatArray) -> SheetColumn:
        return column(book, key, "flow", numbers(by_year(values)), f"=SUM({{months.{key}.year}})")

    def gathered(key: str, flag: str, found: Sequence[int]) -> SheetColumn:
        formula, first = _listed(flag, key)
        return column(book, key, "general", _gathered(found, years), formula, first=first)

    def flags(found: Sequence[int]) -> list[Value]:
        return [1 if y in found else 0 for y in range(1, years + 1)]

    out = numbers(by_year(without.money_out))
    out_without = column(book, "money_out_without", "flow", out, "={living_costs}+{debt_service_without}")
    return SheetTable(
        book,
        sheet,
        TOP,
        [
            *year_columns(book, dossier),
            summed("farm_cash", side.farm_cash),
            summed("farm_cash_without", without.farm_cash),
            summed("other_income", side.other_income),
            summed("living_costs", side.living_costs),
            summed("debt_service", side.debt_service),
            column(book, "money_in", "flow", numbers(by_year(side.money_in)), "={farm_cash}+{other_income}"),
            column(book, "money_out", "flow", numbers(by_year(side.money_out)), "={living_costs}+{debt_service}"),
            column(book, "margin", "flow", numbers(by_year(side.margin)), "={money_in}-{money_out}"),
            column(
                book,
                "money_in_without",
                "flow",
                numbers(by_year(without.money_in)),
                "={farm_cash_without}+{other_income}",
            ),
            *([summed("debt_service_without", without.debt_service)] if running else []),
            *([out_without] if running else []),
            column(book, "gap", "count", flags(side.gap_years), _flag("money_in", "money_out")),
            column(book, "dip", "count", flags(dossier.cash.dip_years), _flag("farm_cash", "farm_cash_without")),
            column(
                book,
                "gap_without",
                "count",
                flags(without.gap_years),
                _flag("money_in_without", "money_out_without" if running else "living_costs"),
            ),
            column(book, "end_balance", "flow", numbers(side.balance[11::12]), "={months.balance.year_end}"),
            column(
                book,
                "end_balance_without",
                "flow",
                numbers(without.balance[11::12]),
                "={months.balance_without.year_end}",
            ),
            column(
                book,
                "lowest_balance",
                "flow",
                numbers(side.balance.reshape(-1, 12).min(axis=1)),
                "=MIN({months.balance.year})",
            ),
            gathered("gap_years", "gap", side.gap_years),
            gathered("dip_years", "dip", dossier.cash.dip_years),
            gathered("gap_years_without", "gap_without", without.gap_years),
        ],
    )


def write_household_years(book: Book, table: SheetTable, months: SheetTable) -> None:
    """Write the household's years and the chart of its balance."""
    sheet, words = table.sheet, book.words
    book.text(sheet, 0, 0, words("workbook.sheet.household_years"), "title")
    book.note(sheet, words("workbook.about.household_years"), 1)
    table.write({"months": months})
    chart = book.line_chart()
    for key, colour, dash in (("balance", "#0072B2", "solid"), ("balance_without", "#D55E00", "dash")):
        chart.add_series(
            {
                "name": words(f"workbook.chart.{key}"),
                "categories": "=" + months["month"].all,
                "values": "=" + months[key].all,
                "line": {"color": colour, "width": 1.75, "dash_type": dash},
            }
        )
    chart.set_title({"name": words("workbook.chart.title"), "name_font": {"size": 12}})
    type_ = {"num_font": CHART_TYPE, "name_font": {**CHART_TYPE, "bold": False}}
    ticks = {"interval_unit": 12 * max(1, table.rows // 6), "interval_tick": 12}
    chart.set_x_axis({**ticks, "label_position": "low", **type_})
    chart.set_y_axis({"name": words("workbook.chart.axis", currency=book.currency), "num_format": "#,##0", **type_})
    chart.set_legend({"position": "bottom", "font": CHART_TYPE})
    chart.set_size({"width": 700, "height": PIXELS * CHART_ROWS})
    description = {"description": words("workbook.chart.title"), "object_position": 2}
    sheet.insert_chart(table.last_row + 2, 2, chart, description)
    sheet.set_h_pagebreaks([table.last_row + 2])
    printed = table.place("gap_years") - 1
    book.pages(sheet, TOP - 1, (table.last_row + 2 + CHART_ROWS, printed), fixed_columns=2)


def band_formula(cover: str, good: float, caution: float, bands: dict[str, str]) -> str:
    """The band of a coverage in words; blank stays blank (differences below 1e-9 are none)."""
    below = f"IF({cover}>={caution}-1E-9,{quoted(bands['caution'])},{quoted(bands['high_risk'])})"
    return f'=IF({cover}="","",IF({cover}>{good}+1E-9,{quoted(bands["good"])},{below}))'
