"""Grafts that the family has made: how many, and how many took; the next plan counts on them."""

from typing import Any

import streamlit as st

from renovation.inputs import Scenario, month_count, year_month
from renovation.inputs.planning import GraftRecord
from renovation.screens.controls.fields import Place, read_number
from renovation.screens.controls.forms import NewEntry
from renovation.screens.controls.phone import NUMBER
from renovation.screens.controls.text import bullets, in_columns, plain
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.show.held import held_sentences, season_of, season_said
from renovation.show.voice import Voice
from renovation.words import Words

FIELDS = ("made", "taken")
SEASONS = 10
"""How many past seasons are offered."""
FIRST = month_count("0001-01")


def draw(farm: Scenario, words: Words) -> None:
    """Every record with the way out, what they say of the take, and a form for one more."""
    st.markdown(words("screen.plan.records_lead"))
    for place, record in enumerate(farm.planning.records):
        with st.container(horizontal=True, vertical_alignment="center"):
            st.markdown(plain(_said(farm, record, words)), width="stretch")
            label = words("screen.plan.remove_record")
            st.button(label, key=key_of(f"remove_record_{place}"), on_click=_remove, args=(place,))
    bullets(held_sentences(farm, words))
    _form(farm, words)


def _said(farm: Scenario, record: GraftRecord, words: Words) -> str:
    """A record in words."""
    facts = {name: words.number(getattr(record, name)) for name in FIELDS} | {
        "way": Voice.of(farm, words).way(record.technique)
    }
    if season := season_said(record, farm, words):
        return words("screen.plan.record_in", season=season, **facts)
    return words("screen.plan.record", **facts)


def _form(farm: Scenario, words: Words) -> None:
    """One record more: way, season, made, taken, read together."""
    ways = [key for key, technique in farm.techniques.items() if technique.family != "prune"]
    if not ways:
        st.caption(words("screen.plan.no_graft"))
        return
    new = NewEntry("new_record", ("planning", "records"), len(farm.planning.records), FIELDS)
    voice = Voice.of(farm, words)
    label = words("field.GraftRecord.technique.label")
    way = st.selectbox(label, ways, key=new.key("technique"), format_func=voice.way)
    with new.box():
        start = month_count(farm.appraisal.start)
        st.selectbox(
            words("field.GraftRecord.season.label"),
            [*(year_month(m) for back in range(1, SEASONS + 1) if (m := start - 12 * back) >= FIRST), None],
            key=new.key("season"),
            format_func=lambda month: (
                words("screen.plan.season_unknown") if month is None else season_of(month_count(month), words)
            ),
            help=words("field.GraftRecord.season.help"),
        )
        new.draw(st.columns(2))
        operations = tuple(farm.techniques[way].operations)
        with st.expander(words("screen.plan.days_worked")):
            for name in in_columns(operations, 3):
                st.text_input(plain(voice.work(name)), key=new.key(f"work.{way}.{name}"), autocomplete=NUMBER)
        st.form_submit_button(words("screen.plan.add_record"), on_click=_add, args=(new, way, operations))
    new.say_refusal()


def _add(new: NewEntry, way: str, operations: tuple[str, ...]) -> None:
    """Add the record where its numbers can be read and the farm accepts it; days may be left empty."""
    counts, said = new.read()
    work: dict[str, Any] = {}
    for name in operations:
        if text := st.session_state[new.key(f"work.{way}.{name}")].strip():
            days, refusal = read_number(text, Place((*new.at, new.number, "work", name, "days")))
            work[name] = {"days": days}
            if refusal:
                said.append(refusal)
    if not said:
        record = {"technique": way, "season": st.session_state[new.key("season")], "work": work, **counts}
        said = state.change({"planning__records": (*_records(), record)})
    new.settle(said)


def _records() -> tuple[dict[str, Any], ...]:
    """The records as tables."""
    return tuple(record.model_dump() for record in state.scenario().planning.records)


def _remove(place: int) -> None:
    """Take a record out."""
    kept = tuple(record for number, record in enumerate(_records()) if number != place)
    state.say_problems(state.change({"planning__records": kept}))
