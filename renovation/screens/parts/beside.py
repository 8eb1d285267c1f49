"""Beside the crop of a way: what is lost, crops between young trees, permanent shade, payments per tree."""

from collections.abc import Callable, Mapping
from typing import Any

import streamlit as st
from pydantic import BaseModel

from renovation.inputs import IntercropSpan, Payment, PermanentShade, Scenario, Technique, declared
from renovation.inputs.quantities import in_currency
from renovation.screens.controls.fields import (
    Path,
    Place,
    choice,
    decimal_input,
    field_words,
    free_name,
    number,
    numbers,
    switch,
    text_entry,
)
from renovation.screens.controls.overrides import default_figure, own
from renovation.screens.controls.text import plain
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.words import Words

Changes = Mapping[str, Any]
OneFigure = Callable[[Scenario, Path, str, Words], None]
LOSSES = ("tree_loss_per_year", "pods_lost")
SPAN = ("income", "days")
SHADE = ("income", "days")


def draw(farm: Scenario, way: str, words: Words, figure: OneFigure, by_year: Callable[..., None]) -> None:
    """Four boxes. figure, by_year: how a figure, and one by year, is shown with its source and the way back."""
    technique = farm.techniques[way]
    boxes: dict[str, Callable[[], None]] = {
        "losses": lambda: _losses(farm, way, technique, words, figure),
        "between": lambda: _between(farm, way, technique, words, figure),
        "shade": lambda: _shade(farm, way, technique, words, figure, by_year),
        "payments": lambda: _payments(way, technique, words),
    }
    for name, box in boxes.items():
        with st.container(border=True):
            st.markdown(f"**{words(f'screen.beside.{name}')}**")
            st.caption(words(f"screen.beside.{name}_help"))
            box()


def _new(farm: Scenario, model: type[BaseModel], field: str, value: Any) -> dict[str, Any]:
    """An own figure of the farm, in the unit that its field declares."""
    unit = in_currency(declared(model, field).unit, farm.appraisal.currency)
    stated = {"value": value, "low": value, "high": value, "unit": unit}
    return {**stated, "source": "own", "citation": "", "because": ""}


def _losses(farm: Scenario, way: str, technique: Technique, words: Words, figure: OneFigure) -> None:
    """Chances of the way's own, where it has any; else those of the stand hold."""
    for column, field in zip(st.columns(2), LOSSES, strict=True):
        with column:
            on = getattr(technique, field) is not None
            start = max(getattr(stand, field) for stand in farm.stands)

            def put(chosen: bool, field: str = field, start: float = start) -> Changes:
                return {
                    f"techniques__{way}__{field}": _new(state.scenario(), Technique, field, start) if chosen else None
                }

            switch(words(f"screen.beside.own_{field}"), on, put, name=f"own_{field}.{way}")
            if on:
                figure(farm, ("techniques", way, field), field_words("Technique", field, words)[0], words)


def _between(farm: Scenario, way: str, technique: Technique, words: Words, figure: OneFigure) -> None:
    """Each span of the crop between young trees: its months, income and days; one more, or out with it."""
    if technique.temporary_shade is False:
        st.caption(words("screen.beside.no_shade"))
        return
    if technique.old_crown is not None and technique.old_crown.anchor != "start":
        st.caption(words("screen.beside.not_between"))
        return
    for place, span in enumerate(technique.intercrop):
        at: Path = ("techniques", way, "intercrop", place)
        for column, field in zip(st.columns(4), ("first_month", "last_month", *SPAN), strict=True):
            with column:
                path, label = (*at, field), field_words("IntercropSpan", field, words)[0]
                if field not in SPAN:
                    number(Place(path))
                elif _ships_so(farm, way, place):
                    figure(farm, path, label, words)
                else:
                    decimal_input(label, Place(path, put=own(path), value=getattr(span, field).value))
        _remove("intercrop", way, place, words("screen.beside.remove_span", n=place + 1))
    last = max((span.last_month for span in technique.intercrop), default=-1)
    if last + 12 <= 480:
        more = {"first_month": last + 1, "last_month": last + 12}
        _add("intercrop", way, more | {field: _new(farm, IntercropSpan, field, 0.0) for field in SPAN}, words)


def _ships_so(farm: Scenario, way: str, place: int) -> bool:
    """Whether a span has the months that the default has in its place."""
    span = farm.techniques[way].intercrop[place]
    base = (default_figure(farm, ("techniques", way, "intercrop", place)) or {}).get
    return (base("first_month"), base("last_month")) == (span.first_month, span.last_month)


def _shade(
    farm: Scenario, way: str, technique: Technique, words: Words, figure: OneFigure, by_year: Callable[..., None]
) -> None:
    """Whether shade trees stay, and then their factor on the crop, income and days by year."""

    def put(chosen: bool) -> Changes:
        now = state.scenario()
        new = {"crop_factor": _new(now, PermanentShade, "crop_factor", 1.0)}
        new |= {field: _new(now, PermanentShade, field, (0.0,)) for field in SHADE}
        return {f"techniques__{way}__permanent_shade": new if chosen else None}

    switch(words("screen.beside.shade_on"), technique.permanent_shade is not None, put, name=f"permanent_shade.{way}")
    if technique.permanent_shade is None:
        return
    at: Path = ("techniques", way, "permanent_shade")
    figure(farm, (*at, "crop_factor"), field_words("PermanentShade", "crop_factor", words)[0], words)
    for column, field in zip(st.columns(2), SHADE, strict=True):
        with column:
            by_year(farm, (*at, field), field_words("PermanentShade", field, words)[0], words, "year_after")


def _payments(way: str, technique: Technique, words: Words) -> None:
    """Each payment: name, amount, what it is counted from, when, and whether every year; one more, or out with it."""
    names = [payment.name for payment in technique.payments]
    for place, payment in enumerate(technique.payments):
        at: Path = ("techniques", way, "payments", place)
        stem = f"techniques__{way}__payments__{place}__"
        left, middle, right = st.columns(3)
        with left:
            label, meaning = field_words("Payment", "name", words)
            put_name = _put(f"{stem}name")
            text_entry(label, payment.name, put_name, name=f"payment_name.{way}.{place}", help_text=meaning)
            path = (*at, "amount")
            label = field_words("Payment", "amount", words)[0]
            decimal_input(label, Place(path, put=own(path), value=payment.amount.value))
        with middle:
            label, meaning = field_words("Payment", "anchor", words)
            choice(
                label,
                ["start", "established"],
                payment.anchor,
                _put(f"{stem}anchor"),
                name=f"payment_anchor.{way}.{place}",
                say_option=lambda one: words(f"screen.beside.anchor_{one}"),
                help_text=meaning,
            )
        with right:
            numbers(at, "month", "until")
        _remove("payments", way, place, words("screen.beside.remove_payment", name=payment.name))
    name = free_name("screen.beside.new_payment", names, words)
    amount = _new(state.scenario(), Payment, "amount", 0.0)
    _add("payments", way, {"name": name, "anchor": "start", "month": 0, "until": None, "amount": amount}, words)


def _put(path: str) -> Callable[[Any], Changes]:
    return lambda value: {path: value}


def _add(part: str, way: str, entry: Mapping[str, Any], words: Words) -> None:
    """The button that puts one more entry at the end of a list of the way."""
    st.button(
        words(f"screen.beside.add_{part}"), on_click=_add_entry, args=(part, way, entry), key=key_of(f"add_{part}")
    )


def _add_entry(part: str, way: str, entry: Mapping[str, Any]) -> None:
    kept = state.scenario().techniques[way].model_dump()[part]
    state.say_problems(state.change({f"techniques__{way}__{part}": (*kept, dict(entry))}))


def _remove(part: str, way: str, place: int, label: str) -> None:
    """The button that takes one entry out of a list of the way."""
    key = key_of(f"remove_{part}_{place}")
    st.button(plain(label), on_click=_remove_entry, args=(part, way, place), key=key, type="tertiary")


def _remove_entry(part: str, way: str, place: int) -> None:
    kept = state.scenario().techniques[way].model_dump()[part]
    state.say_problems(state.change({f"techniques__{way}__{part}": (*kept[:place], *kept[place + 1 :])}))
