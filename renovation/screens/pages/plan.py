"""The plan: how many trees this year, who does what when, what to get, the money it takes, and why not more."""

import streamlit as st

from renovation.inputs import Scenario
from renovation.screens.controls.text import bullets, in_columns, metric, plain
from renovation.screens.memory import before, results, state
from renovation.screens.memory import plan as plan_results
from renovation.screens.memory.state import key_of
from renovation.screens.parts import adopt, closer, head, promises, search, sheet
from renovation.screens.parts import before as before_part
from renovation.screens.parts import records as records_part
from renovation.screens.searches import Found
from renovation.show import before as moved
from renovation.show.compare.practise import practise_sentences
from renovation.show.plan import careful as careful_words
from renovation.show.plan.broken import broken_sentences, headline, repair_sentences
from renovation.show.plan.sentences import head_in_parts, left_out_sentences, plan_sentences, standing_sentence
from renovation.show.voice import Voice
from renovation.words import Words


def draw() -> None:
    """Draw the page: the button, the answer, and beneath it what the plan must keep."""
    farm, words = head.begin("screen.plan.title", answers_first=True)
    search.take_in()
    found = search.found(farm)
    search.buttons(farm, words)
    if found is None and not search.busy():
        st.markdown(words("screen.plan.none_yet"))
    if found is not None:
        if plan_results.careful_question(found.farm) != plan_results.careful_question(farm):
            st.warning(words("screen.plan.older"))
        _answer(farm, found, words)
    if state.in_room():
        head.notes(farm, words)
    first = found is None and not search.busy()
    with st.expander(words("screen.plan.promises"), expanded=first, key=key_of(f"promises_{first}")):
        promises.draw(farm, words)
    with st.expander(words("screen.plan.records"), key=key_of("plan_records")):
        records_part.draw(farm, words)
    _practise(farm, words)
    if found is not None:
        sheet.draw(found, words)
        closer.draw(farm, found, words)


def _practise(farm: Scenario, words: Words) -> None:
    """How many trees to try first, before deciding on the rest; nothing where no way is a graft."""
    comparison = results.compared(farm)
    if said := practise_sentences(results.practised_first(comparison), comparison, words):
        st.markdown(plain(said[0]))


def _answer(farm: Scenario, found: Found, words: Words) -> None:
    """The answer in sentences, the first one large; the trees of each stand; small, the months without a start.

    Where no plan keeps every promise that is the answer, with what would make one possible; the plan that breaks least
    stands below it.
    """
    plan = found.plan
    head, parts = head_in_parts(plan, words)
    if state.in_room():
        _to_a_room(found, words)
    if plan.broken:
        _broken(found, words)
        st.subheader(plain(head), anchor=False)
    else:
        _marked(found, words)
        if not state.in_room():
            st.header(plain(head), anchor=False)
    if parts:
        bullets(parts)
    if found.careful is not None:
        st.markdown(f"**{plain(careful_words.said(found.careful, words)[0])}**")
    else:
        st.markdown(f"**{plain(standing_sentence(plan, words))}**")
    st.markdown(plain(" ".join(plan_sentences(plan, words, short=True))))
    for stand in in_columns(plan.scenario.stands, 4):
        now = sum(start.trees for start in found.laid_out.starts if start.stand == stand.name)
        every = sum(start.trees for start in plan.starts if start.stand == stand.name)
        with st.container(border=True):
            metric(stand.name, words("unit.trees", n=now) if now else words("screen.plan.none_now"))
            st.caption(words("screen.plan.in_all", n=words.number(every), there=words("unit.trees", n=stand.trees)))
    st.caption(words("screen.plan.of_this_year"))
    if left_out := left_out_sentences(plan, words):
        with st.expander(words("screen.plan.no_start")):
            bullets(left_out)
    adopt.draw(farm, found, words)
    if found.careful is not None and not found.careful.same:
        with st.container(border=True):
            st.subheader(words("screen.plan.bolder"), anchor=False)
            bullets(careful_words.bolder(found.careful, words))


def _to_a_room(found: Found, words: Words) -> None:
    """Before anything else: this year's trees, what a change has moved, the balance in a chart."""
    plan, was = found.plan, before.found()
    stood = was.plan if was is not None and was.farm.digest != found.farm.digest else None
    if stood is None or any(start.year == 1 for start in plan.starts):  # a plan of no trees takes two sentences to say
        st.header(plain(headline(plan, words) if plan.broken else head_in_parts(plan, words)[0]), anchor=False)
    if stood is not None:
        before_part.draw(moved.plan(plan, stood, words))
    sheet.balance(plan, words, before=stood)


def _marked(found: Found, words: Words) -> None:
    """Whether the plan is still being checked, was not checked, or cannot be as careful as it is meant to be."""
    if found.careful is not None:
        if reach := careful_words.out_of_reach(found.careful, words):
            st.warning(plain(reach[0]))
            st.markdown(plain(reach[1]))
            bullets(reach[2:])
    elif found.checking:
        floor = Voice.of(found.farm, words).money(found.farm.household.floor)
        st.info(plain(words("screen.plan.checking", floor=floor)))
    else:
        st.warning(words("screen.plan.not_checked"))


def _broken(found: Found, words: Words) -> None:
    """That no plan keeps every promise, by how much and when, and the changes that would each make one possible."""
    st.header(plain(headline(found.plan, words)), anchor=False)
    for said in broken_sentences(found.plan, words):
        st.markdown(f"**{plain(said)}**")
    lead, *changes = repair_sentences(found.repairs, found.plan, words)
    st.markdown(plain(lead))
    bullets(changes)
    st.warning(plain(words("plan.broken.below")))
