"""The language of a visitor's pages: the one they chose, else the one their browser wishes for, else English.

A choice stands in the address (`language=fr`), and only a choice does: what a browser wishes for is asked anew. So the
address wins over the wish. A reload, another page and a link that was passed on keep what somebody chose by hand, and a
link from someone who chose nothing opens in its reader's own language. What was chosen on this device, and not only
by a link, is found again by the next visit: the browser keeps it in a cookie, which the first run of a page can read.
"""

from functools import cache

import streamlit as st

from renovation.screens.memory.heard import Heard
from renovation.words import Words, language_of, wished

NAME = "language"
"""What it is called in an address and in the session."""
COOKIE = "renovation_language"
DEFAULT = "en"
_WISHED = "language_wished"
_BY_HAND = "language_by_hand"


def words(country: str | None = None) -> Words:
    """The catalogue in the language of this visitor's pages, with numbers as this country writes them."""
    return _catalogue(spoken(), country)


@cache
def _catalogue(language: str, country: str | None) -> Words:
    return Heard(language, country)


def spoken() -> str:
    """The language of the pages."""
    return chosen() or _wish()


def chosen() -> str:
    """The language that was chosen: here, in the address or on this device before; empty where none was."""
    found: str | None = st.session_state.get(NAME)
    if found is None:
        said = (st.query_params.get(NAME, ""), str(st.context.cookies.get(COOKIE, "")))
        found = st.session_state[NAME] = language_of(said[0]) or language_of(said[1]) or ""
    return found


def choose(language: str) -> None:
    """Let this be the language; empty for the one that the browser wishes for."""
    st.session_state[NAME] = language


def kept() -> str | None:
    """The language that the browser is to keep: one that was chosen in this session; None for what it keeps already."""
    found: str | None = st.session_state.get(_BY_HAND)
    return found


def choose_by_hand(language: str) -> None:
    """Let this be the language, here and at the next visit."""
    choose(language)
    st.session_state[_BY_HAND] = language


def _wish() -> str:
    """What the browser wishes for, asked once in a session; English where it is none of ours."""
    found: str | None = st.session_state.get(_WISHED)
    if found is None:
        header = st.context.headers.get("Accept-Language")
        found = st.session_state[_WISHED] = wished(str(header or st.context.locale or "")) or DEFAULT
    return found
