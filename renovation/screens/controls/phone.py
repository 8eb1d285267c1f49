"""What the screen library leaves undone on a phone, done in the browser by `phone.js`.

Number pads come up where numbers are typed, the menu closes when a page is chosen, what is pressed is as high as a
finger needs (44 px, WCAG 2.5.5), and a table wider than the screen shows by a shade that it goes on. It begins once and
then follows the page: nothing is sent to the server, no page waits for it.
"""

from functools import cache
from pathlib import Path
from typing import Any

import streamlit as st

NUMBER = "off"
"""The `autocomplete` of a field for a number: no list of old entries covers the page, and the number pad comes up."""


@cache
def _component() -> Any:
    return st.components.v2.component("renovation.phone", js=Path(__file__).with_name("phone.js").read_text("utf-8"))


def fit() -> None:
    """Have the browser see to it, from the first page on."""
    _component()(key="phone")
