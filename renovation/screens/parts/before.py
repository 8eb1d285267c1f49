"""The difference that a change has made, beside the button that ends it."""

import streamlit as st

from renovation.screens.controls.text import plain
from renovation.screens.memory import before, state


def draw(said: str) -> None:
    """The number now and how it has moved, in a sentence."""
    sentence, end = st.columns([6, 1], vertical_alignment="center")
    sentence.markdown(f"**{plain(said)}**")
    words, key = state.words(), state.key_of("forget_before")
    end.button(words("before.forget"), key=key, on_click=before.forget, type="tertiary")
