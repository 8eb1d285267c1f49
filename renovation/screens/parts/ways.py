"""Which ways the farm weighs, those that come with the program and those of one's own."""

from collections.abc import Callable, Mapping
from typing import Any

import streamlit as st

from renovation.inputs import Scenario, ScenarioError
from renovation.inputs.defaults import default_techniques
from renovation.inputs.own_ways import LONGEST_NAME, copied, is_own_way, removed, renamed, without
from renovation.screens.controls import drivers
from renovation.screens.controls.fields import switch
from renovation.screens.controls.overrides import weighed_too
from renovation.screens.controls.text import plain
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.screens.parts.figures import chosen_way
from renovation.show import looks
from renovation.show.figures import origin_sentence
from renovation.show.voice import Voice
from renovation.words import Words

Changes = Mapping[str, Any]


def draw(farm: Scenario, words: Words) -> None:
    """A switch for every way known; the ways of one's own; a way to copy."""
    st.markdown(words("screen.numbers.ways_lead"))
    left, right = st.columns(2)
    shipped = [key for key in farm.techniques if not is_own_way(key)]
    for place, key in enumerate(dict.fromkeys([*shipped, *default_techniques()])):
        with left if place % 2 == 0 else right, st.container(border=True):
            switch(Voice.of(farm, words).way(key), key in farm.techniques, _consider(key), name=f"consider.{key}")
            st.caption(words(f"technique_help.{key}"))
    st.subheader(words("screen.own_way.title"), anchor=False)
    left, right = st.columns(2)
    for place, key in enumerate(filter(is_own_way, farm.techniques)):
        with left if place % 2 == 0 else right, st.container(border=True):
            _own(farm, key, words)
    _copy(farm, words)


def _consider(key: str) -> Callable[[bool], Changes]:
    """Take a way up among those weighed, or leave it out wherever it stands."""
    return lambda on: weighed_too(state.scenario(), key) if on else without(state.scenario(), key)


# A way of one's own


def _own(farm: Scenario, key: str, words: Words) -> None:
    """Its name, where it comes from, the way to its figures, and the way out."""
    name = Voice.of(farm, words).way(key)
    field = key_of(f"own_name.{key}.{name}")  # begins again where the name was changed elsewhere
    st.text_input(words("screen.own_way.name"), name, key=field, on_change=_rename, args=(key, field))
    _refusal(key)
    if said := origin_sentence(farm, key, words):
        st.caption(plain(said))
    with st.container(horizontal=True):
        for what, do in {"figures": _to_figures, "show": _show}.items():
            st.button(words(f"screen.own_way.{what}"), key=key_of(f"own_{what}.{key}"), on_click=do, args=(key,))
        remove = words("screen.own_way.remove", way=plain(name))
        st.button(remove, key=key_of(f"own_remove.{key}"), on_click=_remove, args=(key,))


def _copy(farm: Scenario, words: Words) -> None:
    """Which way to copy, and the name of the copy."""
    with st.form(key_of(f"copy_way_{len(farm.techniques)}"), border=True):
        st.markdown(words("screen.own_way.lead"))
        left, right = st.columns(2)
        of, name = (key_of(f"copy_way_{len(farm.techniques)}.{field}") for field in ("of", "name"))
        left.selectbox(words("screen.own_way.of"), list(farm.techniques), key=of, format_func=Voice.of(farm, words).way)
        right.text_input(words("screen.own_way.name"), key=name, max_chars=2 * LONGEST_NAME)
        st.form_submit_button(words("screen.own_way.copy"), on_click=_take_copy, args=(of, name))
    _refusal("")


def _take_copy(of: str, name: str) -> None:
    """Weigh a copy of a way too, and open its figures."""
    farm = state.scenario()
    try:
        key, changes = copied(farm, st.session_state[of], st.session_state[name], state.words())
    except ScenarioError as error:
        _refuse("", error.sentences(state.words()))
        return
    said = state.change(changes)
    _refuse("", said)
    if not said:
        way = Voice.of(state.scenario(), state.words()).way(key)
        state.say_once("opened", [state.words()("screen.own_way.copied", way=way)])
        _to_figures(key)


def _rename(key: str, field: str) -> None:
    """Give a way another name, or keep the one it has and say why."""
    try:
        said = state.change(renamed(state.scenario(), key, st.session_state[field], state.words()))
    except ScenarioError as error:
        said = error.sentences(state.words())
    _refuse(key, said)


def _remove(key: str) -> None:
    """Take a way out, or keep it and say what it is needed for."""
    farm = state.scenario()
    try:
        said = state.change(removed(farm, key, state.words()))
    except ScenarioError as error:
        said = error.sentences(state.words())
    _refuse(key, said)
    if not said:
        drivers.set_beside([way for way in drivers.beside() if way != key])


def _to_figures(key: str) -> None:
    """Open the figures of a way."""
    st.session_state[key_of("section.numbers")] = "figures"
    st.session_state[chosen_way(state.scenario())] = key


def _show(key: str) -> None:
    """Show a way on the compare page, beside the pair where it is not one of it."""
    farm = state.scenario()
    room = looks.MOST - len([way for way in farm.compared_pair if way])
    if key not in farm.compared_pair:
        others = [way for way in drivers.beside() if way != key]
        drivers.set_beside([*others[: room - 1], key])
    st.session_state["go_to"] = "compare"


def _refuse(key: str, said: list[str]) -> None:
    """Keep in mind what stands against a change of a way, to be said beside it; nothing where it was taken."""
    notes = state.memory("notes")
    notes.pop(f"own_way.{key}", None)
    if said:
        notes[f"own_way.{key}"] = said


def _refusal(key: str) -> None:
    """Say what stands against a change of a way."""
    if said := state.memory("notes").get(f"own_way.{key}"):
        st.error(plain(" ".join(said)))
