"""What the screen library leaves undone on a phone, done in the browser by `phone.js`.

Number pads come up where numbers are typed, the menu closes when a page is chosen, and a table that goes on at the side
can be reached with the keyboard. It begins once and then follows the page. A narrow screen tells the server once how
many letters of a table it holds side by side, for a table that does not fit becomes cards (`text.show_table`); a wide
one tells nothing, and no page waits for it.
"""

from functools import cache
from pathlib import Path
from typing import Any

import streamlit as st

from renovation.screens.memory import state

NUMBER = "off"
"""The `autocomplete` of a field for a number: no list of old entries covers the page, and the number pad comes up."""
_KEY = "phone"
_LETTERS = "phone_letters"


@cache
def _component() -> Any:
    return st.components.v2.component("renovation.phone", js=Path(__file__).with_name("phone.js").read_text("utf-8"))


def fit() -> None:
    """Have the browser see to it, from the first page on."""
    _component()(key=_KEY, data={"letters": letters()}, on_letters_change=_tell)


def _tell() -> None:
    """Keep what the screen told, 0 for a wide one; nobody has asked for the run that follows."""
    st.session_state[_LETTERS] = st.session_state[_KEY].get("letters")
    state.unasked()


def letters() -> int | None:
    """How many letters a narrow screen holds in a line of a table; None for a wide one, and until it has told."""
    told = st.session_state.get(_LETTERS)
    return int(told) or None if isinstance(told, int | float) else None


def tight() -> bool:
    """Whether not even two numbers stand beside each other: a phone whose owner has everything twice as large."""
    room = letters()
    return room is not None and room < PAIR


PAIR = 30
"""Letters that two fields for numbers need, with their names."""
