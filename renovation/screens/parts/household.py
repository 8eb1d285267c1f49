"""The people of the farm: days, wage, money."""

from collections.abc import Callable, Mapping
from typing import Any

import streamlit as st

from renovation.inputs import Scenario, twelve
from renovation.screens.controls.fields import (
    Path,
    Place,
    decimal_input,
    field_words,
    numbers,
    switch,
    value_at,
)
from renovation.screens.controls.text import in_columns
from renovation.screens.memory import state
from renovation.words import Words

Changes = Mapping[str, Any]


def draw(farm: Scenario, words: Words) -> None:
    """Two columns: what money comes and stays, and what each month brings."""
    del farm
    at: Path = ("household",)
    left, right = st.columns(2)
    with left:
        numbers(at, "wage_per_day", "labour_value", "savings", "floor", "savings_rate")
    with right:
        for field in ("family_days", "living_costs", "other_income"):
            _by_month((*at, field), words)
        _hired_limit(words)


def _by_month(path: Path, words: Words) -> None:
    """One number for every month, or twelve."""
    value = value_at(state.scenario(), path)
    label, help_text = field_words("Household", str(path[-1]), words)
    each = isinstance(value, tuple)
    if not each:
        decimal_input(label, Place(path), help_text=help_text)
    else:
        st.markdown(label, help=help_text)
        for month in in_columns(range(12), 3):
            place = Place(path, value=value[month], put=_put_month(path, month))
            decimal_input(words.month_name(month + 1), place, name=f"month{month}.")
    switch(words("screen.numbers.by_month"), each, _spread(path), name=f"{'.'.join(map(str, path))}.by_month")


def _put_month(path: Path, month: int) -> Callable[[float], Changes]:
    """Change one month of twelve."""

    def put(value: float) -> Changes:
        now = value_at(state.scenario(), path)
        return {"__".join(map(str, path)): (*now[:month], value, *now[month + 1 :])}

    return put


def _spread(path: Path) -> Callable[[bool], Changes]:
    """Turn one number into twelve, or twelve into their mean."""

    def put(by_month: bool) -> Changes:
        now = twelve(value_at(state.scenario(), path))
        return {"__".join(map(str, path)): now if by_month else round(sum(now) / 12, 4)}

    return put


def _hired_limit(words: Words) -> None:
    """The most days that can be hired, or no limit."""
    path: Path = ("household", "hired_days_limit")
    limited = value_at(state.scenario(), path) is not None
    if limited:
        _by_month(path, words)
    switch(
        words("screen.numbers.hired_limit"),
        limited,
        lambda on: {"household__hired_days_limit": 20.0 if on else None},
        name="hired_limit",
    )
