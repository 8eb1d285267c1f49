"""Which way wins: a map over two numbers, with the farm's own point and the lines on which two ways tie."""

import streamlit as st

from renovation.decide import Comparison
from renovation.decide.drivers import BEARING, CROP, OF_THE_WAY, ON_A_MAP, PRICE, RATE, TAKE, WAGE
from renovation.inputs import Scenario
from renovation.screens.controls.text import bullets, plain, section, show_chart, small
from renovation.screens.memory import results, state
from renovation.screens.memory import risk as risk_results
from renovation.screens.memory.state import key_of
from renovation.screens.parts import head
from renovation.show.risk import map_charts
from renovation.show.voice import Voice
from renovation.words import Words

PAIRS = {"price_take": (PRICE, TAKE), "crop_wage": (CROP, WAGE), "rate_bearing": (RATE, BEARING)}
"""Which numbers move, by the part of the page."""


def draw() -> None:
    """Draw the page."""
    farm, words = head.begin("screen.map.title", answers_first=True)
    first = st.container()
    if state.in_room():
        head.notes(farm, words)
    comparison = results.compared(farm)
    if not comparison.outcomes:
        st.warning(words("screen.map.none"))
        return
    chosen = section("map", (*PAIRS, "own"))
    x, y = PAIRS.get(chosen) or _own_pair(words)
    way = _way(comparison, words) if {x, y} & set(OF_THE_WAY) else next(iter(comparison.outcomes))
    with first if state.in_room() else st.container():
        _map(farm, comparison, way, (x, y), words)


def _own_pair(words: Words) -> tuple[str, str]:
    """Any two numbers."""

    def said(driver: str) -> str:
        name = words(f"risk.axis.{driver}")
        return name[:1].upper() + name[1:]

    left, right = st.columns(2)
    x = left.selectbox(words("screen.map.across"), list(ON_A_MAP), key=key_of("map_x"), format_func=said)
    others = [driver for driver in ON_A_MAP if driver != x]
    y = right.selectbox(words("screen.map.upward"), others, key=key_of(f"map_y|{x}"), format_func=said)
    return x, y


def _way(comparison: Comparison, words: Words) -> str:
    """The way that take, crop and months to bearing belong to; the headline's unless another is chosen."""
    ways = list(comparison.outcomes)
    first = comparison.headline if comparison.headline in ways else ways[0]
    return str(
        st.selectbox(
            words("screen.map.way"),
            ways,
            index=ways.index(first),
            key=key_of(f"map_way|{first}|{'|'.join(ways)}"),
            format_func=lambda key: Voice.of(comparison.scenario, words).way(key),
        )
    )


def _map(farm: Scenario, comparison: Comparison, way: str, pair: tuple[str, str], words: Words) -> None:
    """The answer, then the map."""
    try:
        found = risk_results.mapped(farm, way, *pair)
    except ValueError:
        # the one refusal left: the way has no such number
        own = words.listing([words(f"risk.axis.{driver}") for driver in pair if driver in OF_THE_WAY])
        name = Voice.of(farm, words).way(way)
        st.warning(plain(words("screen.map.not_possible", way=name, drivers=own)))
        return
    first, *rest = map_charts.map_answer(found, words)
    st.header(plain(first), anchor=False)
    said = st.container()
    height = 400 if state.in_room() else 560
    show_chart(map_charts.map_chart(found, words, height=height), key=f"map_{way}_{'_'.join(pair)}")
    with st.container() if state.in_room() else said:
        bullets(rest)
    small([words("screen.map.stand", trees=words("unit.trees", n=comparison.trees), stand=comparison.stand)])
