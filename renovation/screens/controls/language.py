"""The choice of language, on every page at the head of the sidebar, and the language of the document.

`language.js` sets the `lang` of the document, by which a browser reads aloud, hyphenates and offers to translate; the
library always writes English there. It keeps what was chosen by hand in a cookie.
"""

from functools import cache
from pathlib import Path
from typing import Any

import streamlit as st

from renovation.screens.memory import language, state
from renovation.words import Words, languages

_KEY = "language_choice"


def tell() -> None:
    """Have the document say which language it is in, from the first page on, and the browser keep what was chosen."""
    _component()(key="language_of_page", data={"language": language.spoken(), "keep": language.kept()})


def draw(words: Words) -> None:
    """The choice, by the languages' own names."""
    st.session_state[_KEY] = words.language
    st.selectbox(
        words("screen.language.choose"),
        sorted(languages(), key=own_name),
        key=_KEY,
        format_func=own_name,
        on_change=_chosen,
        label_visibility="collapsed",
    )


@cache
def own_name(code: str) -> str:
    """What a language calls itself."""
    return Words(code)("screen.language.own")


@cache
def _component() -> Any:
    js = Path(__file__).with_name("language.js").read_text("utf-8")
    return st.components.v2.component("renovation.language", js=js)


def _chosen() -> None:
    """Say everything in another language, what was said before with it."""
    language.choose_by_hand(str(st.session_state[_KEY]))
    state.unsaid()
