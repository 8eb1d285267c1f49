"""Text, tables and charts on a page: what is shown is exactly what the catalogue and the farm say."""

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Literal, TypeVar

import pandas as pd
import streamlit as st

from renovation.screens.controls import phone, room
from renovation.screens.memory.state import key_of, words
from renovation.show.grid import Table, blank, fits, picked
from renovation.show.vega import Chart

Thing = TypeVar("Thing")


def plain(text: str) -> str:
    """Say a text as it stands: no sign of money, no name that a stranger gave becomes formatting, picture or link.

    The page reads formatting twice: in what is written, where a sign before it takes its meaning away, and, for
    addresses and names between colons, in what is left of it then, where only a mark without width parts them.

    Example:
        >>> plain("$5 to $6")
        '\\\\$5 to \\\\$6'
        >>> plain("www.farm") == "www\N{WORD JOINER}.farm"
        True
    """
    parted = _ADDRESS.sub("\\g<0>\N{WORD JOINER}", _SPACES.sub(" ", text))
    return _LIST.sub(r"\g<1>\\\g<2>", unbroken(_SIGNS.sub(r"\\\g<0>", parted)))


def unbroken(text: str) -> str:
    """Keep a minus sign, and a plus-minus sign, on the same line as its number.

    Example:
        >>> unbroken("-$5 ± $1") == "\N{MINUS SIGN}\N{WORD JOINER}$5 ±\N{NO-BREAK SPACE}$1"
        True
    """
    return _MINUS.sub("\N{MINUS SIGN}\N{WORD JOINER}", text).replace("± ", "±\N{NO-BREAK SPACE}")


_SPACES = re.compile(r"[ \t\n\r\f\v\x1c-\x1f\x85\u2028\u2029]+")
"""Spaces and ends of lines: one stands for all, for after them a heading, a list or a block could begin."""
_ADDRESS = re.compile(r"www(?=\.)|:(?=//)|@(?=[-\w])|:(?=[-+\w/]+:)", re.IGNORECASE)
"""Where an address, or the name of a picture between colons, is known by."""
_SIGNS = re.compile(r"[\\$*_\[\]`~#<>&]|:(?=\S)")
"""What the page would take for formatting."""
_LIST = re.compile(r"^(\s*\d*)([-+.)])(?=[-\s]|$)")
"""What would begin a list or a line across the page."""
_MINUS = re.compile(r"(?<![^\s(])-(?=\S)")
"""A hyphen that begins a word is a minus sign."""


def why(label: str, because: str, *, name: str) -> None:
    """The reason behind a number, one tap away; nothing where it has none. name: what tells it from the others."""
    if because:
        with st.popover(label, type="tertiary", key=key_of(f"why{name}")):
            st.markdown(plain(words().reason(because)))


def bullets(said: Iterable[str]) -> None:
    """Sentences one beneath another, each with a dot."""
    st.markdown("\n".join(f"- {plain(sentence)}" for sentence in said))


def small(said: Iterable[str]) -> None:
    """Small print, one sentence a line."""
    for sentence in said:
        st.caption(plain(sentence))


def show_chart(chart: Chart, key: str) -> None:
    """Show a chart, with its finding for those who do not see it; what it counts stands above it, as wide as the page.

    A drawing's own title is broken for the narrowest screen.
    """
    st.caption(plain(" ".join(chart.title["text"])))
    if (times := room.chart_size()) > 1:
        chart = chart.larger(times)
    st.vega_lite_chart(chart.to_dict(named=False), key=key, alt=chart.description)


def show_table(table: Table, *, only: tuple[str, ...] = ()) -> None:
    """Show a table whole, each word of it readable and printable; `only` names its columns in order.

    On a screen that is too narrow for it each row is a card.
    Streamlit sets words to the left in each cell's own style; only a stronger one lets numbers stand right.
    """
    table = picked(table, only)
    room = phone.letters()
    if room is not None and not fits(table, room):
        _show_cards(table)
        return
    cells = [[plain(cell) for cell in row] for row in table.rows]
    frame = pd.DataFrame(cells, columns=[plain(column.heading) for column in table.columns], dtype="str")
    right = [place for place, column in enumerate(table.columns) if column.align == "right"]
    st.table(to_the_right(frame, right), border="horizontal", hide_index=True, alt=table.title)


def _show_cards(table: Table) -> None:
    """Each row of a table as a card: the first cell leads, the others follow a line each, each after its heading."""
    for row in table.rows[:CARDS]:
        with st.container(border=True, gap=None):
            st.markdown(_card(table, row))
    if rest := table.rows[CARDS:]:
        with st.expander(words()("screen.more_cards", n=len(rest))):
            st.markdown("\n\n---\n\n".join(_card(table, row) for row in rest))


def _card(table: Table, row: Sequence[str]) -> str:
    """One row in lines, its first cell above, with its heading where it is a number; what says nothing is left out."""
    nothing = {"", blank(words())}
    cells = list(zip(table.columns, row, strict=True))
    lead = f"{plain(table.columns[0].heading)}: {plain(row[0])}" if row[0][:1].isdigit() else plain(row[0])
    told = [f"{plain(column.heading)}: {plain(cell)}" for column, cell in cells[1:] if cell not in nothing]
    return "  \n".join([f"**{lead}**", *told])


CARDS = 12
"""Cards that stand open; of a longer table the others are unfolded."""


def to_the_right(frame: pd.DataFrame, places: Sequence[int]) -> Any:
    """A frame of words with some of its columns, counted from 0, standing to the right.

    The style of the columns is all there is to it: no cell is written otherwise than it stands. pandas would write
    each anew, which takes longer than all else of a table, so it is told what comes of it.
    """
    styler: Any = frame.style
    rules = [
        {"selector": f"{cell}.col{place}", "props": [("text-align", "right !important")]}
        for place in places
        for cell in ("th", "td")
    ]
    styler._compute = lambda: styler
    styler._translate = lambda *_: {"table_styles": rules}
    return styler


def metric(label: str, value: str, *, explained: str | None = None) -> None:
    """A figure in large type; where everything is twice as large, in type that is broken into lines and not cut."""
    if phone.tight():
        st.markdown(f"{plain(label)}  \n**{plain(value)}**", help=explained)
    else:
        st.metric(plain(label), plain(value), help=explained, width="content")


def in_columns(things: Sequence[Thing], beside: int, *, stand: Literal["top", "bottom"] = "top") -> Iterator[Thing]:
    """Each thing in turn, what is drawn of it standing in a column: so many beside each other, row by row.

    stand: at which end of a row they are level; fields under names of one line and of two are at the bottom.
    """
    for first in range(0, len(things), beside):
        for column, thing in zip(
            st.columns(beside, vertical_alignment=stand), things[first : first + beside], strict=False
        ):
            with column:
                yield thing


AROUND = 6
"""Letters that stand around a word which is pressed."""


def section(page: str, names: Sequence[str]) -> str:
    """Let one part of a page be chosen; only that part is worked out. Returns its name.

    A name that is longer than a very narrow line is broken in a list of them; on a button it would be cut.
    """
    told = words()
    lead, key = told(f"screen.{page}.section"), key_of(f"section.{page}")
    room, longest = phone.letters(), max(len(told(f"screen.{page}.tab.{name}")) for name in names)
    if room is not None and longest > room - AROUND:
        return str(st.radio(lead, names, key=key, format_func=lambda name: told(f"screen.{page}.tab.{name}")))
    chosen = st.pills(
        lead,
        names,
        default=names[0],
        required=True,
        key=key,
        format_func=lambda name: told(f"screen.{page}.tab.{name}"),
    )
    return str(chosen or names[0])
