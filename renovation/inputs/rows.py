"""Tables that people fill in elsewhere and bring back as CSV: read strictly, each row with its line."""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from renovation.inputs.errors import Problem, ScenarioError
from renovation.inputs.parse import MOST_BYTES
from renovation.inputs.quantities import FrozenDict

MOST_ROWS = 20_000


@dataclass(frozen=True)
class Row:
    """One row: its line in the file, counted from 1, and its cells by column, without spaces around them."""

    line: int
    cells: dict[str, str]


def read_rows(content: str | bytes, name: str, columns: Sequence[str]) -> list[Row]:
    """The rows of a CSV that has these columns in any order; rows without any cell filled are left out.

    Cells are parted by commas or by semicolons, whichever the first line has. A byte-order mark is passed over.

    Errors: ScenarioError for a file that is too large, no text or empty, a column that is unknown, twice or missing,
    and a row with more cells than columns.

    Example:
        >>> read_rows("what;value\\nmade;3,5\\n", "season.csv", ("what", "value"))
        [Row(line=2, cells={'what': 'made', 'value': '3,5'})]
    """
    text = _text(content, name)
    first = text.split("\n", 1)[0]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=";" if ";" in first else ",", strict=True)
    try:
        lines = [(reader.line_num, [cell.strip() for cell in cells]) for cells in reader]
    except csv.Error:
        raise _refused(name, "broken", str(reader.line_num)) from None
    if not lines or not any(lines[0][1]):
        raise _refused(name, "empty", choices=tuple(columns))
    _check_head(lines[0][1], name, columns)
    if len(lines) > MOST_ROWS:
        raise _refused(name, "too_many_rows", most=MOST_ROWS)
    rows = []
    for line, cells in lines[1:]:
        if any(cells[len(columns) :]):
            raise _refused(name, "too_many_cells", str(line), most=len(columns))
        if any(cells):
            filled = [*cells, *[""] * (len(columns) - len(cells))]
            rows.append(Row(line, dict(zip(lines[0][1], filled, strict=False))))
    return rows


def _text(content: str | bytes, name: str) -> str:
    """The text of a file that is one, its lines ended alike."""
    data = content.encode("utf-8", "surrogatepass") if isinstance(content, str) else content
    if len(data) > MOST_BYTES:
        raise _refused(name, "too_large", most=MOST_BYTES // 1000)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise _refused(name, "not_text") from None
    if "\0" in text:
        raise _refused(name, "not_text")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _check_head(found: list[str], name: str, columns: Sequence[str]) -> None:
    """Refuse columns that are unknown, twice or missing."""
    while found and not found[-1]:
        found.pop()
    for column in found:
        if column not in columns:
            raise _refused(name, "unknown_column", "1", column, like=column, choices=tuple(columns))
        if found.count(column) > 1:
            raise _refused(name, "column_twice", "1", column)
    if missing := tuple(column for column in columns if column not in found):
        raise _refused(name, "missing_column", "1", choices=missing)


def _refused(name: str, code: str, line: str = "", found: str = "", **facts: object) -> ScenarioError:
    return ScenarioError([Problem(name, line, f"table_error.{code}", found, FrozenDict(facts))])
