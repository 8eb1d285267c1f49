"""The futures, the hard cases, the ranking and the map, remembered by digest, strategies, futures and seed."""

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

import streamlit as st

from renovation.decide.risk import (
    RiskResult,
    Sensitivity,
    Strategy,
    StressResult,
    WinMap,
    sensitivity,
    stress_tests,
    win_map,
)
from renovation.inputs import Scenario
from renovation.screens import jobs, searches
from renovation.screens.memory import results

_KEPT = 16
_KEPT_RUNS = 8
"""A run keeps NPV and deepest point of every future."""


def judged(farm: Scenario, strategies: Sequence[Strategy], show: Callable[[int, float], None]) -> RiskResult:
    """Every strategy on the farm's futures; LoanError for a loan that cannot be. show: as `jobs.answer` tells it.

    The work is done outside of the remembered function, for only there may progress be shown.
    """
    kept = _run(farm.digest, _names(strategies), farm.risk.draws, farm.risk.seed)
    if "result" not in kept:
        kept["result"] = jobs.answer(partial(searches.futures, farm, tuple(strategies)), show)
    found: RiskResult = kept["result"]
    return found


def stressed(farm: Scenario, strategies: Sequence[Strategy]) -> StressResult:
    """Every strategy in every hard case."""
    return _stressed(farm.digest, _names(strategies), farm, tuple(strategies))


def ranked(farm: Scenario, technique: str) -> Sensitivity:
    """Every figure that the answer of one way rests on."""
    return _ranked(farm.digest, technique, farm)


def mapped(farm: Scenario, technique: str, x: str, y: str) -> WinMap:
    """Which way wins over two drivers; ValueError for one that the technique does not have."""
    return _mapped(farm.digest, technique, x, y, farm)


def _names(strategies: Sequence[Strategy]) -> tuple[str, ...]:
    """The strategies' names: what each does and owes follows from the farm."""
    return tuple(strategy.key for strategy in strategies)


# A name that begins with an underscore is not hashed: digest, names, futures and seed are the key.


@st.cache_resource(max_entries=_KEPT_RUNS, show_spinner=False)
def _run(digest: str, names: tuple[str, ...], draws: int, seed: int) -> dict[str, Any]:  # noqa: ARG001
    return {}


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _stressed(
    digest: str,  # noqa: ARG001
    names: tuple[str, ...],  # noqa: ARG001
    _farm: Scenario,
    _strategies: tuple[Strategy, ...],
) -> StressResult:
    return stress_tests(_farm, _strategies)


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _ranked(digest: str, technique: str, _farm: Scenario) -> Sensitivity:  # noqa: ARG001
    return sensitivity(results.compared(_farm), technique)


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _mapped(digest: str, technique: str, x: str, y: str, _farm: Scenario) -> WinMap:  # noqa: ARG001
    return win_map(results.compared(_farm), x, y, headline=technique)
