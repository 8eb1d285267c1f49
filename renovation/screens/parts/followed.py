"""Which plan a page follows, where it looks for none itself, and what that plan is worth."""

import streamlit as st

from renovation.inputs import Scenario
from renovation.screens import jobs
from renovation.screens.controls.text import plain
from renovation.screens.memory import cash as cash_results
from renovation.screens.memory import plan as plan_results
from renovation.screens.parts import adopt
from renovation.screens.searches import Found
from renovation.show.plan.which import followed_sentences
from renovation.words import Words


def draw(farm: Scenario, words: Words) -> None:
    """Say it, and where the page on this year shows another one first, that too; nothing where nothing is planned."""
    if not farm.plan:
        return
    found: Found | None = jobs.result(plan_results.careful_question(farm), "found")
    shown_as = _shown_as(farm, found)
    said = followed_sentences(farm, cash_results.worth(farm), words, shown_as)
    if found is not None and shown_as in ("stated", "expected") and not adopt.in_use(farm, found.plan):
        said.append(words("plan.followed.other", page=words("screen.page.plan")))
    st.caption(plain(" ".join(said)))


def _shown_as(farm: Scenario, found: Found | None) -> str:
    """As which of the plans that were found the farm's own was found; "stated" where it is none of them."""
    if found is None:
        return "stated"
    if adopt.in_use(farm, found.plan):
        return "breaks_least" if found.plan.broken else "expected" if found.careful is None else "careful"
    return "expected" if adopt.in_use(farm, found.learned.plan) else "stated"
