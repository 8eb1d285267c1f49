"""Text, tables and charts on a page: what is shown is exactly what the catalogue and the farm say."""

from collections.abc import Iterable, Sequence

import altair as alt
import streamlit as st

from renovation.screens.fields import key_of
from renovation.screens.state import words
from renovation.show.charts import Chart
from renovation.show.tables import Table


def plain(text: str) -> str:
    """Keep the signs of money and names from being read as formatting.

    Example:
        >>> plain("$5 to $6")
        '\\\\$5 to \\\\$6'
    """
    for sign in "\\$*_[]`~:#<>":
        text = text.replace(sign, f"\\{sign}")
    return text


def bullets(said: Iterable[str]) -> None:
    """Sentences one beneath another, each with a dot."""
    st.markdown("\n".join(f"- {plain(sentence)}" for sentence in said))


def small(said: Iterable[str]) -> None:
    """Small print, one sentence a line."""
    for sentence in said:
        st.caption(plain(sentence))


def show_chart(chart: Chart, key: str) -> None:
    """Show a chart, with its finding for those who do not see it."""
    drawn = chart.copy(deep=False)
    drawn.description = alt.Undefined
    st.altair_chart(drawn, key=key, alt=str(chart.description))


def show_table(table: Table, *, only: tuple[str, ...] = ()) -> None:
    """Show a table whole, each word of it readable and printable; `only` names its columns in order."""
    places = {column.key: place for place, column in enumerate(table.columns)}
    kept = [places[key] for key in only or places]
    frame = table.frame().iloc[:, kept].map(plain)
    frame.columns = [plain(str(name)) for name in frame.columns]
    st.table(frame, border="horizontal", hide_index=True, alt=table.title)


def section(page: str, names: Sequence[str]) -> str:
    """Let one part of a page be chosen; only that part is worked out. Returns its name."""
    chosen = st.pills(
        words()(f"screen.{page}.section"),
        names,
        default=names[0],
        required=True,
        key=key_of(f"section.{page}"),
        format_func=lambda name: words()(f"screen.{page}.tab.{name}"),
    )
    return str(chosen or names[0])
