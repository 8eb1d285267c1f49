"""What stands already: trees under way with what came of each try, and tools that are there."""

from collections.abc import Callable, Mapping
from typing import Any

import streamlit as st

from renovation.decide import techniques_for
from renovation.farm.standing import months_of_tries
from renovation.inputs import Scenario, UnderWay, month_count, year_month
from renovation.screens.controls.fields import (
    Path,
    Place,
    choice,
    decimal_input,
    field_words,
    number,
    several_numbers,
)
from renovation.screens.controls.phone import tight
from renovation.screens.controls.text import plain
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.show.voice import Voice
from renovation.words import Words

Changes = Mapping[str, Any]
MONTHS_BACK = 240
"""Work may have started so many months before the first."""


def draw(farm: Scenario, words: Words) -> None:
    """Every entry of trees under way in a box of its own, a button for one more, and the tools."""
    st.markdown(words("screen.standing.lead"))
    voice = Voice.of(farm, words)
    for position, entry in enumerate(farm.under_way):
        facts = {"trees": voice.trees(entry.trees), "stand": entry.stand, "way": voice.way(entry.technique)}
        head = plain(words("screen.standing.head", **facts))
        with st.expander(head, expanded=True, key=key_of(f"under_way_box_{position}")):
            _entry(farm, position, entry, words)
    if _next_entry(farm) is None:
        st.caption(words("screen.standing.all_under_way"))
    else:
        st.button(words("screen.standing.add"), on_click=_add, key=key_of("add_under_way"))
    _tools(farm, words)


def _entry(farm: Scenario, position: int, entry: UnderWay, words: Words) -> None:
    """Stand, way and start; trees, those that took by try, those given up; what waits for which month."""
    at: Path = ("under_way", position)
    voice = Voice.of(farm, words)
    left, middle, right = st.columns(3)
    with left:
        _one_of(position, "stand", [stand.name for stand in farm.stands], entry.stand, str, words)
        number(Place((*at, "trees"), put=_put_count(position, "trees")))
    with middle:
        _one_of(position, "technique", list(farm.techniques), entry.technique, voice.way, words)
        _one_of(position, "start", _months(farm, entry.technique), entry.start, words.month, words)
    with right:
        label, help_text = field_words("UnderWay", "taken", words)
        several_numbers(label, Place((*at, "taken"), put=_put_count(position, "taken")), help_text=help_text)
        number(Place((*at, "given_up")))
    for said in _said(farm, entry, words):
        st.caption(plain(said))
    label = words("screen.standing.remove")
    st.button(label, key=key_of(f"remove_under_way_{position}"), on_click=_remove, args=(position,))


def _one_of(
    position: int, field: str, options: list[str], now: str, say_option: Callable[[str], str], words: Words
) -> None:
    """A field that is one of a few; the one in force is always among them."""
    label, help_text = field_words("UnderWay", field, words)
    offered = options if now in options else [now, *options]

    def put(value: str) -> Changes:
        return {f"under_way__{position}__{field}": value}

    name = f"under_way.{position}.{field}"
    choice(label, offered, now, put, name=name, say_option=say_option, help_text=help_text)


def _months(farm: Scenario, way: str) -> list[str]:
    """Months in which work by a way may have started, the latest first: of a nursery, later ones too."""
    first = month_count(farm.appraisal.start)
    latest = first - 1 - farm.techniques[way].earliest_month
    return [year_month(month) for month in range(latest, first - MONTHS_BACK - 1, -1)]


def _said(farm: Scenario, entry: UnderWay, words: Words) -> list[str]:
    """In which months the tries fell, and how many trees wait for the next."""
    voice, tries = Voice.of(farm, words), months_of_tries(farm, entry)
    said = []
    if tries:
        months = words.listing([voice.month(month) for month in tries])
        said.append(words("screen.standing.tries", n=len(tries), months=months))
    if entry.waiting:
        gap = farm.techniques[entry.technique].gap_months.value
        due = max(0, tries[-1] + gap if tries else farm.month_of(entry.start))
        said.append(words("screen.standing.waiting", n=entry.waiting, month=voice.month(due)))
    return said


def _put_count(position: int, field: str) -> Callable[[Any], Changes]:
    """Turn trees, or those that took by try, into changes of the entry.

    After the last try all that did not take are given up, and before the first none is. Months that were stated of
    other tries than these go.
    """

    def put(value: Any) -> Changes:
        farm = state.scenario()
        row = {**farm.under_way[position].model_dump(), field: value}
        if not row["taken"]:
            row["given_up"] = 0
        elif len(row["taken"]) == farm.techniques[row["technique"]].attempts.value:
            row["given_up"] = max(0, row["trees"] - sum(row["taken"]))
        if len(row["tried"]) != len(row["taken"]):
            row["tried"] = ()
        return {f"under_way__{position}": row}

    return put


# One entry more, one less


def _next_entry(farm: Scenario) -> UnderWay | None:
    """One tree of the first place that has one left, by the first way that suits it, started when it last could be."""
    first = month_count(farm.appraisal.start)
    for plot in sorted(farm.plots, key=lambda plot: plot.works_on != "trees"):
        ways = techniques_for(farm, plot.name, plot.works_on)
        # the comparison keeps a tree
        if ways and plot.free > (plot.works_on == "trees"):
            months = farm.techniques[ways[0]].start_months
            start = next(month for month in range(first - 1, first - 13, -1) if month % 12 + 1 in months)
            return UnderWay(stand=plot.name, technique=ways[0], trees=1, start=year_month(start))
    return None


def _add() -> None:
    """Add the entry on offer."""
    farm = state.scenario()
    if (new := _next_entry(farm)) is not None:
        entries = (*(entry.model_dump() for entry in farm.under_way), new.model_dump())
        state.say_problems(state.change({"under_way": entries}))


def _remove(position: int) -> None:
    """Take an entry out."""
    kept = tuple(e.model_dump() for place, e in enumerate(state.scenario().under_way) if place != position)
    state.say_problems(state.change({"under_way": kept}))
    state.redraw()


# Tools


def _tools(farm: Scenario, words: Words) -> None:
    """The months that each tool which is there still serves, and a choice of one more."""
    st.subheader(words("field.Scenario.tools_owned.label"), anchor=False)
    st.caption(words("field.Scenario.tools_owned.help"))

    def named(key: str) -> str:
        return words.name("tool", key, farm.supplies.tools[key].label)

    for key in farm.tools_owned:
        with st.container(horizontal=not tight(), vertical_alignment="bottom"):
            place = Place(("tools_owned", key), put=_put_tool(key))
            decimal_input(words("screen.standing.months", tool=named(key)), place)
            label = words("screen.standing.remove_tool", tool=plain(named(key)))
            st.button(label, key=key_of(f"remove_tool_{key}"), on_click=_remove_tool, args=(key,))
    others = [key for key in farm.supplies.tools if key not in farm.tools_owned]
    if others:
        chosen = key_of(f"new_tool|{len(others)}")
        st.selectbox(words("screen.standing.tool"), others, key=chosen, format_func=named)
        st.button(words("screen.standing.add_tool"), key=key_of("add_tool"), on_click=_add_tool, args=(chosen,))


def _put_tool(key: str) -> Callable[[float], Changes]:
    """Turn months into all tools owned with that one changed."""
    return lambda months: {"tools_owned": {**state.scenario().tools_owned, key: float(months)}}


def _add_tool(chosen: str) -> None:
    """Add the tool chosen, as good as new."""
    key = st.session_state[chosen]
    months = state.scenario().supplies.tools[key].lasts_years.value * 12
    state.say_problems(state.change(_put_tool(key)(months)))


def _remove_tool(key: str) -> None:
    """Take a tool out."""
    owned = state.scenario().tools_owned
    state.say_problems(state.change({"tools_owned": {name: m for name, m in owned.items() if name != key}}))
