"""Many farms: what a finished run over them comes to, its pictures, who stands first, and the way to any of these."""

from typing import TYPE_CHECKING

import streamlit as st

from renovation.screens.controls import begin, drivers
from renovation.screens.controls.text import bullets, in_columns, plain, show_chart, show_table
from renovation.screens.memory import farms, state
from renovation.screens.memory.farms import Opened, Unopened
from renovation.screens.memory.state import key_of

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd

    from renovation.show.grid import Table

MOST = 100
"""Farms in the table at a time."""


def draw() -> None:
    """Draw the page."""
    words, place = state.words(), farms.folder()
    st.title(words("screen.page.farms"), anchor=False)
    if place is None:
        return
    try:
        found = farms.opened(place)
    except Unopened as error:
        st.error(plain(str(error)))
        return
    st.caption(plain(words("screen.farms.from", folder=found.name, day=words.day(found.day))))
    st.header(plain(found.outcome.head), anchor=False)
    for place_of, chart in in_columns(list(enumerate(found.outcome.charts)), 2):
        show_chart(chart, key=f"farms{place_of}")
    bullets(found.outcome.notes)
    if found.outcome.listed is None:
        for table in found.outcome.tables:
            st.subheader(plain(table.title), anchor=False)
            show_table(table)
        return
    _who(found, found.outcome.listed)


def _who(found: Opened, listed: "Callable[[pd.DataFrame], Table]") -> None:
    """Who stands first, fewer of them where it is asked, and a way to each."""
    words = state.words()
    st.subheader(words("run.table.first"), anchor=False)
    rows = _chosen(found)
    if rows.empty:
        st.warning(words("screen.farms.nobody"))
        return
    shown = rows.head(MOST)
    if found.kept is None:
        st.warning(plain(words("screen.farms.not_kept", folder=found.name)))
    else:
        _way_to_one(found, list(shown["farm"]))
    if len(rows) > len(shown):
        all_of_them = words("run.farms", n=len(rows))
        st.caption(words("screen.farms.first", shown=words.number(len(shown)), farms=all_of_them))
    show_table(listed(shown))


def _chosen(found: Opened) -> "pd.DataFrame":
    """Farms of the village, of the way and with the letters that are asked for, those who gain most first."""
    words, rows = state.words(), found.outcome.first
    village, way, name = st.columns(3, vertical_alignment="bottom")
    every = words("screen.farms.every")
    if found.villages:
        there = sorted(set(found.villages.values()))
        asked = village.selectbox(words("screen.farms.village"), [every, *there], key=key_of("farms_village"))
        if asked != every:
            rows = rows[rows["farm"].map(found.villages) == asked]
    if "way" in rows:
        ways = sorted(found.outcome.first["way"].dropna().unique())
        asked = way.selectbox(
            words("run.table.way"),
            ["", *ways],
            key=key_of("farms_way"),
            format_func=lambda key: found.outcome.way(key) if key else every,
        )
        if asked:
            rows = rows[rows["way"] == asked]
    letters = name.text_input(words("screen.farms.name"), key=key_of("farms_name"), max_chars=80).strip()
    return rows[rows["farm"].str.contains(letters, case=False, regex=False)] if letters else rows


def _way_to_one(found: Opened, names: list[str]) -> None:
    """Choose one of the farms in the table, and open it."""
    words, key = state.words(), key_of(f"farms_one|{hash(tuple(names))}")
    with st.container(horizontal=True, vertical_alignment="bottom"):
        st.selectbox(words("screen.farms.one"), names, key=key)
        st.button(
            words("screen.farms.open"),
            key=key_of("farms_open"),
            type=begin.stands_out(),
            on_click=_open,
            args=(found, key),
        )


def _open(found: Opened, key: str) -> None:
    """Put the chosen farm in hand, and show it on the first page."""
    words, farm = state.words(), str(st.session_state[key])
    if not farms.take_up(found, farm):
        state.say_problems([words("screen.farms.not_read", farm=farm)])
        return
    drivers.set_beside([])
    state.say_once("opened", [words("screen.farms.opened", farm=farm, folder=found.name)])
    begin.go_to("compare")
