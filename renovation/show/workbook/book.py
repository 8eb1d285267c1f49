"""The workbook under the sheets: formats, named cells, input cells with their bounds, print setup.

Whatever a person wrote goes in by `text`, which never makes a formula or a link of it.
"""

import io
import math
import textwrap
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Any

import xlsxwriter
from babel.numbers import get_currency_precision
from pydantic import BaseModel

from renovation.inputs import Declared, declared, unit_words
from renovation.words import Words, smallest_unit

Format = Any
Sheet = Any
A4 = 9
MOST_LETTERS_OF_A_MESSAGE = 255
MOST_LETTERS_OF_A_MESSAGE_TITLE = 32
MOST_LETTERS_OF_A_FOOTER = 250
LINE_HEIGHT = 13
HEIGHTS = {"title": 22, "section": 20}
"""Rows of titles are higher than others."""
USUAL_WIDTH, BORDER = 8.43, 0.71
"""Letters of a column that no width is set for, and what its border adds to any."""
PAGE = 138
"""Letters across A4 at full size, as LibreOffice prints them."""
WIDEST = 175
"""Letters across a page that is still set in 8 points."""
LARGEST_SCALE = 84
"""In percent, of what stands on several pages side by side: a little over 8 points, so that they are few."""

TYPE = {"font_name": "Arial", "font_size": 10}
"""A typeface that every office program has, or one of the same widths: pages break alike in all of them."""
INPUT_FILL = "#FFF2CC"
HEAD = {"bold": True, "text_wrap": True, "valign": "top", "bg_color": "#D9E2E0", "bottom": 1}
TEXT_STYLES: dict[str, dict[str, Any]] = {
    "title": {"bold": True, "font_size": 14},
    "section": {"bold": True, "font_size": 12, "top": 1, "valign": "vcenter"},
    "head": {**HEAD, "align": "left", "indent": 1},
    "left": {"valign": "top", "align": "left"},
    "head_right": {**HEAD, "align": "right"},
    "note": {"italic": True, "text_wrap": False},
    "about": {"italic": True, "text_wrap": True, "valign": "top", "align": "left"},
    "meaning": {"italic": True, "valign": "top", "align": "left", "indent": 1, "text_wrap": True},
    "wrap": {"text_wrap": True, "valign": "top", "align": "left"},
    "written": {"text_wrap": True, "valign": "top", "align": "right"},
    "warn": {"bold": True, "font_color": "#9C0006"},
    "plain": {"valign": "top"},
    "text": {"valign": "top", "align": "left", "indent": 1, "num_format": "@"},
    "wrap_text": {"valign": "top", "align": "left", "indent": 1, "text_wrap": True},
    "strong": {"bold": True, "valign": "top"},
    "result": {"bold": True, "valign": "top", "text_wrap": True, "align": "right"},
}


def quoted(text: str) -> str:
    """A text inside a formula.

    Example:
        >>> quoted('so "called"')
        '"so ""called""\"'
    """
    return '"' + text.replace('"', '""') + '"'


def cell(row: int, column: int, *, fixed: bool = False) -> str:
    """The address of a cell, rows and columns counted from 0.

    Example:
        >>> cell(4, 2), cell(4, 2, fixed=True)
        ('C5', '$C$5')
    """
    return str(xlsxwriter.utility.xl_rowcol_to_cell(row, column, row_abs=fixed, col_abs=fixed))


@dataclass(frozen=True)
class Stamp:
    """What every printed page says of its origin."""

    version: str
    digest: str
    when: date


class Book:
    """A workbook being written, with its formats and names."""

    def __init__(self, words: Words, currency: str, stamp: Stamp) -> None:
        """Open an empty workbook in memory."""
        self.words, self.currency, self.stamp = words, currency, stamp
        self.digits = get_currency_precision(currency)
        self.unit = smallest_unit(currency)
        self._out = io.BytesIO()
        self._book = xlsxwriter.Workbook(
            self._out,
            {
                "in_memory": True,
                "strings_to_formulas": False,
                "strings_to_urls": False,
                "default_format_properties": TYPE,
            },
        )
        self.format = cache(self._format)
        self._notes: dict[str, dict[int, str]] = {}
        self._widths: dict[str, dict[int, float]] = {}
        self._names: dict[str, str] = {}

    # Formats

    def _number_formats(self) -> dict[str, str]:
        """Number formats by kind; money in sentences carries its currency, columns have it in their heads."""
        cents = "." + "0" * self.digits if self.digits else ""
        code = f'"{self.currency} "'
        return {
            "flow": "#,##0;-#,##0;0",
            "exact": f"#,##0{cents};-#,##0{cents};0",
            "money": f"{code}#,##0;-{code}#,##0;{code}0",
            "price": f"{code}#,##0{cents};-{code}#,##0{cents};{code}0",
            "kg": "#,##0.0",
            "days": "#,##0.0",
            "days_per_kg": "0.000",
            "percent": "0.0%",
            "rate": "0.00%",
            "share": "0.0%",
            "ratio": "0.00",
            "factor": "0.0000",
            "years": f'0.0" {self.words("workbook.measure.in_years")}"',
            "huge": "[>=1000000000000]0.0E+00;[<=-1000000000000]-0.0E+00;#,##0",
            "count": "0",
            "general": "General",
            "text": "@",
        }

    def _format(self, kind: str = "general", style: str = "plain", *, is_input: bool = False) -> Format:
        """A cell format: a kind of number, a style of text, coloured and unlocked where it is an input."""
        shape = {"num_format": self._number_formats()[kind], **TEXT_STYLES[style]}
        if is_input:
            shape |= {"bg_color": INPUT_FILL, "border": 1, "border_color": "#BF9000", "locked": False}
        return self._book.add_format(shape)

    # Sheets

    def sheet(self, key: str, number: int | None = None) -> Sheet:
        """A new sheet named by the catalogue, protected without a password, A4 across."""
        name = self.words(f"workbook.sheet.{key}", n=number) if number else self.words(f"workbook.sheet.{key}")
        sheet = self._book.add_worksheet(name)
        sheet.set_landscape()
        sheet.set_paper(A4)
        sheet.set_margins(left=0.3, right=0.3, top=0.5, bottom=0.6)
        sheet.fit_to_pages(1, 0)
        sheet.set_default_row(LINE_HEIGHT)
        sheet.hide_gridlines(1)
        sheet.set_footer(self._footer())
        sheet.protect("", {"format_columns": True, "format_rows": True})
        return sheet

    def _footer(self) -> str:
        stamp = self.stamp
        day = self.words.day(stamp.when)
        line = self.words("command.stamp", version=stamp.version, digest=stamp.digest, date=day)
        return f"&L{line.replace('&', '&&')[:MOST_LETTERS_OF_A_FOOTER]}&R&A · &P / &N"

    def line_chart(self) -> Any:
        """A new chart of lines."""
        return self._book.add_chart({"type": "line"})

    # Cells

    def text(self, sheet: Sheet, row: int, column: int, text: str, style: str = "plain") -> None:
        """Write a text as it stands, whatever sign it begins with; the title of a section gets a higher row."""
        if style in HEIGHTS:
            sheet.set_row(row, HEIGHTS[style])
        sheet.write_string(row, column, text, self.format("general", "text" if style == "plain" else style))

    def paragraph(self, sheet: Sheet, row: int, column: int, text: str, width: int, style: str = "wrap") -> None:
        """Write a text over as many lines as it needs in a column `width` letters wide."""
        lines = sum(max(1, len(textwrap.wrap(part, int(0.9 * width)))) for part in text.split("\n"))
        sheet.set_row(row, LINE_HEIGHT * lines)
        self.text(sheet, row, column, text, style)

    def note(self, sheet: Sheet, text: str, row: int = 1) -> None:
        """What a sheet is, said beneath its title over as much width as its first page has, once that is known."""
        self._notes.setdefault(sheet.get_name(), {})[row] = text

    def wrapped(self, sheet: Sheet, row: int, texts: Mapping[int, tuple[str, str]], least: int = 1) -> None:
        """Texts of a row, each with its style, by column; the row is as high as the longest needs, wrapped."""
        mine = self._widths[sheet.get_name()]
        lines = [len(textwrap.wrap(text, max(1, int(0.9 * mine[place]) - 1))) for place, (text, _) in texts.items()]
        sheet.set_row(row, LINE_HEIGHT * max(least, *lines))
        for place, (text, style) in texts.items():
            self.text(sheet, row, place, text, style)

    def formula(self, sheet: Sheet, at: tuple[int, int], formula: str, kind: str, value: float | str) -> None:
        """Write a formula with the program's result as its value."""
        sheet.write_formula(*at, formula, self.format(kind), value)

    def name(self, name: str, sheet: Sheet, first: tuple[int, int], last: tuple[int, int] | None = None) -> None:
        """Give a cell or a range a name that formulas use."""
        area = cell(*first, fixed=True)
        if last:
            area += ":" + cell(*last, fixed=True)
        self._names[name] = area
        self._book.define_name(name, f"={sheet_prefix(sheet)}{area}")

    def heads(self, sheet: Sheet, row: int, heads: Iterable[str], column: int = 0) -> None:
        """Write column heads."""
        for place, head in enumerate(heads, start=column):
            self.text(sheet, row, place, head, "head")

    # Input cells

    def number_input(
        self, sheet: Sheet, at: tuple[int, int], value: float | None, kind: str, field: tuple[type[BaseModel], str]
    ) -> None:
        """An unlocked, coloured cell for a number, held to the bounds of the field it stands for."""
        shape = self.format(kind, is_input=True)
        if value is None:
            sheet.write_blank(*at, None, shape)
        else:
            sheet.write_number(*at, value, shape)
        sheet.data_validation(*at, *at, self._bounds(declared(*field), at))

    def choice_input(self, sheet: Sheet, at: tuple[int, int], text: str, source: Sequence[str] | str) -> None:
        """An unlocked, coloured cell for one of several texts, listed or standing in a range."""
        sheet.write_string(*at, text, self.format("text", is_input=True))
        told = self.words("workbook.choose")
        sheet.data_validation(*at, *at, {"validate": "list", "source": source, **self._refusal(told)})

    def _bounds(self, said: Declared, at: tuple[int, int]) -> dict[str, Any]:
        """The validation of a number: the bounds that the model declares."""
        bounds = self.bounds_in_words(said)
        words = self.words
        about = {
            "input_title": textwrap.shorten(words(said.label_key), MOST_LETTERS_OF_A_MESSAGE_TITLE, placeholder="…"),
            "input_message": f"{words(said.help_key)} {bounds}"[:MOST_LETTERS_OF_A_MESSAGE],
            **self._refusal(bounds),
        }
        kind = "integer" if said.whole else "decimal"
        if said.lower is not None and said.upper is not None and not (said.lower_open or said.upper_open):
            return {"validate": kind, "criteria": "between", "minimum": said.lower, "maximum": said.upper, **about}
        here = cell(*at)
        tests = [f"ISNUMBER({here})"]
        if said.lower is not None:
            tests.append(f"{here}{'>' if said.lower_open else '>='}{said.lower:.15g}")
        if said.upper is not None:
            tests.append(f"{here}{'<' if said.upper_open else '<='}{said.upper:.15g}")
        return {"validate": "custom", "value": f"=AND({','.join(tests)})", **about}

    def _refusal(self, message: str) -> dict[str, Any]:
        title = self.words("workbook.not_accepted")[:MOST_LETTERS_OF_A_MESSAGE_TITLE]
        return {"error_title": title, "error_message": message[:MOST_LETTERS_OF_A_MESSAGE]}

    def bounds_in_words(self, said: Declared) -> str:
        """What a number of a field may be; a share's bounds as percent, as its cell shows it."""
        percent = said.unit.startswith("share")
        lower, upper = (
            "" if end is None else self.words.percent(end, 0) if percent else self.words.number(end)
            for end in (said.lower, said.upper)
        )
        open_or_closed = f"{'open' if said.lower_open else 'closed'}_{'open' if said.upper_open else 'closed'}"
        if not (lower and upper):
            return self.words("workbook.accepted.from", lower=lower)
        return self.words(f"workbook.accepted.{open_or_closed}", lower=lower, upper=upper)

    def unit_of(self, said: Declared) -> str:
        """The unit of a field in words; where its cell shows percent, so do the words."""
        percent = f"workbook.percent.{said.unit}"
        return self.words(percent) if percent in self.words else unit_words(self.words, said.unit, self.currency)

    # The end

    def widths(self, sheet: Sheet, widths: Iterable[float], first: int = 0) -> None:
        """Set the widths of columns, in letters, from column `first` on."""
        mine = self._widths.setdefault(sheet.get_name(), {})
        for place, width in enumerate(widths, start=first):
            mine[place] = width
            sheet.set_column(place, place, width)

    def pages(
        self, sheet: Sheet, head_row: int, last: tuple[int, int], fixed_columns: int = 0, *, repeat: bool = True
    ) -> None:
        """Freeze and repeat the heads, and print down to the last cell, in type of 8 points or more.

        What is wider than a page is set on several side by side, the fixed columns on each of them; what the sheet is
        stands on the first alone.
        """
        sheet.freeze_panes(head_row + 1, fixed_columns)
        if repeat:
            sheet.repeat_rows(head_row)
        sheet.print_area(0, 0, *last)
        mine = self._widths.get(sheet.get_name(), {})
        letters = [mine.get(place, USUAL_WIDTH) + BORDER for place in range(last[1] + 1)]
        breaks, widest = _side_by_side(letters, fixed_columns)
        if breaks:
            sheet.repeat_columns(0, fixed_columns - 1)
            sheet.set_v_pagebreaks(breaks)
            sheet.set_print_scale(min(LARGEST_SCALE, int(100 * PAGE / widest)))
            sheet.print_across()
        first, end = (fixed_columns, breaks[0] - 1) if breaks else (0, len(letters) - 1)
        for row, text in self._notes.get(sheet.get_name(), {}).items():
            sheet.merge_range(row, first, row, end, text, self.format("general", "about"))
            sheet.set_row(row, LINE_HEIGHT * len(textwrap.wrap(text, int(0.9 * sum(letters[first : end + 1])))))

    def finish(self, title: str) -> bytes:
        """Close the workbook and give its bytes: the same for the same content, language and date."""
        when = self.stamp.when
        self._book.set_properties({"title": title, "created": datetime(when.year, when.month, when.day)})
        self._book.close()
        return _in_language(self._out, self.words.language)


def _in_language(written: io.BytesIO, language: str) -> bytes:
    """The workbook with its language among its properties, where a program that reads it aloud looks it up."""
    out = io.BytesIO()
    with zipfile.ZipFile(written) as old, zipfile.ZipFile(out, "w") as new:
        for part in old.infolist():
            content = old.read(part)
            if part.filename == "docProps/core.xml":
                end = b"</cp:coreProperties>"
                content = content.replace(end, f"<dc:language>{language}</dc:language>".encode() + end)
            new.writestr(part, content)
    return out.getvalue()


def _side_by_side(letters: Sequence[float], fixed: int) -> tuple[list[int], float]:
    """Where columns of these widths break into pages that are about equally wide, and the widest page; [] for one.

    fixed: so many columns, the first, stand on every page.

    Example (of 4 and 6 times 30 letters the first on each page):
        >>> _side_by_side([30.0] * 4, 1), _side_by_side([30.0] * 7, 1)
        (([], 120.0), ([4], 120.0))
    """
    head, rest = sum(letters[:fixed]), sum(letters[fixed:])
    if head + rest <= WIDEST or not fixed:
        return [], head + rest
    room, number = WIDEST - head, math.ceil(rest / (WIDEST - head))
    limit = min(room, rest / number + max(letters[fixed:]) / 2)
    breaks: list[int] = []
    wide = widest = 0.0
    for place in range(fixed, len(letters)):
        if wide and wide + letters[place] > limit:
            breaks.append(place)
            wide = 0.0
        wide += letters[place]
        widest = max(widest, wide)
    return breaks, head + widest


def sheet_prefix(sheet: Sheet) -> str:
    """What stands before an address to name its sheet.

    A quote in the name is doubled: Tom's is 'Tom''s'!
    """
    return "'" + str(sheet.get_name()).replace("'", "''") + "'!"
