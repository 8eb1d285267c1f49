"""The lender's workbook: a scenario's plan and loans as one spreadsheet whose results are live formulas.

Only standard functions stand in it, so that any spreadsheet program recalculates it: change a price, a rate or a
grace in its coloured cells, and flows, schedules, balance, coverage and measures follow. Each formula carries the
program's own result as its value, for a reader that does not recalculate. Only risk stands as plain values.
"""

from datetime import date

from renovation.decide.dossier import Dossier
from renovation.inputs import Scenario
from renovation.show.workbook.about import write_assumptions, write_readme
from renovation.show.workbook.balance import (
    balance_table,
    household_years_table,
    write_balance,
    write_household_years,
)
from renovation.show.workbook.book import Book, Stamp
from renovation.show.workbook.inputs import write_inputs, write_loan_terms
from renovation.show.workbook.loans import LoanSheet
from renovation.show.workbook.measures import Tables, write_cover, write_measures
from renovation.show.workbook.months import months_table, write_months
from renovation.show.workbook.rates import rates_table, write_rates
from renovation.show.workbook.risk import write_risk
from renovation.show.workbook.signed import signed_in, write_signed
from renovation.show.workbook.trees import Chance, has_chance
from renovation.show.workbook.years import change_table, parts_table, write_years
from renovation.version import __version__
from renovation.words import Words

__all__ = ["workbook", "workbook_of"]


def workbook(scenario: Scenario, words: Words, when: date | None = None) -> bytes:
    """The workbook of a scenario's plan and loans, as the bytes of an .xlsx file.

    when: the date that stands on it, today where None; the same scenario and date give the same bytes.
    Raises LoanError for a loan that cannot be; StartTooEarly and ValueError as `farm_flows` does.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> workbook(demo_scenario(), Words("en"))[:2]
        b'PK'
    """
    return workbook_of(Dossier(scenario), words, when or date.today())


def workbook_of(dossier: Dossier, words: Words, day: date) -> bytes:
    """The workbook of a dossier: what report and pages asked before is not asked again."""
    scenario = dossier.scenario
    stamp = Stamp(__version__, scenario.digest, day)
    book = Book(words, scenario.appraisal.currency, stamp)
    _write(book, dossier)
    return book.finish(words("workbook.title"))


def _write(book: Book, dossier: Dossier) -> None:
    """Open the sheets in the order of reading, lay their tables out, and write them."""
    has_loans = bool(dossier.loans)
    readme, inputs = book.sheet("readme"), book.sheet("inputs")
    terms = book.sheet("loan_terms") if has_loans else None
    sheets = {key: book.sheet(key) for key in ("measures", "years", "change", "household_years", "balance")}
    cover = book.sheet("cover") if has_loans else None
    loan_sheets = [book.sheet("loan", number) for number in range(1, len(dossier.loans) + 1)]
    signed = [(number, one, book.sheet("signed", number)) for number, one in signed_in(dossier)]
    sheets |= {key: book.sheet(key) for key in ("months_with", "months_without")}
    chance = Chance(book, book.sheet("trees"), dossier) if has_chance(dossier.scenario) else None
    sheets |= {key: book.sheet(key) for key in ("rates", "risk", "assumptions")}

    plan = months_table(book, sheets["months_with"], dossier, chance, with_plan=True)
    alone = months_table(book, sheets["months_without"], dossier, chance, with_plan=False)
    loans = tuple(LoanSheet(book, sheet, dossier, number) for number, sheet in enumerate(loan_sheets, start=1))
    months = balance_table(book, sheets["balance"], dossier)
    years = household_years_table(book, sheets["household_years"], dossier)
    parts = parts_table(book, sheets["years"], dossier)
    change = change_table(book, sheets["change"], dossier)
    rates = rates_table(book, sheets["rates"], dossier.change_by_year)

    write_readme(book, readme, dossier)
    write_inputs(book, inputs, dossier)
    if terms is not None:
        write_loan_terms(book, terms, dossier, "=" + plan["month"].all)
    write_months(book, plan, "months_with", chance)
    write_months(book, alone, "months_without", chance)
    if chance is not None:
        chance.write()
    for loan in loans:
        loan.write(months)
    for number, one, sheet in signed:
        write_signed(book, sheet, one, loans[number - 1])
    write_balance(book, months, dossier, plan, alone, loans)
    write_household_years(book, years, months)
    write_years(book, parts, "years", plan, alone)
    write_years(book, change, "change", plan, alone)
    write_rates(book, rates, change)
    write_measures(book, sheets["measures"], dossier, Tables(change, rates, months, years, loans))
    if cover is not None:
        write_cover(book, cover, dossier, years)
    write_risk(book, sheets["risk"], dossier)
    write_assumptions(book, sheets["assumptions"], dossier)
    readme.activate()
