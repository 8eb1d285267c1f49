"""Your numbers: everything that a family states, with its unit and bounds, in the order of a walk round the farm."""

from collections.abc import Callable

import streamlit as st

from renovation.inputs import Scenario
from renovation.screens.controls.text import plain, section
from renovation.screens.memory import results, state
from renovation.screens.parts import figures, horizon, household, market, standing, trees, walk, ways
from renovation.show.guesses import summary
from renovation.words import Words


def draw() -> None:
    """Draw the page."""
    words = state.words()
    st.title(words("screen.page.numbers"), anchor=False)
    st.markdown(words("screen.numbers.lead"))
    farm = state.scenario()
    if farm.guessed:
        st.info(plain(summary(results.compared(farm), words)))
    parts: dict[str, Callable[[Scenario, Words], None]] = {
        "trees": trees.draw,
        "standing": standing.draw,
        "walk": walk.draw,
        "household": household.draw,
        "market": market.draw,
        "time": horizon.draw,
        "ways": ways.draw,
        "figures": figures.draw,
    }
    parts[section("numbers", list(parts))](farm, words)
