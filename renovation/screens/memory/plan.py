"""What question each search of the plan page answers; when to renovate, remembered."""

import streamlit as st

from renovation.decide.replacement import WhenToRenovate, when_to_renovate
from renovation.farm import expected_price_path, running_loans
from renovation.inputs import Risk, Scenario

_KEPT = 8


def question(farm: Scenario) -> str:
    """What a plan answers: the farm's digest without what the planner does not read.

    Of the risk it reads the expected price alone, of the loans those that are running.
    """
    unread = {name: type(getattr(farm, name))() for name in ("comparison", "loan_test")}
    expected = Risk(price_path="typed", price_by_year=tuple(expected_price_path(farm)[::12].tolist()))
    return farm.model_copy(update={"plan": (), "loans": running_loans(farm), "risk": expected, **unread}).digest


def careful_question(farm: Scenario, risk: Risk | None = None) -> str:
    """What the family's plan answers: the question of the one on expected figures, and the risk."""
    return f"{question(farm)} {(risk or farm.risk).model_dump_json()}"


def when(farm: Scenario) -> WhenToRenovate:
    """When to renovate at all, stand by stand and way by way."""
    return _when(farm.digest, farm)


# A name that begins with an underscore is not hashed: the digest alone is the key.


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _when(digest: str, _farm: Scenario) -> WhenToRenovate:  # noqa: ARG001
    return when_to_renovate(_farm)
