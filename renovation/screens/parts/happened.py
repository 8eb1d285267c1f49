"""Planned and happened: why the money differs, and each figure beside what was expected of it."""

import streamlit as st

from renovation.inputs import Scenario, SeasonRecord
from renovation.screens.controls.text import bullets, plain, show_table, small
from renovation.screens.memory import season as kept
from renovation.screens.parts import head
from renovation.show.season import happened as shown
from renovation.words import Words


def draw(farm: Scenario, record: SeasonRecord, words: Words, *, as_planned: bool) -> None:
    """The season looked back upon; nothing where a loan cannot be, which is said."""
    found = head.unless_refused(lambda: kept.looked_back(farm, record, as_planned=as_planned))
    if found is None:
        return
    st.header(words("happened.table.figures"), anchor=False)
    bullets(shown.happened_sentences(found, words))
    for table in (shown.parts_table(found, words), shown.figures_table(found, words)):
        st.markdown(f"**{plain(table.title)}**")
        show_table(table)
    small(shown.happened_notes(words))
