"""A farm given to others: the link that holds it, a button that copies it, and the link as a picture code.

The screen library copies a code block by a sign that comes up under a mouse; a phone has none. So a button of its own
stands below it, and `share.js` copies while it is pressed and keeps the press to itself: two messages at once, that
of the press and what came of it, would be one too many, and the second ends the run of the first. A press that
reaches the server was not caught, and nothing was copied.
"""

from functools import cache
from pathlib import Path
from typing import Any

import streamlit as st

from renovation.inputs import Scenario
from renovation.screens.memory import device, state
from renovation.screens.memory.state import key_of
from renovation.show.picture_code import picture_code
from renovation.words import Words

_KEY = "share"


def draw(farm: Scenario, words: Words) -> None:
    """The link, the button that copies it, and the one that opens its picture."""
    st.caption(words("screen.share.help"))
    link = device.share_link(farm)
    with st.container(key="share_link"):
        st.code(link, language=None, height=80)
    st.button(words("screen.share.copy"), key="share_copy", width="stretch", on_click=_say, args=("not_copied",))
    told = state.said_once(_KEY)
    with st.container(key="share_said"):
        if told == ["copied"]:
            st.success(words("screen.share.copied"))
        elif told:
            st.warning(words("screen.share.not_copied"))
    if st.button(words("screen.share.code"), key=key_of("share_code"), width="stretch"):
        st.dialog(words("screen.share.title"))(_show)(link, words)
    _component()(key=_KEY + "_store", on_told_change=_told)


@cache
def _component() -> Any:
    return st.components.v2.component("renovation.share", js=Path(__file__).with_name("share.js").read_text("utf-8"))


def _told() -> None:
    """The browser said whether it has copied: `copied` or `not_copied`."""
    _say(str(st.session_state[_KEY + "_store"].get("told")))


def _say(told: str) -> None:
    state.say_once(_KEY, [told])


def _show(link: str, words: Words) -> None:
    """The picture, as large as it can stand; a sentence where the link is too long for one."""
    drawn = picture_code(link)
    if drawn is None:
        st.warning(words("screen.share.too_long"))
        return
    st.markdown(words("screen.share.point"))
    st.image(drawn, width="stretch", alt=words("screen.share.alt"))
    st.download_button(
        words("screen.share.save_code"), drawn, file_name="farm_link.svg", mime="image/svg+xml", on_click="ignore"
    )
