"""What the entry script runs on every change: the link, the sidebar, the page, the link again."""

import streamlit as st

from renovation.screens import drivers, sidebar, state
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
    _notes()
    chosen.run()
    drivers.write_link()


def _notes() -> None:
    """Say at the head of the page what a link, a file or a change left to be said."""
    notes = state.memory("notes")
    refused = notes.get("upload")
    if refused:
        st.error("\n\n".join([refused[0], *(f"- {sentence}" for sentence in refused[1:])]))
    for name in ("link", "left_out", "problems", "opened"):
        said = notes.pop(name, None)
        if said:
            (st.success if name == "opened" else st.warning)("\n\n".join(said))
