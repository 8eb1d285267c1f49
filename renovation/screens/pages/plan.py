"""The plan: how many trees this year, who does what when, what to get, the money it takes, and why not more."""

import streamlit as st

from renovation.inputs import Scenario
from renovation.screens.controls.text import bullets, plain
from renovation.screens.memory import plan as plan_results
from renovation.screens.memory import results
from renovation.screens.memory.state import key_of
from renovation.screens.parts import adopt, closer, head, promises, search, sheet
from renovation.screens.parts import records as records_part
from renovation.screens.searches import Found
from renovation.show.compare.practise import practise_sentences
from renovation.show.plan.broken import broken_sentences, headline, repair_sentences
from renovation.show.plan.sentences import head_in_parts, left_out_sentences, plan_sentences, standing_sentence
from renovation.words import Words


def draw() -> None:
    """Draw the page."""
    farm, words = head.begin("screen.plan.title")
    search.take_in()
    made = search.found(farm) is not None
    with st.expander(words("screen.plan.promises"), expanded=not made, key=key_of(f"plan_promises_{made}")):
        promises.draw(farm, words)
    with st.expander(words("screen.plan.records"), key=key_of("plan_records")):
        records_part.draw(farm, words)
    _practise(farm, words)
    search.buttons(farm, words)
    found = search.found(farm)
    if found is None:
        if not search.busy():
            st.markdown(words("screen.plan.none_yet"))
        return
    if plan_results.question(found.farm) != plan_results.question(farm):
        st.warning(words("screen.plan.older"))
    _answer(found, words)
    adopt.draw(farm, found, words)
    sheet.draw(found, words)
    closer.draw(farm, found, words)


def _practise(farm: Scenario, words: Words) -> None:
    """How many trees to try first, before deciding on the rest; nothing where no way is a graft."""
    comparison = results.compared(farm)
    if said := practise_sentences(results.practised_first(comparison), comparison, words):
        st.markdown(plain(said[0]))


def _answer(found: Found, words: Words) -> None:
    """The answer in sentences, the first one large; the trees of each stand; small, the months without a start.

    Where no plan keeps every promise that is the answer, with what would make one possible; the plan that breaks least
    stands below it.
    """
    plan = found.learned.plan
    head, parts = head_in_parts(plan, words)
    if plan.broken:
        st.header(plain(headline(plan, words)), anchor=False)
        for said in broken_sentences(plan, words):
            st.markdown(f"**{plain(said)}**")
        lead, *changes = repair_sentences(found.repairs, plan, words)
        st.markdown(plain(lead))
        bullets(changes)
        st.warning(plain(words("plan.broken.below")))
        st.subheader(plain(head), anchor=False)
    else:
        st.header(plain(head), anchor=False)
    if parts:
        bullets(parts)
    st.markdown(f"**{plain(standing_sentence(plan, words))}**")
    st.markdown(plain(" ".join(plan_sentences(plan, words, short=True))))
    with st.container(horizontal=True, gap="medium"):
        for stand in plan.scenario.stands:
            now = sum(start.trees for start in found.laid_out.starts if start.stand == stand.name)
            every = sum(start.trees for start in plan.starts if start.stand == stand.name)
            with st.container(border=True, width="content"):
                said = words("unit.trees", n=now) if now else words("screen.plan.none_now")
                st.metric(plain(stand.name), said, width="content")
                st.caption(words("screen.plan.in_all", n=words.number(every), there=words("unit.trees", n=stand.trees)))
    st.caption(words("screen.plan.of_this_year"))
    if left_out := left_out_sentences(plan, words):
        st.caption(plain(" ".join(left_out)))
