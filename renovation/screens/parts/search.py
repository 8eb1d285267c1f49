"""The searches of the plan page: started, watched, ended, and what they have found."""

from typing import Any

import streamlit as st

from renovation.decide.plan import SolverFailed
from renovation.inputs import Scenario
from renovation.money.loans import LoanError
from renovation.screens.memory import plan as plan_results
from renovation.screens.memory import state
from renovation.screens.memory.plan import Found, Job
from renovation.screens.memory.state import key_of
from renovation.screens.parts import head
from renovation.words import Words

EVERY = 1.0
"""Seconds between two looks at a search that is at work."""


def take_in() -> None:
    """Keep what a search that has ended has found; say what went wrong, if anything did."""
    job: Job | None = st.session_state.get("plan_job")
    if job is None or job.at_work:
        return
    del st.session_state["plan_job"]
    if job.error is not None:
        _went_wrong(job.error)
        return
    # what was stopped is this visitor's alone: nobody else should be given less than was asked for
    st.session_state["plan_mine"] = {(job.key, job.name): job.result}
    if not job.stop.is_set():
        plan_results.remembered(job.key)[job.name] = job.result
    if job.name == "found":
        st.session_state["plan_found"] = job.result


def _went_wrong(error: Exception) -> None:
    """Say why there is no plan; what is no fault of the farm is raised again."""
    words = state.words()
    if isinstance(error, LoanError):
        head.refuse(error)
    elif isinstance(error, SolverFailed):
        st.error(words("plan.failed"))
    elif isinstance(error, ValueError):
        st.error(words("screen.plan.refused"))
    else:
        raise error


def found(farm: Scenario) -> Found | None:
    """The plan for these numbers where it is known, else the last one of this visit to the same farm."""
    now: Found | None = known(plan_results.question(farm), "found")
    if now is not None:
        st.session_state["plan_found"] = now
        return now
    last: Found | None = st.session_state.get("plan_found")
    return last if last is not None and last.farm.about.name == farm.about.name else None


def known(key: str, name: str) -> Any:
    """What has been found on a question, by anybody to the end or by this visitor as far as it was sought."""
    mine = st.session_state.get("plan_mine", {}).get((key, name))
    return plan_results.remembered(key).get(name, mine)


def busy() -> bool:
    """Whether a search of this visitor is under way."""
    return "plan_job" in st.session_state


def buttons(farm: Scenario, words: Words) -> None:
    """Start the search; while it is at work, how long it has taken and the way out."""
    if busy():
        if not at_work_below(farm):
            at_work()
        return
    again = "make" if found(farm) is None else "make_again"
    st.button(words(f"screen.plan.{again}"), key=key_of("make_plan"), on_click=_begin)


def at_work_below(farm: Scenario) -> bool:
    """Whether the part that is looked at waits for the search: it shows it then, where the button was pressed."""
    job: Job | None = st.session_state.get("plan_job")
    shown = st.session_state.get(key_of("section.plan"))
    return job is not None and job.name == shown and found(farm) is not None


def _begin() -> None:
    """Start the search for the farm in hand."""
    farm = state.scenario()
    start("found", plan_results.question(farm), lambda job: plan_results.find(farm, job))


def start(name: str, asked: str, work: plan_results.Work) -> None:
    """Start a search for what is asked; one at a time."""
    if not busy():
        step = "search" if name == "found" else name
        st.session_state["plan_job"] = Job(asked, name, work, step).start()


def _stop() -> None:
    """Ask the search to end with the best that it has."""
    job: Job | None = st.session_state.get("plan_job")
    if job is not None:
        job.stop.set()


@st.fragment(run_every=EVERY)
def at_work() -> None:
    """What is being worked out; the page is drawn anew once it is done."""
    words = state.words()
    job: Job | None = st.session_state.get("plan_job")
    if job is None:
        return
    if not job.at_work:
        st.rerun(scope="app")
    facts = {"seconds": words("unit.seconds", n=int(job.seconds)), "plans": words("unit.plans", n=job.tried)}
    said = words(f"screen.plan.step.{'stopping' if job.stop.is_set() else job.step}", **facts)
    if job.name == "caution":
        st.progress(job.done, said)
    else:
        # as a context it would be marked complete at the end of the block
        st.status(said, state="running").markdown(words("screen.plan.meanwhile"))
    st.button(words("screen.plan.stop"), key=key_of("stop_plan"), on_click=_stop, disabled=job.stop.is_set())
