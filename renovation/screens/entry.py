"""What the entry script runs on every change: the link, the sidebar, the page, the link again."""

import streamlit as st

from renovation.screens.controls import drivers, sidebar
from renovation.screens.controls.text import plain
from renovation.screens.memory import state
from renovation.screens.pages import PAGES


def run() -> None:
    """Draw the dashboard."""
    words = state.words()
    st.set_page_config(page_title=words("screen.title"), page_icon="🌱", layout="wide")
    drivers.read_link()
    pages = [
        st.Page(
            page.draw,
            title=words(f"screen.page.{page.name}"),
            icon=page.sign,
            url_path=page.name,
            default=place == 0,
        )
        for place, page in enumerate(PAGES)
    ]
    chosen = st.navigation(pages, position="top")
    sidebar.draw()
    notes()
    chosen.run()
    drivers.write_link()


def notes() -> None:
    """Say at the head of the page what a link, a file or a change left to be said."""
    left = state.memory("notes")
    refused = left.get("upload")
    if refused:
        st.error("\n\n".join([plain(refused[0]), *(f"- {plain(sentence)}" for sentence in refused[1:])]))
    for name in ("link", "left_out", "problems", "opened"):
        said = left.pop(name, None)
        if said:
            show = st.success if name == "opened" else st.warning
            show("\n\n".join(map(plain, said)))
