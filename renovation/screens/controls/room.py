"""The pages shown to a room: larger type, answer and chart first, and keys that turn the page.

`room.js` sets the size of the type at the root of the document, as a person's larger type in the browser's own settings
does; the library counts every size from it, so no rule of its style is added or changed. The size follows the width of
the window, since a wall is looked at from the same place whatever the projector's pixels; a window that is too narrow
for a wall, a phone's, is left alone. Charts are drawn with larger type (`chart_size`).

Keys: right and left arrow for the next page and the one before, 1 to 9 and 0 for the pages in their order. In a field
they write and move as ever; Escape leaves it. Nothing listens where the setting is off.

It is kept in the address (`room=1`) and in the browser's store (`renovation_room`); forgetting the farm forgets it.
"""

from functools import cache
from pathlib import Path
from typing import Any

import streamlit as st

from renovation.screens.controls import phone
from renovation.screens.memory import state
from renovation.words import Words

_KEY = "room_store"
_SWITCH = "room_switch"
LARGER = 1.4
"""How much larger a chart is drawn."""
HEIGHT = 300
"""Pixels of a chart's height that leave it above the fold of a projector, before it is drawn larger."""


def draw(words: Words) -> None:
    """The setting, and the keys where it is on."""
    st.session_state[_SWITCH] = state.in_room()
    st.toggle(words("room.show"), key=_SWITCH, on_change=_switched, help=words("room.help"))
    if state.in_room():
        st.caption(words("room.keys"))
    _component()(key=_KEY, data={"on": state.in_room()}, on_kept_change=_kept, on_turned_change=_turned)


def chart_size() -> float:
    """How many times as large a chart is drawn as on a desk; a phone's is as always."""
    return LARGER if state.in_room() and phone.letters() is None else 1.0


def turned_to(name: str, to: str, pages: tuple[str, ...]) -> str:
    """The page that a key opens, from the page of this name.

    Example:
        >>> [turned_to("b", to, ("a", "b", "c")) for to in ("next", "back", "1", "9")]
        ['c', 'a', 'a', 'b']
    """
    steps = {"next": 1, "back": -1}
    place = pages.index(name) + steps[to] if to in steps else (int(to) - 1) % 10
    return pages[place] if 0 <= place < len(pages) else name


@cache
def _component() -> Any:
    return st.components.v2.component("renovation.room", js=Path(__file__).with_name("room.js").read_text("utf-8"))


def _switched() -> None:
    state.set_room(on=bool(st.session_state[_SWITCH]))


def _kept() -> None:
    """The browser said that the pages were shown to a room when they were last closed."""
    state.set_room(on=True)


def _turned() -> None:
    """A key was pressed; the page is turned by the entry, which knows them all."""
    st.session_state["turned"] = st.session_state[_KEY].get("turned")
