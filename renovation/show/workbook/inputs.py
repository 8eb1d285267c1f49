"""The sheets with the cells to change: Inputs, and Loan terms.

Each cell has a name that the formulas use: the name of its field in a scenario file, for a loan `loan_1_…`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count

from pydantic import BaseModel

from renovation.decide import best_harvest_months
from renovation.decide.dossier import Dossier
from renovation.farm import expected_price_path
from renovation.inputs import (
    Appraisal,
    Household,
    Loan,
    LoanTest,
    Market,
    Payment,
    Payout,
    Risk,
    Scenario,
    Stand,
    Technique,
    WetBeans,
    declared,
    twelve,
)
from renovation.show.clones import kind_name
from renovation.show.guesses import marked_name, source_of
from renovation.show.voice import Voice
from renovation.show.workbook.book import LINE_HEIGHT, Book, Sheet
from renovation.show.workbook.running import write_running
from renovation.show.workbook.trees import cell_of, has_chance, payments_of

LABEL, VALUE, UNIT, SOURCE, MEANING = range(5)
WIDTHS = (36, 18, 27, 28, 57)
FEWEST_PAYOUTS = 3
"""Places for payouts that every loan has, filled or not."""


@dataclass(frozen=True)
class Line:
    """One input: the name of its cell, the field it stands for, its value and the kind of its number."""

    name: str
    model: type[BaseModel]
    field: str
    value: float | None
    kind: str
    label: str = ""
    whose: str = ""


def _lines(dossier: Dossier, voice: Voice) -> dict[str, list[Line | str]]:
    """The inputs by section; a text stands for a cell worked out from the others, by its name."""
    scenario = dossier.scenario
    market, household, appraisal = scenario.market, scenario.household, scenario.appraisal
    sale: list[Line | str] = (
        [
            Line("wet_price_per_kg", WetBeans, "price_per_kg", market.wet_beans.price_per_kg, "price"),
            Line("dry_per_wet", WetBeans, "dry_per_wet", market.wet_beans.dry_per_wet, "ratio"),
            "price_per_kg",
        ]
        if market.wet_beans
        else [Line("price_per_kg", Market, "price_per_kg", market.price_per_kg, "price")]
    )
    sale.append(Line("deductions_per_kg", Market, "deductions_per_kg", market.deductions_per_kg, "price"))
    for material in dossier.new_kg:
        premium = market.premium.get(material, 0.0)
        sale.append(Line(f"premium_{material}", Market, "premium", premium, "share", material))
    days = market.harvest_days_per_kg
    chance = {"chance": _of_chance(dossier, voice)} if has_chance(scenario) else {}
    return {
        "sale": sale,
        "work": [
            Line("harvest_days_per_kg", Market, "harvest_days_per_kg", days, "days_per_kg"),
            Line("wage_per_day", Household, "wage_per_day", household.wage_per_day, "price"),
            Line("labour_value", Household, "labour_value", household.labour_value, "ratio"),
        ],
        "rates": [
            Line("discount_rate", Appraisal, "discount_rate", appraisal.discount_rate, "rate"),
            Line("finance_rate", Appraisal, "finance_rate", appraisal.finance_rate, "rate"),
            Line("reinvestment_rate", Appraisal, "reinvestment_rate", appraisal.reinvestment_rate, "rate"),
            Line("inflation", Appraisal, "inflation", appraisal.inflation, "rate"),
        ],
        "household": [
            Line("savings", Household, "savings", household.savings, "price"),
            Line("balance_floor", Household, "floor", household.floor, "price"),
            Line("savings_rate", Household, "savings_rate", household.savings_rate, "rate"),
            "savings_rate_per_month",
            Line("cover_target", LoanTest, "cover", scenario.loan_test.cover, "ratio"),
        ],
        **chance,
    }


def _of_chance(dossier: Dossier, voice: Voice) -> list[Line | str]:
    """Losses of each stand, of each way that has its own, and the payments."""
    scenario = dossier.scenario
    found: list[Line | str] = []
    for stand in scenario.stands:
        for field, what in (("loss", "tree_loss_per_year"), ("pods", "pods_lost")):
            cell = cell_of(scenario, stand.name, field)
            found.append(Line(cell, Stand, what, getattr(stand, what), "rate", whose=stand.name))
    for key, way in scenario.techniques.items():
        for field, what in (("loss", "tree_loss_per_year"), ("pods", "pods_lost")):
            if (figure := getattr(way, what)) is not None:
                cell = cell_of(scenario, key, field)
                found.append(Line(cell, Technique, what, figure.value, "rate", whose=voice.way(key)))
    for cell, _, _, payment in payments_of(scenario):
        found.append(Line(cell, Payment, "amount", payment.amount.value, "price", whose=payment.name))
    return found


def _worked_out(name: str, scenario: Scenario) -> tuple[str, str, float]:
    """Formula, kind and value of an input that follows from others."""
    if name == "price_per_kg":
        return "=wet_price_per_kg/dry_per_wet", "price", scenario.market.dry_price_per_kg
    return "=(1+savings_rate)^(1/12)-1", "rate", (1 + scenario.household.savings_rate) ** (1 / 12) - 1


def write_inputs(book: Book, sheet: Sheet, dossier: Dossier) -> None:
    """Price, work, rates, household, and the twelve months."""
    words, scenario = book.words, dossier.scenario
    book.widths(sheet, WIDTHS)
    book.text(sheet, 0, 0, words("workbook.sheet.inputs"), "title")
    _legend(book, sheet)
    heads = [words(f"workbook.inputs.{key}") for key in ("what", "value", "unit", "source", "meaning")]
    book.heads(sheet, 3, heads)
    row = 4
    for section, lines in _lines(dossier, Voice.of(scenario, words)).items():
        book.text(sheet, row, LABEL, words(f"workbook.inputs.{section}"), "section")
        row += 1
        for line in lines:
            if isinstance(line, Line):
                _write_line(book, sheet, row, line, scenario)
            else:
                _write_worked_out(book, sheet, row, line, scenario)
            row += 1
    first = row + 1
    row = _write_twelve(book, sheet, first, scenario)
    sheet.set_h_pagebreaks([first, row + 2])
    last = _write_price_path(book, sheet, row + 2, scenario)
    book.pages(sheet, 3, (last, MEANING), repeat=False)


def _legend(book: Book, sheet: Sheet) -> None:
    """What the colour of a cell means."""
    sheet.write_string(1, 0, book.words("workbook.legend.input"), book.format("general", "plain", is_input=True))
    book.text(sheet, 1, 1, book.words("workbook.legend.other"), "note")


def _write_line(book: Book, sheet: Sheet, row: int, line: Line, scenario: Scenario) -> None:
    words, said = book.words, declared(line.model, line.field)
    label = words(said.label_key)
    if line.whose:
        label = words("workbook.inputs.of", what=label, whose=line.whose)
    if line.label:
        label = words("workbook.inputs.of", what=label, whose=kind_name(scenario, line.label, words))
    book.number_input(sheet, (row, VALUE), line.value, line.kind, (line.model, line.field))
    book.name(line.name, sheet, (row, VALUE))
    told = {
        LABEL: label,
        UNIT: book.unit_of(said),
        SOURCE: _source(book, line, scenario),
        MEANING: words(said.help_key),
    }
    book.wrapped(sheet, row, {place: (text, "wrap_text") for place, text in told.items()})


def _write_worked_out(book: Book, sheet: Sheet, row: int, name: str, scenario: Scenario) -> None:
    words = book.words
    formula, kind, value = _worked_out(name, scenario)
    book.text(sheet, row, LABEL, words(f"workbook.worked_out.{name}"))
    book.formula(sheet, (row, VALUE), formula, kind, value)
    book.name(name, sheet, (row, VALUE))
    unit = words("workbook.percent.share/month") if kind == "rate" else book.unit_of(declared(Market, "price_per_kg"))
    book.text(sheet, row, UNIT, unit)
    book.text(sheet, row, SOURCE, words("workbook.inputs.worked_out"))


def _source(book: Book, line: Line, scenario: Scenario) -> str:
    """Where an input comes from: its default's source where it is the default, else the scenario."""
    words, said = book.words, declared(line.model, line.field)
    if line.value is None:
        return words("workbook.inputs.left_out")
    if said.source and line.value == said.default:
        source = words(f"source.{said.source}")
        return words("cell.with_citation", source=source, citation=said.citation) if said.citation else source
    own = words("source.invented" if scenario.about.invented else "source.own")
    return source_of(scenario, f"{line.model.__name__.lower()}.{line.field}", own, words)


TWELVE = ("family_days", "living_costs", "other_income")


def _write_twelve(book: Book, sheet: Sheet, top: int, scenario: Scenario) -> int:
    """Family days, living costs and other income by calendar month; the last row."""
    words, household = book.words, scenario.household
    book.text(sheet, top, 0, words("workbook.inputs.twelve"), "section")
    heads = []
    for field in TWELVE:
        said = declared(Household, field)
        name = marked_name(scenario, f"household.{field}", words(said.label_key), words)
        heads.append(words("workbook.inputs.with_unit", what=name, unit=book.unit_of(said)))
    sheet.set_row(top + 1, 3 * LINE_HEIGHT)
    book.heads(sheet, top + 1, [words("workbook.column.calendar"), *heads])
    for month in range(12):
        row = top + 2 + month
        book.text(sheet, row, 0, words.month_name(month + 1))
        for column, field in enumerate(TWELVE, start=1):
            value = twelve(getattr(household, field))[month]
            kind = "days" if field == "family_days" else "price"
            book.number_input(sheet, (row, column), value, kind, (Household, field))
    for column, field in enumerate(TWELVE, start=1):
        book.name(f"{field}_by_month", sheet, (top + 2, column), (top + 13, column))
    return top + 13


def _write_price_path(book: Book, sheet: Sheet, top: int, scenario: Scenario) -> int:
    """The expected price of each project year as a share of today's; the last row."""
    words = book.words
    book.text(sheet, top, 0, words("workbook.inputs.price_path"), "section")
    sheet.set_row(top + 1, 2 * LINE_HEIGHT)
    book.heads(sheet, top + 1, [words("workbook.column.year"), words("workbook.inputs.price_share")])
    shares = expected_price_path(scenario)[::12]
    for year, share in enumerate(shares, start=1):
        sheet.write_number(top + 1 + year, 0, year, book.format("count"))
        book.number_input(sheet, (top + 1 + year, 1), float(share), "share", (Risk, "price_by_year"))
    book.name("price_share_by_year", sheet, (top + 2, 1), (top + 1 + shares.size, 1))
    return top + 1 + int(shares.size)


# Loans


@dataclass(frozen=True)
class Choices:
    """The words for the ways of a loan, as its cells and formulas hold them."""

    repayment: dict[str, str]
    grace_interest: dict[str, str]
    yes: str
    no: str


def choices(book: Book) -> Choices:
    """The words that a loan's cells can hold."""
    words = book.words
    return Choices(
        repayment={key: words(f"workbook.repayment.{key}") for key in ("level", "equal_principal", "harvest")},
        grace_interest={key: words(f"workbook.grace_interest.{key}") for key in ("paid", "added")},
        yes=words("workbook.yes"),
        no=words("workbook.no"),
    )


LOAN_NUMBERS = (
    ("amount", "price"),
    ("rate_per_year", "rate"),
    ("term_months", "count"),
    ("grace_months", "count"),
    ("fee_share", "rate"),
)


def write_loan_terms(book: Book, sheet: Sheet, dossier: Dossier, month_labels: str) -> None:
    """Every loan in a column of its own; `month_labels` is the range of months to choose a payout's from."""
    words, loans = book.words, dossier.cash.loans
    book.widths(sheet, (36, 40, *(26 for _ in loans)))
    book.text(sheet, 0, 0, words("workbook.sheet.loan_terms"), "title")
    _legend(book, sheet)
    book.heads(sheet, 3, [words("workbook.inputs.what"), words("workbook.inputs.unit"), *(loan.name for loan in loans)])
    rows = count(4)
    for field, kind in LOAN_NUMBERS:
        row = _loan_label(book, sheet, next(rows), field)
        for column, loan in _columns(loans):
            book.number_input(sheet, (row, column), getattr(loan, field), kind, (Loan, field))
            book.name(f"loan_{column - 1}_{field}", sheet, (row, column))
    _write_loan_choices(book, sheet, rows, loans)
    _write_payouts(book, sheet, rows, dossier, month_labels)
    if any(loan.running for loan in loans):
        write_running(book, sheet, rows, dossier)
    last = _write_harvest_months(book, sheet, rows, dossier)
    book.pages(sheet, 3, (last, 1 + len(loans)), fixed_columns=1)


def _columns(loans: Sequence[Loan]) -> list[tuple[int, Loan]]:
    """Each loan with its column on the sheet; its number is the column less 1."""
    return list(enumerate(loans, start=2))


def _loan_label(book: Book, sheet: Sheet, row: int, field: str) -> int:
    """Write a field's label and unit; the row again."""
    said = declared(Loan, field)
    book.text(sheet, row, 0, book.words(said.label_key))
    book.text(sheet, row, 1, book.unit_of(said) if said.unit else book.words("workbook.choose"))
    return row


def _write_loan_choices(book: Book, sheet: Sheet, rows: "count[int]", loans: Sequence[Loan]) -> None:
    """Interest in grace and the way of repaying, each one of a list."""
    chosen = choices(book)
    for field, options in (("grace_interest", chosen.grace_interest), ("repayment", chosen.repayment)):
        row = _loan_label(book, sheet, next(rows), field)
        for column, loan in _columns(loans):
            book.choice_input(sheet, (row, column), options[getattr(loan, field)], list(options.values()))
            book.name(f"loan_{column - 1}_{field}", sheet, (row, column))


def _write_payouts(book: Book, sheet: Sheet, rows: "count[int]", dossier: Dossier, month_labels: str) -> None:
    """Months and shares of the payouts: as many places as the loan with most of them needs."""
    words, loans = book.words, dossier.cash.loans
    row = next(rows)
    book.text(sheet, row, 0, words("workbook.loan.payouts"), "section")
    places = max(FEWEST_PAYOUTS, *(len(loan.payouts) for loan in loans))
    for part in ("month", "share"):
        for place in range(places):
            row = next(rows)
            book.text(sheet, row, 0, words(f"workbook.loan.payout_{part}", n=words.number(place + 1)))
            book.text(sheet, row, 1, words(f"workbook.loan.payout_{part}_help"))
            for column, loan in _columns(loans):
                payout = loan.payouts[place] if place < len(loan.payouts) else None
                if part == "share":
                    share = payout.share if payout else None
                    book.number_input(sheet, (row, column), share, "rate", (Payout, "share"))
                else:
                    month = words.month(payout.month) if payout else ""
                    book.choice_input(sheet, (row, column), month, month_labels)
        for column, _ in _columns(loans):
            book.name(f"loan_{column - 1}_payout_{part}s", sheet, (row - places + 1, column), (row, column))


def _write_harvest_months(book: Book, sheet: Sheet, rows: "count[int]", dossier: Dossier) -> int:
    """The months in which a loan repaid at harvest falls due; the last row."""
    words, chosen = book.words, choices(book)
    row = next(rows)
    book.text(sheet, row, 0, words("workbook.loan.harvest_months"), "section")
    book.text(sheet, row, 1, words("workbook.loan.harvest_months_help"), "note")
    for month in range(1, 13):
        row = next(rows)
        book.text(sheet, row, 0, words.month_name(month))
        book.text(sheet, row, 1, words("workbook.choose"))
        for column, loan in _columns(dossier.cash.loans):
            named = loan.harvest_months or best_harvest_months(dossier.scenario.market.season)
            answer = chosen.yes if month in named else chosen.no
            book.choice_input(sheet, (row, column), answer, [chosen.yes, chosen.no])
    for column, _ in _columns(dossier.cash.loans):
        book.name(f"loan_{column - 1}_harvest_months", sheet, (row - 11, column), (row, column))
    return row
