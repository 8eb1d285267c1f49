"""The household's cash and its loans in tables of words, and whole answers set out for the terminal.

Cells are text; headings and words come from the catalogue. Rows for other programs (full precision, stable
keys) are at the end.
"""

from collections.abc import Callable, Mapping
from typing import Any, Literal

import numpy as np

from renovation.decide.lending import Lending, LoanAppraisal
from renovation.decide.verdict import Verdict
from renovation.farm import CashSide, HouseholdCash, Labour
from renovation.inputs import Scenario
from renovation.money.loan_fit import Condition
from renovation.show.cash import sentences as cash_sentences
from renovation.show.grid import Column, Table, column, digits_of, lines, month_cell, paragraph, render
from renovation.show.loans.near import near
from renovation.show.tidy import Row, tail
from renovation.show.voice import Voice
from renovation.words import Words

# The family's cash

CASH_COLUMNS = (
    "farm_cash",
    "other_income",
    "living_costs",
    "debt_service",
    "margin",
    "loan_payout",
    "savings_interest",
    "balance",
    "lowest_balance",
)
"""The yearly figures of a household that are shown; a column of nothing but zeros is left out."""
SAME_ON_BOTH_SIDES = ("other_income", "living_costs")
ALWAYS_SHOWN = ("farm_cash", "margin", "balance", "lowest_balance")


def cash_years(cash: HouseholdCash, words: Words, *, side: Literal["with_plan", "without"] = "with_plan") -> Table:
    """The household year by year on one side: the parts of the balance, its lowest, and what happens."""
    voice = Voice.about(cash, words)
    chosen: CashSide = getattr(cash, side)
    rows = [{**row, "loan_payout": row["loan_payout"] - row["loan_fee"]} for row in chosen.year_rows()]
    candidates = [n for n in CASH_COLUMNS if side == "with_plan" or n not in SAME_ON_BOTH_SIDES]
    shown = [name for name in candidates if name in ALWAYS_SHOWN or any(row[name] for row in rows)]
    digits = {name: digits_of([row[name] for row in rows]) for name in shown}
    dip_years = cash.dip_years if side == "with_plan" else ()
    cells = tuple(
        (
            words.number(row["year"]),
            month_cell(cash.months[12 * (row["year"] - 1)], words),
            *(words.number(row[name], digits[name]) for name in shown),
            month_cell(cash.months[row["lowest_month"]], words),
            _happens(row["year"] in chosen.short_years, row["cash_gap"], row["year"] in dip_years, words),
        )
        for row in rows
    )
    currency = voice.sign
    columns = (
        column("cash.column.year", words, "right"),
        column("cash.column.from_month", words),
        *(column(f"cash.column.{name}", words, "right", currency=currency) for name in shown),
        column("cash.column.lowest_month", words),
        column("cash.column.what", words),
    )
    title = words("cash.table.years" if side == "with_plan" else "cash.table.years_without")
    return Table(title, columns, cells)


def _happens(is_short: bool, is_gap: bool, is_dip: bool, words: Words) -> str:
    """What a year is: short of money, spending more than it brings, a dip; several, or none."""
    happens = (("short", is_short), ("spends_more", is_gap), ("dip", is_dip))
    return ", ".join(words(f"cash.cell.{name}") for name, is_so in happens if is_so)


LABOUR_COLUMNS = ("days", "family_days", "hired_days", "hired_cost", "short_days", "hired_days_without")


def labour_years(labour: Labour, words: Words) -> Table:
    """Days of work by year: who works them, what hired hands cost, what is missing."""
    voice = Voice.about(labour, words)
    rows = labour.year_rows()
    digits = dict.fromkeys(LABOUR_COLUMNS, 1) | {"hired_cost": digits_of([row["hired_cost"] for row in rows])}
    cells = tuple(
        (
            words.number(int(row["year"])),
            month_cell(labour.months[12 * (int(row["year"]) - 1)], words),
            *(words.number(row[name], digits[name]) for name in LABOUR_COLUMNS),
        )
        for row in rows
    )
    currency = voice.sign
    columns = (
        column("cash.column.year", words, "right"),
        column("cash.column.from_month", words),
        *(column(f"cash.column.{name}", words, "right", currency=currency) for name in LABOUR_COLUMNS),
    )
    return Table(words("cash.table.labour"), columns, cells)


def work_by_kind(labour: Labour, scenario: Scenario, words: Words) -> Table:
    """Days of each kind of work: in all, the most in one year, and which year that is."""
    voice = Voice.of(scenario, words)
    rows = []
    for kind, days in labour.work_by_year().items():
        if not days.any():
            continue
        top = int(np.argmax(days))
        rows.append(
            (
                voice.work(kind),
                *(words.number(float(some), 0 if some >= 10 else 1) for some in (days.sum(), days[top])),
                voice.year(top + 1),
            )
        )
    columns = (
        column("cash.column.kind", words),
        column("cash.column.days_in_all", words, "right"),
        column("cash.column.most_in_a_year", words, "right"),
        column("cash.column.busiest_year", words),
    )
    return Table(words("cash.table.work"), columns, tuple(rows))


# A loan


def cases(judged: LoanAppraisal, words: Words) -> Table:
    """The loan as stated, repaid in other ways and at lower prices, side by side: one row per measure."""
    voice, verdicts = Voice.about(judged, words), judged.verdicts
    rows = tuple(
        (
            words(f"lending.row.{name}"),
            *(cell(verdict, voice) for verdict in verdicts.values()),
        )
        for name, cell in CASE_ROWS.items()
    )
    columns = tuple(Column(name, case_name(name, words), "right") for name in verdicts)
    return Table(words("lending.table.cases"), (column("lending.column.measure", words), *columns), rows)


def case_name(name: str, words: Words) -> str:
    """Name a verdict: as stated, every month, in harvest months, price 10% lower."""
    if name.startswith("price_"):
        return words("lending.case.price", share=words.rate(1 - float(name.removeprefix("price_"))))
    return words(f"lending.case.{name}")


def _yes_no(verdict: Verdict, voice: Voice) -> str:
    return voice("lending.cell.yes" if verdict.holds else "lending.cell.no")


def _breaks(verdict: Verdict, voice: Voice) -> str:
    condition: Condition | None = verdict.breaks_first
    if condition is None:
        return voice("lending.cell.blank")
    if condition.kind == "cover":
        if verdict.start.endswith("-01"):
            return voice("lending.cell.cover_year", year=voice.year(condition.period))
        first = verdict.label(12 * (condition.period - 1))
        return voice("lending.cell.cover_from", month=month_cell(first, voice.words))
    return voice("lending.cell.floor_month", month=month_cell(verdict.label(condition.period), voice.words))


def _first_missed(verdict: Verdict, voice: Voice) -> str:
    missed = np.flatnonzero(verdict.missed_own)
    return month_cell(verdict.label(int(missed[0])), voice.words) if missed.size else voice("lending.cell.none")


def _lowest(name: str) -> Callable[[Verdict, Voice], str]:
    def cell(verdict: Verdict, voice: Voice) -> str:
        cover = getattr(verdict, name)
        return voice("lending.cell.blank") if np.isnan(cover).all() else voice.words.number(float(np.nanmin(cover)), 2)

    return cell


def _shortest_grace(verdict: Verdict, voice: Voice) -> str:
    found = verdict.shortest_grace
    return voice("lending.cell.none") if found is None else voice.words.span(found.grace_months / 12)


def _latest(verdict: Verdict, voice: Voice) -> str:
    found = verdict.latest_start
    if found is None:
        return voice("lending.cell.none")
    return month_cell(verdict.label(found.first_instalment_month), voice.words)


def _largest(verdict: Verdict, voice: Voice) -> str:
    amount = None if verdict.largest is None else verdict.largest.amount
    return voice("lending.cell.none") if amount is None else voice.exact_money(amount)


def _full_cost(verdict: Verdict, voice: Voice) -> str:
    rate = verdict.credit_cost.effective_per_year
    return voice("lending.cell.blank") if rate is None else voice.words.percent(rate, 2)


CASE_ROWS: Mapping[str, Callable[[Verdict, Voice], str]] = {
    "fits": _yes_no,
    "breaks_first": _breaks,
    "instalments": lambda v, voice: voice.words.number(len(v.schedule.instalment_months)),
    "first_instalment": lambda v, voice: month_cell(v.label(v.schedule.first_instalment_month), voice.words),
    "last_instalment": lambda v, voice: month_cell(v.label(v.schedule.instalment_months[-1]), voice.words),
    "largest_payment": lambda v, voice: voice.exact_money(float(v.schedule.debt_service.max())),
    "total_interest": lambda v, voice: voice.exact_money(v.schedule.total_interest),
    "paid_less_received": lambda v, voice: voice.exact_money(v.credit_cost.more_than_received),
    "full_cost": _full_cost,
    "first_missed": _first_missed,
    "missed": lambda v, voice: voice.words.number(int(v.missed_own.sum())),
    "lowest_cover_after_living": _lowest("cover_after_living"),
    "lowest_cover_farm_only": _lowest("cover_farm_only"),
    "lowest_balance": lambda v, voice: voice.money(float(v.fit.balance.min())),
    "shortest_grace": _shortest_grace,
    "latest_first_instalment": _latest,
    "largest_loan": _largest,
}
"""The measures of a loan in the order in which they are shown."""


def cover(judged: LoanAppraisal, words: Words) -> Table:
    """Coverage of each year with debt service, after living costs and by farm cash alone, with its bands."""
    voice = Voice.about(judged, words)
    verdict = judged.as_stated
    rows = [row for row in verdict.cover_rows() if row["debt_service"] > 0]
    digits = digits_of([row["debt_service"] for row in rows])
    cells = tuple(
        (
            words.number(row["year"]),
            month_cell(verdict.label(12 * (row["year"] - 1)), words),
            words.number(row["debt_service"], digits),
            words.number(row["cover_after_living"], 2),
            words(f"lending.band.{row['band_after_living']}"),
            words.number(row["cover_farm_only"], 2),
            words(f"lending.band.{row['band_farm_only']}"),
        )
        for row in rows
    )
    currency = voice.sign
    columns = (
        column("lending.column.year", words, "right"),
        column("lending.column.from_month", words),
        column("lending.column.debt_service", words, "right", currency=currency),
        column("lending.column.cover_after_living", words, "right"),
        Column("band_after_living", words("lending.column.band")),
        column("lending.column.cover_farm_only", words, "right"),
        Column("band_farm_only", words("lending.column.band_farm_only")),
    )
    return Table(words("lending.table.cover"), columns, cells)


def calendar(judged: LoanAppraisal, words: Words) -> Table:
    """The twelve months of the year: share of the crop beside payments due and missed over the loan's life."""
    voice = Voice.about(judged, words)
    digits = digits_of([row.paid_nominal for row in judged.calendar])
    rows = tuple(
        (
            words.month_name(row.calendar_month),
            words.percent(row.harvest_share),
            words.number(row.payments),
            words.number(row.paid_nominal, digits),
            words.number(row.missed),
        )
        for row in judged.calendar
    )
    currency = voice.sign
    columns = (
        column("lending.column.month", words),
        column("lending.column.harvest_share", words, "right"),
        column("lending.column.payments", words, "right"),
        column("lending.column.paid", words, "right", currency=currency),
        column("lending.column.missed", words, "right"),
    )
    return Table(words("lending.table.calendar"), columns, rows)


def payments(judged: LoanAppraisal, words: Words) -> Table:
    """Every payment beside the money there is: what the contract asks, what it weighs today, what is left."""
    voice = Voice.about(judged, words)
    dues = judged.dues
    digits = len(voice.exact_money(0).partition(words.decimal_sign())[2])
    rows = []
    for due in dues:
        result = words(f"lending.cell.{due.kind}_{'missed' if due.missed else 'paid'}")
        if not due.in_harvest:
            result = words("lending.cell.outside_harvest", result=result)
        contract = (due.interest_nominal, due.principal_nominal, due.amount_nominal)
        today = (due.amount, due.available, due.left)
        rows.append(
            (
                month_cell(due.label, words),
                *(words.number(value, digits) for value in contract + today),
                result,
            )
        )
    sign = voice.sign
    names = ("interest", "principal", "due", "due_today", "available", "left")
    columns = (
        column("lending.column.month", words),
        *(column(f"lending.column.{name}", words, "right", currency=sign) for name in names),
        column("lending.column.result", words),
    )
    return Table(words("lending.table.payments"), columns, tuple(rows))


# On the terminal


def cash_text(cash: HouseholdCash, labour: Labour, scenario: Scenario, words: Words, width: int) -> str:
    """The family's cash: the answer, the year table with the plan, beside no plan, the work, and its tables."""
    parts = [
        lines(cash_sentences.family_answer(cash, words), width),
        lines(cash_sentences.beside_no_plan(cash, words), width),
        render(cash_years(cash, words), width),
        render(cash_years(cash, words, side="without"), width),
        lines(cash_sentences.hands(labour, words), width),
        render(labour_years(labour, words), width),
        render(work_by_kind(labour, scenario, words), width),
        _notes(scenario, words, width),
    ]
    return "\n\n".join(parts)


def loan_text(lending: Lending, words: Words, width: int, *, with_payments: bool = False) -> str:
    """Every loan of a scenario: the answer, the cases side by side, coverage, calendar, payments if wanted."""
    if not lending.loans:
        return paragraph(words("lending.no_loans"), width)
    parts = []
    for judged in lending.loans:
        parts += [
            paragraph(cash_sentences.loan_title(judged, words), width),
            lines([*cash_sentences.loan_said(judged, words), *near(judged, words)], width),
            render(cases(judged, words), width),
            render(cover(judged, words), width),
            paragraph(cash_sentences.bands(words), width),
            render(calendar(judged, words), width),
            *([render(payments(judged, words), width)] if with_payments else []),
        ]
    return "\n\n".join([*parts, _notes(lending.scenario, words, width)])


def _notes(scenario: Scenario, words: Words, width: int) -> str:
    """What to know before reading: in what money, whether the farm is invented, and the cautions."""
    said = [cash_sentences.money_note(scenario.appraisal.inflation, words)]
    if scenario.about.invented:
        said.append(words("compare.note.invented"))
    if scenario.loans:
        said.append(words("caution.debt"))
    return lines([*said, words("caution.planning_aid")], width)


# For other programs


def cash_rows(cash: HouseholdCash, labour: Labour, stamped: Mapping[str, str]) -> dict[str, list[Row]]:
    """Tidy rows for CSV by table name, `months`, `years`, `labour`: full precision, the stamp at their end."""
    tables: dict[str, list[Any]] = {
        "months": cash.table().to_dict("records"),
        "years": cash.years_table().to_dict("records"),
        "labour": labour.year_rows(),
    }
    return {
        name: [{**{str(k): v for k, v in row.items()}, **tail(stamped)} for row in rows]
        for name, rows in tables.items()
    }
