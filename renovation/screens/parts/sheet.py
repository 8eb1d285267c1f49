"""This year's sheet: calendar, balance, shopping, looks, money to have in hand, cautions."""

import streamlit as st

from renovation.decide.plan import Plan
from renovation.screens.controls import room
from renovation.screens.controls.text import bullets, plain, show_chart, show_table, small
from renovation.screens.memory import state
from renovation.screens.parts import wall
from renovation.screens.searches import Found
from renovation.show.plan import charts as plan_charts
from renovation.show.plan import tables as plan_tables
from renovation.show.plan.broken import in_hand_note
from renovation.show.plan.sheet_sentences import caution_lines, clone_sentences, look_sentence
from renovation.show.voice import Voice
from renovation.words import Words

FIRST_DRAWN = 10
"""Years of a balance chart that can be read month by month."""


def balance(plan: Plan, words: Words, *, before: Plan | None = None) -> None:
    """The balance in the first years; before: the plan before a number was changed."""
    years = min(FIRST_DRAWN, plan.scenario.appraisal.horizon_years)
    height = room.HEIGHT if state.in_room() else 380
    show_chart(plan_charts.balance_chart(plan, words, years=years, before=before, height=height), key="plan_balance")


def draw(found: Found, words: Words) -> None:
    """Draw it in the order in which it is used."""
    plan, laid_out = found.plan, found.laid_out
    if not found.checking:
        wall.draw(plan, words)
    st.subheader(words("screen.plan.work"), anchor=False)
    wall.drawings([month.work for month in laid_out.months], Voice.of(plan.scenario, words))
    bullets([*clone_sentences(laid_out, plan, words)])
    show_table(plan_tables.work(laid_out, plan.scenario, words))
    st.subheader(words("screen.cash.balance"), anchor=False)
    if not state.in_room():
        balance(plan, words)
    st.markdown(plain(plan_charts.balance_finding(plan, words)))
    if laid_out.shopping:
        st.subheader(words("screen.plan.shopping"), anchor=False)
        show_table(plan_tables.shopping(laid_out, words))
        small([words("plan.sheet.spare")])
    if laid_out.looks:
        st.subheader(words("plan.sheet.looks"), anchor=False)
        bullets(look_sentence(look, plan, words) for look in laid_out.looks)
    st.subheader(words("screen.plan.in_hand"), anchor=False)
    show_table(plan_tables.in_hand(laid_out, words))
    small([in_hand_note(plan, words)])
    with st.container(border=True):
        st.subheader(words("screen.compare.cautions"), anchor=False)
        bullets(caution_lines(laid_out, plan, words))
