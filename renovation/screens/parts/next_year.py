"""Next year's farm: what was taken over and what was assumed, its file, and the button that opens it."""

import streamlit as st

from renovation.decide.next_year import NextYear
from renovation.inputs import Scenario, ScenarioError, SeasonRecord
from renovation.screens.controls.sidebar import file_name
from renovation.screens.controls.text import bullets, plain
from renovation.screens.memory import season as kept
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.screens.parts import head
from renovation.show.guesses import counted
from renovation.show.season.next_year import next_file, note_sentences
from renovation.words import Words


def draw(farm: Scenario, record: SeasonRecord, words: Words, *, as_planned: bool) -> None:
    """Everything that is said of next year's farm, and the two ways to have it."""
    st.header(words("screen.season.next"), anchor=False)
    try:
        found = head.unless_refused(lambda: kept.next_farm(farm, record, as_planned=as_planned))
    except ScenarioError as error:
        st.error("\n\n".join(map(plain, error.sentences(words))))
        return
    if found is None:
        return
    for name, assumed in (("taken_over", False), ("assumed", True)):
        if said := note_sentences(found, words, assumed=assumed):
            st.markdown(f"**{words(f'next.{name}')}**")
            bullets(said)
    if found.farm.guessed:
        st.markdown(plain(counted(found.farm, words)))
    name, text = next_name(found.farm), state.text()
    with st.container(horizontal=True):
        st.button(words("screen.season.open"), key=key_of("open_next"), on_click=_open, args=(found, name))
        st.download_button(
            words("screen.season.save_next"),
            lambda: next_file(found, words, text),
            file_name=name,
            mime="application/toml",
            on_click="ignore",
            key=key_of("save_next"),
        )


def next_name(farm: Scenario) -> str:
    """The file of a farm a year on: its name and first month.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> next_name(demo_scenario())
        'first_grafters_2027_01.toml'
    """
    return f"{file_name(farm).removesuffix('.toml')}_{farm.appraisal.start.replace('-', '_')}.toml"


def _open(found: NextYear, name: str) -> None:
    """Put next year's farm in hand, and say so; last year's plan is not one of it."""
    st.session_state.pop("plan_found", None)
    words = state.words()
    state.take_up(found.farm, name, is_demo=False, text=next_file(found, words, state.text()))
    state.say_once("opened", [words("screen.season.opened", month=words.month(found.farm.appraisal.start))])
