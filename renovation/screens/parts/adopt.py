"""A plan put to use: the farm in hand takes its rows and its loans."""

import streamlit as st

from renovation.decide.plan import Plan
from renovation.inputs import Loan, Scenario, Treatment
from renovation.screens.controls.text import small
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.screens.searches import Found
from renovation.words import Words


def draw(farm: Scenario, found: Found, words: Words) -> None:
    """Let every page follow the plan; say what of it the other pages reckon otherwise."""
    plan = found.plan
    if not plan.starts or found.checking:
        return
    loans = loans_with(farm, plan, (plan.loan,) if plan.loan else ())
    if in_use(farm, plan):
        st.success(words("screen.plan.in_use"))
    else:
        st.button(
            words("screen.plan.use_broken" if plan.broken else "screen.plan.use"),
            key=key_of("use_plan"),
            on_click=take_up,
            args=(plan.treatments, loans),
        )
    others = [loan.name for loan in loans if plan.loan is None or loan.name != plan.loan.name]
    notes = []
    if plan.loan is not None:
        notes.append(words("screen.plan.lender_asks"))
    if others:
        notes.append(words("screen.plan.other_loans", loans=words.listing(others)))
    small(notes)


def in_use(farm: Scenario, plan: Plan) -> bool:
    """Whether every page follows this plan."""
    return farm.plan == plan.treatments and farm.loans == loans_with(farm, plan, (plan.loan,) if plan.loan else ())


def loans_with(farm: Scenario, plan: Plan, taken: tuple[Loan, ...]) -> tuple[Loan, ...]:
    """The farm's loans with those taken in place of the offer's; the offer gone where nothing is borrowed."""
    offer = plan.problem.planning.loan
    kept = [loan for loan in farm.loans if offer is None or loan.name.casefold() != offer.name.casefold()]
    return (*taken, *kept)


def take_up(treatments: tuple[Treatment, ...], loans: tuple[Loan, ...]) -> None:
    """Write a plan and its loans into the farm in hand."""
    changes = {
        "plan": tuple(treatment.model_dump() for treatment in treatments),
        "loans": tuple(loan.model_dump() for loan in loans),
    }
    problems = state.change(changes)
    if problems:
        state.say_problems([state.words()("screen.plan.not_used"), *problems])
