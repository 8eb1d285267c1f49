"""What the plan must keep: floor, hands, scions, years, loan, learning."""

from collections.abc import Mapping
from typing import Any

import streamlit as st

from renovation.inputs import Scenario
from renovation.inputs.loans import LoanOffer
from renovation.inputs.planning import Learning
from renovation.screens.controls.fields import Place, decimal_input, switch
from renovation.screens.controls.text import plain
from renovation.screens.memory import state
from renovation.show.voice import Voice
from renovation.words import Words

Changes = Mapping[str, Any]


def draw(farm: Scenario, words: Words) -> None:
    """Every promise with its control."""
    left, middle, right = st.columns(3)
    with left:
        decimal_input(
            words("screen.plan.floor"), Place(("household", "floor")), help_text=words("screen.plan.floor_help")
        )
        _hands(farm, words)
    with middle:
        years = farm.planning.years_of(farm.appraisal.horizon_years)
        decimal_input(
            words("screen.plan.years"),
            Place(("planning", "years"), value=years),
            help_text=words("field.Planning.years.help"),
        )
        _scions(farm, words)
        _family_day(farm, words)
    with right:
        _loan(farm, words)
        _learning(farm, words)


def _hands(farm: Scenario, words: Words) -> None:
    """The most days that can be hired in a month: one number, none, or twelve that are stated elsewhere."""
    limit = farm.household.hired_days_limit
    label = words("screen.plan.hands")
    if isinstance(limit, tuple):
        said = words.listing(
            [
                words("screen.plan.in_month", month=words.month_name(month, "abbreviated"), days=words.number(days))
                for month, days in enumerate(limit, 1)
            ]
        )
        st.markdown(label)
        st.caption(words("screen.plan.by_month", said=said))
        return
    place = Place(("household", "hired_days_limit"))
    decimal_input(label, place, name="plan.", help_text=words("screen.plan.empty_help"))
    if limit is None:
        st.caption(words("screen.plan.no_limit"))


def _family_day(farm: Scenario, words: Words) -> None:
    """What plans are chosen with for a day of the family's own work; its worth on every page is another thing."""
    household, place = farm.household, Place(("planning", "value_per_family_day"))
    decimal_input(words("screen.plan.family_day"), place, help_text=words("field.Planning.value_per_family_day.help"))
    amount = Voice.of(farm, words).money(household.wage_per_day * household.labour_value)
    st.caption(plain(words("screen.plan.family_day_note", amount=amount)))


def _scions(farm: Scenario, words: Words) -> None:
    """Scions to be had in a year: one number or none, or one for each year."""
    stated = farm.planning.scions_per_year
    path = ("planning", "scions_per_year")
    if not isinstance(stated, tuple):
        decimal_input(words("screen.plan.scions"), Place(path), help_text=words("screen.plan.empty_help"))
        if stated is None:
            st.caption(words("screen.plan.no_limit"))
        return
    for place, number in enumerate(stated):

        def put(value: float, place: int = place) -> Changes:
            return {"planning__scions_per_year": (*stated[:place], float(value), *stated[place + 1 :])}

        label = words("screen.plan.scions_in", year=words.number(place + 1))
        decimal_input(label, Place(path, value=number, put=put), name=f"year{place}.")


def _loan(farm: Scenario, words: Words) -> None:
    """Whether the plan may borrow, and how much at most."""
    offer = farm.planning.loan
    if offer is not None:
        state.memory("plan_offers")[farm.about.name] = offer
    known = offer or _offer(farm)
    if known is None:
        st.markdown(words("screen.plan.loan_no"))
        st.caption(words("screen.plan.loan_none"))
        return
    _switch("loan", offer is not None, known, words)
    if offer is not None:
        st.caption(plain(words("screen.plan.loan_name", loan=offer.name)))
        decimal_input(words("screen.plan.limit"), Place(("planning", "loan", "limit")))


def _switch(field: str, is_on: bool, kept: LoanOffer | Learning, words: Words) -> None:
    """Turn what the planning counts on off, and on again as it was."""
    switch(
        words(f"screen.plan.{field}"),
        is_on,
        lambda on: {f"planning__{field}": kept.model_dump() if on else None},
        name=f"plan_{field}",
        help_text=words(f"screen.plan.{field}_help"),
    )


def _offer(farm: Scenario) -> LoanOffer | None:
    """An offer to turn on: the one turned off before, else the terms of the first loan that the farm may still take."""
    before: LoanOffer | None = state.memory("plan_offers").get(farm.about.name)
    loan = next((loan for loan in farm.loans if not loan.running), None)
    if before is not None or loan is None:
        return before
    terms = {name: value for name, value in loan.model_dump().items() if name in LoanOffer.model_fields}
    return LoanOffer.model_validate({"limit": loan.amount, **terms})


def _learning(farm: Scenario, words: Words) -> None:
    """Whether the take rises with practice, and from where to where."""
    now = farm.planning.learning
    if now is not None:
        state.memory("plan_learning")[farm.about.name] = now
    kept = now or state.memory("plan_learning").get(farm.about.name) or Learning()
    _switch("learning", now is not None, kept, words)
    if now is not None and now.form != "table":
        for field in ("first_take", "highest_take"):
            decimal_input(words(f"screen.plan.{field}"), Place(("planning", "learning", field)))
