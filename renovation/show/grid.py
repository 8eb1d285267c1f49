"""One table of words, one column, and how both are set out for a terminal.

Every answer that is a table is a `Table`: pure rows of text, each heading and word from the catalogue. Screen, printed
report and terminal set out the same one; `render` does so for a terminal of any width and never cuts a word.
"""

import re
import textwrap
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from renovation.words import Words

if TYPE_CHECKING:
    import pandas as pd


NO_BREAK = "\N{NO-BREAK SPACE}"


INDENT = "  "
"""What the further lines of a sentence begin with on a terminal."""
COMFORTABLE_WIDTH = 16
"""Letters that a column is given before a table is split into blocks."""


@dataclass(frozen=True)
class Column:
    """One column: a stable key, its heading in words, and the side that its cells stand on."""

    key: str
    heading: str
    align: Literal["left", "right"] = "left"


@dataclass(frozen=True)
class Table:
    """A table in words: title, columns and rows of cells, each row as long as the columns.

    Example:
        >>> table = Table("Crops", (Column("stand", "Stand"), Column("kg", "kg", "right")), (("Hill", "12"),))
        >>> table.records()
        [{'stand': 'Hill', 'kg': '12'}]
    """

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]

    def records(self) -> list[dict[str, str]]:
        """One dict per row by column key."""
        keys = [column.key for column in self.columns]
        return [dict(zip(keys, row, strict=True)) for row in self.rows]

    def frame(self) -> "pd.DataFrame":
        """The rows under their headings, for a screen."""
        import pandas as pd

        return pd.DataFrame(list(self.rows), columns=[column.heading for column in self.columns])


def column(path: str, words: Words, align: Literal["left", "right"] = "left", **facts: str) -> Column:
    """A column by the path of its heading in the catalogue; the path's last part is its key.

    Example:
        >>> column("cash.column.balance", Words("en"), "right", currency="$")
        Column(key='balance', heading='Balance at the end, $', align='right')
    """
    return Column(path.rpartition(".")[2], words(path, **facts), align)


def columns(
    under: str, keys: Iterable[str], words: Words, right: Collection[str] = (), **facts: str
) -> tuple[Column, ...]:
    """Columns whose headings stand in one place of the catalogue; `right` are those whose cells stand to the right."""
    return tuple(column(f"{under}.{key}", words, "right" if key in right else "left", **facts) for key in keys)


# Cells


def unbroken(text: str) -> str:
    """Keep the words of a cell on one line."""
    return text.replace(" ", NO_BREAK)


def month_cell(year_month: str, words: Words) -> str:
    """A month's short name and year on one line.

    Example:
        >>> month_cell("2027-03", Words("en")).replace(NO_BREAK, " ")
        'Mar 2027'
    """
    return unbroken(words.month(year_month, "abbreviated"))


def blank(words: Words) -> str:
    """A cell that has nothing to say."""
    return words("measure_cell.blank")


def number_cell(value: float, digits: int, words: Words) -> str:
    """A number with so many decimals, or a dash for nothing."""
    return words.number(value, digits) if value else blank(words)


def digits_of(values: Iterable[float], small: int = 2) -> int:
    """Decimals that a column needs: none where its largest figure has three digits or more, else `small`."""
    return 0 if max(map(abs, values), default=0.0) >= 100 else small


def picked(table: Table, only: Sequence[str] = ()) -> Table:
    """The table with the columns of these keys, in their order; with all where none is named.

    Example:
        >>> table = Table("Crops", (Column("stand", "Stand"), Column("kg", "kg", "right")), (("Hill", "12"),))
        >>> picked(table, ("kg",)).rows
        (('12',),)
    """
    if not only:
        return table
    places = {column.key: place for place, column in enumerate(table.columns)}
    kept = [places[key] for key in only]
    rows = tuple(tuple(row[place] for place in kept) for row in table.rows)
    return Table(table.title, tuple(table.columns[place] for place in kept), rows)


# In a width

GAP = 2
NARROW_WIDTH = 12
"""Letters that a column of a narrow screen is given before its rows become cards."""
_PARTS = re.compile(r"[ \t\n\v\f\r]+|(?<=-)")
BLANKS = re.compile(r"[ \t\n\v\f\r]+")
"""Where a line may break: a blank that holds a figure and its unit together is none."""


def render(table: Table, width: int) -> str:
    """Set a table out in aligned columns for a terminal `width` letters wide.

    Cells are wrapped between words, and a table that is still too wide is set in blocks one below another,
    each with the first column. A word wider than the terminal stands out beyond it: nothing is ever cut.

    Example:
        >>> table = Table("Crops", (Column("stand", "Stand"), Column("kg", "kg", "right")), (("Hill", "12"),))
        >>> print(render(table, 40))
        Crops
        <BLANKLINE>
        Stand  kg
        ─────  ──
        Hill   12
    """
    blocks = [_block(table, chosen, width) for chosen in _blocks(table, width)]
    return "\n\n".join([paragraph(table.title, width), *blocks])


def fits(table: Table, width: int) -> bool:
    """Whether all columns of a table on a screen of so many letters stand side by side, each cell comfortably.

    A screen breaks a line after a hyphen too.

    Example:
        >>> table = Table("Crops", (Column("stand", "Stand"), Column("kg", "Dry beans, kg")), (("Hill", "12"),))
        >>> fits(table, 15), fits(table, 14)
        (True, False)
    """
    wanted = 0
    for place, column in enumerate(table.columns):
        cells = [row[place] for row in table.rows]
        longest = max((len(part) for cell in (column.heading, *cells) for part in _PARTS.split(cell)), default=0)
        wanted += max(longest, min(max(map(len, cells), default=0), NARROW_WIDTH)) + GAP
    return wanted <= width


def paragraph(text: str, width: int, indent: str = "") -> str:
    """Wrap a text between words."""
    return "\n".join(_wrap(text, width, indent))


def lines(said: Iterable[str], width: int) -> str:
    """Sentences, each on a line of its own."""
    return "\n".join(paragraph(sentence, width, INDENT) for sentence in said)


def _wrap(text: str, width: int, indent: str = "") -> list[str]:
    if len(text) <= width and text.isprintable():
        return [text.rstrip(" ")]
    wrapped = textwrap.wrap(
        text, max(width, 1), break_long_words=False, break_on_hyphens=False, subsequent_indent=indent
    )
    return wrapped or [""]


def _cells(table: Table, column: int) -> list[str]:
    return [table.columns[column].heading, *(row[column] for row in table.rows)]


def _natural(table: Table, column: int) -> int:
    """Letters of the longest cell."""
    return max(len(cell) for cell in _cells(table, column))


def _least(table: Table, column: int) -> int:
    """Letters of the longest word."""
    return max(len(word) for cell in _cells(table, column) for word in BLANKS.split(cell))


def _blocks(table: Table, width: int) -> list[list[int]]:
    """Which columns stand side by side: all where they fit, else the first with as many others as fit."""
    columns = list(range(len(table.columns)))
    if sum(_least(table, column) + GAP for column in columns) - GAP <= width and len(columns) <= 2:
        return [columns]
    wanted = [max(_least(table, c), min(_natural(table, c), COMFORTABLE_WIDTH)) + GAP for c in columns]
    if sum(wanted) - GAP <= width:
        return [columns]
    blocks: list[list[int]] = []
    room = 0
    for column in columns[1:]:
        if not blocks or room < wanted[column]:
            blocks.append([0])
            room = width + GAP - wanted[0]
        blocks[-1].append(column)
        room -= wanted[column]
    return blocks or [columns]


def _widths(table: Table, chosen: Sequence[int], width: int) -> list[int]:
    """Letters of each column: its longest cell where all fit, else its longest word and a part of the rest."""
    natural = [_natural(table, column) for column in chosen]
    least = [_least(table, column) for column in chosen]
    room = width - GAP * (len(chosen) - 1)
    if sum(natural) <= room:
        return natural
    spare, wanted = max(0, room - sum(least)), sum(natural) - sum(least)
    return [low + spare * (high - low) // max(wanted, 1) for low, high in zip(least, natural, strict=True)]


def _block(table: Table, chosen: Sequence[int], width: int) -> str:
    """The chosen columns with their headings, a rule, and the rows."""
    widths = _widths(table, chosen, width)
    rule = (" " * GAP).join("─" * letters for letters in widths)
    heading = _row_lines(table, chosen, [table.columns[c].heading for c in chosen], widths)
    rows = [line for row in table.rows for line in _row_lines(table, chosen, [row[c] for c in chosen], widths)]
    return "\n".join([*heading, rule, *rows])


def _row_lines(table: Table, chosen: Sequence[int], cells: Sequence[str], widths: Sequence[int]) -> list[str]:
    """One row, as many lines as its tallest cell."""
    wrapped = [_wrap(cell, letters) for cell, letters in zip(cells, widths, strict=True)]
    lines = []
    for line in range(max(map(len, wrapped))):
        parts = []
        for column, cell, letters in zip(chosen, wrapped, widths, strict=True):
            text = cell[line] if line < len(cell) else ""
            parts.append(text.rjust(letters) if table.columns[column].align == "right" else text.ljust(letters))
        lines.append((" " * GAP).join(parts).rstrip())
    return lines
