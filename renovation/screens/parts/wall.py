"""The sheet for the wall, to take along, and the drawings that stand on it beside their works."""

from collections.abc import Iterable, Mapping
from datetime import date
from functools import partial

import streamlit as st

from renovation.decide.plan import Plan
from renovation.screens.controls.sidebar import file_name
from renovation.screens.controls.text import plain, small
from renovation.screens.memory.state import key_of
from renovation.show import pictures
from renovation.show.sheet import wall_sheet
from renovation.show.voice import LEAST_DAYS, Voice
from renovation.words import Words

SIDE = 44
"""Pixels of a drawing."""
INK = {"light": "#000000", "dark": "#ffffff"}


def draw(plan: Plan, words: Words) -> None:
    """Files of this season and of all seasons, each made when it is asked for."""
    years = plan.problem.years
    stem = f"{file_name(plan.scenario).removesuffix('.toml')}_sheet"
    st.subheader(words("screen.sheet.title"), anchor=False)
    with st.container(horizontal=True):
        for key, chosen in (("save", (1,)), ("save_all", tuple(range(1, years + 1)))):
            st.download_button(
                plain(words(f"screen.sheet.{key}", n=years)),
                partial(wall_sheet, plan, words, date.today(), chosen),
                file_name=f"{stem}{'' if key == 'save' else 's'}.html",
                mime="text/html",
                on_click="ignore",
                key=key_of(f"sheet_{key}"),
            )
    small([words("screen.sheet.note"), words("screen.sheet.not_page")])


def drawings(work: Iterable[Mapping[str, float]], voice: Voice) -> None:
    """Each work that takes time, once, drawn as on the sheet, with its words beneath. work: days of each, by month."""
    ink = INK.get(st.context.theme.type or "light", INK["light"])
    kinds = [kind for month in work for kind, days in month.items() if days >= LEAST_DAYS]
    with st.container(horizontal=True, gap="medium"):
        for kind in dict.fromkeys(kinds):
            with st.container(width=3 * SIDE):
                drawn = pictures.svg(pictures.of_work(kind)).replace("currentColor", ink)
                st.image(drawn, width=SIDE, alt=voice.work(kind))
                st.caption(plain(voice.work(kind)))
