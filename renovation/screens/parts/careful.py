"""The careful plan beside the bolder one, which is made on expected figures."""

from collections.abc import Callable

import streamlit as st

from renovation.decide.risk.careful import CarefulPlan
from renovation.decide.risk.strategy import CAREFUL, EXPECTED, LEAVE
from renovation.screens.controls.text import bullets, plain, show_chart, show_table, small
from renovation.screens.memory.state import key_of
from renovation.show.plan import careful as careful_words
from renovation.show.risk import charts as risk_charts
from renovation.show.voice import Voice
from renovation.words import Words


def draw(found: CarefulPlan, in_use: bool, use: Callable[[], None], words: Words) -> None:
    """The answer, the money in hand of each plan, what each starts, every figure; the bolder one can be taken up.

    in_use: whether the bolder one is.
    """
    first, *rest = careful_words.said(found, words)
    st.markdown(f"**{plain(first)}**")
    bullets(rest)
    if not found.same and not in_use:
        st.button(words("screen.plan.use_bolder"), key=key_of("use_bolder"), on_click=use)
    _money(found, words)
    if not found.same:
        show_table(careful_words.starts(found, words))
    show_table(careful_words.answers(found, words))
    small([words("screen.plan.careful_note", page=words("screen.page.risk"))])


def _money(found: CarefulPlan, words: Words) -> None:
    """The money in hand of the plans as fans, on one scale."""
    result = found.result
    span = risk_charts.fan_span(result)
    shown = [key for key in (CAREFUL, *([] if found.same else [EXPECTED]), LEAVE) if key in result.answers][:2]
    bullets(risk_charts.fan_finding(result, result.answers[key], words) for key in shown)
    for column, key in zip(st.columns(2), shown, strict=True):
        with column:
            st.markdown(f"**{plain(Voice.of(result.scenario, words).strategy(key))}**")
            show_chart(risk_charts.fan_chart(result, key, words, span=span), key=f"careful_{key}")
