"""Planting material: the clones that a way uses, clones of one's own, and several beside each other within one way."""

from collections.abc import Callable, Mapping
from typing import Any

import streamlit as st

from renovation.decide.materials import known_materials, takes_materials
from renovation.inputs import Material, Scenario, declared, default_groups, default_materials, materials_of
from renovation.inputs.materials import FIGURES
from renovation.inputs.overrides import widened
from renovation.inputs.techniques import MOST_MATERIALS
from renovation.screens.controls.fields import Place, choice, decimal_input, field_words, several, text_entry
from renovation.screens.controls.text import bullets, in_columns, plain, show_chart, show_table, small, why
from renovation.screens.memory import results, state
from renovation.screens.memory.state import key_of
from renovation.show import figures, planting
from renovation.show.clones import group_name, material_name
from renovation.show.compare import charts
from renovation.show.voice import Voice
from renovation.words import Words

Changes = Mapping[str, Any]
GROUPS_OF_A_REGION = ("a", "b", "c", "d")
"""Names that stand ready for the groups that a region's own service tells apart."""


# Numbers: what a way uses


def draw(farm: Scenario, way: str, words: Words) -> None:
    """Choose the clones of a way; look at one, and change what is known of it."""
    if not takes_materials(farm, way):
        st.markdown(words("planting.screen.no_crown"))
        return
    known, used = known_materials(farm), list(farm.techniques[way].planting_materials)
    several(
        words("planting.screen.uses", most=words.number(MOST_MATERIALS)),
        list(known),
        used,
        _use,
        way,
        name=f"planting.{way}",
        say_option=lambda name: material_name(name, known[name], words),
    )
    bullets(planting.way_sentences(farm, [way], words)[1:] or [words("planting.screen.none")])
    st.warning(words("caution.clean_budwood"))
    own = [name for name in farm.materials if name not in default_materials()]
    st.button(words("planting.screen.add"), on_click=_add, key=key_of("add_material"))
    look_at = list(dict.fromkeys([*used, *own]))
    if not look_at:
        st.caption(words("planting.screen.change"))
        return
    name = st.selectbox(
        words("planting.screen.look_at"),
        look_at,
        key=key_of(f"look_at|{'|'.join(look_at)}"),
        format_func=lambda one: material_name(one, known[one], words),
    )
    with st.container(border=True):
        _one(farm, name, words)


def _use(key: str, way: str) -> None:
    """Take the clones chosen for a way, in the order in which they are listed."""
    chosen = st.session_state[key]
    if len(chosen) > MOST_MATERIALS:
        state.say_problems([state.words()("planting.screen.too_many", most=state.words().number(MOST_MATERIALS))])
        state.memory("shown_text").pop(key, None)
        return
    ways = {f"techniques__{way}__planting_materials": tuple(chosen)}
    state.say_problems(state.change(ways))


def _add() -> None:
    """One more clone of one's own, of which nothing is known yet."""
    farm, number = state.scenario(), 1
    while f"clone_{number}" in known_materials(farm):
        number += 1
    label = state.words()("planting.screen.new", n=state.words().number(number))
    state.say_problems(state.change(_put(farm, f"clone_{number}", label=label)))


def _put(farm: Scenario, name: str, **fields: Any) -> Changes:
    """The change that states something of a material."""
    before = farm.materials[name].model_dump() if name in farm.materials else Material().model_dump()
    return {"materials": {**farm.model_dump(include={"materials"})["materials"], name: {**before, **fields}}}


def _one(farm: Scenario, name: str, words: Words) -> None:
    """What is known of one clone: its name, its group, its figures, each with its source and the way back."""
    material, shipped = farm.materials[name], default_materials().get(name)
    left, right = st.columns(2)
    with left:
        label, meaning = field_words("Material", "label", words)
        called = material_name(name, material, words)
        text_entry(label, called, _field(name, "label"), name=f"material_label.{name}", help_text=meaning)
    with right:
        groups = list(dict.fromkeys([None, *default_groups(), *GROUPS_OF_A_REGION, material.group]))
        label, meaning = field_words("Material", "group", words)
        put, called = _field(name, "group"), f"material_group.{name}"
        choice(
            label,
            groups,
            material.group,
            put,
            name=called,
            say_option=lambda one: group_name(one, words),
            help_text=meaning,
        )
    for field in in_columns(FIGURES, 3):
        _figure(farm, name, field, words)
    if material.months_to_bearing is not None:
        label, meaning = field_words("Material", "months_hold_for", words)
        choice(
            label,
            ["all ways", "planting"],
            material.months_hold_for,
            _field(name, "months_hold_for"),
            name=f"material_months.{name}",
            say_option=lambda one: words(f"planting.months.{one.replace(' ', '_')}"),
            help_text=meaning,
        )
    source = figures.source_cell_of(material.source, material.citation, words)
    small([words("screen.figures.source", source=source)])
    why(words("reasons.why"), material.because, name=f"material.{name}")
    if shipped is None:
        gone = words("planting.screen.remove", material=material_name(name, material, words))
        st.button(plain(gone), on_click=_remove, args=(name,), key=key_of(f"remove_{name}"), type="tertiary")
    elif material != shipped:
        back = words("planting.screen.back")
        st.button(back, on_click=_back, args=(name,), key=key_of(f"back_{name}"), type="tertiary")


def _field(name: str, field: str) -> Callable[[Any], Changes]:
    return lambda value: _put(state.scenario(), name, **{field: value or None})


def _figure(farm: Scenario, name: str, field: str, words: Words) -> None:
    """One figure of a clone; an empty field says that it is not known."""
    figure = getattr(farm.materials[name], field)
    label, meaning = field_words("Material", field, words)
    place = Place(
        ("materials", name, field), put=_own_figure(name, field), value=None if figure is None else figure.value
    )
    if figure is None:
        place = Place(place.path, put=place.put)
    decimal_input(label, place, help_text=meaning)
    if figure is not None:
        _, span, _, source = figures.figure_row(figure, farm.appraisal.currency, words)
        st.caption(plain(words("screen.figures.default", range=span, source=source)))
        why(words("reasons.why"), figure.because, name=f"material.{name}.{field}")


def _own_figure(name: str, field: str) -> Callable[[Any], Changes]:
    """Turn a number into an own figure, the range that ships widened to hold it; nothing where none is typed."""

    def put(value: float | None) -> Changes:
        if value is None:
            return _put(state.scenario(), name, **{field: None})
        shipped = getattr(default_materials().get(name, Material()), field)
        low, high = (shipped.low, shipped.high) if shipped else (value, value)
        ends = {"value": value, "low": widened(min, low, value), "high": widened(max, high, value)}
        unit = declared(Material, field).unit
        figure = {**ends, "unit": unit, "source": "own", "citation": "", "because": ""}
        return _put(state.scenario(), name, **{field: figure})

    return put


def _remove(name: str) -> None:
    """Take a clone out of the farm and of the ways that use it."""
    farm = state.scenario()
    kept = {key: entry for key, entry in farm.model_dump(include={"materials"})["materials"].items() if key != name}
    changes: dict[str, Any] = {"materials": kept}
    for way, technique in farm.techniques.items():
        if name in technique.planting_materials:
            left = tuple(one for one in technique.planting_materials if one != name)
            changes[f"techniques__{way}__planting_materials"] = left
    state.say_problems(state.change(changes))


def _back(name: str) -> None:
    """What ships in place of one's own figures."""
    state.say_problems(state.change(_put(state.scenario(), name, **default_materials()[name].model_dump())))


# Compare: several within one way


def compare_within(farm: Scenario, headline: str | None, words: Words) -> None:
    """One way with clones beside each other: choose both, then the answer, a chart, the table and its sources."""
    ways = [way for way in farm.techniques if takes_materials(farm, way) and farm.techniques[way].works_on == "trees"]
    if not ways:
        st.markdown(words("planting.screen.no_way"))
        return
    voice, known = Voice.of(farm, words), known_materials(farm)
    place = ways.index(headline) if headline in ways else 0
    key = key_of(f"materials_of|{'|'.join(ways)}")
    way = st.selectbox(words("screen.figures.way"), ways, place, key=key, format_func=voice.way)
    named = list(materials_of(farm, way))
    chosen = st.pills(
        words("planting.screen.beside", most=words.number(MOST_MATERIALS)),
        list(known),
        selection_mode="multi",
        default=named,
        key=key_of(f"materials_beside|{way}|{'|'.join(known)}|{'|'.join(named)}"),
        format_func=lambda name: plain(material_name(name, known[name], words)),
    )
    if not chosen:
        st.markdown(words("planting.screen.choose"))
        return
    if len(chosen) > MOST_MATERIALS:
        st.warning(words("planting.screen.too_many", most=words.number(MOST_MATERIALS)))
    found = results.with_clones(farm, way, tuple(chosen[:MOST_MATERIALS]))
    said = planting.compared_sentences(found, words)
    st.markdown(f"**{plain(said[0])}**")
    bullets([*said[1:], *planting.alone_sentences(found, words)])
    if not found.worth:
        return
    show_chart(
        charts.cumulative_cash_chart(planting.drawn(found, words), list(found.together.outcomes), words),
        key="materials",
    )
    show_table(planting.compared_table(found, words))
    st.warning(words("caution.clean_budwood"))
    with st.expander(words("planting.table.known")):
        show_table(planting.materials_table(found.materials, farm.appraisal.currency, words))
        bullets(planting.material_reasons(found.materials, words))
    st.caption(words("planting.screen.where"))
