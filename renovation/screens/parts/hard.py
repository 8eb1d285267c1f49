"""The hard words of a page, explained at its foot."""

import streamlit as st

from renovation.screens.controls.text import bullets
from renovation.screens.memory import heard, state
from renovation.show.hard import explained, keys_of, plainer, said_in
from renovation.words import Words


def foot() -> None:
    """Explain the hard words that the page has said; nothing where it said none."""
    words = state.words()
    if found := said_in(heard.heard(), words):
        with st.expander(words("hard_page.title")):
            bullets(explained(found, words))


def whole(words: Words) -> None:
    """Explain every hard word of the dashboard."""
    st.markdown(words("hard_page.all"))
    bullets(explained(keys_of("hard", words), words))
    st.markdown(words("hard_page.instead"))
    bullets(plainer(words))
