"""How a page begins: its title, that the farm is invented, that nothing is planned; and a loan that cannot be."""

from collections.abc import Callable
from typing import TypeVar

import streamlit as st

from renovation.aside import Died
from renovation.inputs import Scenario
from renovation.money.loan_terms import LoanError
from renovation.screens.controls.text import plain
from renovation.screens.memory import state
from renovation.show.guesses import counted
from renovation.show.loans.refused import refusal
from renovation.words import Words

Found = TypeVar("Found")


def begin(title: str = "", *, no_plan: str = "", answers_first: bool = False) -> tuple[Scenario, Words]:
    """Draw the head of a page; returns the farm in hand and the words.

    title: a key of the catalogue; the farm's own name where empty. no_plan: the key of what is said where nothing is
    planned; nothing where empty. answers_first: whether a room is shown the answer and its chart before `notes`, which
    the page then draws itself.
    """
    words, farm = state.words(), state.scenario()
    if answers_first and state.in_room():
        named = words("farm.invented", name=farm.about.name) if farm.about.invented else farm.about.name
        st.title(plain(words("room.on_page", page=words(title), farm=named) if title else named), anchor=False)
        return farm, words
    st.title(words(title) if title else plain(farm.about.name), anchor=False)
    notes(farm, words, no_plan=no_plan)
    return farm, words


def notes(farm: Scenario, words: Words, *, no_plan: str = "") -> None:
    """That the farm is invented, what of it is a guess, and that nothing is planned."""
    if farm.about.invented:
        st.info(words("screen.invented"))
    if farm.guessed:
        page, numbers = words("screen.page.mine"), words("screen.page.numbers")
        st.info(plain(f"{counted(farm, words)} {words('notebook.answer.on_page', page=page, numbers=numbers)}"))
    if no_plan and not farm.plan:
        st.warning(words(no_plan))


def unless_refused(ask: Callable[[], Found]) -> Found | None:
    """What is asked for; None, with the reason on the page, where a loan cannot be or the work was broken off."""
    try:
        return ask()
    except LoanError as error:
        refuse(error)
    except Died:
        st.error(state.words()("screen.risk.died"))
    return None


def refuse(error: LoanError) -> None:
    """Say why a loan cannot be."""
    st.error(plain(refusal(error, state.words())))
