"""What was changed in this session, to be taken back and done again: the last changes, one for each run of the page.

It is the session's own and is gone when the page is loaded anew, as what an editor can take back is gone when it is
closed: the device keeps the farm in hand and the one left for it, and no more of a family's numbers than these.

A farm that was forgotten can be had back for a minute, which the page says: long enough for a slip of the hand, and
over before somebody else sits at the computer. Nothing of it lies on the device in that minute.
"""

import time
from dataclasses import dataclass

import streamlit as st

from renovation.inputs import SeasonRecord
from renovation.inputs.demos import names_in, renamed
from renovation.screens.memory import season, state
from renovation.screens.memory.state import InHand
from renovation.show.changes import change_said

MOST = 50
"""Changes that can be taken back."""
SECONDS = 60.0
"""So long a farm that was forgotten can be had back."""
_NAME = "history"


@dataclass(frozen=True, eq=False)
class Moment:
    """What a visitor had in hand at one time."""

    held: InHand
    left: InHand | None
    record: tuple[SeasonRecord, bool] | None
    beside: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Step:
    """A change: what was in hand before and after it.

    until: by `time.monotonic`, when it can be taken back no more; None where it always can: only a farm that was
    forgotten cannot.
    """

    before: Moment
    after: Moment
    until: float | None = None

    @property
    def what(self) -> str:
        """What it is called, in the language that the pages are in now."""
        if self.until is not None:
            return state.words()("change.forgotten", name=self.before.held.farm.about.name)
        return _said(self.before, self.after)

    @property
    def is_over(self) -> bool:
        """Whether it is too late."""
        return self.until is not None and time.monotonic() > self.until


def note() -> None:
    """Note what has changed since the last run, once in each."""
    mine = state.memory(_NAME)
    now, before = moment(), mine.get("now")
    mine["now"] = now
    mine["back"] = [step for step in mine.get("back", []) if not step.is_over]
    if before is not None and _said(before, now):
        mine["back"] = [*mine["back"], Step(before, now)][-MOST:]
        mine["again"] = []


def speak() -> None:
    """Let a demo farm in hand be called as the language of the pages calls it, which is no change of it."""
    held, left, language = state.in_hand(), state.left(), state.words().language
    spoken = held.called(language), left and left.called(language)
    if spoken != (held, left):
        state.put_back(*spoken)
        if held.is_demo and (record := season.held()) is not None:
            told = renamed(record[0].model_dump(), names_in(held.origin, language))
            season.put((SeasonRecord.model_validate(told), record[1]))
        state.memory(_NAME)["now"] = moment()


def begin() -> None:
    """Begin with what is in hand now: what the device kept is no change."""
    state.memory(_NAME).clear()


def moment() -> Moment:
    """What is in hand now."""
    return Moment(state.in_hand(), state.left(), season.held(), tuple(st.session_state.get("beside", ())))


def _said(before: Moment, now: Moment) -> str:
    """What has changed, in few words; empty where nothing has. What is shown beside is no change of the farm."""
    words = state.words()
    if now.held.taken_up is not before.held.taken_up:
        return words("change.opened", name=now.held.farm.about.name)
    if now.held.farm is not before.held.farm and (said := change_said(before.held.farm, now.held.farm, words)):
        return said
    return "" if now.record is before.record else words("change.record")


def forgotten(before: Moment) -> None:
    """Let forgetting a farm be the only change there is, for a minute."""
    now, until = moment(), time.monotonic() + SECONDS
    state.memory(_NAME).update(now=now, back=[Step(before, now, until)], again=[])


def last(name: str) -> str:
    """What can be taken back (`back`) or done again (`again`); empty where there is nothing."""
    steps = state.memory(_NAME).get(name, [])
    return steps[-1].what if steps else ""


def take_back() -> None:
    """Have in hand what was in hand before the last change."""
    mine = state.memory(_NAME)
    step = mine["back"].pop()
    if step.is_over:
        state.say_once("problems", [state.words()("change.too_late")])
        return
    _put(step.before)
    if step.until is None:
        mine["again"].append(step)


def do_again() -> None:
    """Have in hand what was in hand before the last change was taken back."""
    mine = state.memory(_NAME)
    step = mine["again"].pop()
    _put(step.after)
    mine["back"].append(step)


def _put(then: Moment) -> None:
    """Have this in hand, and note no change for it."""
    state.put_back(then.held, then.left)
    season.put(then.record)
    st.session_state["beside"] = list(then.beside)
    state.memory(_NAME)["now"] = moment()
