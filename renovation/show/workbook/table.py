"""Tables of formulas: each column once, written for every row, with the program's numbers as cached values.

A formula is a template. `{sales}` is this row's cell of the column `sales`; `{sales.before}` the cell of the row
above; `{sales.all}` the whole column; `{plan.sales}` the cell of another table in the same row, by the name that
`write` gives that table; `{plan.sales.year}` the twelve months of the project year that this row stands for.
"""

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from xlsxwriter.utility import xl_col_to_name

from renovation.show.workbook.book import LINE_HEIGHT, Book, Sheet, sheet_prefix
from renovation.types import FloatArray

Value = float | int | str | None


@dataclass(frozen=True)
class SheetColumn:
    """A column: its key in formulas, its head, the kind of its numbers, the program's values, its formula.

    formula: a template; None where the values themselves stand in the cells. first: the formula of the first
    row where it differs. width: letters.
    """

    key: str
    head: str
    kind: str
    values: Sequence[Value]
    formula: str | None = None
    first: str | None = None
    width: float = 11

    @property
    def is_text(self) -> bool:
        """Whether its cells are words."""
        return self.kind in ("text", "general")


def column(
    book: Book,
    key: str,
    kind: str,
    values: FloatArray | Sequence[Value],
    formula: str | None = None,
    *,
    first: str | None = None,
    width: float = 12,
    under: str = "workbook.column",
) -> SheetColumn:
    """A column whose head stands in the catalogue at `under`.`key`, with the currency where it names it."""
    cells = numbers(values) if isinstance(values, np.ndarray) else values
    return SheetColumn(key, book.words(f"{under}.{key}", currency=book.currency), kind, cells, formula, first, width)


@dataclass(frozen=True)
class Ref:
    """A place in a table, as a formula of some sheet writes it."""

    table: "SheetTable"
    letter: str
    index: int
    prefix: str

    def __str__(self) -> str:
        """The cell itself."""
        return f"{self.prefix}{self.letter}{self.table.top + self.index + 1}"

    @property
    def before(self) -> str:
        """The cell of the row above."""
        return f"{self.prefix}{self.letter}{self.table.top + self.index}"

    @property
    def all(self) -> str:
        """The whole column."""
        return self._range(0, self.table.rows - 1)

    @property
    def year(self) -> str:
        """The twelve months of project year `index`, of a table of months."""
        return self._range(12 * self.index, 12 * self.index + 11)

    @property
    def year_end(self) -> str:
        """The last month of project year `index`, of a table of months."""
        return f"{self.prefix}{self.letter}{self.table.top + 12 * self.index + 12}"

    def _range(self, first: int, last: int) -> str:
        top = self.table.top + 1
        return f"{self.prefix}${self.letter}${top + first}:${self.letter}${top + last}"


@dataclass(frozen=True)
class Row:
    """One row of a table, its cells by column key."""

    table: "SheetTable"
    index: int
    prefix: str

    def __getattr__(self, key: str) -> Ref:
        """The cell of a column."""
        return Ref(self.table, self.table.letters[key], self.index, self.prefix)


class SheetTable:
    """A table on a sheet, its first data row `top` and its first column `left` counted from 0."""

    def __init__(self, book: Book, sheet: Sheet, top: int, columns: Iterable[SheetColumn], left: int = 0) -> None:
        """Lay a table out; `write` fills it in."""
        self.book, self.sheet, self.top, self.left = book, sheet, top, left
        self.columns = tuple(columns)
        self.rows = len(self.columns[0].values)
        self.letters = {c.key: xl_col_to_name(left + place) for place, c in enumerate(self.columns)}

    @property
    def last_row(self) -> int:
        """The row of the last line, counted from 0."""
        return self.top + self.rows - 1

    @property
    def last_column(self) -> int:
        """The last column, counted from 0."""
        return self.left + len(self.columns) - 1

    def __getitem__(self, key: str) -> Ref:
        """A column as formulas of other sheets see it; of use with `.all`."""
        return Ref(self, self.letters[key], 0, sheet_prefix(self.sheet))

    def place(self, key: str) -> int:
        """The number of a column, counted from 0."""
        return self.left + [column.key for column in self.columns].index(key)

    def write(self, others: "Mapping[str, SheetTable]", *, widths: bool = True) -> None:
        """Write heads, values and formulas; `others` are the tables that the formulas speak of by name."""
        self._write_heads()
        for place, column in enumerate(self.columns, start=self.left):
            if widths:
                self.book.widths(self.sheet, [max(column.width, self._letters(column))], place)
            shape = self.book.format(column.kind, "text" if column.is_text else "plain")
            for index, value in enumerate(column.values):
                self._write_cell(place, index, column, value, shape, others)

    def _letters(self, column: SheetColumn) -> int:
        """Letters that the largest number of a column needs, with a little room to grow; huge ones are cut short."""
        if column.kind == "huge":
            return 0
        cents = self.book.digits + 1 if column.kind == "exact" else 0
        amounts = (value for value in column.values if isinstance(value, int | float))
        return max((len(f"{value:,.0f}") for value in amounts), default=0) + cents + 2

    def _write_heads(self) -> None:
        """Write the heads, as high as the longest of them needs, on the side their cells stand on."""
        lines = max(len(textwrap.wrap(column.head, int(column.width - 1))) for column in self.columns)
        self.sheet.set_row(self.top - 1, LINE_HEIGHT * lines + 3)
        for place, column in enumerate(self.columns, start=self.left):
            self.book.text(self.sheet, self.top - 1, place, column.head, "head" if column.is_text else "head_right")

    def _write_cell(
        self, place: int, index: int, column: SheetColumn, value: Value, shape: Any, others: "Mapping[str, SheetTable]"
    ) -> None:
        template = column.first if index == 0 and column.first is not None else column.formula
        row = self.top + index
        if template is None:
            if isinstance(value, str):
                self.sheet.write_string(row, place, value, shape)
            elif value is not None:
                self.sheet.write_number(row, place, float(value), shape)
            return
        facts: dict[str, Any] = {key: Ref(self, letter, index, "") for key, letter in self.letters.items()}
        facts |= {name: Row(other, index, sheet_prefix(other.sheet)) for name, other in others.items()}
        cached = "" if value is None else value if isinstance(value, str) else float(value)
        self.sheet.write_formula(row, place, template.format_map(facts), shape, cached)


def numbers(values: Any) -> list[Value]:
    """An array as plain numbers; nan is a blank.

    Example:
        >>> numbers(np.array([1.5, np.nan]))
        [1.5, None]
    """
    return [None if np.isnan(value) else float(value) for value in np.asarray(values, dtype=np.float64)]
