"""After signing: each loan's account of the season, payouts against counted trees, and what now where one is behind."""

import streamlit as st

from renovation.inputs import Scenario
from renovation.screens.controls.text import bullets, plain, show_table, small
from renovation.screens.memory import season as kept
from renovation.screens.parts import head
from renovation.show.loans import signed as shown
from renovation.words import Words


def there(farm: Scenario) -> bool:
    """Whether there is anything to show: a record in hand, or a loan under way."""
    return bool(farm.loans) and (kept.in_hand(farm) is not None or any(loan.running for loan in farm.loans))


def draw(farm: Scenario, words: Words) -> None:
    """Every loan that was signed, one after the other."""
    found = head.unless_refused(lambda: kept.signed(farm))
    if found is None:
        return
    if not found.loans:
        st.markdown(plain(shown.nothing(found, words)))
        return
    for one in found.loans:
        bullets(shown.account_said(found, one, words))
        if now := shown.now_said(found, one, words):
            st.markdown(f"**{plain(now[0])}**")
            bullets(now[1:])
        for table in (shown.ways_table(found, one, words), shown.account_table(found, one, words)):
            if table is not None:
                st.markdown(f"**{plain(table.title)}**")
                show_table(table)
    small(shown.notes(found, words))
