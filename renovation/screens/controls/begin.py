"""The way to a farm of one's own: a button that puts one in hand of which all is guessed, and opens its questions."""

from datetime import date
from typing import Literal

import streamlit as st

from renovation.inputs.notebook import QUESTIONS, new_farm
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of


def begin_button(place: str) -> None:
    """The button. place: where it stands, for there are several."""
    words = state.words()
    name = "begin" if state.is_demo() else "begin_again"
    st.button(
        words(f"notebook.{name}"),
        width="stretch",
        type="secondary" if place == "sidebar" else stands_out(),
        key=key_of(f"begin.{place}"),
        on_click=_begin,
    )


def _begin() -> None:
    words = state.words()
    name = words("notebook.farm_name")
    farm = new_farm(date.today().strftime("%Y-%m"), name, words("notebook.field_name", n=1))
    state.take_up(farm, name, is_demo=False)
    ask(QUESTIONS[0].name)
    go_to("mine")


def ask(question: str) -> None:
    """Let a question stand on the page, and in its address; the last page where it is none of them."""
    st.session_state["question"] = question


def go_to(page: str) -> None:
    """Open another page with the next drawing."""
    st.session_state["go_to"] = page


def stands_out() -> Literal["primary", "secondary"]:
    """The kind of the one button that leads on; in the dark a plain one, for nobody reads white on the light accent."""
    return "secondary" if st.context.theme.type == "dark" else "primary"
