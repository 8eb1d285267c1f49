"""The sheet on risk: values of the program, for no spreadsheet tries thousands of futures; and what they rest on."""

import textwrap
from collections.abc import Sequence

from renovation.decide.dossier import Dossier
from renovation.decide.risk import RiskResult, Sensitivity, StressResult
from renovation.show.risk import sentences as say
from renovation.show.risk import tables as risk_tables
from renovation.show.risk.charts import BARS_SHOWN
from renovation.show.risk.figures import drawn_from
from renovation.show.voice import Voice
from renovation.show.workbook.book import LINE_HEIGHT, Book, Sheet
from renovation.show.workbook.table import SheetColumn
from renovation.words import Words

FIRST, OTHER, COLUMNS = 34, 14, 20
"""Widths of the first column and of the others, in letters; how many others."""


def write_risk(book: Book, sheet: Sheet, dossier: Dossier) -> None:
    """Answers, chances by year, hard cases, what the answer rests on, what the futures rest on."""
    words, found, tests, ranked = book.words, dossier.risk, dossier.stress, dossier.ranked
    book.widths(sheet, (FIRST, *[OTHER] * COLUMNS))
    notes = [words("workbook.risk.note"), *say.precision(found, words), words("risk.note")]
    book.text(sheet, 0, 0, words("workbook.sheet.risk"), "title")
    for row, note in enumerate(notes, start=1):
        book.note(sheet, note, row)
    rests_on = drawn_from(dossier.scenario, words)
    blocks = {
        words("workbook.risk.money", currency=book.currency): _figures(found, risk_tables.MONEY, "flow", words),
        words("workbook.risk.chances"): _figures(found, risk_tables.CHANCES, "share", words),
        words("workbook.risk.years"): _chances(found, words),
        words("workbook.risk.fan", currency=book.currency): _money_in_hand(found, words),
        words("workbook.risk.hard", currency=book.currency): _hard(tests, words),
        **({words("workbook.risk.bars", currency=book.currency): _ranked(ranked, words)} if ranked else {}),
        **({words("workbook.risk.prices", currency=book.currency): _prices(dossier, words)} if dossier.loans else {}),
        rests_on.title: [
            SheetColumn(column.key, column.heading, "text", [row[place] for row in rests_on.rows])
            for place, column in enumerate(rests_on.columns)
        ],
    }
    row, widest = len(notes) + 2, 0
    for title, columns in blocks.items():
        if not columns[0].values:
            continue
        book.text(sheet, row, 0, title, "section")
        row, widest = _write(book, sheet, row + 1, columns) + 2, max(widest, len(columns) - 1)
    book.pages(sheet, 0, (row - 2, widest), fixed_columns=1, repeat=False)


def _write(book: Book, sheet: Sheet, row: int, columns: Sequence[SheetColumn]) -> int:
    """Write heads and values, each row as high as its longest words need; the last row."""
    widths = [FIRST if place == 0 else OTHER for place in range(len(columns))]
    for place, column in enumerate(columns):
        book.text(sheet, row, place, column.head, "head" if column.kind == "text" else "head_right")
    sheet.set_row(row, _height([column.head for column in columns], widths))
    for number in range(len(columns[0].values)):
        row += 1
        cells = [column.values[number] for column in columns]
        for place, (column, value) in enumerate(zip(columns, cells, strict=True)):
            if isinstance(value, str):
                book.text(sheet, row, place, value, "wrap")
            elif value is not None:
                sheet.write_number(row, place, float(value), book.format(column.kind))
        sheet.set_row(row, _height([cell if isinstance(cell, str) else "" for cell in cells], widths))
    return row


def _height(texts: Sequence[str], widths: Sequence[int]) -> float:
    """The height of a row whose texts are wrapped."""
    lines = max((len(textwrap.wrap(text, width - 2)) for text, width in zip(texts, widths, strict=True)), default=1)
    return float(LINE_HEIGHT * max(1, lines))


def _figures(found: RiskResult, names: Sequence[str], kind: str, words: Words) -> list[SheetColumn]:
    """Each figure of each strategy beside its sampling error."""
    voice = Voice.of(found.scenario, words)
    columns = [SheetColumn("figure", words("column.figure"), "text", [words(f"risk.figure.{name}") for name in names])]
    for key in found.answers:
        strategy = voice.strategy(key)
        figures = [risk_tables.figure_of(found, key, name) for name in names]
        columns.append(SheetColumn(key, strategy, kind, [one.value for one in figures]))
        error = words("workbook.risk.error", strategy=strategy)
        columns.append(SheetColumn(f"{key}_error", error, kind, [one.error for one in figures]))
    return columns


def _years(found: RiskResult, words: Words) -> SheetColumn:
    """The project years by their names."""
    voice = Voice.of(found.scenario, words)
    years = range(1, found.scenario.appraisal.horizon_years + 1)
    return SheetColumn("year", words("column.year"), "text", [voice.year(year) for year in years])


def _chances(found: RiskResult, words: Words) -> list[SheetColumn]:
    """Chances of each project year."""
    voice = Voice.of(found.scenario, words)
    columns = [_years(found, words)]
    for key, answer in found.answers.items():
        strategy = voice.strategy(key)
        for kind in ("gap", "missed") if answer.strategy.loans else ("gap",):
            chances = [one.value for one in getattr(answer, f"{kind}_by_year")]
            columns.append(
                SheetColumn(f"{kind}_{key}", words(f"risk.column.{kind}", strategy=strategy), "share", chances)
            )
    return columns


def _money_in_hand(found: RiskResult, words: Words) -> list[SheetColumn]:
    """Quantiles of the money in hand at the end of each project year."""
    voice = Voice.of(found.scenario, words)
    columns = [_years(found, words)]
    for key, answer in found.answers.items():
        strategy = voice.strategy(key)
        for name, row in zip(("p10", "p50", "p90"), answer.fan.tolist(), strict=True):
            columns.append(SheetColumn(f"{name}_{key}", words(f"workbook.risk.{name}", strategy=strategy), "flow", row))
    return columns


def _hard(tests: StressResult, words: Words) -> list[SheetColumn]:
    """Every strategy in every hard case, the one that costs most first."""
    voice = Voice.of(tests.scenario, words)
    rows = [row for key, cases in tests.rows.items() for row in (tests.expected[key], *cases)]
    cases = [words(f"risk.case.{row.case}") for row in rows]
    names = [voice.strategy(row.strategy) for row in rows]
    return [
        SheetColumn("case", words("risk.column.case"), "text", cases),
        SheetColumn("strategy", words("workbook.risk.strategy"), "text", names),
        SheetColumn("npv", words("risk.column.npv"), "flow", [row.npv for row in rows]),
        SheetColumn("npv_change", words("risk.column.npv_change"), "flow", [row.npv_change for row in rows]),
        SheetColumn("deepest", words("risk.column.deepest"), "flow", [row.deepest for row in rows]),
        SheetColumn("gap_count", words("workbook.risk.gap_count"), "count", [len(row.gap_years) for row in rows]),
        SheetColumn(
            "missed_count", words("risk.column.missed_count"), "count", [len(row.missed_months) for row in rows]
        ),
        SheetColumn("put_off", words("risk.column.put_off"), "count", [row.trees_put_off for row in rows]),
    ]


def _prices(dossier: Dossier, words: Words) -> list[SheetColumn]:
    """Each loan at each of the lower prices that it is tried at."""
    tried = [(judged, *one) for judged in dossier.lending.loans for one in judged.at_price.items()]
    fits = ["lending.cell.yes" if verdict.holds else "lending.cell.no" for _, _, verdict in tried]
    missed = [int(verdict.missed_own.sum()) for _, _, verdict in tried]
    lowest = [float(verdict.fit.balance.min()) for _, _, verdict in tried]
    return [
        SheetColumn("loan", words("workbook.risk.loan"), "text", [judged.loan.name for judged, _, _ in tried]),
        SheetColumn("lower", words("workbook.risk.lower"), "share", [1 - factor for _, factor, _ in tried]),
        SheetColumn("fits", words("lending.row.fits"), "text", [words(key) for key in fits]),
        SheetColumn("missed", words("risk.column.missed_count"), "count", missed),
        SheetColumn("lowest", words("risk.column.deepest"), "flow", lowest),
    ]


def _ranked(found: Sensitivity, words: Words) -> list[SheetColumn]:
    """The figures that move the answer most, as on the page: words for their ends, numbers for the worth."""
    shown = risk_tables.bars(found, words, BARS_SHOWN)
    bars = found.bars[:BARS_SHOWN]
    worth = {"npv_low": [bar.npv_low for bar in bars], "npv_high": [bar.npv_high for bar in bars]}
    columns = []
    for place, column in enumerate(shown.columns):
        if column.key in worth:
            columns.append(SheetColumn(column.key, column.heading, "flow", worth[column.key]))
        elif column.key == "elasticity":
            columns.append(SheetColumn(column.key, column.heading, "ratio", [bar.elasticity for bar in bars]))
        else:
            columns.append(SheetColumn(column.key, column.heading, "text", [row[place] for row in shown.rows]))
    return columns
