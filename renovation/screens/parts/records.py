"""Grafts that the family has made: how many, and how many took; the next plan counts on them."""

from typing import Any

import streamlit as st

from renovation.inputs import Scenario
from renovation.inputs.planning import GraftRecord
from renovation.screens.controls.forms import NewEntry
from renovation.screens.controls.text import bullets, plain
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.show.plan.learning import record_sentences
from renovation.show.voice import Voice
from renovation.words import Words

FIELDS = ("made", "taken")


def draw(farm: Scenario, words: Words) -> None:
    """Every record with the way out, what they say of the take, and a form for one more."""
    st.markdown(words("screen.plan.records_lead"))
    for place, record in enumerate(farm.planning.records):
        with st.container(horizontal=True, vertical_alignment="center"):
            st.markdown(plain(_said(farm, record, words)), width="stretch")
            label = words("screen.plan.remove_record")
            st.button(label, key=key_of(f"remove_record_{place}"), on_click=_remove, args=(place,))
    if farm.planning.records:
        bullets(record_sentences(farm, words))
    _form(farm, words)


def _said(farm: Scenario, record: GraftRecord, words: Words) -> str:
    """A record in words."""
    way, made, taken = (
        Voice.of(farm, words).way(record.technique),
        words.number(record.made),
        words.number(record.taken),
    )
    return words("screen.plan.record", way=way, made=made, taken=taken)


def _form(farm: Scenario, words: Words) -> None:
    """One record more: way, made, taken, read together."""
    ways = [key for key, technique in farm.techniques.items() if technique.family == "graft"]
    if not ways:
        st.caption(words("screen.plan.no_graft"))
        return
    new = NewEntry("new_record", ("planning", "records"), len(farm.planning.records), FIELDS)
    with new.box():
        columns = st.columns(3)
        columns[0].selectbox(
            words("field.GraftRecord.technique.label"),
            ways,
            key=new.key("technique"),
            format_func=lambda key: Voice.of(farm, words).way(key),
        )
        new.draw(columns[1:])
        st.form_submit_button(words("screen.plan.add_record"), on_click=_add, args=(new,))
    new.say_refusal()


def _add(new: NewEntry) -> None:
    """Add the record where both numbers can be read and the farm accepts it."""
    counts, said = new.read()
    if not said:
        record = {"technique": st.session_state[new.key("technique")], **counts}
        said = state.change({"planning__records": (*_records(), record)})
    new.settle(said)


def _records() -> tuple[dict[str, Any], ...]:
    """The records as tables."""
    return tuple(record.model_dump() for record in state.scenario().planning.records)


def _remove(place: int) -> None:
    """Take a record out."""
    kept = tuple(record for number, record in enumerate(_records()) if number != place)
    state.say_problems(state.change({"planning__records": kept}))
