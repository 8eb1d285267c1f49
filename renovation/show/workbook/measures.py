"""The sheet of measures: what the plan is worth, how the household fares, how the loans are covered (§§5–7)."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from renovation.decide.dossier import Dossier
from renovation.farm import by_year
from renovation.money import cover_band, debt_cover
from renovation.money.loan_cover import CAUTION_COVER_FROM, GOOD_COVER_ABOVE
from renovation.show.cash.sentences import bands
from renovation.show.workbook import months
from renovation.show.workbook.balance import band_formula, year_columns
from renovation.show.workbook.book import Book, Sheet, quoted
from renovation.show.workbook.loans import BALANCE_SCALE, LoanSheet
from renovation.show.workbook.rates import rates_below
from renovation.show.workbook.table import SheetColumn, SheetTable, Value, numbers

LABEL, NOW, WRITTEN, NOTE = range(4)
TOP = 5
LISTED_LINES = 3
"""Lines of a row that may list every year."""
MOST_ROOTS = 4
"""Rates of return that are shown where there are several."""


@dataclass(frozen=True)
class Tables:
    """The tables that measures are taken from."""

    change: SheetTable
    rates: SheetTable
    months: SheetTable
    years: SheetTable
    loans: tuple[LoanSheet, ...]


@dataclass(frozen=True)
class Measure:
    """One line: the name of its cell, its formula, the kind of its number, the program's value."""

    name: str
    formula: str
    kind: str
    value: float | str


def _all(table: SheetTable, key: str) -> str:
    return table[key].all


def _worth(book: Book, dossier: Dossier, tables: Tables) -> Iterator[Measure]:
    """Measures of the change (method §5)."""
    change, found = _all(tables.change, "change"), dossier.measures
    factor, years = _all(tables.change, "factor"), dossier.years
    blank = book.words("measure_cell.blank")
    yield Measure("npv", f"=NPV(discount_rate,{change})", "money", found.npv)
    yield Measure(
        "equivalent_annual_value", f"=-PMT(discount_rate,{years},result_npv)", "money", found.equivalent_annual_value
    )
    yield from _rates_of_return(book, dossier, tables)
    finance, reinvest = (f'IF({name}="",discount_rate,{name})' for name in ("finance_rate", "reinvestment_rate"))
    gains, costs = (f"NPV(discount_rate,{_all(tables.change, key)})" for key in ("benefits_change", "costs_change"))
    good, bad = (f"SUMPRODUCT(({change}{sign}0)*{change}*{factor})" for sign in (">", "<"))
    both_signs = f"AND(MAX({change})>0,MIN({change})<0,{years}>1)"
    for name, kind, there_is_one, formula in (
        ("mirr", "percent", both_signs, f"MIRR({change},{finance},{reinvest})"),
        ("benefit_cost", "ratio", f"{costs}>0", f"{gains}/{costs}"),
        ("net_benefit_cost", "ratio", f"{bad}<0", f"-{good}/{bad}"),
    ):
        value = getattr(found, name)
        shown = blank if value is None else value
        yield Measure(name, f"=IF({there_is_one},{formula},{quoted(blank)})", kind, shown)
    never = book.words("measure_cell.not_within", horizon=book.words("unit.years", n=years))
    for name, behind, flow, total in (
        ("payback_years", "behind", "change", "total"),
        ("discounted_payback_years", "behind_discounted", "discounted", "total_discounted"),
    ):
        last = f"MAX({_all(tables.change, behind)})"
        part = f"MIN(1,-INDEX({_all(tables.change, total)},{last})/INDEX({_all(tables.change, flow)},{last}+1))"
        value = getattr(found, name)
        yield Measure(
            name,
            f"=IF({last}=0,0,IF({last}={years},{quoted(never)},{last}+{part}))",
            "years",
            never if value is None else value,
        )


def _rates_of_return(book: Book, dossier: Dossier, tables: Tables) -> Iterator[Measure]:
    """The IRR where there is one, the number of rates that count, and the rates where there are several."""
    change, found = _all(tables.change, "change"), dossier.measures.irr
    root, guess = _all(tables.rates, "root"), _all(tables.rates, "guess")
    words = book.words
    low = f"SUM({rates_below(tables.rates)})"
    counted = f"IF(MAX({root})>{low},MAX({root})-{low},MAX({root}))"
    first = f"IF(MAX({root})>{low},{low}+1,1)"
    none, several = quoted(words("workbook.irr.none")), quoted(words("workbook.irr.several"))
    lost = quoted(words("workbook.irr.lost"))
    irr = f"IFERROR(IRR({change},INDEX({guess},MATCH({first},{root},0))),{lost})"
    value = words(f"workbook.irr.{found.verdict}") if found.value is None else found.value
    yield Measure("irr", f"=IF(result_rates=0,{none},IF(result_rates>1,{several},{irr}))", "percent", value)
    above = sum(rate >= -0.9 for rate in found.roots) or len(found.roots)
    yield Measure("rates", f"={counted}", "count", above)
    for number in range(1, MOST_ROOTS + 1):
        one = f"IFERROR(IRR({change},INDEX({guess},MATCH({number},{root},0))),{lost})"
        shown = f'=IF(AND(result_rates>1,MAX({root})>={number}),{one},"")'
        several_here = found.verdict == "several" and number <= len(found.roots)
        yield Measure(f"rate_{number}", shown, "percent", found.roots[number - 1] if several_here else "")


def _household(book: Book, dossier: Dossier, tables: Tables) -> Iterator[Measure]:
    """The balance and its worst points (method §6)."""
    side, without = dossier.cash.with_plan, dossier.cash.without
    balance, named = _all(tables.months, "balance"), _all(tables.months, "month")
    last, words = dossier.months, book.words
    yield Measure("final_balance", f"=INDEX({balance},{last})", "money", side.final_balance)
    yield Measure(
        "final_balance_without",
        f"=INDEX({_all(tables.months, 'balance_without')},{last})",
        "money",
        without.final_balance,
    )
    yield Measure("deepest", f"=MIN({balance})", "money", side.deepest)
    yield Measure(
        "deepest_month",
        f"=INDEX({named},MATCH(1,{_all(tables.months, 'lowest')},0))",
        "text",
        words.month(dossier.labels[side.deepest_month]),
    )
    short = f"balance_floor-MIN({balance})"
    needed = f"IF({short}>1E-9*MAX({BALANCE_SCALE},balance_floor),{short},0)"
    yield Measure("reserve_needed", f"={needed}", "money", side.reserve_needed)
    none = words("workbook.no_year")
    for name, found in (
        ("gap_years", side.gap_years),
        ("gap_years_without", without.gap_years),
        ("dip_years", dossier.cash.dip_years),
    ):
        listed = f"INDEX({_all(tables.years, name)},{dossier.years})"
        text = ", ".join(map(str, found)) or none
        yield Measure(name, f'=IF({listed}="",{quoted(none)},{listed})', "general", text)


def _lending(book: Book, dossier: Dossier, tables: Tables) -> Iterator[Measure]:
    """The tightest coverage, and payments that there is no money for (method §7)."""
    service = by_year(dossier.cash.with_plan.debt_service)
    blank = book.words("measure_cell.blank")
    for name, money in _covered(dossier).items():
        cover = debt_cover(money, service)
        tightest = blank if np.isnan(cover).all() else float(np.nanmin(cover))
        column = f"{name}_all"
        yield Measure(f"lowest_{name}", f"=IF(COUNT({column})=0,{quoted(blank)},MIN({column}))", "ratio", tightest)
    below = np.nansum(debt_cover(_covered(dossier)["cover_after_living"], service) < _target(dossier))
    yield Measure(
        "years_below_target",
        "=SUMPRODUCT((ISNUMBER(cover_after_living_all))*(cover_after_living_all<cover_target))",
        "count",
        float(below),
    )
    balance = dossier.cash.with_plan.balance
    missed = sum(int(((plan.debt_service > 0) & (balance < 0)).sum()) for _, plan in dossier.loans)
    counted = "+".join(f"SUM({_all(loan.table, 'missed')})" for loan in tables.loans)
    yield Measure("missed", f"={counted}", "count", float(missed))


def _target(dossier: Dossier) -> float:
    return dossier.scenario.loan_test.cover


def _covered(dossier: Dossier) -> dict[str, np.ndarray]:
    """What debt service is covered from, by year: the farm's cash alone, and what living costs leave."""
    side = dossier.cash.with_plan
    return {
        "cover_farm_only": by_year(side.farm_cash),
        "cover_after_living": by_year(side.money_in - side.living_costs),
    }


def cover_table(book: Book, sheet: Sheet, dossier: Dossier) -> SheetTable:
    """Lay out the coverage by year: debt service, farm only, after living costs, each with its band in words."""
    service = by_year(dossier.cash.with_plan.debt_service)
    bands = {key: book.words(f"workbook.band.{key}") for key in ("good", "caution", "high_risk")}
    columns = [
        *year_columns(book, dossier),
        SheetColumn(
            "service",
            book.words("workbook.column.debt_service", currency=book.currency),
            "flow",
            numbers(service),
            "={years.debt_service}",
            width=18,
        ),
    ]
    money = {"cover_farm_only": "{years.farm_cash}", "cover_after_living": "({years.money_in}-{years.living_costs})"}
    for name, values in _covered(dossier).items():
        cover = numbers(debt_cover(values, service))
        formula = f'=IF({{service}}>0,{money[name]}/{{service}},"")'
        columns.append(SheetColumn(name, book.words(f"workbook.column.{name}"), "ratio", cover, formula, width=18))
        said: list[Value] = []
        for one in cover:
            band = cover_band(one if isinstance(one, float) else None)
            said.append(bands[band] if band else "")
        formula = band_formula(f"{{{name}}}", GOOD_COVER_ABOVE, CAUTION_COVER_FROM, bands)
        columns.append(
            SheetColumn(f"{name}_band", book.words("workbook.column.band"), "general", said, formula, width=18)
        )
    return SheetTable(book, sheet, months.TOP, columns)


def write_measures(book: Book, sheet: Sheet, dossier: Dossier, tables: Tables) -> None:
    """Write every measure, as it is now and as it was when the file was written; then coverage by year."""
    words = book.words
    book.widths(sheet, (36, 34, 34, 60))
    book.text(sheet, 0, 0, words("workbook.sheet.measures"), "title")
    book.note(sheet, words("workbook.about.measures"), 1)
    _write_check(book, sheet, tables)
    heads = [words(f"workbook.measures.{key}") for key in ("what", "now", "written", "note")]
    book.heads(sheet, TOP - 1, heads)
    row = TOP
    sections = {"worth": _worth(book, dossier, tables), "household": _household(book, dossier, tables)}
    if tables.loans:
        sections["lending"] = _lending(book, dossier, tables)
    for section, measures in sections.items():
        book.text(sheet, row, LABEL, words(f"workbook.measures.{section}"), "section")
        row += 1
        for measure in measures:
            _write_measure(book, sheet, row, measure)
            row += 1
    book.pages(sheet, TOP - 1, (row, NOTE), fixed_columns=1)


def _write_check(book: Book, sheet: Sheet, tables: Tables) -> None:
    """Say at the head where a loan's terms cannot be: the figures below then mean nothing."""
    sound = quoted(book.words("workbook.check.sound"))
    if not tables.loans:
        return
    wrong = "+".join(f"IF({loan.name}_check={sound},0,1)" for loan in tables.loans)
    warning = f'=IF({wrong}>0,{quoted(book.words("workbook.check.some"))},"")'
    sheet.write_formula(2, 0, warning, book.format("general", "warn"), "")


def _write_measure(book: Book, sheet: Sheet, row: int, measure: Measure) -> None:
    words = book.words
    label = f"measure.{measure.name}" if f"measure.{measure.name}" in words else f"workbook.measure.{measure.name}"
    note = words(f"measure_help.{measure.name}") if f"measure_help.{measure.name}" in words else ""
    least = LISTED_LINES if measure.name.startswith(("gap_years", "dip_years")) else 1
    told = {LABEL: (words(label), "wrap_text"), **({NOTE: (note, "meaning")} if note else {})}
    book.wrapped(sheet, row, told, least)
    sheet.write_formula(row, NOW, measure.formula, book.format(measure.kind, "result"), measure.value)
    book.name(f"result_{measure.name}", sheet, (row, NOW))
    shape = book.format(measure.kind, "written")
    if isinstance(measure.value, str):
        sheet.write_string(row, WRITTEN, measure.value, shape)
    else:
        sheet.write_number(row, WRITTEN, measure.value, shape)
    if measure.name == "irr":
        caution = f'=IF(result_rates>1,{quoted(words("workbook.irr.caution"))},"")'
        shown = words("workbook.irr.caution") if measure.value == words("workbook.irr.several") else ""
        sheet.write_formula(row, NOTE, caution, book.format("general", "warn"), shown)


def write_cover(book: Book, sheet: Sheet, dossier: Dossier, years: SheetTable) -> None:
    """Coverage by year, its bands with their source."""
    words = book.words
    book.text(sheet, 0, 0, words("workbook.sheet.cover"), "title")
    book.note(sheet, bands(words, "workbook.about.cover"), 1)
    table = cover_table(book, sheet, dossier)
    table.write({"years": years})
    for name in _covered(dossier):
        place = table.place(name)
        book.name(f"{name}_all", sheet, (table.top, place), (table.last_row, place))
    book.pages(sheet, table.top - 1, (table.last_row, table.last_column))
