"""The searches of the plan page: started, watched, ended, and what they have found."""

from functools import partial

import streamlit as st

from renovation.aside import CalledOff, Died, Task
from renovation.decide.plan import SolverFailed
from renovation.inputs import Scenario
from renovation.money.loan_terms import LoanError
from renovation.screens import jobs, searches
from renovation.screens.memory import plan as plan_results
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.screens.parts import head
from renovation.screens.searches import Found
from renovation.words import Words

EVERY = 1.0
"""Seconds between two looks at a search that is at work."""


def take_in() -> None:
    """Take in what a search that has ended has found; say what went wrong, if anything did."""
    job = jobs.take_in()
    if job is None:
        return
    if job.error is not None:
        _went_wrong(job.error)
    elif job.name == "found" and job.result is not None:
        st.session_state["plan_found"] = job.result


def _went_wrong(error: Exception) -> None:
    """Say why there is no plan; what is no fault of the farm is raised again."""
    words = state.words()
    if isinstance(error, LoanError):
        head.refuse(error)
    elif isinstance(error, CalledOff):
        st.warning(words("screen.plan.called_off"))
    elif isinstance(error, SolverFailed | Died):
        st.error(words("plan.failed"))
    elif isinstance(error, ValueError):
        st.error(words("screen.plan.refused"))
    else:
        raise error


def found(farm: Scenario) -> Found | None:
    """The plan for these numbers where it is known, or as far as it is; else the last one of this visit to the farm."""
    asked = plan_results.careful_question(farm)
    now: Found | None = jobs.result(asked, "found")
    if now is not None:
        st.session_state["plan_found"] = now
        return now
    job = jobs.mine()
    if job is not None and (job.key, job.name) == (asked, "found") and job.first is not None:
        job.shown = job.first
        first: Found = job.first
        return first
    last: Found | None = st.session_state.get("plan_found")
    return last if last is not None and last.farm.about.name == farm.about.name else None


def busy() -> bool:
    """Whether a search of this visitor is under way."""
    return jobs.mine() is not None


def buttons(farm: Scenario, words: Words) -> None:
    """Start the search; while it is at work, how long it has taken and the way out."""
    if busy():
        if not at_work_below(farm):
            at_work()
        return
    again = "make" if found(farm) is None else "make_again"
    st.button(words(f"screen.plan.{again}"), key=key_of("make_plan"), on_click=begin)


def at_work_below(farm: Scenario) -> bool:
    """Whether the part that is looked at waits for the search: it shows it then, where the button was pressed."""
    job = jobs.mine()
    shown = st.session_state.get(key_of("section.plan"))
    return job is not None and job.name == shown and found(farm) is not None


def begin() -> None:
    """Start the search for the farm in hand."""
    farm = state.scenario()
    start("found", plan_results.careful_question(farm), partial(searches.find, farm))


def start(name: str, asked: str, task: Task) -> None:
    """Start a search for what is asked; one at a time."""
    jobs.start(name, asked, task, "search" if name == "found" else name)


@st.fragment(run_every=EVERY)
def at_work() -> None:
    """What is being worked out; the page is drawn anew once it is done."""
    words = state.words()
    job = jobs.mine()
    if job is None:
        return
    if not job.at_work or job.first is not job.shown:
        st.rerun(scope="app")
    place = jobs.line().place(job)
    step = "stopping" if job.stopped.is_set() else "waiting" if place else job.step
    facts = {"seconds": words("unit.seconds", n=int(job.seconds)), "plans": words("unit.plans", n=job.tried)}
    said = words(f"screen.plan.step.{step}", place=words.number(place or 0), **facts)
    if step in ("caution", "repairs"):
        st.progress(job.done, said)
    else:
        # as a context it would be marked complete at the end of the block
        st.status(said, state="running").markdown(words("screen.plan.meanwhile"))
    is_ending = job.stopped.is_set()
    st.button(words("screen.plan.stop"), key=key_of("stop_plan"), on_click=jobs.stop, disabled=is_ending)
