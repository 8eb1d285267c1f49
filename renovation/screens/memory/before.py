"""What stood before a number was changed in front of a room: kept until it is forgotten, on every page of the visit.

The first change begins it, and those that follow are told against the same. Another farm ends it.
"""

import streamlit as st

from renovation.inputs import Scenario
from renovation.screens.memory import state
from renovation.screens.searches import Found

_NAME = "before"


def note() -> None:
    """Note in each run what was in hand in the last one, where a number has been changed since."""
    mine, held = state.memory(_NAME), state.in_hand()
    last = mine.get("last")
    mine["last"] = held
    if last is None or last.taken_up is not held.taken_up:
        forget()
    elif state.in_room() and "farm" not in mine and last.farm is not held.farm:
        mine |= {"farm": last.farm, "found": st.session_state.get("plan_found")}


def farm() -> Scenario | None:
    """The farm as it stood before; None where nothing is kept, or where all is as it was."""
    kept: Scenario | None = state.memory(_NAME).get("farm")
    return kept if kept is not None and state.in_room() and kept.digest != state.scenario().digest else None


def found() -> Found | None:
    """The plan that was shown before; None where there was none."""
    kept: Found | None = state.memory(_NAME).get("found")
    return kept if farm() is not None else None


def forget() -> None:
    """Keep it no more: the next change begins anew."""
    mine = state.memory(_NAME)
    for name in ("farm", "found"):
        mine.pop(name, None)
