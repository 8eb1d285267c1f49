"""The sheet that looks for rates of return: the change's worth at many rates, and where it crosses zero.

IRR() finds one rate near its guess and is silent about others. So the worth is worked out at rates from −99.9 % to
9,900 %; every crossing between two of them is a rate of return, and gives IRR() its guess.
"""

import numpy as np

from renovation.money import net_present_value
from renovation.show.workbook.book import Book, Sheet
from renovation.show.workbook.months import TOP
from renovation.show.workbook.table import SheetTable, column
from renovation.types import FloatArray

WIDE = 26
"""Letters of a column, so that the note above has room."""
MEANINGLESS_BELOW = -0.9
"""A rate below this does not count beside others (method §5)."""


def grid() -> FloatArray:
    """Rates to look at, rising: even steps of ln(1 + rate), finest where people meet rates.

    Example:
        >>> rates = grid()
        >>> bool((np.diff(rates) > 0).all()), bool((np.abs(rates + 0.9) < 1e-12).any())
        (True, True)
    """
    low = np.linspace(np.log(0.001), np.log(0.1), 24)[:-1]
    middle = np.linspace(np.log(0.1), np.log(11.0), 236)
    high = np.linspace(np.log(11.0), np.log(100.0), 23)[1:]
    return np.asarray(np.exp(np.concatenate([low, middle, high])) - 1, dtype=np.float64).round(12)


def rates_table(book: Book, sheet: Sheet, change: FloatArray) -> SheetTable:
    """Lay out the search; `change` is the change of each year, (H,)."""
    rates = grid()
    worth = net_present_value(change, rates)
    above = worth > 0
    crossing = np.concatenate([[False], above[1:] != above[:-1]])
    guess = np.full(rates.size, np.nan)
    at = np.flatnonzero(crossing)
    step = worth[at - 1] / (worth[at - 1] - worth[at])
    guess[at] = rates[at - 1] + (rates[at] - rates[at - 1]) * step

    between = "{rate.before}+({rate}-{rate.before})*{worth.before}/({worth.before}-{worth})"
    return SheetTable(
        book,
        sheet,
        TOP,
        [
            column(book, "rate", "rate", rates, width=WIDE),
            column(book, "worth", "huge", worth, "=NPV({rate},{change.change.all})", width=WIDE),
            column(
                book,
                "crossing",
                "count",
                crossing.astype(float),
                "=IF(({worth}>0)<>({worth.before}>0),1,0)",
                first="=0",
                width=WIDE,
            ),
            column(
                book,
                "root",
                "count",
                np.cumsum(crossing).astype(float),
                "={root.before}+{crossing}",
                first="={crossing}",
                width=WIDE,
            ),
            column(book, "guess", "rate", guess, f'=IF({{crossing}}=1,{between},"")', first='=""', width=WIDE),
        ],
    )


def write_rates(book: Book, table: SheetTable, change: SheetTable) -> None:
    """Write the search."""
    book.text(table.sheet, 0, 0, book.words("workbook.sheet.rates"), "title")
    book.note(table.sheet, book.words("workbook.about.rates"), 1)
    table.write({"change": change})
    book.pages(table.sheet, TOP - 1, (table.last_row, table.last_column))


def rates_below(table: SheetTable) -> str:
    """The range of crossings at rates of −90 % and below."""
    last = int(np.flatnonzero(grid() <= MEANINGLESS_BELOW + 1e-9)[-1])
    letter = table.letters["crossing"]
    prefix = table["crossing"].prefix
    return f"{prefix}${letter}${table.top + 1}:${letter}${table.top + 1 + last}"
