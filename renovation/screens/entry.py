"""What the entry script runs on every change: the link, the sidebar, the page, the link again."""

import streamlit as st

from renovation.screens import jobs
from renovation.screens.controls import drivers, language, phone, room, sidebar
from renovation.screens.controls.text import plain
from renovation.screens.memory import device, heard, state
from renovation.screens.pages import offered
from renovation.screens.parts import hard

LEAF = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 16 16">'
    '<path fill="#00695C" d="M2 14C1 6 6 2 14 2c0 9-4 13-11 11l5-6z"/></svg>'
)
"""The sign of the browser's tab: drawn, for a letter's sign is an empty box where no font has it."""


def run() -> None:
    """Draw the dashboard, when it is this visitor's turn."""
    with jobs.turn():
        _draw()


def _draw() -> None:
    """Draw the dashboard."""
    words = state.words()
    st.set_page_config(page_title=words("screen.title"), page_icon=LEAF, layout="wide")
    jobs.ready()
    known = offered()
    pages = [
        st.Page(
            page.draw,
            title=words(f"screen.page.{page.name}"),
            url_path=page.name,
            default=place == 0,
        )
        for place, page in enumerate(known)
    ]
    chosen = st.navigation(pages, position="top")
    if (key := st.session_state.pop("turned", None)) is not None:
        names = tuple(page.name for page in known)
        st.session_state["go_to"] = room.turned_to(names[pages.index(chosen)], str(key), names)
    if (name := st.session_state.get("go_to")) is not None:
        page = pages[[page.name for page in known].index(name)]
        if page is not chosen:
            st.switch_page(page)
        del st.session_state["go_to"]  # not before: a run that is broken off on its way has not arrived
    with st.sidebar:
        phone.fit()
        language.tell()
    if not device.arrived():
        return
    heard.listen()
    state.begin_run()
    drivers.read_link()
    sidebar.draw()
    place = st.container()
    device.keep(drivers.link())  # its place is below the page, its time before it: a page may take long
    with place:
        notes()
        chosen.run()
        hard.foot()
    drivers.write_link()
    state.end_run()


def notes() -> None:
    """Say at the head of the page what a link, a file or a change left to be said."""
    refused = state.memory("notes").get("upload")
    if refused:
        st.error("\n\n".join([plain(refused[0]), *(f"- {plain(sentence)}" for sentence in refused[1:])]))
    if device.is_refused():
        st.warning(state.words()("screen.device.refused"))
    for name in ("device", "link", "left_out", "problems", "read", "opened"):
        if said := state.said_once(name):
            told = "\n\n".join(map(plain, said))
            if name == "opened":
                st.success(told)
            else:
                st.warning(told)
