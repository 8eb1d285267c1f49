"""When the crop ripens: a country's harvest window, or twelve shares of one's own."""

from collections.abc import Mapping
from typing import Any

import streamlit as st

from renovation.inputs import Scenario, ScenarioError, read_decimal, season_from_window, window_names
from renovation.screens.controls.fields import as_text, choice, field_words
from renovation.screens.controls.phone import NUMBER, tight
from renovation.screens.controls.text import plain, show_chart
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.show import figure_charts
from renovation.words import Words

Changes = Mapping[str, Any]
_OWN = ""
"""Stands for twelve shares of one's own in the list of harvest windows."""


def draw(farm: Scenario, words: Words) -> None:
    """A country's harvest window, or twelve shares of one's own."""
    season = farm.market.season
    label, help_text = field_words("Season", "window", words)
    now = season.window if season.window in window_names() else _OWN
    choice(
        label,
        [_OWN, *window_names()],
        now,
        _take_window,
        name="window",
        say_option=lambda name: words.name("window", name) if name else words("screen.numbers.own_shares"),
        help_text=help_text,
    )
    st.caption(words("window_help.spread"))
    show_chart(figure_charts.season_chart(season.shares, words), key=key_of(f"season_chart.{season.shares}"))
    with st.form(key_of("season"), border=True):
        st.markdown(words("screen.numbers.shares_head"))
        for first in range(0, 12, 2):
            for column, month in zip(st.columns(2, wrap=tight()), range(first, first + 2), strict=True):
                key = key_of(f"share.{month}.{season.window}.{season.shares[month]:.6g}")
                column.text_input(
                    words.month_name(month + 1),
                    as_text(round(season.shares[month], 6), 100.0),
                    key=key,
                    autocomplete=NUMBER,
                )
                st.session_state.setdefault("season_keys", {})[month] = key
        st.form_submit_button(words("screen.numbers.use_shares"), on_click=_take_shares)
    said = state.memory("notes").get("season")
    if said:
        st.error(plain(" ".join(said)))


def _take_window(name: str) -> Changes:
    """Take a country's window; own shares begin from those in force."""
    state.memory("notes").pop("season", None)
    if not name:
        return {"market__season__window": None}
    return {"market__season": season_from_window(name).model_dump()}


def _take_shares() -> None:
    """Take twelve typed shares where each is a number and they sum to 100 %."""
    words = state.words()
    said, shares = [], []
    for month, key in sorted(st.session_state["season_keys"].items()):
        try:
            shares.append(read_decimal(st.session_state[key], per=100, words=words))
        except ScenarioError as error:
            said.append(words("screen.numbers.share_of", month=words.month_name(month + 1)))
            said += error.sentences(words)
    if not said and not abs(sum(shares) - 1) <= 0.005:
        said = [words("screen.numbers.shares_sum", sum=words.percent(sum(shares), 1))]
    if not said:
        whole = sum(shares)
        season = {"shares": tuple(share / whole for share in shares), "window": None}
        said = state.change({"market__season": season})
    notes = state.memory("notes")
    notes.pop("season", None)
    if said:
        notes["season"] = [*said, words("screen.numbers.shares_kept")]
