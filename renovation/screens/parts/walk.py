"""A walk through a stand: its trees told one by one in a table, or by class; then a stand for each class."""

from typing import Any

import streamlit as st

from renovation.inputs import Pods, Scenario, ScenarioError, declared, read_decimal, write_decimal
from renovation.inputs.defaults import default_tree_classes
from renovation.inputs.tally import CLASSES, Tally, TreeClass, Walk, default_pods_per_kg, read_tally, walked
from renovation.screens.controls.fields import echo
from renovation.screens.controls.phone import NUMBER
from renovation.screens.controls.text import bullets, in_columns, plain, show_chart, show_table, why
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.show import tally as show
from renovation.words import Words


def draw(farm: Scenario, words: Words) -> None:
    """Choose a stand, bring a table or write sums, look at what was counted, take it over."""
    st.markdown(words("tally.lead"))
    names = list(dict.fromkeys(stand.part_of or stand.name for stand in farm.stands))
    left, right = st.columns(2)
    stand = left.selectbox(words("screen.cash.stand"), names, key=key_of("walk_stand"), format_func=plain)
    said = write_decimal(default_pods_per_kg(farm, stand), words)
    typed = right.text_input(
        words("field.Pods.pods_per_kg.label"), said, key=key_of(f"walk_pods|{stand}"), autocomplete=NUMBER
    )
    shipped = default_tree_classes().pods_per_kg
    with right:
        why(words("reasons.why"), shipped.because * (said == write_decimal(shipped.value, words)), name="pods")
    upload = st.file_uploader(words("tally.table_file"), type=["csv"], key=key_of("walk_table"))
    with st.expander(words("tally.typed")):
        _sums(words)
    try:
        counted = state.memory("walk").get(key_of("typed"))
        tally = read_tally(upload.getvalue(), upload.name) if upload else counted
        if tally is None:
            return
        pods_per_kg = read_decimal(typed, declared(Pods, "pods_per_kg"), words=words)
        walk = walked(farm, stand, tally, lambda name: words(f"tally.class.{name}"), pods_per_kg)
    except ScenarioError as error:
        st.error("\n\n".join(plain(sentence) for sentence in error.sentences(words)))
        return
    _counted(walk, words)
    st.button(words("tally.use"), key=key_of("walk_use"), on_click=_use, args=(walk,))


def _counted(walk: Walk, words: Words) -> None:
    """What was counted, drawn where trees were told one by one."""
    bullets(show.said(walk, words))
    if walk.tally.pods:
        show_chart(show.chart(walk, words), key="walk")
    show_table(show.classes(walk, words))


def _sums(words: Words) -> None:
    """A form for trees and pods by class, and empty places."""
    with st.form(key_of("walk_sums"), border=False, enter_to_submit=False):
        for name in in_columns(CLASSES, 4):
            called = words(f"tally.class.{name}")
            _entry(f"{name}.trees", words("tally.trees_of", **{"class": called}))
            if name != "bare":
                _entry(f"{name}.pods_per_tree", words("tally.pods_of", **{"class": called}))
        _entry("empty_places", words("field.Tally.empty_places.label"))
        st.form_submit_button(words("tally.typed"), on_click=_read_sums)
    if refused := state.memory("notes").get("walk"):
        st.error("\n\n".join(map(plain, refused)))


def _entry(name: str, label: str) -> None:
    st.text_input(plain(label), key=key_of(f"walk.{name}"), autocomplete=NUMBER)


def _read_sums() -> None:
    """Keep the sums that were written, or why they cannot be read; what is left empty is none."""
    words, said, typed = state.words(), [], []

    def number(name: str, model: type[Any], field: str) -> float:
        text = st.session_state[key_of(f"walk.{name}")]
        typed.append(text)
        try:
            return read_decimal(text, declared(model, field), words=words) if text.strip() else 0
        except ScenarioError as error:
            said.extend(error.sentences(words))
            return 0

    trees = {name: int(number(f"{name}.trees", TreeClass, "trees")) for name in CLASSES}
    pods = {name: number(f"{name}.pods_per_tree", TreeClass, "pods_per_tree") for name in CLASSES[:-1]}
    empty = int(number("empty_places", Tally, "empty_places"))
    echo(typed)
    if not said and not sum(trees.values()):
        said.append(words("error.no_trees_counted", file=words("tally.typed")))
    if not said:
        classes: dict[str, Any] = {
            name: TreeClass(trees=trees[name], pods_per_tree=pods.get(name, 0.0)) for name in CLASSES
        }
        state.memory("walk")[key_of("typed")] = Tally(**classes, empty_places=empty)
    state.memory("notes")["walk"] = said


def _use(walk: Walk) -> None:
    """Put the farm with its classes in hand."""
    state.reread(walk.farm)
    state.say_once("opened", [state.words()("tally.used", stand=walk.stand)])
