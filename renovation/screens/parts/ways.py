"""Which ways the farm weighs."""

from collections.abc import Callable, Mapping
from typing import Any

import streamlit as st

from renovation.inputs import Scenario
from renovation.inputs.defaults import default_techniques
from renovation.screens.controls.fields import switch
from renovation.screens.controls.overrides import weighed_too
from renovation.screens.memory import state
from renovation.show.voice import Voice
from renovation.words import Words

Changes = Mapping[str, Any]


def draw(farm: Scenario, words: Words) -> None:
    """A switch for every way known."""
    st.markdown(words("screen.numbers.ways_lead"))
    known = list(dict.fromkeys([*farm.techniques, *default_techniques()]))
    left, right = st.columns(2)
    for place, key in enumerate(known):
        with left if place % 2 == 0 else right, st.container(border=True):
            switch(Voice.of(farm, words).way(key), key in farm.techniques, _consider(key), name=f"consider.{key}")
            if f"technique_help.{key}" in words:
                st.caption(words(f"technique_help.{key}"))


def _consider(key: str) -> Callable[[bool], Changes]:
    """Take a way up among those weighed, or leave it out wherever it stands."""

    def put(on: bool) -> Changes:
        farm = state.scenario()
        if on:
            return weighed_too(farm, key)
        data = farm.model_dump()
        kept = {way: table for way, table in data["techniques"].items() if way != key}
        changes: dict[str, Any] = {"techniques": kept}
        changes["plan"] = tuple(treatment for treatment in data["plan"] if treatment["technique"] != key)
        for place, stand in enumerate(farm.stands):
            if stand.techniques is not None:
                changes[f"stands__{place}__techniques"] = tuple(way for way in stand.techniques if way != key)
        pair = {"headline": farm.comparison.headline, "against": farm.comparison.against}
        for field, way in pair.items():
            on_trees = [other for other in kept if farm.techniques[other].works_on == "trees"]
            free = [other for other in on_trees if other not in pair.values()]
            if way == key and free:
                changes[f"comparison__{field}"] = free[0]
        return changes

    return put
