"""One call for each question, remembered by the scenario's digest."""

import streamlit as st

from renovation.decide import Comparison, compare, npv_per_tree
from renovation.decide.materials import MaterialComparison, compare_materials
from renovation.decide.practise import PractiseFirst, practise_first
from renovation.decide.ranges import Swing, ranges
from renovation.inputs import Scenario

_KEPT = 32


def compared(farm: Scenario) -> Comparison:
    """Every way of the compared stand, beside leaving it alone."""
    return _compared(farm.digest, farm)


def worth_by_stand(farm: Scenario) -> dict[str, dict[str, float | None]]:
    """NPV of one tree by stand and technique; stands that stay untouched are left out."""
    table = _worth_by_stand(farm.digest, farm)
    kept = {stand.name for stand in farm.stands if not stand.untouched}
    return {name: row for name, row in table.items() if name in kept and row}


def swings(comparison: Comparison, technique: str) -> tuple[Swing, ...]:
    """How far the NPV of one way moves over the ranges of its figures."""
    return _swings(comparison.scenario.digest, technique, comparison)


def practised_first(comparison: Comparison) -> PractiseFirst | None:
    """How many trees to graft before deciding on the rest, by the headline's way of grafting."""
    return _practised_first(comparison.scenario.digest, comparison)


def with_clones(farm: Scenario, way: str, names: tuple[str, ...]) -> MaterialComparison:
    """One way with each of some clones, beside the way without one."""
    return _with_clones(farm.digest, way, names, farm)


# A name that begins with an underscore is not hashed: the digest alone is the key.


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _compared(digest: str, _farm: Scenario) -> Comparison:  # noqa: ARG001
    return compare(_farm)


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _worth_by_stand(digest: str, _farm: Scenario) -> dict[str, dict[str, float | None]]:  # noqa: ARG001
    return npv_per_tree(_farm)


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _practised_first(digest: str, _comparison: Comparison) -> PractiseFirst | None:  # noqa: ARG001
    return practise_first(_comparison)


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _with_clones(digest: str, way: str, names: tuple[str, ...], _farm: Scenario) -> MaterialComparison:  # noqa: ARG001
    return compare_materials(_farm, way, names)


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _swings(digest: str, technique: str, _comparison: Comparison) -> tuple[Swing, ...]:  # noqa: ARG001
    return ranges(_comparison, technique)
