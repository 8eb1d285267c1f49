"""The figures of the futures: how far things may stray, the hard cases, how many futures; each with its source."""

from typing import Any

import streamlit as st

from renovation.inputs import Risk, Scenario, Stress, declared
from renovation.screens.controls.fields import Place, choice, decimal_input, field_words
from renovation.screens.controls.text import plain
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.show.figures import figure_cell
from renovation.words import Words

FUTURES = tuple(1 << power for power in range(10, 17))
"""Numbers of futures offered: more take longer than a meeting waits."""
MOST_YEARS = 40


LOST_TREES = ("lost_trees", "lost_trees_year")


def draw(farm: Scenario, words: Words) -> None:
    """Draw every figure that the futures are drawn from, in four boxes."""
    st.markdown(words("screen.risk.figures_lead"))
    left, right = st.columns(2)
    with left:
        _box(words("screen.risk.price_head"))
        _price(farm, words)
        _box(words("screen.risk.how_many_head"))
        _how_many(farm, words)
    with right:
        _box(words("screen.risk.other_head"))
        for field in ("crop_sd", "take_spread", "wage_drift_sd", "input_drift_sd"):
            _figure(Risk, field, words)
        _box(words("screen.risk.hard_head"))
        for field in ("beginner_take", "beginner_seasons", "lost_crop_year", "wage_rise", "hand_days", *LOST_TREES):
            _figure(Stress, field, words)
    st.caption(words("screen.risk.again"))


def _box(title: str) -> None:
    st.markdown(f"**{plain(title)}**")


def _price(farm: Scenario, words: Words) -> None:
    """How the price moves, who sets it, and where it is expected to go."""
    for field in ("price_sd", "price_persistence", "farm_gate_share"):
        _figure(Risk, field, words)
    label, help_text = field_words("Risk", "price_setting", words)
    choice(
        label,
        ["market", "board"],
        farm.risk.price_setting,
        lambda one: {"risk__price_setting": one},
        name="risk.price_setting",
        say_option=lambda one: words(f"risk.setting.{one}"),
        help_text=help_text,
    )
    label, help_text = field_words("Risk", "price_path", words)
    choice(
        label,
        ["constant", "reverting", "typed"],
        farm.risk.price_path,
        _take_path,
        name="risk.price_path",
        say_option=lambda one: words(f"risk.path.{one}"),
        help_text=help_text,
    )
    if farm.risk.price_path == "reverting":
        _figure(Risk, "long_run_price", words)
    elif farm.risk.price_path == "typed":
        _typed_path(farm, words)


def _take_path(path: str) -> dict[str, Any]:
    """Change the expected price; a typed one begins at today's price."""
    changes: dict[str, Any] = {"risk__price_path": path}
    if path == "typed" and not state.scenario().risk.price_by_year:
        changes["risk__price_by_year"] = (1.0,)
    return changes


def _typed_path(farm: Scenario, words: Words) -> None:
    """The expected price of each project year, the last holding from then on; one more and one fewer."""
    shares = farm.risk.price_by_year
    for year, share in enumerate(shares):
        form = "last" if year == len(shares) - 1 else "one"
        place = Place(("risk", "price_by_year", year), value=share, put=_put_year(year))
        decimal_input(words(f"screen.risk.path_year_{form}", n=year + 1), place)
    more, fewer = st.columns(2)
    if len(shares) < MOST_YEARS:
        longer = (*shares, shares[-1])
        more.button(words("screen.risk.one_more"), key=key_of("risk_more"), on_click=_put_path, args=(longer,))
    if len(shares) > 1:
        fewer.button(words("screen.risk.one_fewer"), key=key_of("risk_fewer"), on_click=_put_path, args=(shares[:-1],))


def _put_year(year: int) -> Any:
    def put(value: float) -> dict[str, Any]:
        shares = state.scenario().risk.price_by_year
        return {"risk__price_by_year": (*shares[:year], value, *shares[year + 1 :])}

    return put


def _put_path(shares: tuple[float, ...]) -> None:
    state.say_problems(state.change({"risk__price_by_year": shares}))


def _how_many(farm: Scenario, words: Words) -> None:
    """How many futures, and the seed."""
    label, help_text = field_words("Risk", "draws", words)
    choice(
        label,
        sorted({*FUTURES, farm.risk.draws}),
        farm.risk.draws,
        lambda number: {"risk__draws": number},
        name="risk.draws",
        say_option=words.number,
        help_text=help_text,
    )
    _figure(Risk, "seed", words)


def _figure(model: type[Risk] | type[Stress], field: str, words: Words) -> None:
    """One figure under its name, with what it ships as and where that comes from."""
    said = declared(model, field)
    path = ("risk", field) if model is Risk else ("risk", "stress", field)
    label, help_text = field_words(model.__name__, field, words)
    decimal_input(label, Place(path), help_text=help_text)
    default = figure_cell(said.default, said.unit, words)
    if said.source is None:
        return
    source = words(f"source.{said.source}")
    if said.citation:
        source = words("cell.with_citation", source=source, citation=said.citation)
    st.caption(plain(words("screen.risk.source", default=default, source=source)))
